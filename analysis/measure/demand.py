"""When water is drawn: run share by hour of the local week, and the draws that stand out."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import DRAW_JOIN_S, DRAW_LONG_S, DRAW_NIGHT_S, DRAWS_KEPT
from analysis.measure.runs import running_s
from analysis.measure.segments import UNKNOWN
from analysis.measure.trace import Trace

WEEK_HOURS = 168
NIGHT_FROM_H, NIGHT_TO_H = (
    21,
    6,
)  # draws that begin in these local hours need less length to stand out

_DAY_MIN = 1440.0
_HOUR_MIN = 60.0
_S_PER_MIN = 60.0


def demand_measures(week: Trace) -> dict[str, Any]:
    """Fields of `PumpWeek` on when water is drawn.

    A draw is runs with stops of at most ``DRAW_JOIN_S`` between them: a trickle that makes the
    pump cycle is one draw, not a hundred. Kept are those of ``DRAW_LONG_S``, at night of
    ``DRAW_NIGHT_S`` and more; of more than ``DRAWS_KEPT`` the longest.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    from_s, to_s, run_s = _draws(week)
    length_s = to_s - from_s
    from_min = _local_min(week, from_s)
    hour = from_min % _DAY_MIN / _HOUR_MIN
    by_night = (hour >= NIGHT_FROM_H) | (hour < NIGHT_TO_H)
    least_s = np.where(by_night, DRAW_NIGHT_S.value, DRAW_LONG_S.value)
    kept = np.flatnonzero(length_s >= least_s)
    longest = kept[np.argsort(-length_s[kept], kind="stable")][: int(DRAWS_KEPT.value)]
    at = np.sort(longest)
    return {
        "run_share_by_week_hour": _by_week_hour(week),
        "draw_from_min": np.round(from_min[at], 2).tolist(),
        "draw_min": np.round(length_s[at] / _S_PER_MIN, 2).tolist(),
        "draw_run_share": np.round(run_s[at] / length_s[at], 3).tolist(),
    }


def _draws(
    week: Trace,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Seconds at which each draw begins and ends, and seconds running in it."""
    runs = week.cut.runs
    begin_s, end_s = week.cut.from_s[runs], week.cut.to_s[runs]
    if runs.size == 0:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    is_first = np.append(True, begin_s[1:] - end_s[:-1] > DRAW_JOIN_S.value)
    first = np.flatnonzero(is_first)
    last = np.append(first[1:], runs.size) - 1
    return begin_s[first], end_s[last], np.add.reduceat(end_s - begin_s, first)


def _local_min(week: Trace, at_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Minutes on the local clock from the week's Monday, of seconds into the week."""
    clock = week.clock
    of = np.clip(
        np.searchsorted(clock.hour_edges_s, at_s, side="right") - 1, 0, clock.hour.size - 1
    )
    day = np.clip(np.searchsorted(clock.day_edges_s, at_s, side="right") - 1, 0, 6)
    past_min = (at_s - clock.hour_edges_s[of]) / _S_PER_MIN
    return np.asarray(day * _DAY_MIN + clock.hour[of] * _HOUR_MIN + past_min)


def _by_week_hour(week: Trace) -> list[float | None]:
    """Run share of 168 local hours from Monday 00:00; None where nothing is known."""
    edges_s = week.clock.hour_edges_s
    known_s = week.observed_in_s(edges_s) - week.state_in_s(UNKNOWN, edges_s)
    day = np.searchsorted(week.clock.day_edges_s, edges_s[:-1], side="right") - 1
    at = day * 24 + week.clock.hour
    run = np.bincount(at, weights=running_s(week, edges_s), minlength=WEEK_HOURS)
    known = np.bincount(at, weights=known_s, minlength=WEEK_HOURS)
    share = np.full(WEEK_HOURS, np.nan)
    np.divide(run, known, out=share, where=known > 0.0)
    return [None if np.isnan(s) else round(s, 4) for s in share.tolist()]
