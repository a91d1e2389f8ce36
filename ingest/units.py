"""What one unit is in the program's inner unit of its quantity.

Outer columns name their unit by suffix (``pressure_psi``); inside there is one unit a quantity.
Each factor is worked out of the exact definitions of its units; the tests hold all of them to a
library of units, which would take longer to load than all else a load needs.
"""

import math
from dataclasses import dataclass


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


ATMOSPHERE_KPA = 101.325
"""Standard atmosphere, ISO 2533; absolute pressures are made gauge with it."""

_GRAVITY_M_PER_S2 = 9.80665
_INCH_M = 0.0254
_FOOT_M = 12 * _INCH_M
_POUND_N = 0.45359237 * _GRAVITY_M_PER_S2
_GALLON_L = 231 * _INCH_M**3 * 1000
"""Exact: standard gravity (CGPM 1901); inch, pound and US gallon after NIST SP 811."""

_PSI_KPA = _POUND_N / _INCH_M**2 / 1000
_BAR_KPA = 100.0
_WATER_KPA_PER_M = _GRAVITY_M_PER_S2  # of 1000 kg/m3
_HP_KW = 550 * _FOOT_M * _POUND_N / 1000

_SAME = Conversion()

_CONVERSIONS = {
    "psi": Conversion(_PSI_KPA),
    "kpa": _SAME,
    "bar": Conversion(_BAR_KPA),
    "mbar": Conversion(_BAR_KPA / 1000),
    "mpa": Conversion(1000.0),
    "ft_water": Conversion(_FOOT_M * _WATER_KPA_PER_M),
    "m_water": Conversion(_WATER_KPA_PER_M),
    "psi_abs": Conversion(_PSI_KPA, -ATMOSPHERE_KPA),
    "kpa_abs": Conversion(offset=-ATMOSPHERE_KPA),
    "bar_abs": Conversion(_BAR_KPA, -ATMOSPHERE_KPA),
    "hz": _SAME,
    "a": _SAME,
    "ma": Conversion(0.001),
    "v": _SAME,
    "kv": Conversion(1000.0),
    "gpm": Conversion(_GALLON_L),
    "lpm": _SAME,
    "lps": Conversion(60.0),
    "m3h": Conversion(1000 / 60),
    "c": _SAME,
    "f": Conversion(5 / 9, -32 * 5 / 9),
    "gal": Conversion(_GALLON_L),
    "l": _SAME,
    "ft": Conversion(_FOOT_M),
    "m": _SAME,
    "mm2": _SAME,
    "hp": Conversion(_HP_KW),
    "kw": _SAME,
    "pct": _SAME,
    "month": _SAME,
    "per_kwh": _SAME,
    "per_m3": _SAME,
    "per_kgal": Conversion(1 / _GALLON_L),
}

UNITS = frozenset(_CONVERSIONS)
"""Every unit suffix that has a factor."""


def conversion(unit: str) -> Conversion:
    """Return how a value in ``unit`` becomes the inner unit of its quantity.

    Parameters
    ----------
    unit : str
        A suffix of ``UNITS``, such as ``psi``. Gallons are US gallons, horsepower is mechanical
        (550 ft lbf/s), heads are of water at 1000 kg/m3.
    """
    return _CONVERSIONS[unit]


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
