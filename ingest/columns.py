"""Every column of every file that goes in: name, unit, needed or not, meaning, plausible range.

One table drives reading, checking and the documentation. Ranges are in the inner unit and are our
choice: wide enough for any pump set this trade installs, narrow enough to catch a wrong unit or a
sensor that is open or shorted. A value outside is not believed.
"""

from dataclasses import dataclass
from enum import Enum
from math import inf

from ingest.installed_base import OUTCOMES


class Kind(Enum):
    """How a cell is read."""

    ID = "id"
    TEXT = "text"
    NUMBER = "number"
    WIRE_GAUGE = "wire gauge"
    CHOICE = "choice"
    PHASES = "phases"
    YES_NO = "yes/no"
    DATE = "date"
    TIMEZONE = "time zone"
    INSTANT = "instant"


@dataclass(frozen=True, kw_only=True)
class Column:
    """One quantity or text of a file.

    Attributes
    ----------
    field : str
        Its name inside, with the inner unit where it has one.
    outer : tuple of (str, str)
        Names it may carry in the file, each with the unit of its values ("" for none).
    low, high : float
        Plausible range in the inner unit, ends included.
    blank_as : str
        What a blank is taken for, in words; "" where a blank is simply not known.
    """

    field: str
    outer: tuple[tuple[str, str], ...]
    kind: Kind
    meaning: str
    needed: bool = False
    low: float = -inf
    high: float = inf
    choices: tuple[str, ...] = ()
    blank_as: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """Names it may carry in the file."""
        return tuple(name for name, _ in self.outer)


def _id(name: str, meaning: str, *, needed: bool = True) -> Column:
    return Column(field=name, outer=((name, ""),), kind=Kind.ID, meaning=meaning, needed=needed)


def _text(name: str, meaning: str) -> Column:
    return Column(field=name, outer=((name, ""),), kind=Kind.TEXT, meaning=meaning)


def _choice(name: str, choices: tuple[str, ...], meaning: str, blank_as: str = "") -> Column:
    return Column(
        field=name,
        outer=((name, ""),),
        kind=Kind.CHOICE,
        choices=choices,
        meaning=meaning,
        blank_as=blank_as,
    )


def _other(
    name: str, kind: Kind, meaning: str, *, needed: bool = False, blank_as: str = ""
) -> Column:
    return Column(
        field=name,
        outer=((name, ""),),
        kind=kind,
        meaning=meaning,
        needed=needed,
        blank_as=blank_as,
    )


def _number(
    field: str,
    outer: str,
    low: float,
    high: float,
    meaning: str,
    *,
    needed: bool = False,
    blank_as: str = "",
) -> Column:
    """Make a column of numbers; ``outer`` lists ``name:unit`` pairs."""
    pairs = tuple(tuple(pair.split(":")) for pair in outer.split())
    return Column(
        field=field,
        outer=tuple((name, unit) for name, unit in pairs),
        kind=Kind.NUMBER,
        low=low,
        high=high,
        meaning=meaning,
        needed=needed,
        blank_as=blank_as,
    )


def _pressure(stem: str, low: float, high: float, meaning: str, *, needed: bool = False) -> Column:
    outer = " ".join(f"{stem}_{unit}:{unit}" for unit in ("psi", "kpa", "bar"))
    return _number(f"{stem}_kpa", outer, low, high, meaning, needed=needed)


SITES = (
    _id("site_id", "key"),
    _text("site_name", "what people call it"),
    _other(
        "timezone",
        Kind.TIMEZONE,
        "IANA name; log times without an offset and the night are local to it",
        blank_as="UTC",
    ),
    _text("region", "for grouping recurring faults"),
    _text("installer", "for grouping recurring faults"),
    _text("customer", "for grouping recurring faults"),
    _choice("units", ("us", "si"), "how this site's pages show quantities", "us"),
    _choice(
        "dependence",
        ("ordinary", "important", "critical"),
        "who depends on it: stock or a trade (important), clinic, school, only source (critical)",
    ),
    _number(
        "energy_price_per_kwh",
        "energy_price_per_kwh:per_kwh",
        0,
        1000,
        "what the site pays for energy, in its currency",
    ),
    _number(
        "water_price_per_m3",
        "water_price_per_kgal:per_kgal water_price_per_m3:per_m3",
        0,
        10_000,
        "what the site pays for water (per 1000 gal or m3), in its currency",
    ),
    _text("currency", "what the prices are in, as it is to be shown"),
)

