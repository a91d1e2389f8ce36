"""Pressure and speed: what is held, where the pump stops and restarts, dips, the no-flow speed."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    DIP_INTERVAL_MAX_S,
    DIP_MIN_S,
    LAST_PAIR_HZ,
    SHORT_OF_SETTING_SHARE,
)
from analysis.measure.quantiles import held_quantiles, median, robust_sd, row_medians
from analysis.measure.segments import range_rows
from analysis.measure.trace import Trace

_BIN_KPA = 1.0
_AROUND_S = 10.0
_LAST_SAMPLES = 5
_LAST_WITHIN_S = 15.0
_DAY_S = 86400.0


@dataclass(frozen=True)
class Last:
    """Channels just before each stop, as from `last_running`; arrays of shape (k,)."""

    frequency_hz: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    current_a: NDArray[np.float64]


def held_pressure_kpa(week: Trace) -> float | None:
    """Pressure the drive holds: the mode of settled running, weighted by held time.

    The fullest bin of 1 kPa (or of the resolution, if coarser) with its neighbours, averaged.
    """
    pressure_kpa, held_s = week.settled.pressure_kpa, week.settled.held_s
    is_blank = np.isnan(pressure_kpa)
    if is_blank.any():
        pressure_kpa, held_s = pressure_kpa[~is_blank], held_s[~is_blank]
    if pressure_kpa.size == 0:
        return None
    width_kpa = max(_BIN_KPA, week.pressure_step_kpa or 0.0)
    low_kpa = float(pressure_kpa.min())
    at = ((pressure_kpa - low_kpa) / width_kpa + 0.5).astype(np.int64)
    filled_s = np.bincount(at, weights=held_s)
    around_s = np.convolve(filled_s, np.ones(3), "same")
    near = np.flatnonzero(np.abs(at - int(np.argmax(around_s))) <= 1)
    if (total_s := float(held_s[near].sum())) <= 0.0:
        return None
    return float((pressure_kpa[near] * held_s[near]).sum()) / total_s


def pressure_measures(
    week: Trace, held_kpa: float | None, clip_rows: NDArray[np.int64], last: Last
) -> dict[str, Any]:
    """Fields of `PumpWeek` on pressure and speed.

    Parameters
    ----------
    held_kpa : float or None
        As from `held_pressure_kpa`. [kPa]
    clip_rows : ndarray of int64
        Rows at a current ceiling.
    last : Last
        As from `last_running`.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    cut, samples = week.cut, week.samples
    pressure_kpa, held_s = samples.pressure_kpa, week.time.held_s
    all_kpa = held_quantiles(pressure_kpa, held_s, (0.01, 0.5, 1.0)) or (None, None, None)
    just_stopped = pressure_kpa[cut.first[cut.is_stop]]
    before_start = pressure_kpa[cut.first[cut.is_start] - 1]
    settled = week.settled
    speed = held_quantiles(settled.frequency_hz, settled.held_s, (0.05, 0.95)) or (None, None)
    highest_hz = float(np.fmax.reduce(samples.frequency_hz))
    at_max = samples.frequency_hz >= week.pump.max_hz - AT_MAX_WITHIN_HZ.value
    return {
        "held_pressure_kpa": held_kpa,
        "stop_pressure_kpa": median(just_stopped),
        "restart_pressure_kpa": median(before_start),
        "overshoot_kpa": _overshoot_kpa(week, held_kpa),
        "pressure_p01_kpa": all_kpa[0],
        "pressure_p50_kpa": all_kpa[1],
        "pressure_max_kpa": all_kpa[2],
        "f0_hz": median(last.frequency_hz),
        "f0_spread_hz": robust_sd(last.frequency_hz),
        "frequency_p05_hz": speed[0],
        "frequency_p95_hz": speed[1],
        "frequency_max_hz": None if np.isnan(highest_hz) else highest_hz,
        "at_max_s": float(held_s[np.flatnonzero(at_max)].sum()),
        **_short_of_setting(week, held_kpa, clip_rows),
    }


