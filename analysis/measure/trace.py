"""One pump's week, cut and marked once, as every measure reads it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AVERAGED_ROWS_MIN_SHARE,
    AVERAGED_SIGMAS,
    RAMP_BELOW_MIN_S,
    RUNNING_ABOVE_HZ,
    SETTLE_S,
)
from analysis.measure.local_clock import LocalClock
from analysis.measure.quantiles import in_order
from analysis.measure.segments import RUNNING, Segments, range_rows, segments, states
from analysis.measure.timeline import Timeline, covered_s, timeline
from ingest.installed_base import Pump
from ingest.samples import CHANNELS, PumpSamples

_AVERAGED_ROWS_MIN = 5
_STEP_SHARE = 0.05


@dataclass(frozen=True)
class Settled:
    """Samples of settled running: past the settling time after each start.

    The first sample of a run is never among them; where the log averages, neither is the last,
    which holds part of the stop.

    Attributes
    ----------
    rows : ndarray of int64, shape (m,)
        Their rows.
    first, end : ndarray of int64, shape (r,)
        Row range of each run's settled part, empty where there is none.
    held_s, frequency_hz, pressure_kpa, current_a : ndarray, shape (m,)
        The channels at those rows.
    """

    rows: NDArray[np.int64]
    first: NDArray[np.int64]
    end: NDArray[np.int64]
    held_s: NDArray[np.float64]
    frequency_hz: NDArray[np.float32]
    pressure_kpa: NDArray[np.float32]
    current_a: NDArray[np.float32]


@dataclass(frozen=True)
class Trace:
    """One pump's week.

    Attributes
    ----------
    logged : frozenset of str
        Channels that have a value at least once.
    state : ndarray of int8, shape (n,)
        0 stopped, 1 running, 2 unknown.
    running_rows : ndarray of int64
        Rows that run.
    is_averaged : bool
        The log holds averages over its interval, not instants.
    pressure_step_kpa : float or None
        Resolution of the pressure; None where it never moved.
    day_rows : ndarray of int64, shape (8,)
        First row of each local day, and the row after the last.
    """

    samples: PumpSamples
    logged: frozenset[str]
    pump: Pump
    clock: LocalClock
    time: Timeline
    state: NDArray[np.int8]
    cut: Segments
    running_rows: NDArray[np.int64]
    is_averaged: bool
    settled: Settled
    pressure_step_kpa: float | None
    day_rows: NDArray[np.int64]

    def day_of(self, at_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """Which local day, 0 to 6, each instant falls in."""
        return np.searchsorted(self.clock.day_edges_s[1:-1], at_s, side="right")

    def hour_of(self, at_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """Which clock hour of the week each instant falls in."""
        return np.searchsorted(self.clock.hour_edges_s[1:-1], at_s, side="right")

    def observed_in_s(self, edges_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Seconds seen between neighbouring edges."""
        return covered_s(self.time.piece_from_s, self.time.piece_to_s, edges_s)

    def state_in_s(self, state: int, edges_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Seconds in a state between neighbouring edges."""
        of = self.cut.state == state
        return covered_s(self.cut.from_s[of], self.cut.to_s[of], edges_s)


def lay_out(samples: PumpSamples, pump: Pump, clock: LocalClock) -> Trace:
    """Cut and mark a week of samples.

    Parameters
    ----------
    samples : PumpSamples
        Samples inside the week, at least one.
    pump : Pump
        Its register row.
    clock : LocalClock
        The week at its site.
    """
    time = timeline(samples.ts_us, clock)
    state = states(samples.frequency_hz, time)
    cut = segments(state, time)
    is_averaged = holds_averages(samples.frequency_hz, pump.min_hz, cut, time)
    return Trace(
        samples=samples,
        logged=frozenset(name for name in CHANNELS if _has_values(getattr(samples, name))),
        pump=pump,
        clock=clock,
        time=time,
        state=state,
        cut=cut,
        running_rows=np.flatnonzero(state == RUNNING),
        is_averaged=is_averaged,
        settled=_settled(samples, time, cut, is_averaged=is_averaged),
        pressure_step_kpa=smallest_step(samples.pressure_kpa),
        day_rows=time.rows_s(clock.day_edges_s),
    )


def _has_values(channel: NDArray[np.float32]) -> bool:
    return not np.isnan(channel[0]) or not bool(np.isnan(channel).all())


def holds_averages(
    frequency_hz: NDArray[np.float32], min_hz: float, cut: Segments, time: Timeline
) -> bool:
    """Whether the log holds averages over its interval instead of instants.

    A drive does not run between 0 and ``min_hz``; only its ramp passes there. Samples there that
    are more per start and stop than ramps leave can only be averages over running and stopped
    time. A log faster than its ramps shows no difference, and needs none.

    A sample counts by how long it holds: a log that writes changes has each step of a ramp, a
    second long. Few starts and stops meet their ramps by chance, so that what chance allows
    (Poisson counts, whose standard deviation is the root of their mean) is left out of account.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        [Hz]
    min_hz : float
        Lowest speed as set. [Hz]
    """
    between = (frequency_hz > 2 * RUNNING_ABOVE_HZ.value) & (frequency_hz < 0.95 * min_hz)
    n_between = float(time.held_s[between].sum()) / time.interval_s
    n_edges = int(np.count_nonzero(cut.is_start | cut.is_stop))
    by_ramps = max(AVERAGED_ROWS_MIN_SHARE.value, RAMP_BELOW_MIN_S.value / time.interval_s)
    of_ramps = by_ramps * n_edges
    by_chance = AVERAGED_SIGMAS.value * np.sqrt(of_ramps)
    return n_edges > 0 and bool(n_between >= max(_AVERAGED_ROWS_MIN, of_ramps + by_chance))


def smallest_step(values: NDArray[np.float32]) -> float | None:
    """Resolution of a channel: the smallest usual step between neighbouring samples.

    The 5th percentile of the steps that are not zero: in rounded values the step itself, in
    unrounded ones a small share of their noise.

    Returns
    -------
    float, or None where the channel never moved. In the channel's unit
    """
    step = np.abs(np.diff(values))
    n_moved = int(np.count_nonzero(step > 0.0))
    if n_moved == 0:
        return None
    n_still = int(np.count_nonzero(step == 0.0))
    return float(in_order(step, [n_still + int(_STEP_SHARE * n_moved)])[0])


def _settled(samples: PumpSamples, time: Timeline, cut: Segments, *, is_averaged: bool) -> Settled:
    runs = cut.runs
    end = cut.end[runs] - int(is_averaged)
    first = np.searchsorted(time.t_s, cut.from_s[runs] + SETTLE_S.value)
    first = np.minimum(np.maximum(first, cut.first[runs] + 1), np.maximum(end, cut.first[runs]))
    end = np.maximum(end, first)
    rows = range_rows(first, end)
    return Settled(
        rows=rows,
        first=first,
        end=end,
        held_s=time.held_s[rows],
        frequency_hz=samples.frequency_hz[rows],
        pressure_kpa=samples.pressure_kpa[rows],
        current_a=samples.current_a[rows],
    )
