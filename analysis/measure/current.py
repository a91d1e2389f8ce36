"""Motor current of settled running: level, time over limits, a ceiling, how near a trip."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    CEILING_ABOVE_SHARE,
    CEILING_BAND_SHARE,
    CEILING_MIN_S,
    CEILING_PILE_SHARE,
    CEILING_SAMPLES_MIN,
    CEILING_SHORT_SHARE,
    SHUT_DOWN_KPA,
    THERMAL_K,
    THERMAL_TAU_S,
)
from analysis.measure.quantiles import held_quantile, held_quantiles
from analysis.measure.trace import Trace
from analysis.physics.motor import thermal_state

_MINUTE_S = 60.0
_PCT = 100.0


@dataclass(frozen=True)
class Ceiling:
    """A current at which the drive holds its speed back.

    Attributes
    ----------
    current_a : float or None
        The ceiling; None where there is none. [A]
    rows : ndarray of int64
        Rows at it, short of the setting and below full speed.
    """

    current_a: float | None
    rows: NDArray[np.int64]


def ceiling(week: Trace, held_kpa: float | None) -> Ceiling:
    """Find a current ceiling.

    A drive that limits current cuts its speed: pressure stays over 5 % short of the setting
    although speed is below its limit, and current piles up at one value. Found where that lasts
    for a minute of the week and ten samples, most of it lies within 3 % of one current, and
    settled running hardly ever passes that. Filling a line that stood empty is no part of it:
    pressure is short there at any current.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    """
    none = Ceiling(None, np.empty(0, dtype=np.int64))
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    if setting_kpa is None:
        return none
    settled = week.settled
    is_short = settled.pressure_kpa < (1.0 - CEILING_SHORT_SHARE.value) * setting_kpa
    is_back = is_short & ~_fills(week, is_short)
    is_back &= settled.frequency_hz < week.pump.max_hz - AT_MAX_WITHIN_HZ.value
    back = np.flatnonzero(is_back)
    back_s, back_a = settled.held_s[back], settled.current_a[back]
    at_a = held_quantile(back_a, back_s, 0.5)
    if at_a is None or at_a <= 0.0 or float(back_s.sum()) < CEILING_MIN_S.value:
        return none
    band_a = CEILING_BAND_SHARE.value * at_a
    piled = np.flatnonzero(np.abs(back_a - at_a) <= band_a)
    above = np.flatnonzero(settled.current_a > at_a + band_a)
    piled_s = float(back_s[piled].sum())
    above_s = float(settled.held_s[above].sum())
    is_pile = piled.size >= CEILING_SAMPLES_MIN.value
    is_pile &= piled_s >= max(CEILING_MIN_S.value, CEILING_PILE_SHARE.value * float(back_s.sum()))
    if not is_pile or above_s > CEILING_ABOVE_SHARE.value * float(settled.held_s.sum()):
        return none
    return Ceiling(at_a, settled.rows[back[piled]])


def _fills(week: Trace, is_short: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Settled samples of runs that began on an empty line, until these first make pressure."""
    settled, runs = week.settled, week.cut.runs
    fills = np.zeros(is_short.size, dtype=np.bool_)
    before = week.samples.pressure_kpa[np.maximum(week.cut.first[runs] - 1, 0)]
    began_empty = week.cut.is_start[runs] & (before <= SHUT_DOWN_KPA.value)  # False of NaN
    count = settled.end - settled.first
    end = np.cumsum(count)
    for run in np.flatnonzero(began_empty & (count > 0)):
        part = slice(end[run] - count[run], end[run])
        made = np.flatnonzero(~is_short[part])
        fills[part][: made[0] if made.size else 0] = True
    return fills


def current_measures(week: Trace, of: Ceiling) -> dict[str, Any]:
    """Fields of `PumpWeek` on current, heat and the other channels.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    settled, samples, pump = week.settled, week.samples, week.pump
    level = held_quantiles(settled.current_a, settled.held_s, (0.5, 0.95, 1.0))
    p50_a, p95_a, max_a = level or (None, None, None)
    input_a = flow_lpm = None
    if "input_current_a" in week.logged:
        input_a = held_quantile(samples.input_current_a[settled.rows], settled.held_s, 0.95)
    if "flow_lpm" in week.logged:
        running = week.running_rows
        flow_lpm = held_quantile(samples.flow_lpm[running], week.time.held_s[running], 0.5)
    return {
        "current_p50_a": p50_a,
        "current_p95_a": p95_a,
        "current_max_a": max_a,
        "over_limit_s": over_s(week, pump.service_factor_amps),
        "over_rated_s": over_s(week, pump.rated_amps),
        "over_setting_s": over_s(week, pump.overload_setting_amps),
        "ceiling_a": of.current_a,
        "clip_s": None if level is None else float(week.time.held_s[of.rows].sum()),
        "input_current_p95_a": input_a,
        "flow_p50_lpm": flow_lpm,
        **_thermal(week),
    }


def over_s(week: Trace, limit_a: float | None, day: int | None = None) -> float | None:
    """Settled running time over a current, in the week or one of its days.

    None where the limit is not registered or no current was logged while settled.
    """
    part = settled_of(week, day)
    current_a = week.settled.current_a[part]
    if limit_a is None or np.isnan(current_a).all():
        return None
    over = np.flatnonzero(current_a > limit_a)
    return float(week.settled.held_s[part][over].sum())


def settled_of(week: Trace, day: int | None) -> slice:
    """Which of the settled samples lie in a day of the week (all for None)."""
    if day is None:
        return slice(None)
    low, high = np.searchsorted(week.settled.rows, week.day_rows[day : day + 2])
    return slice(int(low), int(high))


def _thermal(week: Trace) -> dict[str, Any]:
    """Highest state of the motor's thermal replica, on root-mean-square current by the minute.

    Against the overload setting, or the service-factor amperes where it is not registered. The
    motor counts as cold at the week's start and as stopped in a gap: a lower bound.
    """
    setting_a = week.pump.overload_setting_amps or week.pump.service_factor_amps
    current_a = week.samples.current_a
    if not np.isfinite(current_a).all():
        current_a = np.nan_to_num(current_a)
    if setting_a is None or not current_a.any():
        return {}
    t_s, held_s = week.time.t_s, week.time.held_s
    minute = np.floor(t_s / _MINUTE_S)
    first = np.concatenate(([0], np.flatnonzero(minute[1:] != minute[:-1]) + 1))
    square = np.add.reduceat(np.square(current_a, dtype=np.float64) * held_s, first)
    rms_a = np.sqrt(square / np.maximum(np.add.reduceat(held_s, first), 1e-9))
    end_s = t_s[-1] + held_s[-1]
    heat = thermal_state(
        np.append(t_s[first], end_s),
        np.append(rms_a, 0.0),
        THERMAL_TAU_S.value,
        THERMAL_K.value,
        setting_a,
        longest_hold_s=max(_MINUTE_S, week.time.gap_limit_s),
    )
    hottest = int(np.argmax(heat))
    at_s = t_s[first[hottest]] if hottest < first.size else end_s
    return {
        "thermal_max_pct": _PCT * float(heat[hottest]),
        "thermal_max_at": week.clock.at(float(at_s)),
    }
