"""Hunting: speed and pressure that swing together, again and again, in settled running.

Swings are read between the crossings of a moving mean of the speed, ten half swings at a time,
and each such stretch is held against one sine of its own period in both channels. The period must
span four samples; a faster swing is known to be there but not what it is.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    HUNTING_HALF_SWING_SPREAD,
    HUNTING_OPPOSITE_DEG,
    HUNTING_PERIOD_MAX_S,
    HUNTING_PERIOD_MIN_S,
    HUNTING_PERIOD_SAMPLES,
    HUNTING_SINE_SHARE,
    HUNTING_SPEED_HZ,
    HUNTING_SWING_SHARE,
    HUNTING_SWINGS_MIN,
)
from analysis.measure.quantiles import held_quantile, median
from analysis.measure.segments import range_rows
from analysis.measure.trace import Trace

_SLACK = 1.1  # a period is read to about a tenth from ten crossings
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stretches:
    """Stretches of ten half swings of the speed, one after another; arrays of shape (k,).

    Attributes
    ----------
    from_s, to_s : ndarray of float64
        First and last crossing. [s]
    period_s : ndarray of float64
    spread : ndarray of float64
        Standard deviation of the half swings over their mean.
    spell : ndarray of int64
        Which unbroken series of swings each belongs to.
    """

    from_s: Floats
    to_s: Floats
    period_s: Floats
    spread: Floats
    spell: NDArray[np.int64]


@dataclass(frozen=True)
class Sines:
    """One sine per stretch in one channel; arrays of shape (k,), NaN where a sample is blank.

    Attributes
    ----------
    wave : ndarray of complex128
        Amplitude (half of the swing from top to bottom) and phase at the stretch's middle.
    share : ndarray of float64
        Share of the variance about a straight line that the sine holds.
    sd : ndarray of float64
        Standard deviation about a straight line.
    mean : ndarray of float64
    """

    wave: NDArray[np.complex128]
    share: Floats
    sd: Floats
    mean: Floats

    @property
    def amplitude(self) -> Floats:
        """Half of the swing from top to bottom."""
        return np.asarray(np.abs(self.wave))


@dataclass(frozen=True)
class Hunting:
    """What a week showed of swings; `None` fields where the log could not show any.

    Attributes
    ----------
    fields : dict
        Fields of `PumpWeek` on hunting.
    at_s, held_s : ndarray of float64, shape (n,)
        Beginning and length of each stretch that hunts. [s]
    """

    fields: dict[str, Any]
    at_s: Floats
    held_s: Floats


def hunting(week: Trace, held_kpa: float | None) -> Hunting:
    """Find hunting in a week's settled running.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    """
    settled = week.settled
    none = np.empty(0)
    interval_s = held_quantile(settled.held_s, settled.held_s, 0.5)
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    is_known = ~(np.isnan(settled.frequency_hz) | np.isnan(settled.pressure_kpa))
    fields: dict[str, Any] = {"run_interval_s": interval_s}
    too_slow = (
        interval_s is None
        or interval_s * HUNTING_PERIOD_SAMPLES.value > HUNTING_PERIOD_MAX_S.value
    )
    if too_slow or interval_s is None or not setting_kpa or not is_known.any():
        return Hunting(fields, none, none)
    run = np.repeat(np.arange(settled.first.size), settled.end - settled.first)[is_known]
    rows = settled.rows[is_known]
    t_s = week.time.t_s[rows]
    speed_hz = settled.frequency_hz[is_known].astype(np.float64)
    found = stretches(t_s, _about_mean(speed_hz, run, interval_s), run)
    speed = fit_sines(t_s, speed_hz, found)
    pressure = fit_sines(t_s, settled.pressure_kpa[is_known].astype(np.float64), found)
    least_kpa = HUNTING_SWING_SHARE.value * setting_kpa
    is_shown = found.period_s * _SLACK >= HUNTING_PERIOD_SAMPLES.value * interval_s
    hunts = _hunts(found, speed, pressure, least_kpa) & is_shown
    is_fast = (
        ~is_shown
        & (np.sqrt(2.0) * speed.sd >= HUNTING_SPEED_HZ.value)
        & (np.sqrt(2.0) * pressure.sd >= least_kpa)
    )
    length_s = found.to_s - found.from_s
    fields |= {
        "long_run_s": _long_runs_s(run, t_s),
        "fast_swing_s": float(length_s[is_fast].sum()),
        "hunting_s": float(length_s[hunts].sum()),
        "hunting_n_swings": int(HUNTING_SWINGS_MIN.value) * int(np.count_nonzero(hunts)),
        "hunting_n_spells": int(np.unique(found.spell[hunts]).size),
    }
    if hunts.any():
        flow = fit_sines(t_s, week.samples.flow_lpm[rows].astype(np.float64), found)
        period_s = found.period_s[hunts]
        fields |= {
            "hunting_swing_kpa": _twice(median(pressure.amplitude[hunts])),
            "hunting_swing_hz": _twice(median(speed.amplitude[hunts])),
            "hunting_swing_lpm": _twice(median(flow.amplitude[hunts])),
            "hunting_flow_lpm": median(flow.mean[hunts]),
            "hunting_period_s": median(period_s),
            "hunting_lag_s": median(_lag_deg(speed, pressure)[hunts] / 360.0 * period_s),
            "hunting_first_at": week.clock.at(float(found.from_s[hunts][0])),
            "hunting_last_at": week.clock.at(float(found.to_s[hunts][-1])),
        }
    return Hunting(fields, found.from_s[hunts], length_s[hunts])


