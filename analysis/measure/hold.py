"""The quiet hold: how long pressure keeps flat while the pump is stopped.

Flat means that five-minute means do not sink below an earlier one by more than the resolution.
A rise is no fall: water that warms in a heater pushes pressure up with the pump off. A jump is a
run that the log missed, however: it refills the tank, and means across it hide the falls.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from analysis.limits import FLAT_BLOCK_S, FLAT_BLOCKS_MIN, FLAT_KPA, FLAT_S, FLAT_SAMPLES_MIN
from analysis.measure.segments import STOPPED
from analysis.measure.trace import Trace


@dataclass(frozen=True)
class Hold:
    """How flat pressure held in one window.

    Attributes
    ----------
    flat_s : float
        Time in stretches that held flat for 15 minutes or more. [s]
    longest_s : float
        The longest flat stretch of ten minutes and `FLAT_SAMPLES_MIN` or more, else 0. [s]
    """

    flat_s: float
    longest_s: float


def holds(
    week: Trace, windows_s: NDArray[np.float64], step_kpa: float, unseen: NDArray[np.int64]
) -> list[Hold]:
    """Flat stretches of stopped time in each of some windows.

    Parameters
    ----------
    windows_s : ndarray of float64, shape (m, 2)
        Their bounds, in order and not overlapping. [s]
    step_kpa : float
        Resolution of the pressure. [kPa]
    unseen : ndarray of int64
        Rows before which the pump ran unseen, as from `falls.unseen_runs`.
    """
    limit_kpa = max(step_kpa, FLAT_KPA.value)
    blocks_s = FLAT_SAMPLES_MIN.value * week.time.interval_s
    n_least = ceil(max(FLAT_S.value, blocks_s) / FLAT_BLOCK_S.value)
    means = _block_means_kpa(week, windows_s, unseen)
    return [_hold(means_kpa, limit_kpa, n_least) for means_kpa in means]


def _hold(means_kpa: NDArray[np.float64], limit_kpa: float, n_least: int) -> Hold:
    n_min = int(FLAT_BLOCKS_MIN.value)
    is_flat = np.zeros(means_kpa.size, dtype=np.bool_)
    longest = 0
    values = means_kpa.tolist()
    begin = 0
    while begin < len(values):
        end = _flat_until(values, begin, limit_kpa)
        if end - begin >= n_min:
            is_flat[begin:end] = True
        if end - begin >= n_least:
            longest = max(longest, end - begin)
        if end == len(values):
            break
        begin += 1
    block_s = float(FLAT_BLOCK_S.value)
    return Hold(flat_s=int(is_flat.sum()) * block_s, longest_s=longest * block_s)


def _flat_until(values: list[float], begin: int, limit: float) -> int:
    """Where the flat stretch from ``begin`` ends; NaN (not all stopped) ends it."""
    highest = values[begin]
    end = begin
    while end < len(values) and highest - values[end] <= limit:  # False of NaN
        highest = max(highest, values[end])
        end += 1
    return end


def _block_means_kpa(
    week: Trace, windows_s: NDArray[np.float64], unseen: NDArray[np.int64]
) -> Iterator[NDArray[np.float64]]:
    """Mean pressure of each five minutes; NaN where not all of it was seen stopped."""
    n_blocks = ((windows_s[:, 1] - windows_s[:, 0]) // FLAT_BLOCK_S.value).astype(np.int64)
    last = np.cumsum(n_blocks + 1)
    each = [
        low_s + np.arange(n + 1, dtype=np.float64) * FLAT_BLOCK_S.value
        for low_s, n in zip(windows_s[:, 0].tolist(), n_blocks.tolist(), strict=True)
    ]
    edges_s = np.concatenate(each)
    all_stopped_s, all_rows = week.state_in_s(STOPPED, edges_s), week.time.rows_s(edges_s)
    is_jump = np.diff(np.searchsorted(unseen, all_rows)) > 0
    all_stopped_s = np.where(is_jump, 0.0, all_stopped_s)
    for end, n in zip(last.tolist(), n_blocks.tolist(), strict=True):
        stopped_s, rows = all_stopped_s[end - n - 1 : end - 1], all_rows[end - n - 1 : end]
        yield _means_kpa(week.samples.pressure_kpa, rows, stopped_s)


def _means_kpa(
    of_samples_kpa: NDArray[np.float32], rows: NDArray[np.int64], stopped_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    pressure_kpa = of_samples_kpa[rows[0] : rows[-1]].astype(np.float64)
    is_known = ~np.isnan(pressure_kpa)
    of = rows - rows[0]
    reached = np.concatenate(([0.0], np.cumsum(np.where(is_known, pressure_kpa, 0.0))))
    count = np.diff(np.concatenate(([0], np.cumsum(is_known)))[of])
    is_hold = (stopped_s >= FLAT_BLOCK_S.value - 1e-6) & (count > 0)
    return np.where(is_hold, np.diff(reached[of]) / np.maximum(count, 1), np.nan)
