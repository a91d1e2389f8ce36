"""Spells at speed with the pressure gone: when, how long, and what the motor took meanwhile.

What makes them (suction lost, a burst, a filling line, a bad sensor) is not told here: the
motor's current is kept with each spell, beside what the pump takes when it holds its pressure.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    DRY_SPEED_OVER_NO_FLOW,
    FULL_SPEED_SHARE,
    GONE_BRIDGE_S,
    GONE_MIN_S,
    GONE_MOVES_SHARE,
    GONE_SHARE,
    GONE_SPELLS_MAX,
    HELD_SHARE,
    SHORT_OF_SETTING_SHARE,
    TOP_OF_WEEK_SHARE,
)
from analysis.measure.pressure import Last
from analysis.measure.quantiles import in_order, median, quantile, robust_cv
from analysis.measure.segments import RUNNING
from analysis.measure.trace import Trace

_TOP_SHARE = 0.95
_LEAST_SHARE = 0.1
_TOP_BAND_HZ = 2.0
_STEPS = 1.5  # of the sensor's resolution: one step up and down is flicker
_HELD_MOST = 1.1  # of the setting: above, the pump does not hold but push


def pressure_gone_measures(week: Trace, held_kpa: float | None, last: Last) -> dict[str, Any]:
    """Fields of `PumpWeek` on spells at speed without pressure, and on the currents to compare.

    At speed is above the speed at which the pump holds its pressure with no flow: by the
    affinity laws it makes at least the set pressure there, unless water runs away or is missing.
    Where no stop shows that speed, above 90 % of ``max_hz``. Gone is under half of the setting;
    or, as a tank keeps the pressure up for a while, over 10 % short with less current than at no
    flow although it turns a fifth faster, which no pump full of water that turns forward does.
    There it must have sunk since it was last held and not have risen again: without water
    pressure only sinks, and one that stands, or comes back after a draw, is what this pump makes.
    Where it comes back so and the run ends without holding it, all of the fall was such draws.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    last : Last
        As from `last_running`.

    Returns
    -------
    dict
        By field name; units as documented there. Empty without a pressure to compare with.
    """
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    if setting_kpa is None or setting_kpa <= 0.0:
        return {}
    no_flow = _no_flow(last, setting_kpa)
    rows = _gone_rows(week, setting_kpa, no_flow)
    spells = _spells(week, rows)
    return {
        "no_flow_hz": no_flow.hz,
        "no_flow_current_a": no_flow.current_a,
        **_top_held(week, setting_kpa),
        "n_gone": len(spells),
        "held_after_gone_s": _held_after_s(week, rows[spells[-1][1] - 1], setting_kpa)
        if spells
        else None,
        **_of_spells(week, rows, spells),
    }


class _NoFlow(NamedTuple):
    """Speed and motor current with water in the pump and none drawn. [Hz], [A]."""

    hz: float | None
    current_a: float | None


def _no_flow(last: Last, setting_kpa: float) -> _NoFlow:
    """Speed and current just before stops at the held pressure: water in it, none drawn.

    The 10th percentile of each: in a slow log most last samples are older than the end of flow.
    """
    holds = last.pressure_kpa >= HELD_SHARE.value * setting_kpa
    hz = quantile(last.frequency_hz[holds], _LEAST_SHARE)
    return _NoFlow(hz, quantile(last.current_a[holds], _LEAST_SHARE))


def _top_held(week: Trace, setting_kpa: float) -> dict[str, float | None]:
    """Current at the highest speeds at which the pressure was held, and the time so."""
    settled = week.settled
    held = settled.pressure_kpa >= HELD_SHARE.value * setting_kpa
    usual = np.flatnonzero(held & (settled.pressure_kpa <= _HELD_MOST * setting_kpa))
    share = _ratio(float(settled.held_s[held].sum()), float(settled.held_s.sum()))
    hz = settled.frequency_hz[usual]
    if hz.size == 0:
        return {"at_setting_share": share, "top_held_hz": None, "top_held_current_a": None}
    at = int(_TOP_SHARE * (hz.size - 1))
    top_hz = float(in_order(hz, [at])[0])
    near = usual[np.abs(hz - top_hz) <= _TOP_BAND_HZ / 2]
    return {
        "at_setting_share": share,
        "top_held_hz": None if np.isnan(top_hz) else top_hz,
        "top_held_current_a": median(settled.current_a[near]),
    }


def _ratio(part: float, whole: float) -> float | None:
    return part / whole if whole > 0.0 else None


def _gone_rows(week: Trace, setting_kpa: float, no_flow: _NoFlow) -> NDArray[np.int64]:
    """Rows at speed with the pressure gone."""
    samples = week.samples
    short_kpa = (1.0 - SHORT_OF_SETTING_SHARE.value) * setting_kpa
    low = np.flatnonzero(samples.pressure_kpa < np.float32(short_kpa))
    low = np.asarray(low[week.state[low] == RUNNING], dtype=np.int64)
    if low.size == 0:
        return low
    frequency_hz = samples.frequency_hz[low]
    speed_hz = min(
        FULL_SPEED_SHARE.value * week.pump.max_hz,
        TOP_OF_WEEK_SHARE.value * float(np.fmax.reduce(samples.frequency_hz)),
        np.inf if no_flow.hz is None else no_flow.hz - AT_MAX_WITHIN_HZ.value,
    )
    is_gone = (samples.pressure_kpa[low] < GONE_SHARE.value * setting_kpa) & (
        frequency_hz >= speed_hz
    )
    if no_flow.hz is not None and no_flow.current_a is not None:
        takes_little = (frequency_hz >= DRY_SPEED_OVER_NO_FLOW.value * no_flow.hz) & (
            samples.current_a[low] <= no_flow.current_a
        )
        at = np.flatnonzero(takes_little & ~is_gone)
        is_gone[at] = _sinks(week, low[at], setting_kpa)
    return np.asarray(low[is_gone])


def _sinks(week: Trace, rows: NDArray[np.int64], setting_kpa: float) -> NDArray[np.bool_]:
    """Whether pressure has sunk since it was last held in its run, or since the run's start.

    Not once it has come back from a fall; not before that either, unless it was held again then.
    """
    pressure_kpa, first = week.samples.pressure_kpa, week.cut.first
    run = np.searchsorted(first, rows, side="right") - 1
    since, until = first[run], week.cut.end[run]
    held = np.flatnonzero(pressure_kpa >= HELD_SHARE.value * setting_kpa)
    before = np.searchsorted(held, rows)
    since = np.maximum(since, np.append(-1, held)[before])
    next_held = np.append(held, pressure_kpa.size)[before]
    least_kpa = max(GONE_MOVES_SHARE.value * setting_kpa, _STEPS * (week.pressure_step_kpa or 0.0))
    sinks = np.zeros(rows.size, dtype=np.bool_)
    begins, at = np.unique(since, return_index=True)
    for begin, of in zip(begins, np.split(np.arange(rows.size), at)[1:], strict=True):
        is_held_then = next_held[of[0]] < until[of[0]]
        here_kpa = pressure_kpa[begin : min(next_held[of[0]], until[of[0]])]
        lowest_kpa = np.fmin.accumulate(here_kpa)
        has_fallen = here_kpa[0] - lowest_kpa > least_kpa
        came_back = np.logical_or.accumulate(has_fallen & (here_kpa - lowest_kpa > least_kpa))
        mine = rows[of] - begin
        sinks[of] = here_kpa[0] - here_kpa[mine] > least_kpa
        sinks[of] &= ~came_back[mine] if is_held_then else ~came_back[-1]
    return sinks


def _spells(week: Trace, rows: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Ranges of ``rows`` that make one spell of a run, at least 10 s long; the longest 50.

    In a log of one sample every 10 s or slower a single sample counts, unless it is a mean over
    running and stopped time.
    """
    if rows.size == 0:
        return []
    t_s, held_s = week.time.t_s, week.time.held_s
    run = np.searchsorted(week.cut.first, rows, side="right")
    silence_s = t_s[rows[1:]] - (t_s[rows[:-1]] + held_s[rows[:-1]])
    breaks = np.flatnonzero((np.diff(run) != 0) | (silence_s > GONE_BRIDGE_S.value)) + 1
    first, end = np.concatenate(([0], breaks)), np.append(breaks, rows.size)
    length_s = np.add.reduceat(held_s[rows], first)
    several = (end - first >= 2) & (length_s > GONE_MIN_S.value)
    single = (end - first == 1) & (length_s >= GONE_MIN_S.value) & (not week.is_averaged)
    kept = np.flatnonzero(several | single)
    most = int(GONE_SPELLS_MAX.value)
    if kept.size > most:
        kept = np.sort(kept[np.argsort(-length_s[kept], kind="stable")[:most]])
    return [(int(first[n]), int(end[n])) for n in kept]


