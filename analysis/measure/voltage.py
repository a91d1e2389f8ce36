"""Supply volts: at rest and running, how long too low, hour by hour.

Volts under 10 % of nominal while the logger still writes are an interruption or no reading at
all, and volts over 240 % no supply's: both are left out of every measure here, and the time of
the first is told apart as ``interruption_s``. Nominal is ``supply_volts``; where the register
lacks it, the median of the readings above zero serves to sort these out, and every measure that
is a share of nominal stays None.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    FULL_SPEED_SHARE,
    UNDERVOLTAGE_DAY_S,
    VOLTAGE_HIGH_PCT,
    VOLTAGE_INTERRUPTED_PCT,
    VOLTAGE_LOW_PCT,
    VOLTAGE_RANGE_A_PCT,
    VOLTAGE_SENTINEL_PCT,
    VOLTAGE_VERY_LOW_PCT,
)
from analysis.measure.quantiles import held_quantile, held_quantiles, median
from analysis.measure.segments import RUNNING, STOPPED, range_rows
from analysis.measure.trace import Trace

_HOURS = 24
_PCT = 100.0


@dataclass(frozen=True)
class Volts:
    """A week's supply volts, sorted out.

    Attributes
    ----------
    volts : ndarray of float32, shape (n,)
        NaN where there is no reading, or none to go by. [V]
    nominal_v : float or None
        ``supply_volts`` of the register.
    interruption_s : float
        Time with readings under 10 % of nominal. [s]
    low_rows, below_95_run_rows : ndarray of int64
        Rows below 90 % of nominal, and running rows below 95 %; empty without a nominal.
    idle_rows : ndarray of int64, shape (m,)
        Stopped rows with a reading.
    idle_v, idle_s : ndarray, shape (m,)
        Their readings, and how long they hold. [V, s]
    """

    volts: NDArray[np.float32]
    nominal_v: float | None
    interruption_s: float
    low_rows: NDArray[np.int64]
    below_95_run_rows: NDArray[np.int64]
    idle_rows: NDArray[np.int64]
    idle_v: NDArray[np.float32]
    idle_s: NDArray[np.float64]


def sorted_out(week: Trace) -> Volts | None:
    """Sort out a week's volts; None where none was logged."""
    volts, held_s = week.samples.voltage_v, week.time.held_s
    if "voltage_v" not in week.logged:
        return None
    nominal_v = week.pump.supply_volts
    sort_v = nominal_v or median(volts[volts > 0.0]) or 1.0
    is_off = volts < VOLTAGE_INTERRUPTED_PCT.value / _PCT * sort_v
    is_bad = is_off | (volts > VOLTAGE_SENTINEL_PCT.value / _PCT * sort_v)
    if is_bad.any():
        volts = np.where(is_bad, np.float32(np.nan), volts)
    nothing = np.empty(0, dtype=np.int64)
    low_rows = below_95_run_rows = nothing
    if nominal_v is not None:
        below_95 = np.flatnonzero(volts < VOLTAGE_RANGE_A_PCT.value / _PCT * nominal_v)
        low_rows = below_95[volts[below_95] < VOLTAGE_LOW_PCT.value / _PCT * nominal_v]
        below_95_run_rows = below_95[week.state[below_95] == RUNNING]
    idle_rows = np.flatnonzero((week.state == STOPPED) & ~np.isnan(volts))
    return Volts(
        volts=volts,
        nominal_v=nominal_v,
        interruption_s=float(held_s[is_off].sum()),
        low_rows=low_rows,
        below_95_run_rows=below_95_run_rows,
        idle_rows=idle_rows,
        idle_v=volts.take(idle_rows),
        idle_s=held_s.take(idle_rows),
    )


def voltage_measures(week: Trace, of: Volts | None) -> dict[str, Any]:
    """Fields of `PumpWeek` on supply volts, but for the pairs.

    Returns
    -------
    dict
        By field name; units as documented there. Empty where no volts were logged.
    """
    if of is None:
        return {}
    volts, settled = of.volts, week.settled
    lowest_v = _or_none(float(np.fmin.reduce(volts)))
    idle = held_quantiles(of.idle_v, of.idle_s, (0.05, 0.5, 0.95))
    running = held_quantiles(volts[settled.rows], settled.held_s, (0.05, 0.5))
    idle_05_v, idle_50_v, idle_95_v = idle or (None, None, None)
    running_05_v, running_50_v = running or (None, None)
    return {
        "voltage_min_v": lowest_v,
        "idle_v_median": idle_50_v,
        "idle_v_p05": idle_05_v,
        "idle_v_p95": idle_95_v,
        "running_v_median": running_50_v,
        "running_v_p05": running_05_v,
        "idle_v_by_hour": _idle_by_hour(week, of),
        "interruption_s": of.interruption_s,
        "motor_undervoltage_s": _motor_undervoltage_s(week, volts),
        **_against_nominal(week, of, lowest_v),
    }


