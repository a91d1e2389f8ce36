"""Supply voltage held against published ranges, and sags named by depth and duration.

The ranges are for comparison: a log of seconds or minutes is no power-quality recording, and a
sag shorter than its interval is not in it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

RANGE_A_SERVICE_PU = (0.95, 1.05)
"""Service voltage most of the time: 114-126 V on 120 V; ANSI C84.1."""

RANGE_B_SERVICE_PU = (110.0 / 120.0, 127.0 / 120.0)
"""Service voltage infrequently and briefly: 110-127 V on 120 V; ANSI C84.1."""

EN_50160_NARROW_PU = (0.90, 1.10)
"""Ten-minute means, 95 % of a week; EN 50160."""

EN_50160_WIDE_PU = (0.85, 1.10)
"""Ten-minute means, always; EN 50160. The upper end is 1.10 in both."""

EN_50160_SHARE_OUTSIDE_PCT = 5.0
"""Ten-minute means that may lie outside the narrow range in a week. [%]"""

_EDGE_PU = 1e-9  # a value on the edge of a range belongs to it, whatever the division rounds to


def in_range(
    voltage_v: ArrayLike, nominal_v: ArrayLike, range_pu: tuple[float, float]
) -> NDArray[np.float64]:
    """Whether voltages lie in a range, edges included.

    Parameters
    ----------
    voltage_v : array-like
        Voltages. [V]
    nominal_v : array-like
        Nominal voltage of the service. [V]
    range_pu : tuple of float
        Lower and upper end as shares of nominal, such as ``RANGE_A_SERVICE_PU``.

    Returns
    -------
    ndarray
        1 inside, 0 outside, NaN where an input is or the nominal voltage is not positive.
    """
    nominal = np.asarray(nominal_v, dtype=np.float64)
    share = np.divide(voltage_v, np.where(nominal > 0.0, nominal, np.nan))
    low, high = range_pu
    inside = (share >= low - _EDGE_PU) & (share <= high + _EDGE_PU)
    return np.where(np.isnan(share), np.nan, inside.astype(np.float64))


@dataclass(frozen=True, kw_only=True)
class En50160Week:
    """Ten-minute means of a week against EN 50160.

    Attributes
    ----------
    n : int
        Ten-minute values that are known.
    n_outside : int
        Of them, outside +/-10 % of nominal.
    n_outside_wide : int
        Of them, outside +10/-15 %.
    outside_pct : float
        ``n_outside`` over ``n``; NaN where none is known. [%]
    conforms : bool or None
        At most 5 % outside the narrow range and none outside the wide one; None where no value
        is known.
    """

    n: int
    n_outside: int
    n_outside_wide: int
    outside_pct: float
    conforms: bool | None


def en50160_week(ten_minute_v: ArrayLike, nominal_v: float) -> En50160Week:
    """Count a week's ten-minute rms means against EN 50160.

    Parameters
    ----------
    ten_minute_v : array-like, shape (n,)
        Ten-minute means, 1008 in a whole week; NaN where not observed. [V]
    nominal_v : float
        Nominal voltage. [V]

    Returns
    -------
    En50160Week

    References
    ----------
    .. [1] EN 50160, low-voltage supply, slow voltage variations.
    """
    narrow = in_range(ten_minute_v, nominal_v, EN_50160_NARROW_PU)
    wide = in_range(ten_minute_v, nominal_v, EN_50160_WIDE_PU)
    n = int(np.count_nonzero(~np.isnan(narrow)))
    n_outside = int(np.count_nonzero(narrow == 0.0))
    n_outside_wide = int(np.count_nonzero(wide == 0.0))
    outside_pct = 100.0 * n_outside / n if n else float("nan")
    conforms = outside_pct <= EN_50160_SHARE_OUTSIDE_PCT and n_outside_wide == 0 if n else None
    return En50160Week(
        n=n,
        n_outside=n_outside,
        n_outside_wide=n_outside_wide,
        outside_pct=outside_pct,
        conforms=conforms,
    )


_HALF_CYCLE = 0.5
_INSTANTANEOUS_CYCLES = 30.0
_MOMENTARY_S = 3.0
_TEMPORARY_S = 60.0
_INTERRUPTION_PU = 0.1
_SAG_PU = 0.9
_SWELL_PU = 1.1


def variation_name(voltage_pu: float, duration_s: float, mains_hz: float = 60.0) -> str:
    """Name a spell of low or high voltage by its depth and duration, in the words of IEEE 1159.

    Parameters
    ----------
    voltage_pu : float
        Voltage during the spell as a share of nominal.
    duration_s : float
        Its length. [s]
    mains_hz : float
        Mains frequency: the shortest spells are counted in cycles. [Hz]

    Returns
    -------
    str
        "temporary sag", "undervoltage", "sustained interruption" and the like; "" within 0.9 to
        1.1 of nominal, shorter than half a cycle, or where an input is NaN.

    References
    ----------
    .. [1] IEEE 1159 (1995, 2009, 2019), table of short- and long-duration variations; the rows
       temporary and over one minute from memory.
    """
    cycles = duration_s * mains_hz
    if not cycles >= _HALF_CYCLE or not (voltage_pu < _SAG_PU or voltage_pu > _SWELL_PU):
        return ""
    if voltage_pu < _INTERRUPTION_PU:
        return f"{_interruption_length(duration_s)} interruption"
    is_low = voltage_pu < _SAG_PU
    if duration_s > _TEMPORARY_S:
        return "undervoltage" if is_low else "overvoltage"
    return f"{_variation_length(duration_s, cycles)} {'sag' if is_low else 'swell'}"


def _interruption_length(duration_s: float) -> str:
    if duration_s > _TEMPORARY_S:
        return "sustained"
    return "momentary" if duration_s <= _MOMENTARY_S else "temporary"


def _variation_length(duration_s: float, cycles: float) -> str:
    if cycles <= _INSTANTANEOUS_CYCLES:
        return "instantaneous"
    return "momentary" if duration_s <= _MOMENTARY_S else "temporary"
