"""What one unit is in the program's inner unit of its quantity.

Outer columns name their unit by suffix (``pressure_psi``); inside there is one unit a quantity.
A units library works the factors out of the units' definitions, so none is written down twice.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Any


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
    "month": _Unit("month", "month"),
    "per_kwh": _Unit("1 / (kilowatt * hour)", "1 / (kilowatt * hour)"),
    "per_m3": _Unit("1 / meter ** 3", "1 / meter ** 3"),
    "per_kgal": _Unit("1 / kilogallon", "1 / meter ** 3"),
}

_DEFINITIONS = """
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
mega- = 1e6 = M-
meter = [length] = m
second = [time] = s
gram = [mass] = g
ampere = [current] = A
kelvin = [temperature]; offset: 0 = K
minute = 60 * second
hour = 60 * minute
hertz = 1 / second = Hz
pascal = kilogram / meter / second ** 2 = Pa
watt = kilogram * meter ** 2 / second ** 3 = W
volt = watt / ampere = V
bar = 1e5 * pascal
liter = 1e-3 * meter ** 3
inch = 25.4 * millimeter
foot = 12 * inch
gallon = 231 * inch ** 3
pound = 453.59237 * gram
standard_gravity = 9.80665 * meter / second ** 2
psi = pound * standard_gravity / inch ** 2
foot_H2O = foot * gram / centimeter ** 3 * standard_gravity
horsepower = 550 * foot * pound * standard_gravity / second
percent = 0.01
degree_Celsius = kelvin; offset: 273.15 = °C = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = °F = degF
"""
"""Exact definitions: SI (9th brochure), standard gravity (CGPM 1901), and for inch, pound and US
gallon NIST SP 811. The library's own file of all units takes four times as long to read."""

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
    return float(_unit_registry().Quantity(value, unit).to(inner).magnitude)


@cache
def _unit_registry() -> Any:
    import pint  # only when a file in other units is read: it takes a while to load

    registry: Any = pint.UnitRegistry(None)
    for definition in _DEFINITIONS.strip().splitlines():
        registry.define(definition)
    return registry


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
