"""Paired volts: the supply just before each start against the settled run just after it.

The supply itself hardly moves within a minute, so the drop of a pair is the pump's own: what its
current loses in everything upstream. Divided by the current it is the loop's resistance (Ohm's
law). Where the supply current is not logged it is estimated from the motor's, with the band its
assumptions leave.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import PAIR_CURRENT_MIN_A, PAIR_WINDOW_S
from analysis.measure.quantiles import median, robust_sd, row_medians
from analysis.measure.segments import RUNNING
from analysis.measure.trace import Trace, smallest_step
from analysis.physics.electrical import (
    MAGNETISING_SHARE,
    supply_current_band_ratios,
)
from analysis.physics.working_current import magnetising_part_a
from analysis.supply_current import estimated_supply_a

_NEAREST = 5
_SLOW_INTERVALS = 5.0
_EVENING_HOURS = (16, 22)
_MEDIAN_SE = 1.2533
_NORMAL_95 = 1.96


@dataclass(frozen=True)
class Pairs:
    """Starts with volts on both sides; arrays of shape (k,).

    Attributes
    ----------
    start_s : ndarray of float64
        The start. [s]
    drop_v : ndarray of float64
        Idle volts less settled volts. [V]
    motor_a : ndarray of float64
        Settled motor current. [A]
    supply_a : ndarray of float64
        What the supply current rose by: logged, or estimated; NaN where neither is possible. [A]
    is_logged : bool
        The supply current was logged.
    magnetising_share : float or None
        Of the rated amps, where the drops themselves tell it and an estimate rests on it.
    """

    start_s: NDArray[np.float64]
    drop_v: NDArray[np.float64]
    motor_a: NDArray[np.float64]
    supply_a: NDArray[np.float64]
    is_logged: bool
    magnetising_share: float | None = None


def voltage_pairs(week: Trace, volts: NDArray[np.float32]) -> Pairs:
    """Pair the volts around every start.

    On either side the median of up to five samples is taken, the nearest ones within 60 s (in a
    slow log within five intervals): idle ones before the start, settled ones after it.

    Parameters
    ----------
    volts : ndarray, shape (n,)
        Supply volts, NaN where there is none that can be read. [V]
    """
    cut, settled = week.cut, week.settled
    started = np.flatnonzero(cut.is_start)
    of_run = (np.cumsum(cut.state == RUNNING) - 1)[started]
    has_settled = settled.end[of_run] > settled.first[of_run]
    started, of_run = started[has_settled], of_run[has_settled]
    reach_s = max(PAIR_WINDOW_S.value, _SLOW_INTERVALS * week.time.interval_s)
    nearest = np.arange(_NEAREST)
    before = cut.first[started][:, None] - 1 - nearest
    is_before = before >= cut.first[started - 1][:, None]
    is_before &= week.time.t_s[before] >= cut.from_s[started][:, None] - reach_s
    after = settled.first[of_run][:, None] + nearest
    is_after = after < settled.end[of_run][:, None]
    after = np.minimum(after, week.time.t_s.size - 1)
    is_after &= week.time.t_s[after] <= week.time.t_s[after[:, :1]] + reach_s

    def idle(channel: NDArray[np.float32]) -> NDArray[np.float64]:
        return row_medians(np.where(is_before, channel[before], np.nan).astype(np.float64))

    def run(channel: NDArray[np.float32]) -> NDArray[np.float64]:
        return row_medians(np.where(is_after, channel[after], np.nan).astype(np.float64))

    samples = week.samples
    run_v, motor_a = run(volts), run(samples.current_a)
    drop_v = idle(volts) - run_v
    is_logged = "input_current_a" in week.logged
    share = None
    if is_logged:
        idle_a = np.nan_to_num(idle(samples.input_current_a))
        supply_a = run(samples.input_current_a) - idle_a
    else:
        frequency_hz = run(samples.frequency_hz)
        share = _magnetising_share(week, drop_v, run_v, frequency_hz, motor_a)
        supply_a = _estimated_supply_a(week, motor_a, frequency_hz, run_v, share)
    keep = ~np.isnan(drop_v)
    return Pairs(
        start_s=cut.from_s[started][keep],
        drop_v=drop_v[keep],
        motor_a=motor_a[keep],
        supply_a=supply_a[keep],
        is_logged=is_logged,
        magnetising_share=share,
    )


def _magnetising_share(
    week: Trace,
    drop_v: NDArray[np.float64],
    supply_v: NDArray[np.float64],
    frequency_hz: NDArray[np.float64],
    motor_a: NDArray[np.float64],
) -> float | None:
    """Magnetising share of the rated amps; what the drops say of it, up to the usual range."""
    rated_a = week.pump.rated_amps
    part_a = magnetising_part_a(drop_v, supply_v, frequency_hz, motor_a)
    return None if part_a is None or not rated_a else min(part_a / rated_a, MAGNETISING_SHARE.high)


def _estimated_supply_a(
    week: Trace,
    motor_a: NDArray[np.float64],
    frequency_hz: NDArray[np.float64],
    supply_v: NDArray[np.float64],
    share: float | None,
) -> NDArray[np.float64]:
    pump = week.pump
    if pump.motor_volts is None:
        return np.full(motor_a.shape, np.nan)
    return estimated_supply_a(pump, motor_a, frequency_hz, supply_v, share)


def pair_measures(
    week: Trace, pairs: Pairs, volts: NDArray[np.float32], windows_s: NDArray[np.float64] | None
) -> dict[str, Any]:
    """Fields of `PumpWeek` on the pump's own drop and the loop's resistance.

    Parameters
    ----------
    volts : ndarray, shape (n,)
        Supply volts as paired. [V]
    windows_s : ndarray of float64, shape (7, 2), or None
        The quiet window of each night. [s]

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    at_hour = week.clock.hour[week.hour_of(pairs.start_s)]
    is_evening = (at_hour >= _EVENING_HOURS[0]) & (at_hour < _EVENING_HOURS[1])
    is_night = np.zeros(pairs.start_s.size, dtype=np.bool_)
    for low_s, high_s in () if windows_s is None else windows_s:
        is_night |= (pairs.start_s >= low_s) & (pairs.start_s < high_s)
    has_supply = bool((~np.isnan(pairs.supply_a)).any())
    return {
        "n_voltage_pairs": pairs.drop_v.size,
        "own_drop_v": median(pairs.drop_v),
        "own_drop_sd_v": robust_sd(pairs.drop_v),
        "own_drop_night_v": median(pairs.drop_v[is_night]),
        "own_drop_evening_v": median(pairs.drop_v[is_evening]),
        "pair_supply_a": median(pairs.supply_a),
        "supply_current_is_logged": pairs.is_logged if has_supply else None,
        "magnetising_share": pairs.magnetising_share if has_supply else None,
        "apparent_resistance_ohm": median(_per_ampere(pairs.drop_v, pairs.motor_a)),
        **_loop(week, pairs, volts),
    }


