"""Drift of motor current over weeks, at like frequency and pressure.

Each cell of the op_map is compared with itself only. What moves current at like frequency and
pressure besides the motor and the pump (suction pressure, well level, the density and
temperature of the water, low supply volts at top speed) is not taken out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.case import CurrentDrift
from analysis.few import median_of, middle_of_seen
from analysis.limits import (
    DRIFT_BIN_MIN_HELD_S,
    DRIFT_BIN_MIN_SAMPLES,
    DRIFT_EDGE_HZ,
    DRIFT_MIN_WEEKS,
    DRIFT_WEEK_ENOUGH_S,
    DRIFT_WEEK_SHARE,
)
from analysis.records import OpMapBin
from analysis.slopes import least_squares, theil_sen
from ingest.weeks import parse_week

_LEVEL = 0.95  # confidence of the interval, as CurrentDrift promises
_SEN_MIN_WEEKS = 5  # with fewer, no pair of ranks encloses the slope with 95 % confidence
_HUBER = 1.345  # 95 % efficient on normal residuals; P. J. Huber, Robust Statistics, 1981
_MAD_TO_SD = 1.4826
_REWEIGHTINGS = 4  # the weights settle in two or three
_NEIGHBOUR_HZ = 4.5  # bins further apart do not tell how current goes with frequency here


@dataclass(frozen=True)
class _Grid:
    """Bin-weeks as arrays of shape (weeks, bins); NaN current and zero held time where unseen."""

    week: NDArray[np.float64]  # shape (weeks,), counted in weeks
    pressure_bin: NDArray[np.float64]  # shape (bins,), bins sorted by pressure, then frequency
    log_current: NDArray[np.float64]
    frequency_hz: NDArray[np.float64]
    held_s: NDArray[np.float64]


def current_drift(maps: Sequence[tuple[OpMapBin, ...]]) -> CurrentDrift | None:
    """Slope of motor current over weeks at like frequency and pressure.

    Every bin-week is a bin's own level times a week's effect. The effects of all weeks are fitted
    at once by least squares of log current, weighted by the time held and made robust by Huber's
    weights, so that bins seen in some weeks only neither help nor hurt; a bin's mean frequency
    wandering inside its 2 Hz is first taken out by the slope of current between neighbouring
    bins of the same pressure, and a bin-week further out than ``DRIFT_EDGE_HZ`` on a side without
    a neighbour is left out: near no flow a little flow moves current much and speed hardly, so
    slopes of larger flows do not tell. The slope is Theil and Sen's over the weeks' effects.

    Parameters
    ----------
    maps : sequence of tuple of OpMapBin
        One entry a week, oldest first; missing weeks are simply not there. Bins with fewer than
        ``DRIFT_BIN_MIN_SAMPLES`` samples or ``DRIFT_BIN_MIN_HELD_S`` seconds, or seen in one
        week only, are left out; so are weeks that ran too little to stand beside the others, as
        every week counts as one in the slope.

    Returns
    -------
    CurrentDrift or None
        None where fewer than ``DRIFT_MIN_WEEKS`` weeks share bins. The limits are Sen's 95 %
        confidence interval [1]_ from five weeks on; ranks of three or four weeks cannot reach
        95 %, and the (wide) interval of Student's t about the least-squares line stands there.

    References
    ----------
    .. [1] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63,
       1968.
    """
    grid = _grid([b for week in maps for b in week])
    grid = None if grid is None else _comparable(_between_known(grid))
    if grid is None:
        return None
    effect_pct = 100.0 * np.expm1(_week_effects(_at_bin_frequency(grid), grid.held_s))
    slope, low, high = _slope(grid.week, effect_pct)
    return CurrentDrift(
        pct_per_week=slope,
        low_pct_per_week=low,
        high_pct_per_week=high,
        total_pct=slope * float(grid.week[-1] - grid.week[0]),
        n_weeks=grid.week.size,
        n_bins=grid.pressure_bin.size,
    )


def _grid(bins: Sequence[OpMapBin]) -> _Grid | None:
    """Bin-weeks with enough behind them, laid out by week and bin."""
    rows = [
        (
            b.week,
            b.pressure_bin_pct,
            b.frequency_bin_hz,
            b.current_mean_a,
            b.frequency_mean_hz,
            b.held_s,
        )
        for b in bins
        if b.current_mean_a is not None
        and b.current_mean_a > 0.0
        and b.n >= DRIFT_BIN_MIN_SAMPLES.value
        and b.held_s >= DRIFT_BIN_MIN_HELD_S.value
    ]
    if not rows:
        return None
    week_text, pressure, frequency, current, mean_hz, held = zip(*rows, strict=True)
    number_of = {text: parse_week(text).monday.toordinal() / 7.0 for text in set(week_text)}
    week, at_week = np.unique([number_of[text] for text in week_text], return_inverse=True)
    # a complex number sorts by its real part, then by its imaginary one
    key, at_key = np.unique(np.array(pressure) + 1j * np.array(frequency), return_inverse=True)
    shape = (week.size, key.size)
    log_current = np.full(shape, np.nan)
    log_current[at_week, at_key] = np.log(current)
    frequency_hz = np.full(shape, np.nan)
    frequency_hz[at_week, at_key] = mean_hz
    held_s = np.zeros(shape)
    held_s[at_week, at_key] = held
    return _Grid(week, key.real, log_current, frequency_hz, held_s)


def _between_known(grid: _Grid) -> _Grid:
    """Without bin-weeks whose frequency lies where no neighbour tells how current goes with it."""
    centre_hz = middle_of_seen(grid.frequency_hz)
    is_neighbour = _is_neighbour(grid, centre_hz)
    has_below = np.concatenate(([False], is_neighbour))
    has_above = np.concatenate((is_neighbour, [False]))
    off_hz = grid.frequency_hz - centre_hz  # NaN where unseen, which compares as False
    is_out = (off_hz < -DRIFT_EDGE_HZ.value) & ~has_below
    is_out |= (off_hz > DRIFT_EDGE_HZ.value) & ~has_above
    return _Grid(
        grid.week,
        grid.pressure_bin,
        np.where(is_out, np.nan, grid.log_current),
        np.where(is_out, np.nan, grid.frequency_hz),
        np.where(is_out, 0.0, grid.held_s),
    )


def _is_neighbour(grid: _Grid, centre_hz: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each bin and the next one tell how current goes with frequency between them."""
    step_hz = np.diff(centre_hz)
    is_near = (step_hz > 0.0) & (step_hz < _NEIGHBOUR_HZ)
    return np.asarray((np.diff(grid.pressure_bin) == 0.0) & is_near)