PUMPS = (
    _id("pump_id", "key, unique in the fleet"),
    _id("site_id", "its site"),
    _text("pump_model", "for grouping, and the key of its curve"),
    _text("motor_model", "for grouping"),
    _text("controller_model", "the key of its fault codes"),
    _number("motor_kw", "motor_hp:hp motor_kw:kw", 0.01, 1000, "rated shaft power"),
    _number("motor_volts", "motor_volts:v", 10, 1000, "nameplate volts"),
    _number("rated_amps", "rated_amps:a", 0.05, 2000, "nameplate full-load current"),
    _number(
        "service_factor_amps",
        "service_factor_amps:a",
        0.05,
        2000,
        "nameplate service-factor current: the overload reference",
    ),
    _number(
        "overload_setting_amps",
        "overload_setting_amps:a",
        0.05,
        2000,
        "what the controller's motor overload is set to",
    ),
    _number(
        "supply_volts",
        "supply_volts:v",
        10,
        1000,
        "nominal supply at the controller: 115, 230, 400",
    ),
    _other("supply_phases", Kind.PHASES, "1 or 3", blank_as="1"),
    _other("motor_phases", Kind.PHASES, "1 or 3; blank where not known"),
    _number("max_hz", "max_hz:hz", 10, 400, "upper speed limit as set", blank_as="60"),
    _number("min_hz", "min_hz:hz", 0, 400, "lower speed limit as set", blank_as="30"),
    _choice("ramp", ("slow", "fast"), "how fast the speed is changed"),
    _pressure("pressure_setting", 10, 4000, "the set point"),
    _choice("suction", ("flooded", "tank", "lift", "well"), "where the pump draws from"),
    _pressure("suction", -101.325, 2000, "usual suction pressure at the pump, gauge"),
    _number("tank_l", "tank_gal:gal tank_l:l", 0.1, 50_000, "pressure tank's whole volume"),
    _pressure("precharge", 0, 2500, "tank gas pre-charge as set"),
    Column(
        field="supply_wire_mm2",
        outer=(("supply_wire_awg", "awg"), ("supply_wire_mm2", "mm2")),
        kind=Kind.WIRE_GAUGE,
        low=0.1,
        high=500,
        meaning="branch circuit conductor",
    ),
    _number(
        "supply_wire_m",
        "supply_wire_ft:ft supply_wire_m:m",
        0,
        5000,
        "branch circuit conductor, one-way length",
    ),
    _number(
        "motor_lead_m", "motor_lead_ft:ft motor_lead_m:m", 0, 3000, "controller-to-motor lead"
    ),
    _other("output_filter", Kind.YES_NO, "whether the drive's output has a filter"),
    _other("installed_on", Kind.DATE, "ISO date"),
    _number("warranty_months", "warranty_months:month", 0, 600, "months from installed_on"),
)

CURVES = (
    _id("pump_model", "the model, as in pumps.csv"),
    _number("flow_lpm", "flow_gpm:gpm flow_lpm:lpm", 0, 100_000, "flow", needed=True),
    _number("head_m", "head_ft:ft head_m:m", 0, 3000, "head at rated speed", needed=True),
    _number("efficiency_pct", "efficiency_pct:pct", 0, 100, "pump efficiency"),
    _number("shaft_kw", "shaft_hp:hp shaft_kw:kw", 0, 1000, "shaft power"),
)

FAULT_CODES = (
    _id("controller_model", "the model, as in pumps.csv"),
    _id("fault_code", "the code as logged"),
    _other("meaning", Kind.TEXT, "what it means, in the company's words", needed=True),
)

VISITS = (
    _other("visited_on", Kind.DATE, "ISO date", needed=True),
    _id("site_id", "where"),
    _id("pump_id", "which pump, where it was one", needed=False),
    _text("kind", "the finding it was about"),
    _choice("outcome", OUTCOMES, "what the visit showed, or what was agreed for a time"),
    _text("found", "in the technician's words"),
    _text("done", "in the technician's words"),
    Column(
        field="until_on",
        outer=(("until", ""),),
        kind=Kind.DATE,
        meaning="ISO date, the last day on which planned, told, accepted or explained holds",
    ),
)

REGISTER_FILES: dict[str, tuple[Column, ...]] = {
    "sites.csv": SITES,
    "pumps.csv": PUMPS,
    "curves.csv": CURVES,
    "fault_codes.csv": FAULT_CODES,
    "visits.csv": VISITS,
}

LOG_CHANNELS = (
    _pressure("pressure", -101.325, 4000, "discharge pressure, gauge", needed=True),
    _number(
        "frequency_hz",
        "frequency_hz:hz",
        -0.5,
        400,
        "drive output frequency; 0 when stopped",
        needed=True,
    ),
    _number("current_a", "current_a:a", -0.5, 2000, "motor current", needed=True),
    _number("voltage_v", "voltage_v:v", 0, 1000, "supply voltage at the controller's input"),
    _pressure("suction", -101.325, 2000, "suction pressure, gauge"),
    _number("flow_lpm", "flow_gpm:gpm flow_lpm:lpm", -1000, 100_000, "flow"),
    _number("drive_temp_c", "drive_temp_c:c drive_temp_f:f", -60, 200, "controller temperature"),
    _number(
        "input_current_a", "input_current_a:a", -0.5, 2000, "supply current into the controller"
    ),
)
"""The measured channels, in the order of ``ingest.samples.CHANNELS``."""

LOGS = (
    Column(
        field="ts",
        outer=(("timestamp", ""),),
        kind=Kind.INSTANT,
        needed=True,
        meaning="ISO 8601, with or without offset, or Unix seconds or milliseconds",
    ),
    _id("pump_id", "where absent, the file's stem up to the first __ or the end", needed=False),
    *LOG_CHANNELS,
    _text("fault_code", "the controller's own fault code; blank or 0 = none"),
)
