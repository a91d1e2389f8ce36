"""A log profile as the program holds it, and what a profile may name."""

from dataclasses import dataclass
from fnmatch import fnmatchcase

from ingest.units import Conversion

_PRESSURE = (
    [
        "kpa",
        "psi",
        "bar",
        "mbar",
        "mpa",
        "ft_water",
        "m_water",
        "psi_abs",
        "kpa_abs",
        "bar_abs",
    ],
    "kpa",
)
QUANTITIES: dict[str, tuple[str, list[str], str]] = {
    "pressure": ("pressure_kpa", *_PRESSURE),
    "frequency": ("frequency_hz", ["hz", "rpm", "pct"], "hz"),
    "current": ("current_a", ["a", "ma"], "a"),
    "voltage": ("voltage_v", ["v", "kv"], "v"),
    "suction": ("suction_kpa", *_PRESSURE),
    "flow": ("flow_lpm", ["lpm", "gpm", "lps", "m3h"], "lpm"),
    "drive_temp": ("drive_temp_c", ["c", "f"], "c"),
    "input_current": ("input_current_a", ["a", "ma"], "a"),
    "fault_code": ("fault_code", [""], ""),
}
"""Quantity -> field inside, units a profile may name, the one taken where none is named."""

NEEDED_QUANTITIES = ("pressure", "frequency", "current")

DELIMITERS = {",": ",", ";": ";", "|": "|", "\t": "\t", "tab": "\t"}

ColumnRef = str | int
"""A column by its title, or by its number from 1."""


@dataclass(frozen=True, kw_only=True)
class ValueSource:
    """Where one quantity is found and how it becomes the inner unit."""

    field: str
    source: ColumnRef  # a column, or a tag of a long table
    unit: str
    scale: Conversion


@dataclass(frozen=True, kw_only=True)
class Hold:
    """How a value that is only logged when it changes is held until the next."""

    every_s: float
    longest_s: float


@dataclass(frozen=True, kw_only=True)
class LogProfile:
    """How logs of one layout are read; ``ingest.profile`` says what the keys mean."""

    name: str
    values: tuple[ValueSource, ...]
    time_columns: tuple[ColumnRef, ...]
    time_format: str = "iso"
    timezone: str | None = None
    files: str = "*"
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    has_header: bool = True
    skip_lines: int = 0
    skip_after_header: int = 0
    blank: tuple[str, ...] = ()
    pump_column: ColumnRef | None = None
    pump_id: str | None = None
    pump_file_name: str | None = None
    pump_names: tuple[tuple[str, str], ...] = ()
    tag_column: ColumnRef | None = None
    value_column: ColumnRef | None = None
    hold: Hold | None = None

    @property
    def is_long(self) -> bool:
        """One value a row, with a tag that says of what."""
        return self.tag_column is not None

    def is_for(self, file_name: str) -> bool:
        """Whether a file of this name is read this way."""
        return fnmatchcase(file_name, self.files)
