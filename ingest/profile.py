"""A log profile (TOML) tells how logs of another layout are read.

Keys, all optional unless said otherwise:

``files``            glob on the file's name; only matching files are read this way (``*``)
``delimiter``        ``,`` ``;`` ``|`` or a tab (``,``)
``decimal``          ``.`` or ``,`` (``.``)
``encoding``         name of the text encoding (``utf-8``)
``header``           false where the first line is data; columns are then given by number, from 1
``skip_lines``       lines before the header (0)
``skip_after_header`` lines between header and data, such as a row of units (0)
``blank``            cells that mean "no value", such as ``["---", "OL"]``

``[time]``           needed
``column``           its column; or ``columns``, several that are joined by a space
``format``           ``iso`` (reads Unix times too), ``unix_s``, ``unix_ms`` or a strftime format
                     (``iso``)
``timezone``         zone of times without an offset; the site's own where absent

``[pump]``           the file name's rule of the plain layout where absent; one of
``column``           the column that names the pump
``id``               one pump for all files
``file_name``        regular expression on the file's name with a group ``(?P<pump_id>...)``
``names``            table from names in the logs to ids of the register

``[long]``           only for tables with one value a row
``tag_column``, ``value_column``   needed there. All values of one instant are in one file.

``[log]``            only for logs that write a value when it changes
``values``           ``on_change``: what a row does not tell is still as it was
``hold_s``           needed there: how long a value stands without a row, before it is a gap [s]
``every_s``          how often a held value becomes a sample [s] (10)

``[values.<quantity>]`` one table a quantity: pressure, frequency, current (all three needed),
                     voltage, suction, flow, drive_temp, input_current, fault_code
``column``           its column; in a long table ``tag`` instead
``unit``             its unit (the inner one: kpa, hz, a, v, lpm, c); ``rpm`` and ``pct`` too
                     for frequency
``at_60_hz``         needed with ``rpm`` and ``pct``: what the column shows at 60 Hz output
``factor``, ``offset`` applied before the unit: value = cell * factor + offset (1, 0)
"""

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from ingest.errors import ProfileError
from ingest.log_profile import (
    DELIMITERS,
    NEEDED_QUANTITIES,
    QUANTITIES,
    Hold,
    LogProfile,
    ValueSource,
)
from ingest.units import Conversion, conversion

__all__ = ["LogProfile", "read_profile"]


