"""Starts, runs and stops: how often, how long, at which hours."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import NEXT_RUN_FLOW_HZ, NEXT_RUN_SAMPLES, SHORTEST_RUN_S
from analysis.measure.quantiles import median, quantile, robust_cv
from analysis.measure.segments import RUNNING, STOPPED, UNKNOWN
from analysis.measure.trace import Trace

_HOURS = 24
_CYCLING_TIMES = 2.0
_DAY_S = 86400.0
_HOUR_S = 3600.0
_REFILL_SHARE = 0.25


@dataclass(frozen=True)
class Events:
    """Starts and whole runs and stops, with when they happened.

    Attributes
    ----------
    start_s : ndarray of float64, shape (s,)
        Starts seen. [s]
    run_from_s, run_s : ndarray of float64, shape (r,)
        Beginning and length of whole runs. [s]
    stop_from_s, stop_s : ndarray of float64, shape (p,)
        Beginning and length of whole stops. [s]
    """

    start_s: NDArray[np.float64]
    run_from_s: NDArray[np.float64]
    run_s: NDArray[np.float64]
    stop_from_s: NDArray[np.float64]
    stop_s: NDArray[np.float64]


def events(week: Trace) -> Events:
    """Starts, whole runs and whole stops of a week."""
    cut = week.cut
    is_run = cut.state == RUNNING
    run, stop = cut.is_whole & is_run, cut.is_whole & ~is_run
    return Events(
        start_s=cut.from_s[cut.is_start],
        run_from_s=cut.from_s[run],
        run_s=cut.duration_s[run],
        stop_from_s=cut.from_s[stop],
        stop_s=cut.duration_s[stop],
    )


def starts_per_clock_hour(week: Trace, seen: Events) -> NDArray[np.int64]:
    """Starts in each clock hour of the week."""
    return np.bincount(week.hour_of(seen.start_s), minlength=week.clock.hour.size)


def running_s(week: Trace, edges_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Time running between neighbouring edges.

    A sample of an averaging log counts for its frequency's share of the usual running frequency,
    so that a run that fills half an interval counts for half of it.

    Parameters
    ----------
    edges_s : ndarray of float64, shape (m + 1,)
        Rising. [s]

    Returns
    -------
    ndarray of float64, shape (m,). [s]
    """
    frequency_hz = week.samples.frequency_hz
    usual_hz = median(frequency_hz[frequency_hz >= week.pump.min_hz]) if week.is_averaged else None
    if usual_hz is None:
        return week.state_in_s(RUNNING, edges_s)
    share = np.nan_to_num(np.minimum(frequency_hz / usual_hz, 1.0))
    reached_s = np.concatenate(([0.0], np.cumsum(share * week.time.held_s)))
    return np.asarray(np.diff(reached_s[week.time.rows_s(edges_s)]))


def run_measures(week: Trace, seen: Events) -> dict[str, Any]:
    """Fields of `PumpWeek` on runs and stops.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    clock = week.clock
    hour_observed_s = week.observed_in_s(clock.hour_edges_s)
    hour_unknown_s = week.state_in_s(UNKNOWN, clock.hour_edges_s)
    known_s = hour_observed_s - hour_unknown_s
    hour_run_s = running_s(week, clock.hour_edges_s)
    hour_starts = starts_per_clock_hour(week, seen)
    run_s, observed_s = float(hour_run_s.sum()), float(hour_observed_s.sum())
    peak = int(np.argmax(hour_starts))
    n_starts = seen.start_s.size
    is_run = week.cut.state == RUNNING
    return {
        "run_s": run_s,
        "run_share": run_s / total if (total := float(known_s.sum())) > 0.0 else 0.0,
        "n_starts": n_starts,
        "starts_per_day": n_starts * _DAY_S / observed_s if observed_s > 0.0 else 0.0,
        "starts_per_hour_peak": int(hour_starts[peak]),
        "starts_peak_at": clock.at(float(clock.hour_edges_s[peak])) if n_starts else None,
        "run_s_median": median(seen.run_s),
        "run_s_p90": quantile(seen.run_s, 0.9),
        "run_s_longest": float(week.cut.duration_s[is_run].max()) if is_run.any() else None,
        "stop_s_median": median(seen.stop_s),
        "stop_s_p10": quantile(seen.stop_s, 0.1),
        "stop_s_cv": robust_cv(seen.stop_s),
        "starts_by_hour": [
            _ratio(starts * _HOUR_S, observed) or 0.0
            for starts, observed in _by_local_hour(week, hour_starts, hour_observed_s)
        ],
        "run_share_by_hour": [
            _ratio(run, known) for run, known in _by_local_hour(week, hour_run_s, known_s)
        ],
        "n_days_cycling": _days_cycling(week, seen),
    }


def next_run_measures(week: Trace, f0_hz: float | None) -> dict[str, Any]:
    """What the next run tells of a stop: its highest speed, how much water had to be moved.

    A stop that a large draw ends is short on any tank; the run after it is then faster than at no
    flow. Only the other stops say how much water the tank held. The slower quarter of these runs
    feeds little or nothing but the tank, which each start has to fill again.

    In a log so slow that it can miss a run, one of fewer than `NEXT_RUN_SAMPLES` does not show its
    highest speed: its stop is no idle one, and it has no part in the refill.

    Parameters
    ----------
    f0_hz : float or None
        No-flow speed. [Hz]

    Returns
    -------
    dict
        Fields of `PumpWeek`; units as documented there.
    """
    cut = week.cut
    stop = np.flatnonzero(cut.is_whole & (cut.state == STOPPED))
    if f0_hz is None or stop.size == 0:
        return {"idle_stop_s_median": None, "idle_stop_s_p10": None, "refill_over_f0_hz": None}
    over_hz = np.fmax.reduceat(week.samples.frequency_hz, cut.first)[stop + 1] - f0_hz
    is_slow = week.time.interval_s > SHORTEST_RUN_S.value
    n_samples = (cut.end - cut.first)[stop + 1]
    is_seen = n_samples >= (NEXT_RUN_SAMPLES.value if is_slow else 1)
    is_idle = is_seen & (over_hz <= NEXT_RUN_FLOW_HZ.value)
    stop_s = np.where(is_idle, cut.duration_s[stop], np.inf)
    median_s, p10_s = np.quantile(stop_s, (0.5, 0.1), method="inverted_cdf").tolist()
    return {
        "idle_stop_s_median": median_s if np.isfinite(median_s) else None,
        "idle_stop_s_p10": p10_s if np.isfinite(p10_s) else None,
        "refill_over_f0_hz": quantile(over_hz[is_seen], _REFILL_SHARE),
    }


def _by_local_hour(
    week: Trace, *of_hour: NDArray[np.float64] | NDArray[np.int64]
) -> list[tuple[float, ...]]:
    """Sums over the week by local hour, one tuple for each of 24 hours."""
    sums = [np.bincount(week.clock.hour, weights=of, minlength=_HOURS) for of in of_hour]
    return list(zip(*(s.tolist() for s in sums), strict=True))


def _ratio(part: float, whole: float) -> float | None:
    return part / whole if whole > 0.0 else None


def _days_cycling(week: Trace, seen: Events) -> int:
    """Local days with more than twice the starts of the week's median day."""
    is_seen = np.diff(week.day_rows) > 0
    starts = np.bincount(week.day_of(seen.start_s), minlength=is_seen.size)[is_seen]
    return int(np.count_nonzero(starts > _CYCLING_TIMES * np.median(starts)))