def _of_spells(
    week: Trace, rows: NDArray[np.int64], spells: list[tuple[int, int]]
) -> dict[str, list[float | None]]:
    """One entry a spell in each list, in order of time."""
    samples, t_s = week.samples, week.time.t_s
    columns: dict[str, list[float | None]] = {
        name: []
        for name in (
            "gone_from_s", "gone_s", "gone_samples", "gone_hz", "gone_current_a", "gone_kpa",
            "gone_kpa_range", "gone_current_cv", "gone_after_start_s",
        )
    }  # fmt: skip
    for low, high in spells:
        at = rows[low:high]
        pressure_kpa, current_a = samples.pressure_kpa[at], samples.current_a[at]
        from_s = float(t_s[at[0]])
        found: dict[str, float | None] = {
            "gone_from_s": from_s,
            "gone_s": float(week.time.held_s[at].sum()),
            "gone_samples": float(at.size),
            "gone_hz": median(samples.frequency_hz[at]),
            "gone_current_a": median(current_a),
            "gone_kpa": median(pressure_kpa),
            "gone_kpa_range": float(np.ptp(pressure_kpa)),
            "gone_current_cv": robust_cv(current_a),
            "gone_after_start_s": _after_start_s(week, int(at[0]), from_s),
        }
        for name, value in found.items():
            columns[name].append(value)
    return columns


def _after_start_s(week: Trace, row: int, from_s: float) -> float | None:
    """Time since the run's start; None where the start was not seen."""
    run = int(np.searchsorted(week.cut.first, row, side="right")) - 1
    return from_s - float(week.cut.from_s[run]) if week.cut.is_start[run] else None


def _held_after_s(week: Trace, row: np.int64, setting_kpa: float) -> float:
    """Settled running at the setting after a row."""
    settled = week.settled
    later = int(np.searchsorted(settled.rows, row, side="right"))
    held = settled.pressure_kpa[later:] >= HELD_SHARE.value * setting_kpa
    return float(settled.held_s[later:][held].sum())
