"""Runs and stops: the log cut where the pump's state changes or the log falls silent.

The pump runs where its frequency is above ``RUNNING_ABOVE_HZ``. A sample without a frequency
keeps the last known state for at most the gap limit; after that the state is unknown, which is
neither run nor stop. A run or stop is whole when its beginning and its end were both seen;
pieces cut by a gap, an unknown state or the week's edge are flagged and left out of statistics
of whole ones. A start counts only where a stop was seen right before it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.limits import RUNNING_ABOVE_HZ
from analysis.measure.timeline import Timeline

STOPPED, RUNNING, UNKNOWN = 0, 1, 2


@dataclass(frozen=True)
class Segments:
    """Stretches of one state, in order; arrays of shape (k,).

    Attributes
    ----------
    first, end : ndarray of int64
        First row, and the row after the last.
    state : ndarray of int8
        0 stopped, 1 running, 2 unknown.
    from_s, to_s : ndarray of float64
        When it begins, and until when its last sample holds. [s]
    is_start : ndarray of bool
        A run that began right after a stop.
    is_stop : ndarray of bool
        A stop that began right after a run.
    is_whole : ndarray of bool
        Beginning and end were both seen.
    """

    first: NDArray[np.int64]
    end: NDArray[np.int64]
    state: NDArray[np.int8]
    from_s: NDArray[np.float64]
    to_s: NDArray[np.float64]
    is_start: NDArray[np.bool_]
    is_stop: NDArray[np.bool_]
    is_whole: NDArray[np.bool_]

    @property
    def duration_s(self) -> NDArray[np.float64]:
        """Seconds each lasts, as far as seen."""
        return np.asarray(self.to_s - self.from_s)

    @property
    def runs(self) -> NDArray[np.int64]:
        """Which segments are runs."""
        return np.flatnonzero(self.state == RUNNING)

    @property
    def stops(self) -> NDArray[np.int64]:
        """Which segments are stops."""
        return np.flatnonzero(self.state == STOPPED)


def states(frequency_hz: NDArray[np.float32], time: Timeline) -> NDArray[np.int8]:
    """State of every sample: 0 stopped, 1 running, 2 unknown.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Drive output frequency. [Hz]

    Returns
    -------
    ndarray of int8, shape (n,)
    """
    state = (frequency_hz > RUNNING_ABOVE_HZ.value).view(np.int8)
    is_blank = np.isnan(frequency_hz)
    if not is_blank.any():
        return state
    row = np.arange(frequency_hz.size)
    known = np.maximum.accumulate(np.where(is_blank, -1, row))
    carried = state[np.maximum(known, 0)]
    age_s = time.t_s - time.t_s[np.maximum(known, 0)]
    lost = (known < 0) | (age_s > time.gap_limit_s)
    return np.where(lost, UNKNOWN, carried).astype(np.int8)


def segments(state: NDArray[np.int8], time: Timeline) -> Segments:
    """Cut a week into runs, stops and unknown stretches.

    Parameters
    ----------
    state : ndarray of int8, shape (n,), n >= 1
        As from `states`.
    """
    changes = state[1:] != state[:-1]
    cuts = np.flatnonzero(changes | time.is_gap) + 1
    first = np.concatenate((np.zeros(1, dtype=np.int64), cuts))
    end = np.append(cuts, state.size)
    of = state[first]
    is_seen = np.zeros(first.size, dtype=np.bool_)  # the other known state came right before
    is_seen[1:] = ~time.is_gap[cuts - 1] & (of[1:] != UNKNOWN) & (of[:-1] != UNKNOWN)
    last = end - 1
    return Segments(
        first=first,
        end=end,
        state=of,
        from_s=time.t_s[first],
        to_s=time.t_s[last] + time.held_s[last],
        is_start=is_seen & (of == RUNNING),
        is_stop=is_seen & (of == STOPPED),
        is_whole=is_seen & np.append(is_seen[1:], False),
    )


def range_rows(first: NDArray[np.int64], end: NDArray[np.int64]) -> NDArray[np.int64]:
    """Row numbers of many row ranges, one after the other.

    Parameters
    ----------
    first, end : ndarray of int64, shape (k,)
        Rows ``first`` up to but not including ``end``; none may be negative in length.

    Returns
    -------
    ndarray of int64, shape (sum of the lengths,)
    """
    count = end - first
    before = np.cumsum(count) - count
    return np.asarray(np.arange(int(count.sum())) + np.repeat(first - before, count))