def day_voltage(week: Trace, of: Volts | None, day: int) -> dict[str, Any]:
    """Fields of `PumpDay` on supply volts."""
    if of is None:
        return {}
    low, high = week.day_rows[day], week.day_rows[day + 1]
    held_s = week.time.held_s
    idle = slice(*np.searchsorted(of.idle_rows, (low, high)))
    fields: dict[str, Any] = {
        "voltage_min_v": _or_none(float(np.fmin.reduce(of.volts[low:high], initial=np.nan))),
        "idle_v_median": held_quantile(of.idle_v[idle], of.idle_s[idle], 0.5),
    }
    if of.nominal_v is not None:
        fields["undervoltage_s"] = float(held_s[_inside(of.low_rows, low, high)].sum())
        below = _inside(of.below_95_run_rows, low, high)
        fields["below_95_run_s"] = float(held_s[below].sum())
    return fields


def _against_nominal(week: Trace, of: Volts, lowest_v: float | None) -> dict[str, Any]:
    nominal_v = of.nominal_v
    if nominal_v is None or lowest_v is None:
        return {}
    volts, held_s, low = of.volts, week.time.held_s, of.low_rows
    reached_s = np.append(np.zeros(1), np.cumsum(held_s[low]))
    day_low_s = np.diff(reached_s[np.searchsorted(low, week.day_rows)])
    low_run = low[week.state[low] == RUNNING]
    low_idle = low[week.state[low] == STOPPED]
    running = week.running_rows
    run_s = float(held_s[running[~np.isnan(volts[running])]].sum())
    below_85 = low[volts[low] < VOLTAGE_VERY_LOW_PCT.value / _PCT * nominal_v]
    over = np.flatnonzero(volts > VOLTAGE_HIGH_PCT.value / _PCT * nominal_v)
    return {
        "voltage_min_pct": _PCT * lowest_v / nominal_v,
        "undervoltage_s": float(held_s[low].sum()),
        "undervoltage_run_s": float(held_s[low_run].sum()),
        "undervoltage_idle_s": float(held_s[low_idle].sum()),
        "undervoltage_episodes": _n_spells(week, of),
        "n_undervoltage_days": int(np.count_nonzero(day_low_s > UNDERVOLTAGE_DAY_S.value)),
        "below_95_run_share": (
            float(held_s[of.below_95_run_rows].sum()) / run_s if run_s > 0.0 else None
        ),
        "below_85_s": float(held_s[below_85].sum()),
        "overvoltage_s": float(held_s[over].sum()),
    }


def _n_spells(week: Trace, of: Volts) -> int:
    """Spells below 90 %: a reading that is not low, or a gap, ends one; a blank does not."""
    low = of.low_rows
    if low.size == 0:
        return 0
    not_low = ~np.isnan(of.volts)
    not_low[low] = False
    n_not_low = np.cumsum(not_low)[low]
    n_gaps = np.searchsorted(week.time.piece_first, low, side="right")
    return 1 + int(np.count_nonzero((np.diff(n_not_low) > 0) | (np.diff(n_gaps) > 0)))


def _idle_by_hour(week: Trace, of: Volts) -> list[float | None] | None:
    """Median idle volts by local hour."""
    if of.idle_rows.size == 0:
        return None
    edges = np.searchsorted(of.idle_rows, week.time.rows_s(week.clock.hour_edges_s))
    by_hour = np.argsort(week.clock.hour, kind="stable")
    first, end = edges[by_hour], edges[by_hour + 1]
    order = range_rows(first, end)
    idle_v, idle_s = of.idle_v.take(order), of.idle_s.take(order)
    reached = np.append(0, np.cumsum(end - first))
    bounds = reached[np.searchsorted(week.clock.hour[by_hour], np.arange(_HOURS + 1))]
    parts = [slice(low, high) for low, high in pairwise(bounds.tolist())]
    return [held_quantile(idle_v[part], idle_s[part], 0.5) for part in parts]


def _motor_undervoltage_s(week: Trace, volts: NDArray[np.float32]) -> float | None:
    """Time below 90 % of the motor's volts while it runs near full speed."""
    motor_v = week.pump.motor_volts
    if motor_v is None:
        return None
    fast = np.flatnonzero(week.samples.frequency_hz >= FULL_SPEED_SHARE.value * week.pump.max_hz)
    low = fast[volts[fast] < VOLTAGE_LOW_PCT.value / _PCT * motor_v]
    return float(week.time.held_s[low].sum())


def _inside(rows: NDArray[np.int64], low: int, high: int) -> NDArray[np.int64]:
    a, b = np.searchsorted(rows, (low, high))
    return rows[a:b]


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value
