"""Stops that look like a trip although the log carries no fault code.

The pump stopped out of running, pressure was short within a minute and stayed short, and the
supply held: any controller would have started. That alone may be a switch turned by hand, so it
counts only where no start followed to the end of the log, or where starts followed after one
and the same pause again and again, as a controller's own retries do.
"""

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    INFERRED_RETRIES_MIN,
    INFERRED_RETRY_CV,
    INFERRED_WITHIN_S,
    LATCHED_S,
    LATCHED_UNSEEN_SUPPLY_S,
    RESTART_SAMPLES,
    RESTARTS_MIN,
    RETRY_GAP_S,
    TRIP_LOW_SHARE,
    TRIP_SHORT_SHARE,
    TRIP_SUPPLY_LOST_PCT,
)
from analysis.measure.quantiles import robust_cv
from analysis.measure.segments import STOPPED
from analysis.measure.trace import Trace

_SUPPLY_S = 300.0
_PCT = 100.0


def inferred_stops(week: Trace, setting_kpa: float | None) -> list[int]:
    """Segments of a week without codes that look like the stop of a trip, oldest first.

    Parameters
    ----------
    setting_kpa : float or None
        Pressure setting, or the held pressure. [kPa]
    """
    if not setting_kpa:
        return []
    cut, t_s = week.cut, week.time.t_s
    segments = np.flatnonzero(cut.is_stop & (cut.duration_s > INFERRED_WITHIN_S.value))
    soon = np.searchsorted(t_s, cut.from_s[segments] + INFERRED_WITHIN_S.value)
    soon = np.minimum(np.maximum(soon, cut.first[segments] + 1), cut.end[segments] - 1)
    short_kpa = _short_kpa(week, setting_kpa)
    is_short = (week.samples.pressure_kpa[soon] < short_kpa) & (soon > cut.first[segments])
    abrupt = [
        int(segment)
        for segment, row in zip(segments[is_short], soon[is_short], strict=True)
        if _is_abrupt(week, int(segment), int(row), short_kpa)
    ]
    last_run = int(np.max(cut.runs, initial=-1))
    for_good = [
        piece
        for at in abrupt
        if at > last_run and _lasts(week, at)
        for piece in range(at, cut.first.size)
        if cut.state[piece] == STOPPED
    ]
    return sorted({*_timed(week, abrupt), *for_good})


def _short_kpa(week: Trace, setting_kpa: float) -> float:
    """Pressure clearly under the one at which this pump starts."""
    cut = week.cut
    before_start = week.samples.pressure_kpa[cut.first[cut.is_start] - 1]
    known = before_start[~np.isnan(before_start)]
    restart_kpa = TRIP_LOW_SHARE.value * setting_kpa
    if known.size >= RESTARTS_MIN.value:
        restart_kpa = min(setting_kpa, float(np.median(known)))
    return restart_kpa - TRIP_SHORT_SHARE.value * setting_kpa


def _is_abrupt(week: Trace, segment: int, soon: int, short_kpa: float) -> bool:
    """Out of running at speed, short of pressure ever after, the supply on."""
    cut, samples = week.cut, week.samples
    first, end = int(cut.first[segment]), int(cut.end[segment])
    highest_kpa = float(np.fmax.reduce(samples.pressure_kpa[soon:end]))
    last_hz = float(np.fmax.reduce(samples.frequency_hz[max(0, first - 2) : first]))
    at_speed = last_hz >= week.pump.min_hz - AT_MAX_WITHIN_HZ.value
    return highest_kpa < short_kpa and at_speed and _supply_held(week, segment)


def _supply_held(week: Trace, segment: int) -> bool:
    """Whether the volts of the first minutes show that the supply stayed on, if any are logged."""
    cut, volts = week.cut, week.samples.voltage_v
    first = int(cut.first[segment])
    end = int(np.searchsorted(week.time.t_s, cut.from_s[segment] + _SUPPLY_S))
    here = volts[first : max(first + 1, min(end, int(cut.end[segment])))]
    if _has_no_volts(volts):
        return True
    if np.isnan(here).any():
        return False
    usual_v = week.pump.supply_volts or float(np.nanmedian(volts))
    return bool(np.median(here) >= TRIP_SUPPLY_LOST_PCT.value / _PCT * usual_v)


def _has_no_volts(volts: NDArray[np.float32]) -> bool:
    return bool(np.isnan(volts).all())


def _lasts(week: Trace, segment: int) -> bool:
    """Longer to the end of the log than any retry waits; far longer if the supply is unknown."""
    cut = week.cut
    unseen = _has_no_volts(week.samples.voltage_v)
    least_s = (LATCHED_UNSEEN_SUPPLY_S if unseen else LATCHED_S).value
    return bool(cut.to_s[-1] - cut.from_s[segment] >= least_s)


def _timed(week: Trace, abrupt: list[int]) -> list[int]:
    """Abrupt stops that a start ended after one pause, where there are enough alike.

    A pause of a few samples is rounded to the log's interval: short ones all look alike there.
    """
    cut, least_s = week.cut, RESTART_SAMPLES.value * week.time.interval_s
    paused = [
        at
        for at in abrupt
        if cut.is_whole[at] and least_s <= cut.duration_s[at] <= RETRY_GAP_S.value
    ]
    if len(paused) < INFERRED_RETRIES_MIN.value:
        return []
    spread = robust_cv(cut.duration_s[paused])
    return paused if spread is not None and spread <= INFERRED_RETRY_CV.value else []
