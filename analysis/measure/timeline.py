"""How long each sample holds, and where the log is silent.

A sample holds until the next one. A silence longer than the gap limit is a gap: the sample
before it holds for one usual interval only, and what was running or stopped ends there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.limits import GAP_INTERVALS, GAP_MIN_S, SLEEP_INTERVAL_MAX_S
from analysis.measure.local_clock import LocalClock
from analysis.measure.quantiles import in_order

_SLEEP_STEPS_MIN = 20
_SLEEP_WITHIN = 0.1
_P95 = 0.95


@dataclass(frozen=True)
class Timeline:
    """Samples of one week in time.

    Attributes
    ----------
    t_s : ndarray of float64, shape (n,)
        Seconds from the start of the week.
    held_s : ndarray of float64, shape (n,)
        How long each sample holds.
    interval_s, interval_p95_s : float
        Median and 95th percentile of the steps between samples, gaps left out of the second;
        the week's length where there is a single sample.
    gap_limit_s : float
        A longer silence is a gap.
    is_gap : ndarray of bool, shape (n - 1,)
        The step after each sample but the last is a gap.
    piece_first : ndarray of int64, shape (k,)
        First row of each stretch between gaps.
    """

    t_s: NDArray[np.float64]
    held_s: NDArray[np.float64]
    interval_s: float
    interval_p95_s: float
    gap_limit_s: float
    is_gap: NDArray[np.bool_]
    piece_first: NDArray[np.int64]

    @property
    def piece_from_s(self) -> NDArray[np.float64]:
        """Second at which each stretch between gaps begins."""
        return self.t_s[self.piece_first]

    @property
    def piece_to_s(self) -> NDArray[np.float64]:
        """Second at which what was seen of each stretch between gaps ends."""
        last = np.append(self.piece_first[1:], self.t_s.size) - 1
        return np.asarray(self.t_s[last] + self.held_s[last])

    def rows_s(self, edges_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """First row at or after each instant."""
        return np.searchsorted(self.t_s, edges_s)


def timeline(ts_us: NDArray[np.int64], clock: LocalClock) -> Timeline:
    """Lay samples out over their week.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,), n >= 1
        UTC instants inside the week, rising. [us since 1970]
    clock : LocalClock
        The week.
    """
    from_us = np.datetime64(clock.from_at, "us").astype(np.int64)
    t_s = np.asarray((ts_us - from_us) * 1e-6, dtype=np.float64)
    step_s = np.diff(t_s)
    interval_s = _median(step_s) if step_s.size else clock.length_s
    limit_s = gap_limit_s(step_s, interval_s)
    is_gap = step_s > limit_s
    held_s = np.empty_like(t_s)
    held_s[:-1] = step_s
    to_end_s = clock.length_s - t_s[-1]
    held_s[-1] = to_end_s if to_end_s <= limit_s else min(interval_s, to_end_s)
    gaps = np.flatnonzero(is_gap)
    held_s[gaps] = min(interval_s, limit_s)
    seen_s = np.delete(step_s, gaps) if gaps.size else step_s
    p95_at = int(_P95 * (seen_s.size - 1))
    p95_s = float(in_order(seen_s, [p95_at])[0]) if seen_s.size else interval_s
    return Timeline(
        t_s=t_s,
        held_s=held_s,
        interval_s=interval_s,
        interval_p95_s=p95_s,
        gap_limit_s=limit_s,
        is_gap=is_gap,
        piece_first=np.concatenate((np.zeros(1, dtype=np.int64), gaps + 1)),
    )


def gap_limit_s(step_s: NDArray[np.float64], interval_s: float) -> float:
    """The longest silence between two samples that still counts as seen.

    Five usual intervals, and never under a minute: a logger may miss a few samples without the
    pump's state being in doubt. A logger that slows down while the pump sleeps has a second usual
    interval: where the long steps keep to one length (half of them within a tenth of their
    median, at least 20), five of those count as seen as well.

    Parameters
    ----------
    step_s : ndarray of float64, shape (n - 1,)
        Steps between samples. [s]
    interval_s : float
        Their median. [s]

    Returns
    -------
    float. [s]
    """
    limit_s = max(GAP_MIN_S.value, GAP_INTERVALS.value * interval_s)
    slow_s = step_s[(step_s > 0.5 * limit_s) & (step_s <= SLEEP_INTERVAL_MAX_S.value)]
    if slow_s.size >= _SLEEP_STEPS_MIN:
        usual_s = float(np.median(slow_s))
        near = np.abs(slow_s - usual_s) <= _SLEEP_WITHIN * usual_s
        if 2 * int(np.count_nonzero(near)) >= slow_s.size:
            limit_s = max(limit_s, GAP_INTERVALS.value * usual_s)
    return float(limit_s)


def _median(values: NDArray[np.float64]) -> float:
    return float(in_order(values, ((values.size - 1) // 2, values.size // 2)).mean())


def covered_s(
    from_s: NDArray[np.float64], to_s: NDArray[np.float64], edges_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Time that spans cover between neighbouring edges.

    Parameters
    ----------
    from_s, to_s : ndarray of float64, shape (k,)
        Bounds of spans in order, not overlapping. [s]
    edges_s : ndarray of float64, shape (..., m + 1)
        Rising along the last axis. [s]

    Returns
    -------
    ndarray of float64, shape (..., m). [s]
    """
    if from_s.size == 0:
        return np.zeros((*edges_s.shape[:-1], edges_s.shape[-1] - 1))
    length_s = to_s - from_s
    before_s = np.concatenate((np.zeros(1), np.cumsum(length_s)))
    begun = np.searchsorted(from_s, edges_s, side="right")
    last = np.maximum(begun - 1, 0)
    inside_s = np.clip(edges_s - from_s[last], 0.0, length_s[last])
    reached_s = before_s[last] + np.where(begun > 0, inside_s, 0.0)
    return np.diff(reached_s, axis=-1)