def _twice(value: float | None) -> float | None:
    return None if value is None else 2.0 * value


def _long_runs_s(run: NDArray[np.int64], t_s: Floats) -> float:
    """Settled running in runs long enough for the least swings at the longest period."""
    first = np.flatnonzero(np.concatenate(([True], run[1:] != run[:-1])))
    last = np.append(first[1:], run.size) - 1
    length_s = t_s[last] - t_s[first]
    least_s = HUNTING_SWINGS_MIN.value * HUNTING_PERIOD_MAX_S.value / 2.0
    return float(length_s[length_s >= least_s].sum())


def _about_mean(values: Floats, run: NDArray[np.int64], interval_s: float) -> Floats:
    """Values less their moving mean over the longest period, each run on its own.

    The mean lies as far to either side of a sample, so that a steady rise leaves nothing.
    """
    row = np.arange(values.size)
    first = np.flatnonzero(np.concatenate(([True], run[1:] != run[:-1])))
    count = np.diff(np.append(first, values.size))
    begin = np.repeat(first, count)
    end = begin + np.repeat(count, count)
    half = max(1, round(0.5 * HUNTING_PERIOD_MAX_S.value / interval_s))
    reach = np.minimum(np.minimum(row - begin, end - 1 - row), half)
    total = np.concatenate(([0.0], np.cumsum(values)))
    return np.asarray(values - (total[row + reach + 1] - total[row - reach]) / (2 * reach + 1))


