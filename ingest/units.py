"""What one unit is in the program's inner unit of its quantity.

Outer columns name their unit by suffix (``pressure_psi``); inside there is one unit a quantity.
Factors come from a units library, so none is written down twice.
"""

import math
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, slots=True)
class Conversion:
    """``inner = value * factor + offset``."""

    factor: float = 1.0
    offset: float = 0.0

    def inner(self, value: float) -> float:
        """Value in the inner unit."""
        return value * self.factor + self.offset

    def outer(self, value: float) -> float:
        """Value in the outer unit."""
        return (value - self.offset) / self.factor


@dataclass(frozen=True, slots=True)
class _Unit:
    name: str  # in the units library
    inner: str  # the inner unit, in the units library
    above_atmosphere: bool = False  # reads from vacuum; the inner unit is gauge


ATMOSPHERE_KPA = 101.325
"""Standard atmosphere, ISO 2533; absolute pressures are made gauge with it."""

_UNITS = {
    "psi": _Unit("psi", "kPa"),
    "kpa": _Unit("kPa", "kPa"),
    "bar": _Unit("bar", "kPa"),
    "mbar": _Unit("mbar", "kPa"),
    "mpa": _Unit("MPa", "kPa"),
    "ft_water": _Unit("foot_H2O", "kPa"),
    "m_water": _Unit("meter * gram / centimeter ** 3 * standard_gravity", "kPa"),
    "psi_abs": _Unit("psi", "kPa", above_atmosphere=True),
    "kpa_abs": _Unit("kPa", "kPa", above_atmosphere=True),
    "bar_abs": _Unit("bar", "kPa", above_atmosphere=True),
    "hz": _Unit("Hz", "Hz"),
    "a": _Unit("A", "A"),
    "ma": _Unit("mA", "A"),
    "v": _Unit("V", "V"),
    "kv": _Unit("kV", "V"),
    "gpm": _Unit("gallon / minute", "liter / minute"),
    "lpm": _Unit("liter / minute", "liter / minute"),
    "lps": _Unit("liter / second", "liter / minute"),
    "m3h": _Unit("meter ** 3 / hour", "liter / minute"),
    "c": _Unit("degC", "degC"),
    "f": _Unit("degF", "degC"),
    "gal": _Unit("gallon", "liter"),
    "l": _Unit("liter", "liter"),
    "ft": _Unit("foot", "meter"),
    "m": _Unit("meter", "meter"),
    "mm2": _Unit("mm ** 2", "mm ** 2"),
    "hp": _Unit("horsepower", "kW"),
    "kw": _Unit("kW", "kW"),
    "pct": _Unit("percent", "percent"),
}

UNITS = frozenset(_UNITS)
"""Every unit suffix that has a factor."""


@cache
def conversion(unit: str) -> Conversion:
    """Return how a value in ``unit`` becomes the inner unit of its quantity.

    Parameters
    ----------
    unit : str
        A suffix of ``UNITS``, such as ``psi``. Gallons are US gallons, horsepower is mechanical
        (550 ft lbf/s), heads are of water at 1000 kg/m3.
    """
    known = _UNITS[unit]
    offset = -ATMOSPHERE_KPA if known.above_atmosphere else 0.0
    if known.name == known.inner:
        return Conversion(offset=offset)
    # A step of one degree is not the same as one degree on the scale: libraries tell them apart.
    step, inner_step = (name.replace("deg", "delta_deg") for name in (known.name, known.inner))
    return Conversion(
        factor=_convert(1.0, step, inner_step),
        offset=_convert(0.0, known.name, known.inner) + offset,
    )


def _convert(value: float, unit: str, inner: str) -> float:
    registry = _unit_registry()
    return float(registry.Quantity(value, unit).to(inner).magnitude)  # type: ignore[attr-defined]  # lazy


@cache
def _unit_registry() -> object:
    import pint  # only when a file in other units is read: its definitions take a while to parse

    return pint.UnitRegistry()


def awg_mm2(size: str) -> float:
    """Cross-section in mm2 of a solid round conductor of an American wire gauge size.

    The diameter is 0.127 mm x 92^((36 - n) / 39) [1]_; sizes above 0 are written 1/0 (n = 0),
    2/0 (n = -1), 3/0 and 4/0, or 0, 00, 000, 0000.

    Parameters
    ----------
    size : str
        Gauge as written on the cable: ``12``, ``1/0``, ``0000``.

    Returns
    -------
    float
        [mm2]

    Raises
    ------
    ValueError
        The text is not a gauge between 4/0 and 40.

    References
    ----------
    .. [1] ASTM B258, Standard specification for standard nominal diameters and cross-sectional
       areas of AWG sizes of solid round wires used as electrical conductors.
    """
    text = size.strip().upper().removeprefix("AWG").removesuffix("AWG").strip().removeprefix("#")
    if text.endswith("/0") and text[:-2] in {"1", "2", "3", "4"}:
        number = 1 - int(text[:-2])
    elif text in {"0", "00", "000", "0000"}:
        number = 1 - len(text)
    elif text.isdecimal() and 1 <= int(text) <= 40:
        number = int(text)
    else:
        raise ValueError(size)
    diameter_mm = 0.127 * 92 ** ((36 - number) / 39)
    return float(math.pi / 4 * diameter_mm**2)
