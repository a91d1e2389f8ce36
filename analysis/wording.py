"""How quantities, times and certainty are said to people, in the units of their site.

Every number keeps to what a sensor of the trade can show: whole psi or kPa, tenths of a volt or
ampere at most, two figures of an estimate. Nothing here judges.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import floor, isfinite, log10
from zoneinfo import ZoneInfo

PSI_KPA = 6.894757293168
GAL_L = 3.785411784
FT_M = 0.3048
HP_KW = 0.745699872
"""US units in inner units; exact by definition (psi and hp to the digits shown)."""

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FIRST_DAY = timedelta(days=1)
_SURENESS = ((0.8, "very likely"), (0.6, "likely"), (0.4, "possible"), (0.0, "not sure"))


@dataclass(frozen=True)
class ShownUnit:
    """A unit as a page shows it: ``shown = inner / per_shown + offset``."""

    label: str
    per_shown: float = 1.0
    offset: float = 0.0

    def of(self, inner: float) -> float:
        """Convert a value from its inner unit."""
        return inner / self.per_shown + self.offset


_UNITS = {
    "us": {
        "pressure": ShownUnit("psi", PSI_KPA),
        "flow": ShownUnit("gpm", GAL_L),
        "volume": ShownUnit("gal", GAL_L),
        "length": ShownUnit("ft", FT_M),
        "temperature": ShownUnit("F", 5 / 9, 32.0),
        "power": ShownUnit("hp", HP_KW),
    },
    "si": {
        "pressure": ShownUnit("kPa"),
        "flow": ShownUnit("L/min"),
        "volume": ShownUnit("L"),
        "length": ShownUnit("m"),
        "temperature": ShownUnit("C"),
        "power": ShownUnit("kW"),
    },
}


def shown_unit(quantity: str, units: str) -> ShownUnit:
    """Unit in which a site sees a quantity.

    Parameters
    ----------
    quantity : str
        ``pressure``, ``flow``, ``volume``, ``length``, ``temperature`` or ``power``.
    units : str
        ``us`` or ``si``, as registered for the site.

    Raises
    ------
    KeyError
        No such quantity or unit system.
    """
    return _UNITS[units][quantity]


def figures_text(value: float, figures: int = 2) -> str:
    """Write a number with so many significant figures, never in powers of ten.

    ``0.2394`` -> ``0.24``, ``1234`` -> ``1200``, ``0`` -> ``0``.
    """
    if value == 0 or not isfinite(value):
        return "0" if value == 0 else "unknown"
    rounded = float(f"{value:.{figures}g}")
    decimals = figures - 1 - floor(log10(abs(rounded)))
    return f"{rounded:.{max(0, decimals)}f}"


def pressure_text(kpa: float, units: str) -> str:
    """Gauge pressure or a difference of pressures in whole units, ``60 psi`` [kPa]."""
    unit = shown_unit("pressure", units)
    shown = unit.of(kpa)
    if 0 < abs(shown) < 0.5:
        return f"under 1 {unit.label}"
    return f"{round(shown)} {unit.label}"


def pressure_rate_text(kpa_per_min: float, units: str) -> str:
    """How fast pressure moves, by the second, minute or hour so that it is easily said."""
    unit = shown_unit("pressure", units)
    shown = unit.of(kpa_per_min)
    if abs(shown) >= 60:
        return f"{figures_text(shown / 60)} {unit.label} a second"
    if abs(shown) >= 1 or shown == 0:
        return f"{figures_text(shown)} {unit.label} a minute"
    return f"{figures_text(shown * 60)} {unit.label} an hour"


def flow_text(lpm: float, units: str) -> str:
    """Flow with two figures, ``0.13 gpm`` [L/min]."""
    unit = shown_unit("flow", units)
    return f"{figures_text(unit.of(lpm))} {unit.label}"


def flow_range_text(low_lpm: float, high_lpm: float, units: str) -> str:
    """Band of a flow, ``0.05 to 0.11 gpm``; one number where both ends read alike [L/min]."""
    unit = shown_unit("flow", units)
    low, high = figures_text(unit.of(low_lpm)), figures_text(unit.of(high_lpm))
    return f"{low} {unit.label}" if low == high else f"{low} to {high} {unit.label}"


def volume_text(litres: float, units: str) -> str:
    """Volume with two figures, ``190 gal`` [L]."""
    unit = shown_unit("volume", units)
    return f"{figures_text(unit.of(litres))} {unit.label}"


def length_text(metres: float, units: str) -> str:
    """Length in whole feet or metres [m]."""
    unit = shown_unit("length", units)
    return f"{round(unit.of(metres))} {unit.label}"


def temperature_text(celsius: float, units: str) -> str:
    """Temperature in whole degrees [C]."""
    unit = shown_unit("temperature", units)
    return f"{round(unit.of(celsius))} {unit.label}"


def temperature_change_text(celsius: float, units: str) -> str:
    """Difference of two temperatures in whole degrees [C]."""
    unit = shown_unit("temperature", units)
    return f"{round(celsius / unit.per_shown)} {unit.label}"


def power_text(kw: float, units: str) -> str:
    """Shaft power as motors are sold, ``1.5 hp`` or ``1.1 kW`` [kW]."""
    unit = shown_unit("power", units)
    return f"{unit.of(kw):.2g} {unit.label}" if unit.of(kw) < 10 else _whole(unit, kw)


def _whole(unit: ShownUnit, inner: float) -> str:
    return f"{round(unit.of(inner))} {unit.label}"


def volts_text(volts: float) -> str:
    """Volts: whole above 20 V, tenths below (drops are told in tenths) [V]."""
    return f"{volts:.1f} V" if abs(volts) < 20 else f"{round(volts)} V"


def amps_text(amps: float) -> str:
    """Amperes with one decimal, as on a clamp meter; whole from 100 A [A]."""
    return f"{amps:.1f} A" if abs(amps) < 100 else f"{round(amps)} A"


def ohms_text(ohms: float) -> str:
    """Ohms with two figures [ohm]."""
    return f"{figures_text(ohms)} ohm"


def frequency_text(hz: float) -> str:
    """Frequency in whole hertz, as it is set [Hz]."""
    return f"{round(hz)} Hz"


def percent_text(pct: float) -> str:
    """Percentage: whole from 10, one decimal below."""
    return f"{round(pct)} %" if abs(pct) >= 10 else f"{pct:z.1f} %".replace(".0 %", " %")


def duration_text(seconds: float) -> str:
    """Length of time in the one or two units a person would use [s].

    ``45`` -> ``45 s``, ``150`` -> ``2.5 min``, ``5400`` -> ``1 h 30 min``.
    """
    if seconds < 90:
        return f"{figures_text(seconds, 1) if seconds < 1 else round(seconds)} s"
    if seconds < 600:
        return f"{seconds / 60:.1f} min".replace(".0 min", " min")
    minutes = round(seconds / 60)
    if minutes < 90:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours < 10:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    if seconds < 48 * 3600:
        return f"{round(seconds / 3600)} h"
    return f"{seconds / 86400:.1f} days".replace(".0 days", " days")


def count_text(n: float, noun: str, plural: str | None = None, *, at_least: bool = False) -> str:
    """Count with its noun: ``1 start``, ``at least 910 starts``."""
    shown = round(n)
    word = noun if shown == 1 else plural or f"{noun}s"
    return f"{'at least ' if at_least else ''}{shown} {word}"


def _local(instant: datetime, timezone: str) -> datetime:
    return instant.replace(tzinfo=UTC).astimezone(ZoneInfo(timezone))


def local_date_text(instant: datetime, timezone: str) -> str:
    """Day at the site of a UTC instant, ``Tue 17 Nov``."""
    local = _local(instant, timezone)
    return f"{_WEEKDAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"


def since_text(
    first_seen: datetime,
    log_begins_at: datetime | None,
    timezone: str,
    *,
    has_year: bool = False,
) -> str:
    """Since when, ``Tue 17 Nov``; from the log's first day on nobody knows how much longer.

    Parameters
    ----------
    first_seen : datetime
        First sign, UTC.
    log_begins_at : datetime or None
        First sample of the pump, UTC; None where it is not known.
    timezone : str
        The site's IANA zone.
    has_year : bool
        Say the year too.
    """
    day = local_date_text(first_seen, timezone)
    if has_year:
        day = f"{day} {_local(first_seen, timezone).year}"
    if log_begins_at is not None and timedelta(0) <= first_seen - log_begins_at < _FIRST_DAY:
        return f"the log begins ({day})"
    return day


def local_time_text(instant: datetime, timezone: str) -> str:
    """Clock time at the site of a UTC instant with its zone, ``14:05 EST``."""
    local = _local(instant, timezone)
    return f"{local:%H:%M} {local.tzname()}"


def confidence_text(confidence: float) -> str:
    """How sure, in words: ``very likely``, ``likely``, ``possible`` or ``not sure`` [0-1]."""
    return next(words for least, words in _SURENESS if confidence >= least or least == 0.0)


def join_text(parts: Sequence[str], last: str = "and") -> str:
    """List in a sentence: ``a``, ``a and b``, ``a, b and c``."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"
