"""Falls: how pressure sinks while the pump is stopped, every stop of the week at once.

The slope is a least-squares line through a stop's samples past a short settling time, in which
the pump spins down and the check valve closes. It needs five samples: a line through fewer
follows the rounding of single ones. Where a whole stop holds only two to four, as in slow logs,
the difference of its last from its first sample is taken, but only if it is more than the
resolution. A line is taken if it falls by two steps of the resolution, or lasts long enough for
one step to be little; a short flat stop tells nothing.

A slow log may miss a short run. Pressure then jumps up between two stopped samples; a stop is
split there, or its line would go through a saw.

What a fall means in litres is the tank's law (Boyle); that is the leak only while nobody draws,
so the smallest falls of the quiet window are what to read.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    FALL_RESOLVED_KPA_PER_MIN,
    FALL_SAMPLES_MIN,
    FALL_SETTLE_S,
    FALL_SETTLE_SHARE,
    UNSEEN_RUN_KPA,
    UNSEEN_RUN_STEPS,
)
from analysis.measure.quantiles import median, quantile
from analysis.measure.segments import STOPPED, range_rows
from analysis.measure.trace import Trace
from analysis.physics.tank import compliance_l_per_kpa, leak_lpm_from_fall

_MIN_S = 60.0
_FEW_SAMPLES = 2
_THIRDS_SAMPLES = 9
_THIRDS_STEPS = 6.0
_LINE_STEPS = 2.0


@dataclass(frozen=True)
class StopRanges:
    """Row ranges of stops past their settling time; arrays of shape (k,).

    ``end`` of a whole stop is the first row of the run after it.
    """

    first: NDArray[np.int64]
    end: NDArray[np.int64]
    is_whole: NDArray[np.bool_]

    def only(self, keep: NDArray[np.bool_]) -> "StopRanges":
        """Some of them."""
        return StopRanges(self.first[keep], self.end[keep], self.is_whole[keep])

    def inside(self, windows: NDArray[np.int64]) -> "StopRanges":
        """Their parts inside row windows of shape (m, 2), in order and not overlapping."""
        parts = []
        for low, high in windows:
            begin = int(np.searchsorted(self.end, low, side="right"))
            mine = slice(begin, int(np.searchsorted(self.first, high)))
            first, end = self.first[mine], self.end[mine]
            is_inside = (first >= low) & (end <= high)
            parts.append(
                (np.maximum(first, low), np.minimum(end, high), self.is_whole[mine] & is_inside)
            )
        first, end, is_whole = (np.concatenate(of) for of in zip(*parts, strict=True))
        return StopRanges(first, end, is_whole).only(end > first)


@dataclass(frozen=True)
class Points:
    """Samples of many stops, one after the other.

    Attributes
    ----------
    t_s, pressure_kpa : ndarray of float64, shape (n,)
        Time from the stop's first sample, and pressure; no NaN.
    start, count : ndarray of int64, shape (k,)
        Where each stop's samples begin in these arrays, and how many they are (2 or more).
    from_s : ndarray of float64, shape (k,)
        Time of each stop's first sample. [s]
    ranges : StopRanges
        The stops.
    """

    t_s: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    start: NDArray[np.int64]
    count: NDArray[np.int64]
    from_s: NDArray[np.float64]
    ranges: StopRanges


@dataclass(frozen=True)
class Falls:
    """Falls that have a slope; arrays of shape (k,).

    Attributes
    ----------
    from_s, duration_s : ndarray of float64
        First sample, and time from it to the last. [s]
    slope_kpa_per_min : ndarray of float64
        Positive where pressure falls. [kPa/min]
    from_kpa, to_kpa : ndarray of float64
        The line at its two ends. [kPa]
    first_over_last, early_over_late : ndarray of float64
        Slope of the first third over that of the last, and the least ratio of a third's slope to
        a later third's; NaN where too short or too small.
    """

    from_s: NDArray[np.float64]
    duration_s: NDArray[np.float64]
    slope_kpa_per_min: NDArray[np.float64]
    from_kpa: NDArray[np.float64]
    to_kpa: NDArray[np.float64]
    first_over_last: NDArray[np.float64]
    early_over_late: NDArray[np.float64]


def unseen_runs(week: Trace) -> NDArray[np.int64]:
    """Rows before which pressure jumped up though the pump was stopped before and after.

    The pump ran between two samples and the log missed it.
    """
    limit_kpa = max(UNSEEN_RUN_KPA.value, UNSEEN_RUN_STEPS.value * (week.pressure_step_kpa or 0.0))
    jumped = np.flatnonzero(np.diff(week.samples.pressure_kpa) > limit_kpa) + 1
    is_stopped = (week.state[jumped] == STOPPED) & (week.state[jumped - 1] == STOPPED)
    return np.asarray(jumped[is_stopped & ~week.time.is_gap[jumped - 1]])


def stop_ranges(week: Trace, unseen: NDArray[np.int64]) -> StopRanges:
    """Rows of every stop past its settling time; of a stop whose beginning is unseen, all.

    Parameters
    ----------
    unseen : ndarray of int64
        Rows at which stops are split, as from `unseen_runs`.
    """
    cut = week.cut
    stop = cut.stops
    settle_s = np.minimum(FALL_SETTLE_S.value, FALL_SETTLE_SHARE.value * cut.duration_s[stop])
    settle_s = np.where(cut.is_stop[stop], settle_s, 0.0)
    first = np.searchsorted(week.time.t_s, cut.from_s[stop] + settle_s)
    first, end = np.minimum(first, cut.end[stop]), cut.end[stop]
    is_whole = cut.is_whole[stop]
    if unseen.size:
        within = np.searchsorted(first, unseen, side="right") - 1
        unseen = unseen[(within >= 0) & (unseen > first[within])]
        of = np.searchsorted(first, unseen, side="right") - 1
        first = np.insert(first, of + 1, unseen)
        end = np.insert(end, of, unseen)
        is_whole = np.insert(is_whole, of + 1, is_whole[of])
    return StopRanges(first, end, is_whole)


def fall_points(week: Trace, ranges: StopRanges) -> Points:
    """Time and pressure of every stop that has two samples of them."""
    ranges = ranges.only(ranges.end - ranges.first >= _FEW_SAMPLES)
    rows = range_rows(ranges.first, ranges.end)
    count = ranges.end - ranges.first
    pressure_kpa = week.samples.pressure_kpa.take(rows)
    is_blank = np.isnan(pressure_kpa)
    if is_blank.any():
        of = np.repeat(np.arange(count.size), count)
        count = np.bincount(of[~is_blank], minlength=count.size)
        enough = count >= _FEW_SAMPLES
        keep = ~is_blank & enough[of]
        rows, pressure_kpa = rows[keep], pressure_kpa[keep]
        ranges, count = ranges.only(enough), count[enough]
    start = np.cumsum(count) - count
    t_s = week.time.t_s.take(rows)
    from_s = t_s[start]
    return Points(
        t_s=t_s - np.repeat(from_s, count),
        pressure_kpa=pressure_kpa.astype(np.float64),
        start=start,
        count=count,
        from_s=from_s,
        ranges=ranges,
    )


def steepest_falls(points: Points) -> NDArray[np.float64]:
    """Steepest fall between neighbouring samples of each stop, shape (k,) [kPa/min].

    A draw shows in it however short it is beside its stop, a leak hardly.
    """
    if points.start.size == 0:
        return np.empty(0)
    fall = np.empty_like(points.t_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        np.divide(-np.diff(points.pressure_kpa), np.diff(points.t_s), out=fall[:-1])
    fall[:-1] *= _MIN_S
    fall[points.start + points.count - 1] = -np.inf
    return np.asarray(np.maximum.reduceat(fall, points.start))


def fit_falls(points: Points, step_kpa: float) -> Falls:
    """Slopes of the stops that allow one; the others are left out.

    Parameters
    ----------
    points : Points
        Samples of the stops.
    step_kpa : float
        Resolution of the pressure. [kPa]
    """
    start, count = points.start, points.count
    if start.size == 0:
        nothing = np.empty(0)
        return Falls(nothing, nothing, nothing, nothing, nothing, nothing, nothing)
    last = start + count - 1
    t_s, y_kpa = points.t_s, points.pressure_kpa
    duration_s = t_s[last]
    n, sum_t, sum_y, sum_tt, sum_ty = _sums_by_third(points)
    per_s = _slope(*(of.sum(axis=1) for of in (n, sum_t, sum_y, sum_tt, sum_ty)))
    from_kpa = (sum_y.sum(axis=1) - per_s * sum_t.sum(axis=1)) / count
    is_line = count >= FALL_SAMPLES_MIN.value
    is_resolved = -per_s * duration_s > _LINE_STEPS * step_kpa
    is_resolved |= step_kpa * _MIN_S <= FALL_RESOLVED_KPA_PER_MIN.value * duration_s
    dropped_kpa = y_kpa[start] - y_kpa[last]
    per_s = np.where(is_line, per_s, -dropped_kpa / duration_s)
    from_kpa = np.where(is_line, from_kpa, y_kpa[start])
    to_kpa = from_kpa + per_s * duration_s
    is_difference = ~is_line & points.ranges.is_whole & (dropped_kpa > step_kpa)
    keep = (is_line & is_resolved) | is_difference
    thirds = -_slope(n, sum_t, sum_y, sum_tt, sum_ty)
    least_per_s = step_kpa / duration_s
    has_thirds = (count >= _THIRDS_SAMPLES) & (from_kpa - to_kpa > _THIRDS_STEPS * step_kpa)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = thirds[:, 0] / np.maximum(thirds[:, 2], least_per_s)
        first, middle, last = np.maximum(thirds, least_per_s[:, None]).T
        early = np.minimum(first / np.maximum(middle, last), middle / last)
    return Falls(
        from_s=points.from_s[keep],
        duration_s=duration_s[keep],
        slope_kpa_per_min=-per_s[keep] * _MIN_S,
        from_kpa=from_kpa[keep],
        to_kpa=to_kpa[keep],
        first_over_last=np.where(has_thirds, ratio, np.nan)[keep],
        early_over_late=np.where(has_thirds, early, np.nan)[keep],
    )


def _sums_by_third(points: Points) -> tuple[NDArray[np.float64], ...]:
    """Sums for lines, by each stop's first, middle and last third of samples: (k, 3) each."""
    third = np.maximum(points.count // 3, 1)
    from_last = points.start + points.count - third
    edges = np.stack((points.start, points.start + third, from_last), axis=1)
    n = np.stack((third, points.count - 2 * third, third), axis=1)
    t_s, y_kpa = points.t_s, points.pressure_kpa
    of = (t_s, y_kpa, t_s * t_s, t_s * y_kpa)
    flat = edges.ravel()
    return n, *(np.add.reduceat(v, flat).reshape(edges.shape) for v in of)


def _slope(
    n: NDArray[Any],
    sum_t: NDArray[np.float64],
    sum_y: NDArray[np.float64],
    sum_tt: NDArray[np.float64],
    sum_ty: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Least-squares slope from sums; NaN or infinite where the samples do not fix one."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((n * sum_ty - sum_t * sum_y) / (n * sum_tt - sum_t * sum_t))


def tank_flow_lpm(week: Trace, found: Falls) -> NDArray[np.float64]:
    """Flow out of the tank in each fall by Boyle's law.

    NaN where the tank's volume or pre-charge is not registered, and where a fall ends below the
    pre-charge: the tank was empty before its end and its law does not tell the flow.
    """
    tank_l, precharge_kpa = week.pump.tank_l, week.pump.precharge_kpa
    if tank_l is None or precharge_kpa is None:
        return np.full(found.from_s.size, np.nan)
    flow_lpm = leak_lpm_from_fall(
        tank_l, precharge_kpa, found.from_kpa, found.to_kpa, found.duration_s
    )
    return np.where(found.to_kpa < precharge_kpa, np.nan, flow_lpm)


def fall_measures(week: Trace, whole: Points, found: Falls) -> dict[str, Any]:
    """Fields of `PumpWeek` on the falls of all whole stops, but for the knee.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    slope = found.slope_kpa_per_min
    return {
        "n_falls": slope.size,
        "fall_p10_kpa_per_min": quantile(slope, 0.1),
        "fall_p50_kpa_per_min": quantile(slope, 0.5),
        "fall_p90_kpa_per_min": quantile(slope, 0.9),
        "suction_rise_kpa": _suction_rise_kpa(week, whole.ranges),
        "fall_first_over_last": median(found.first_over_last),
    }


def stored_kpa_per_l(week: Trace, held_kpa: float | None) -> float | None:
    """How much the registered tank's pressure moves per litre at the held pressure."""
    tank_l, precharge_kpa = week.pump.tank_l, week.pump.precharge_kpa
    if tank_l is None or precharge_kpa is None or held_kpa is None:
        return None
    compliance = float(compliance_l_per_kpa(tank_l, precharge_kpa, held_kpa))
    return 1.0 / compliance if compliance > 0.0 else None


def _suction_rise_kpa(week: Trace, ranges: StopRanges) -> float | None:
    """Median over stops of suction at the end less suction at the beginning."""
    suction_kpa = week.samples.suction_kpa
    if ranges.first.size == 0 or "suction_kpa" not in week.logged:
        return None
    return median(suction_kpa[ranges.end - 1] - suction_kpa[ranges.first])
