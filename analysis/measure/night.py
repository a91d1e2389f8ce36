"""The quiet window: the site's own quietest hours, night by night.

Not a fixed clock: a site that irrigates at night is quiet at another time. Within the window a
leak shows as falls in every stop, as regular restarts, or as a pump that never stops; pressure
that keeps flat within the resolution shows there is none.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import NIGHT_OBSERVED_SHARE, QUIET_HOURS
from analysis.measure.falls import (
    Falls,
    StopRanges,
    fall_points,
    fit_falls,
    tank_flow_lpm,
)
from analysis.measure.hold import Hold, holds
from analysis.measure.quantiles import held_quantile, median, quantile, robust_cv
from analysis.measure.runs import Events
from analysis.measure.segments import RUNNING, STOPPED
from analysis.measure.trace import Trace

_HOURS = 24
_NEAR_SHARE = 0.1
_NIGHT_HOUR = 2
_ALL_SHARE = 0.995
_FLOOR_SHARE = 0.05
_FLOW_BLOCK_S = 900.0


@dataclass(frozen=True)
class Nights:
    """The quiet window of each of the week's seven days; arrays of shape (7,).

    Attributes
    ----------
    from_hour : int
        Local hour at which the window begins.
    windows_s : ndarray of float64, shape (7, 2)
        Its bounds. [s]
    observed_share, run_s, stopped_s : ndarray of float64
        Share of it seen; time running and stopped inside. [-], [s], [s]
    is_night : ndarray of bool
        Enough of it was seen.
    never_stopped : ndarray of bool
        The pump ran all of it.
    starts_s : list of ndarray
        Starts inside each. [s]
    n_unseen : int
        Runs inside that the log missed but pressure shows.
    restarts_s : list of ndarray
        Time from start to start, those missed included, both inside and no gap between. [s]
    falls : Falls
        Falls inside all windows.
    fall_night : ndarray of int64
        Which night each fall lies in.
    leak_lpm : ndarray of float64
        Tank-law flow of each fall, NaN where the register does not allow it. [L/min]
    holds : list of Hold
        How flat pressure held.
    floor_hz, flow_floor_lpm : list of float or None
        Lowest settled speed (5th percentile), and least 15-min mean of logged flow.
    """

    from_hour: int
    windows_s: NDArray[np.float64]
    observed_share: NDArray[np.float64]
    run_s: NDArray[np.float64]
    stopped_s: NDArray[np.float64]
    is_night: NDArray[np.bool_]
    never_stopped: NDArray[np.bool_]
    starts_s: list[NDArray[np.float64]]
    n_unseen: int
    restarts_s: list[NDArray[np.float64]]
    falls: Falls
    fall_night: NDArray[np.int64]
    leak_lpm: NDArray[np.float64]
    holds: list[Hold]
    floor_hz: list[float | None]
    flow_floor_lpm: list[float | None]


def quiet_hour(week: Trace) -> int | None:
    """Local hour at which the site's quietest hours begin.

    Demand is read from the drive's speed: its mean over the hour, stopped time counting as 0.
    Where several windows are as quiet as the quietest (within 10 % of the week's mean speed), the
    one that begins nearest 02:00 is taken, when water-loss practice expects the least use.

    Returns
    -------
    int, or None where no such stretch of hours was seen
    """
    edges_s, rows = week.clock.hour_edges_s, week.running_rows
    edges = np.searchsorted(rows, week.time.rows_s(edges_s))
    speed = np.nan_to_num(week.samples.frequency_hz[rows]) * week.time.held_s[rows]
    known_s = week.state_in_s(RUNNING, edges_s) + week.state_in_s(STOPPED, edges_s)
    sums = [
        np.bincount(week.clock.hour, weights=of_hour, minlength=_HOURS)
        for of_hour in (np.diff(_reached(speed)[edges]), known_s)
    ]
    width = int(QUIET_HOURS.value)
    around = [np.convolve(np.append(of, of[: width - 1]), np.ones(width), "valid") for of in sums]
    is_seen = np.convolve(np.append(sums[1], sums[1][: width - 1]) > 0.0, np.ones(width), "valid")
    candidates = np.flatnonzero(is_seen == width)
    if candidates.size == 0:
        return None
    mean_hz = around[0][candidates] / around[1][candidates]
    near_hz = mean_hz.min() + _NEAR_SHARE * float(sums[0].sum() / sums[1].sum())
    near = candidates[mean_hz <= near_hz]
    away = np.abs((near - _NIGHT_HOUR + _HOURS // 2) % _HOURS - _HOURS // 2)
    return int(near[np.argmin(away)])


def nights(
    week: Trace, seen: Events, stops: StopRanges, unseen: NDArray[np.int64]
) -> Nights | None:
    """Measure the quiet window of every night; None where there is no such window."""
    from_hour = quiet_hour(week)
    if from_hour is None:
        return None
    windows_s = week.clock.windows_s(from_hour, int(QUIET_HOURS.value))
    length_s = windows_s[:, 1] - windows_s[:, 0]
    observed_s = week.observed_in_s(windows_s)[:, 0]
    run_s = week.state_in_s(RUNNING, windows_s)[:, 0]
    rows = week.time.rows_s(windows_s)
    is_night = observed_s >= NIGHT_OBSERVED_SHARE.value * length_s
    unseen_s = week.time.t_s[unseen]
    all_s = np.sort(np.concatenate((seen.start_s, unseen_s)))
    starts_s, unseen_in_s, all_in_s = (
        [at_s[low:high] for low, high in np.searchsorted(at_s, windows_s)]
        for at_s in (seen.start_s, unseen_s, all_s)
    )
    step_kpa = week.pressure_step_kpa or 0.0
    found = fit_falls(fall_points(week, stops.inside(rows)), step_kpa)
    return Nights(
        from_hour=from_hour,
        windows_s=windows_s,
        observed_share=observed_s / length_s,
        run_s=run_s,
        stopped_s=week.state_in_s(STOPPED, windows_s)[:, 0],
        is_night=is_night,
        never_stopped=is_night & (run_s >= _ALL_SHARE * observed_s),
        starts_s=starts_s,
        n_unseen=sum(at_s.size for at_s in unseen_in_s),
        restarts_s=[_restarts_s(week, at_s) for at_s in all_in_s],
        falls=found,
        fall_night=np.searchsorted(windows_s[1:, 0], found.from_s, side="right"),
        leak_lpm=tank_flow_lpm(week, found),
        holds=holds(week, windows_s, step_kpa, unseen),
        floor_hz=[_floor_hz(week, low, high) for low, high in rows],
        flow_floor_lpm=[
            _flow_floor_lpm(week, low, high) if "flow_lpm" in week.logged else None
            for low, high in windows_s
        ],
    )


def night_measures(of: Nights | None) -> dict[str, Any]:
    """Fields of `PumpWeek` on the quiet window, all nights together.

    Returns
    -------
    dict
        By field name; units as documented there. Only the counts, 0, where there is no window.
    """
    if of is None:
        return {
            "n_nights": 0,
            "quiet_n_starts": 0,
            "quiet_n_falls": 0,
            "quiet_never_stopped_nights": 0,
        }
    slope = of.falls.slope_kpa_per_min
    restarts_s = np.concatenate(of.restarts_s)
    known_s, stopped_s = float((of.run_s + of.stopped_s).sum()), float(of.stopped_s.sum())
    flat_s = sum(hold.flat_s for hold in of.holds)
    floors_hz = [f for f, is_night in zip(of.floor_hz, of.is_night, strict=True) if is_night]
    flows = [f for f, is_night in zip(of.flow_floor_lpm, of.is_night, strict=True) if is_night]
    return {
        "quiet_from_hour": of.from_hour,
        "n_nights": int(np.count_nonzero(of.is_night)),
        "quiet_n_starts": sum(starts.size for starts in of.starts_s),
        "quiet_n_unseen_runs": of.n_unseen,
        "quiet_run_share": float(of.run_s.sum()) / known_s if known_s > 0.0 else None,
        "quiet_restart_s_median": median(restarts_s),
        "quiet_restart_cv": robust_cv(restarts_s),
        "quiet_n_falls": slope.size,
        "quiet_fall_p10_kpa_per_min": quantile(slope, 0.1),
        "quiet_fall_p50_kpa_per_min": quantile(slope, 0.5),
        "quiet_fall_p90_kpa_per_min": quantile(slope, 0.9),
        "quiet_fall_cv": robust_cv(slope),
        "quiet_fall_first_over_last": median(of.falls.first_over_last),
        "quiet_fall_early_over_late": median(of.falls.early_over_late),
        "quiet_flat_share": min(1.0, flat_s / stopped_s) if stopped_s > 0.0 else None,
        "quiet_leak_lpm_p10": quantile(of.leak_lpm, 0.1),
        "quiet_leak_lpm_p50": quantile(of.leak_lpm, 0.5),
        "quiet_leak_lpm_p90": quantile(of.leak_lpm, 0.9),
        "quiet_never_stopped_nights": int(np.count_nonzero(of.never_stopped)),
        "quiet_floor_hz": _median_of(floors_hz),
        "quiet_flow_floor_lpm": _median_of(flows),
    }


def night_of_day(of: Nights | None, day: int) -> dict[str, Any]:
    """Fields of `PumpDay` on the night that begins on a day.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    if of is None:
        return {
            "night_observed_share": 0.0,
            "night_n_starts": 0,
            "night_run_s": 0.0,
            "night_n_falls": 0,
            "night_flat_s": 0.0,
            "night_never_stopped": False,
        }
    mine = of.fall_night == day
    slope = of.falls.slope_kpa_per_min[mine]
    return {
        "night_observed_share": float(of.observed_share[day]),
        "night_n_starts": of.starts_s[day].size,
        "night_run_s": float(of.run_s[day]),
        "night_restart_s_median": median(of.restarts_s[day]),
        "night_restart_cv": robust_cv(of.restarts_s[day]),
        "night_n_falls": slope.size,
        "night_fall_floor_kpa_per_min": quantile(slope, 0.0),
        "night_fall_p50_kpa_per_min": median(slope),
        "night_flat_s": of.holds[day].longest_s,
        "night_leak_lpm": median(of.leak_lpm[mine]),
        "night_never_stopped": bool(of.never_stopped[day]),
        "night_floor_hz": of.floor_hz[day],
        "night_flow_floor_lpm": of.flow_floor_lpm[day],
    }


def _reached(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate((np.zeros(1), np.cumsum(values)))


def _median_of(values: list[float | None]) -> float | None:
    return median(np.array([v for v in values if v is not None]))


def _restarts_s(week: Trace, starts_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Time from start to start where no gap lies between."""
    piece = np.searchsorted(week.time.piece_from_s, starts_s, side="right")
    return np.asarray(np.diff(starts_s)[np.diff(piece) == 0])


def _floor_hz(week: Trace, low: int, high: int) -> float | None:
    """Lowest settled speed: what it stays under for 5 % of the settled time."""
    settled = week.settled
    a, b = np.searchsorted(settled.rows, (low, high))
    if b <= a:
        return None
    return held_quantile(settled.frequency_hz[a:b], settled.held_s[a:b], _FLOOR_SHARE)


def _flow_floor_lpm(week: Trace, low_s: float, high_s: float) -> float | None:
    """Least mean flow of the 15-minute blocks that were seen in full."""
    edges_s = np.arange(low_s, high_s + 1.0, _FLOW_BLOCK_S)
    rows = week.time.rows_s(edges_s)
    flow_lpm = week.samples.flow_lpm[rows[0] : rows[-1]].astype(np.float64)
    is_known = ~np.isnan(flow_lpm)
    if not is_known.any():
        return None
    held_s = np.where(is_known, week.time.held_s[rows[0] : rows[-1]], 0.0)
    of = rows - rows[0]
    water = np.diff(_reached(np.nan_to_num(flow_lpm) * held_s)[of])
    seen_s = np.diff(_reached(held_s)[of])
    is_full = seen_s >= _ALL_SHARE * _FLOW_BLOCK_S - week.time.interval_s
    return float((water[is_full] / seen_s[is_full]).min()) if is_full.any() else None