def _overshoot_kpa(week: Trace, held_kpa: float | None) -> float | None:
    """Median over stops of the highest pressure within 10 s of the stop, less the held one.

    Never less than a sample on either side, so that a slow log still compares the two.
    """
    cut, t_s = week.cut, week.time.t_s
    at = cut.first[cut.is_stop]
    if held_kpa is None or at.size == 0:
        return None
    low = np.minimum(np.searchsorted(t_s, t_s[at] - _AROUND_S), at - 1)
    high = np.maximum(np.searchsorted(t_s, t_s[at] + _AROUND_S, side="right"), at + 1)
    around_kpa = week.samples.pressure_kpa[range_rows(low, high)]
    highest_kpa = np.fmax.reduceat(around_kpa, np.cumsum(high - low) - (high - low))
    middle_kpa = median(highest_kpa)
    return None if middle_kpa is None else middle_kpa - held_kpa


def last_running(week: Trace) -> Last:
    """Channels just before each stop: median of a run's last samples at or above min_hz.

    Up to five samples, of the last 15 s or the last one; an averaged log's last sample of a run
    holds part of the stop and is left out. Of two that differ one is of the ramp down, or of flow
    that ended between them, and their middle is no speed the pump ran at. NaN where there is none.
    """
    cut, t_s, samples = week.cut, week.time.t_s, week.samples
    stop = np.flatnonzero(cut.is_stop)
    end = cut.end[stop - 1] - int(week.is_averaged)
    at = end[:, None] - 1 - np.arange(_LAST_SAMPLES)
    rows = np.maximum(at, 0)
    is_mine = at >= cut.first[stop - 1][:, None]
    is_mine[:, 1:] &= t_s[rows[:, 1:]] >= t_s[rows[:, :1]] - _LAST_WITHIN_S
    is_mine &= samples.frequency_hz[rows] >= week.pump.min_hz - AT_MAX_WITHIN_HZ.value
    is_pair = is_mine[:, :2].all(axis=1) & ~is_mine[:, 2:].any(axis=1)
    fall_hz = samples.frequency_hz[rows[:, 1]] - samples.frequency_hz[rows[:, 0]]
    is_mine[is_pair & (np.abs(fall_hz) > LAST_PAIR_HZ.value)] = False

    def middle(channel: NDArray[np.float32]) -> NDArray[np.float64]:
        return row_medians(np.where(is_mine, channel[rows], np.nan).astype(np.float64))

    return Last(
        middle(samples.frequency_hz), middle(samples.pressure_kpa), middle(samples.current_a)
    )


def _short_of_setting(
    week: Trace, held_kpa: float | None, clip_rows: NDArray[np.int64]
) -> dict[str, float | None]:
    """Dips a day, and time short of the setting with nothing left to give.

    Short of the registered setting, or of the held pressure where none is registered.
    """
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    if setting_kpa is None:
        return {"dips_per_day": None, "short_of_setting_s": None}
    settled = week.settled
    is_short = settled.pressure_kpa < (1.0 - SHORT_OF_SETTING_SHARE.value) * setting_kpa
    short = np.flatnonzero(is_short)
    is_max = settled.frequency_hz[short] >= week.pump.max_hz - AT_MAX_WITHIN_HZ.value
    is_max |= np.isin(settled.rows[short], clip_rows, assume_unique=True)
    dips_per_day = None
    observed_s = float(week.time.held_s.sum())
    if week.time.interval_s <= DIP_INTERVAL_MAX_S.value and observed_s > 0.0:
        dips_per_day = _n_dips(week, settled.rows[short]) * _DAY_S / observed_s
    return {
        "dips_per_day": dips_per_day,
        "short_of_setting_s": float(settled.held_s[short[is_max]].sum()),
    }


def _n_dips(week: Trace, short_rows: NDArray[np.int64]) -> int:
    """Spells of neighbouring samples, the first and last of which lie over 5 s apart."""
    if short_rows.size == 0:
        return 0
    t_s = week.time.t_s
    breaks = np.flatnonzero((np.diff(short_rows) > 1) | week.time.is_gap[short_rows[:-1]])
    first = short_rows[np.concatenate(([0], breaks + 1))]
    last = short_rows[np.append(breaks, short_rows.size - 1)]
    return int(np.count_nonzero(t_s[last] - t_s[first] > DIP_MIN_S.value))