def _comparable(grid: _Grid) -> _Grid | None:
    """The largest set of whole weeks tied together by shared bins, and the bins that tie them."""
    seen = grid.held_s > 0.0
    ties = (seen.astype(np.float64) @ seen.T) > 0.0
    for _ in range(int(np.ceil(np.log2(max(2, grid.week.size))))):
        ties = (ties.astype(np.float64) @ ties) > 0.0
    weeks = ties[int(np.argmax(ties.sum(axis=1)))]
    shared = seen[weeks].sum(axis=0) >= 2
    if np.count_nonzero(weeks) < DRIFT_MIN_WEEKS.value:
        return None
    tied = _part(grid, weeks, shared)
    whole = _is_whole(tied.held_s.sum(axis=1))
    return tied if whole.all() else _comparable(_part(tied, whole, np.full(shared.sum(), True)))


def _part(grid: _Grid, weeks: NDArray[np.bool_], bins: NDArray[np.bool_]) -> _Grid:
    """Some weeks and bins of the grid."""
    at = np.ix_(weeks, bins)
    return _Grid(
        grid.week[weeks],
        grid.pressure_bin[bins],
        grid.log_current[at],
        grid.frequency_hz[at],
        grid.held_s[at],
    )


def _is_whole(held_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which weeks ran long enough in the shared bins: absolutely, or beside the others."""
    usual_s = DRIFT_WEEK_SHARE.value * median_of(held_s.tolist())
    return np.asarray(held_s >= min(DRIFT_WEEK_ENOUGH_S.value, usual_s))


def _at_bin_frequency(grid: _Grid) -> NDArray[np.float64]:
    """Log current carried to each bin's median frequency by the local slope."""
    level = middle_of_seen(grid.log_current)
    centre_hz = middle_of_seen(grid.frequency_hz)
    is_neighbour = _is_neighbour(grid, centre_hz)
    per_hz = np.diff(level)[is_neighbour] / np.diff(centre_hz)[is_neighbour]
    if per_hz.size == 0:
        return grid.log_current
    below = np.full(level.size, np.nan)
    above = np.full(level.size, np.nan)
    above[:-1][is_neighbour] = per_hz
    below[1:][is_neighbour] = per_hz
    both = np.stack((below, above))
    count = np.count_nonzero(~np.isnan(both), axis=0)
    local = np.where(
        count > 0, np.nansum(both, axis=0) / np.maximum(count, 1), median_of(per_hz.tolist())
    )
    return np.asarray(grid.log_current - local * (grid.frequency_hz - centre_hz))


def _week_effects(
    log_current: NDArray[np.float64], held_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Effect of each week in ``log_current = bin level + week effect``, summing to zero."""
    seen = held_s > 0.0
    value = np.where(seen, log_current, 0.0)
    weight = held_s / held_s.sum()
    effect = np.zeros(held_s.shape[0])
    for _ in range(_REWEIGHTINGS):
        by_bin = weight.sum(axis=0)
        mean_of_bin = (weight * value).sum(axis=0) / by_bin
        normal = np.diag(weight.sum(axis=1)) - (weight / by_bin) @ weight.T
        right = (weight * (value - mean_of_bin)).sum(axis=1)
        # the effects are fixed up to a constant; the added one lets them sum to zero
        effect = np.linalg.solve(normal + 1.0 / effect.size, right)
        level = (weight * (value - effect[:, None])).sum(axis=0) / by_bin
        residual = np.abs(value - level - effect[:, None])
        spread = _HUBER * _MAD_TO_SD * median_of(residual[seen].tolist())
        if spread == 0.0:
            break
        weight = held_s / held_s.sum() * np.minimum(1.0, spread / np.maximum(residual, spread))
    return effect


def _slope(
    week: NDArray[np.float64], effect_pct: NDArray[np.float64]
) -> tuple[float, float, float]:
    """Theil-Sen slope with its 95 % limits, all in percent a week."""
    slope, low, high = theil_sen(week, effect_pct, _LEVEL)
    if week.size >= _SEN_MIN_WEEKS:
        return slope, low, high
    _, line_low, line_high = least_squares(week, effect_pct, _LEVEL)
    return slope, min(slope, line_low), max(slope, line_high)