def _per_ampere(
    drop_v: NDArray[np.float64], current_a: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Drop over current, in V/A, where the current is large enough to divide by."""
    enough = current_a >= PAIR_CURRENT_MIN_A.value  # False of NaN
    return np.asarray(drop_v[enough] / current_a[enough])


def _loop(week: Trace, pairs: Pairs, volts: NDArray[np.float32]) -> dict[str, float | None]:
    """Loop resistance with its band.

    The band joins the 95 % interval of the median over starts, half a step of the volts' rounding
    and, where the supply current is an estimate, the ends of its assumptions.
    """
    each_ohm = _per_ampere(pairs.drop_v, pairs.supply_a)
    loop_ohm = median(each_ohm)
    if loop_ohm is None:
        return {}
    spread_ohm = robust_sd(each_ohm) or 0.0
    supply_a = median(pairs.supply_a[pairs.supply_a >= PAIR_CURRENT_MIN_A.value]) or np.inf
    by_chance = _NORMAL_95 * _MEDIAN_SE * spread_ohm / np.sqrt(each_ohm.size)
    by_rounding = (smallest_step(volts) or 0.0) / 2.0 / supply_a
    half_ohm = float(np.hypot(by_chance, by_rounding))
    low, high = (1.0, 1.0)
    if not pairs.is_logged:
        low, high = _estimate_band(week, pairs)
    return {
        "loop_resistance_ohm": loop_ohm,
        "loop_resistance_low_ohm": max(0.0, (loop_ohm - half_ohm) / high),
        "loop_resistance_high_ohm": (loop_ohm + half_ohm) / low,
    }


def _estimate_band(week: Trace, pairs: Pairs) -> tuple[float, float]:
    """Ends of the estimated supply current over it, at the usual load of the pairs."""
    rated_a, motor_a = week.pump.rated_amps, median(pairs.motor_a)
    load_share = motor_a / rated_a if rated_a and motor_a else 1.0
    if pairs.magnetising_share is not None:
        load_share = 1.0  # the part load is measured; what remains are power factors
    low, high = supply_current_band_ratios(week.pump.supply_phases, load_share)
    return float(low), float(high)