def stretches(t_s: Floats, about_hz: Floats, run: NDArray[np.int64]) -> Stretches:
    """Cut a series into stretches of ten half swings.

    A half swing counts where the series passes ``HUNTING_SPEED_HZ`` on one side and then on the
    other, within half the longest period; anything else breaks the series.

    Parameters
    ----------
    t_s, about_hz : ndarray of float64, shape (n,)
        Time and speed about its moving mean. [s, Hz]
    run : ndarray of int64, shape (n,)
        Which run each sample belongs to.
    """
    far = np.flatnonzero(np.abs(about_hz) >= HUNTING_SPEED_HZ.value)
    far_hz = about_hz[far]
    turn = np.flatnonzero((far_hz[1:] * far_hz[:-1] < 0.0) & (run[far[1:]] == run[far[:-1]]))
    before, after = far[turn], far[turn + 1]
    share = about_hz[before] / (about_hz[before] - about_hz[after])
    cross_s = t_s[before] + share * (t_s[after] - t_s[before])
    half_s = np.diff(cross_s)
    goes_on = (
        (half_s * 2.0 <= HUNTING_PERIOD_MAX_S.value * _SLACK)
        & (half_s * 2.0 * _SLACK >= HUNTING_PERIOD_MIN_S.value)
        & (run[before[1:]] == run[before[:-1]])
    )
    spell = np.cumsum(~np.concatenate(([False], goes_on)))[: cross_s.size]  # of each crossing
    n_half = int(2 * HUNTING_SWINGS_MIN.value)
    first = np.flatnonzero(np.diff(spell, prepend=-1)) if spell.size else np.empty(0, np.int64)
    at_spell = np.arange(spell.size) - np.repeat(first, np.diff(np.append(first, spell.size)))
    start = np.flatnonzero(at_spell % n_half == 0)
    start = start[start + n_half < spell.size]
    start = start[spell[start + n_half] == spell[start]]
    halves_s = half_s[start[:, None] + np.arange(n_half)]
    mean_s = halves_s.mean(axis=1)
    return Stretches(
        from_s=cross_s[start],
        to_s=cross_s[start + n_half],
        period_s=2.0 * mean_s,
        spread=halves_s.std(axis=1) / mean_s,
        spell=spell[start],
    )


def fit_sines(t_s: Floats, values: Floats, found: Stretches) -> Sines:
    """Hold a channel against one sine of each stretch's period, about its own straight line.

    Parameters
    ----------
    t_s : ndarray of float64, shape (n,)
        Rising. [s]
    values : ndarray of float64, shape (n,)
        The channel, in its unit.
    found : Stretches
        As from `stretches`.
    """
    first = np.searchsorted(t_s, found.from_s)
    end = np.searchsorted(t_s, found.to_s, side="right")
    n = np.maximum(end - first, 1)
    of = np.repeat(np.arange(first.size), end - first)
    rows = range_rows(first, end)
    middle_s = t_s[rows] - (0.5 * (found.from_s + found.to_s))[of]

    def total(of_row: Floats) -> Floats:
        return np.asarray(np.bincount(of, of_row, first.size), dtype=np.float64)

    mean = total(values[rows]) / n
    about = values[rows] - mean[of]
    off_s = middle_s - (total(middle_s) / n)[of]
    about -= (total(about * off_s) / np.maximum(total(off_s * off_s), 1e-12))[of] * off_s
    turn = 2.0 * np.pi / found.period_s[of] * middle_s
    wave = 2.0 / n * (total(about * np.cos(turn)) - 1j * total(about * np.sin(turn)))
    variance = total(about * about) / n
    return Sines(
        wave=wave,
        share=0.5 * np.abs(wave) ** 2 / np.maximum(variance, 1e-12),
        sd=np.sqrt(variance),
        mean=mean,
    )


def _lag_deg(speed: Sines, pressure: Sines) -> Floats:
    """How far pressure follows speed, -180 to 180."""
    return np.asarray(np.degrees(np.angle(speed.wave * np.conj(pressure.wave))))


def _hunts(found: Stretches, speed: Sines, pressure: Sines, least_kpa: float) -> NDArray[np.bool_]:
    """Even, alike in both channels, large enough, and not pressure answering against speed."""
    return np.asarray(
        (found.spread <= HUNTING_HALF_SWING_SPREAD.value)
        & (speed.amplitude >= HUNTING_SPEED_HZ.value)
        & (pressure.amplitude >= least_kpa)
        & (speed.share >= HUNTING_SINE_SHARE.value)
        & (pressure.share >= HUNTING_SINE_SHARE.value)
        & (np.abs(_lag_deg(speed, pressure)) <= HUNTING_OPPOSITE_DEG.value)
    )