def read_profile(path: Path) -> LogProfile:
    """Read a log profile.

    Raises
    ------
    ProfileError
        The file is missing or no TOML, or keys are wrong: all of them are listed, each with what
        was found and what was expected.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ProfileError(f"{path}: cannot be read: {error.strerror}.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise ProfileError(f"{path}: is not valid TOML: {error}.") from error
    reader = _Reader(path.name)
    profile = reader.profile(content)
    if profile is None:
        raise ProfileError("\n".join(reader.problems))
    return profile


@dataclass
class _Reader:
    """Takes keys out of the tables one by one and lists what is wrong with each."""

    name: str
    problems: list[str] = field(default_factory=list)

    def problem(self, key: str, found: object, expected: str) -> None:
        text = "is missing" if found is None else f"is {found!r}"
        self.problems.append(f"{self.name}: {key} {text}, expected {expected}.")

    def take(
        self,
        table: dict[str, Any],
        key: str,
        is_valid: Callable[[Any], bool],
        expected: str,
        default: Any = None,
    ) -> Any:
        """Value of a key, taken out of its table; the default where absent or wrong."""
        if key.rpartition(".")[2] not in table:
            return default
        value = table.pop(key.rpartition(".")[2])
        if is_valid(value):
            return value
        self.problem(key, value, expected)
        return default

    def subtable(self, content: dict[str, Any], key: str, *, needed: bool) -> dict[str, Any]:
        value = content.pop(key, None)
        if isinstance(value, dict):
            return value
        if value is not None or needed:
            self.problem(f"[{key}]", value, "a table")
        return {}

    def left_over(self, table: dict[str, Any], prefix: str = "") -> None:
        for key in sorted(table):
            self.problems.append(f"{self.name}: {prefix}{key} is not a key of a log profile.")

    def profile(self, content: dict[str, Any]) -> LogProfile | None:
        is_long = "long" in content
        made = {
            **self._file_keys(content),
            **self._time_keys(self.subtable(content, "time", needed=True)),
            **self._pump_keys(self.subtable(content, "pump", needed=False)),
            **self._log_keys(self.subtable(content, "log", needed=False)),
            **self._long_keys(self.subtable(content, "long", needed=False), is_long),
            "values": self._values(self.subtable(content, "values", needed=True), is_long),
        }
        self.left_over(content)
        if self.problems:
            return None
        return LogProfile(name=self.name, **made)

    def _file_keys(self, content: dict[str, Any]) -> dict[str, Any]:
        delimiter = self.take(content, "delimiter", _is_delimiter, "one of , ; | or a tab", ",")
        decimal = self.take(content, "decimal", (".", ",").__contains__, "'.' or ','", ".")
        if decimal == delimiter == ",":
            self.problem("decimal", decimal, "another sign than the delimiter")
        return {
            "files": self.take(content, "files", _is_text, "a glob such as '*_export.csv'", "*"),
            "delimiter": DELIMITERS[delimiter],
            "decimal": decimal,
            "encoding": self.take(content, "encoding", _is_encoding, "a text encoding", "utf-8"),
            "has_header": self.take(
                content, "header", lambda v: isinstance(v, bool), "true or false", True
            ),
            "skip_lines": self.take(content, "skip_lines", _is_count, "a count of lines", 0),
            "skip_after_header": self.take(
                content, "skip_after_header", _is_count, "a count of lines", 0
            ),
            "blank": tuple(self.take(content, "blank", _is_texts, "a list of texts", ())),
        }

    def _time_keys(self, table: dict[str, Any]) -> dict[str, Any]:
        one = self.take(table, "time.column", _is_ref, "a column's title or number")
        several = self.take(table, "time.columns", _is_refs, "a list of columns")
        if (one is None) == (several is None):
            self.problem("time.column", None if one is None else one, "one of column or columns")
        made = {
            "time_columns": tuple(several) if several is not None else (one,),
            "time_format": self.take(
                table,
                "time.format",
                _is_time_format,
                "iso, unix_s, unix_ms or a format such as %d.%m.%Y %H:%M:%S",
                "iso",
            ),
            "timezone": self.take(
                table, "time.timezone", _is_timezone, "an IANA time zone such as America/Chicago"
            ),
        }
        self.left_over(table, "time.")
        return made

    def _pump_keys(self, table: dict[str, Any]) -> dict[str, Any]:
        made = {
            "pump_column": self.take(table, "pump.column", _is_ref, "a column's title or number"),
            "pump_id": self.take(table, "pump.id", _is_text, "a pump id"),
            "pump_file_name": self.take(
                table,
                "pump.file_name",
                _is_pump_pattern,
                "a regular expression with a group (?P<pump_id>...)",
            ),
        }
        if sum(value is not None for value in made.values()) > 1:
            self.problem("[pump]", sorted(made), "only one of column, id and file_name")
        names = self.take(table, "pump.names", _is_names, "a table of texts", {})
        self.left_over(table, "pump.")
        return {**made, "pump_names": tuple(sorted(names.items()))}

    def _log_keys(self, table: dict[str, Any]) -> dict[str, Any]:
        values = self.take(table, "log.values", ("on_change", "all").__contains__, "on_change")
        longest_s = self.take(table, "log.hold_s", _is_span, "seconds from 1 to 86400")
        every_s = self.take(table, "log.every_s", _is_span, "seconds from 1 to 86400", 10)
        self.left_over(table, "log.")
        if values != "on_change":
            return {}
        if longest_s is None:
            self.problem("log.hold_s", None, "the seconds a value stands without a row")
            return {}
        return {"hold": Hold(every_s=every_s, longest_s=longest_s)}

    def _long_keys(self, table: dict[str, Any], is_long: bool) -> dict[str, Any]:
        made = {
            key: self.take(table, f"long.{key}", _is_ref, "a column's title or number")
            for key in ("tag_column", "value_column")
        }
        for key, value in made.items():
            if is_long and value is None:
                self.problem(f"long.{key}", None, "a column's title or number")
        self.left_over(table, "long.")
        return made

    def _values(self, tables: dict[str, Any], is_long: bool) -> tuple[ValueSource, ...]:
        for quantity in NEEDED_QUANTITIES:
            if quantity not in tables:
                self.problem(f"[values.{quantity}]", None, "a table, as this quantity is needed")
        made = []
        for quantity, table in sorted(tables.items()):
            key = f"values.{quantity}"
            if quantity not in QUANTITIES:
                self.problems.append(
                    f"{self.name}: {key} is not a quantity, expected one of "
                    f"{', '.join(QUANTITIES)}."
                )
            elif not isinstance(table, dict):
                self.problem(f"[{key}]", table, "a table")
            else:
                made.append(self._value(key, quantity, table, is_long))
        return tuple(sorted(made, key=lambda value: value.field))

    def _value(self, key: str, quantity: str, table: dict[str, Any], is_long: bool) -> ValueSource:
        inner, units, usual = QUANTITIES[quantity]
        place = "tag" if is_long else "column"
        is_place, expected = (
            (_is_text, "a tag") if is_long else (_is_ref, "a column's title or number")
        )
        source = self.take(table, f"{key}.{place}", is_place, expected)
        if source is None:
            self.problem(f"{key}.{place}", None, expected)
        unit = self.take(table, f"{key}.unit", units.__contains__, ", ".join(units), usual)
        factor = self.take(table, f"{key}.factor", _is_factor, "a number, not 0", 1.0)
        offset = self.take(table, f"{key}.offset", _is_number, "a number", 0.0)
        at_60_hz = self.take(table, f"{key}.at_60_hz", _is_factor, "a number, not 0")
        if (unit in ("rpm", "pct")) != (at_60_hz is not None):
            self.problem(
                f"{key}.at_60_hz", at_60_hz, "what is shown at 60 Hz, with rpm and pct only"
            )
        self.left_over(table, f"{key}.")
        to_inner = _unit_scale(unit, at_60_hz)
        return ValueSource(
            field=inner,
            source=source if source is not None else "",
            unit=unit,
            scale=Conversion(
                factor=factor * to_inner.factor, offset=offset * to_inner.factor + to_inner.offset
            ),
        )


def _unit_scale(unit: str, at_60_hz: float | None) -> Conversion:
    if unit in ("rpm", "pct"):
        return Conversion(factor=60 / (at_60_hz or 60))
    return conversion(unit) if unit else Conversion()


def _is_text(value: object) -> bool:
    return isinstance(value, str) and value != ""


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def _is_delimiter(value: object) -> bool:
    return isinstance(value, str) and value in DELIMITERS


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12


def _is_span(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 1 <= value <= 86_400


def _is_factor(value: object) -> bool:
    return _is_number(value) and value != 0


def _is_ref(value: object) -> bool:
    return _is_text(value) or (_is_count(value) and value != 0)


def _is_refs(value: object) -> bool:
    return isinstance(value, list) and len(value) > 0 and all(_is_ref(item) for item in value)


def _is_names(value: object) -> bool:
    return isinstance(value, dict) and all(_is_text(item) for item in value.values())


def _is_encoding(value: object) -> bool:
    try:
        return isinstance(value, str) and bytes(range(256)).decode(value, errors="replace") != ""
    except (LookupError, ValueError):  # no such encoding, or one that is no text
        return False


def _is_timezone(value: object) -> bool:
    try:
        ZoneInfo(str(value))
    except (KeyError, ValueError, OSError):
        return False
    return isinstance(value, str)


def _is_time_format(value: object) -> bool:
    return value in ("iso", "unix_s", "unix_ms") or (isinstance(value, str) and "%" in value)


def _is_pump_pattern(value: object) -> bool:
    try:
        return isinstance(value, str) and "pump_id" in re.compile(value).groupindex
    except re.error:
        return False
