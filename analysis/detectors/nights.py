"""What each night's quiet window says of a leak: it holds, it falls, the pump never stops."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.case import Case
from analysis.detectors.known_demand import is_scheduled_night
from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    FLAT_BLOCK_S,
    FLAT_KPA,
    FLAT_S,
    LEAK_MIN_FALL_KPA_PER_MIN,
    LEAK_MIN_LPM,
    LEAK_NIGHTS,
    NIGHT_OBSERVED_SHARE,
    REGULAR_CV,
    RESTART_SAMPLES,
    SHORTEST_RUN_S,
)
from analysis.records import PumpDay, PumpWeek
from ingest.installed_base import Pump


class NightSays(StrEnum):
    """What one quiet window shows."""

    UNSEEN = "unseen"  # too little of it was logged
    HOLDS = "holds"  # pressure keeps flat: nobody draws, nothing leaks
    FALLS = "falls"  # no flat ten minutes, falls or regular restarts throughout
    PARTLY = "partly"  # falls and restarts, but also a flat stretch
    RUNS = "runs"  # the pump never stops
    BUSY = "busy"  # in use, or too fast for the log: nothing to read


LEAKING = (NightSays.FALLS, NightSays.RUNS)
_REGULAR_NIGHT = 1.4  # times the week's limit: a night has few intervals to judge by


@dataclass(frozen=True)
class NightRead:
    """One night and what it says."""

    day: PumpDay
    says: NightSays


def least_fall_kpa_per_min(week: PumpWeek) -> float:
    """Slope of the smallest leak that is reported, by the registered tank where there is one."""
    if week.stored_kpa_per_l is None:
        return LEAK_MIN_FALL_KPA_PER_MIN.value
    return LEAK_MIN_LPM.value * week.stored_kpa_per_l


def read_nights(case: Case) -> list[NightRead]:
    """Read every night of the week, oldest first.

    A night filled by demand with a calendar is in use, whatever it looks like; and a pump that
    runs at its top speed all night may miss its setting and never stop for that alone.
    """
    reads = [NightRead(day, night_says(day, case.week)) for day in case.days]
    return [
        NightRead(read.day, NightSays.BUSY)
        if read.says in LEAKING
        and (
            is_scheduled_night(case, read.day.local_date) or runs_at_top_speed(case.pump, read.day)
        )
        else read
        for read in reads
    ]


def runs_at_top_speed(pump: Pump, day: PumpDay) -> bool:
    """Whether the pump ran all night and never slowed down."""
    floor_hz = day.night_floor_hz if day.night_never_stopped else None
    return floor_hz is not None and floor_hz >= pump.max_hz - AT_MAX_WITHIN_HZ.value


def night_says(day: PumpDay, week: PumpWeek) -> NightSays:
    """Read one night."""
    if day.night_observed_share < NIGHT_OBSERVED_SHARE.value:
        return NightSays.UNSEEN
    if day.night_never_stopped:
        return NightSays.RUNS
    least = least_fall_kpa_per_min(week)
    slope = day.night_fall_p50_kpa_per_min
    is_falling = slope is not None and slope >= least
    if _is_flat(day, week, max(slope or 0.0, least)):
        is_part = is_falling and day.night_n_starts >= 2
        return NightSays.PARTLY if is_part else NightSays.HOLDS
    if is_falling or _restarts_regularly(day, week):
        return NightSays.FALLS
    # without a flat stretch only a log that misses no run can say that pressure kept
    keeps = slope is not None and day.night_n_starts <= 1 and not _may_miss_runs(week)
    return NightSays.HOLDS if keeps else NightSays.BUSY


def _may_miss_runs(week: PumpWeek) -> bool:
    return week.log_interval_s > SHORTEST_RUN_S.value


def _is_flat(day: PumpDay, week: PumpWeek, slope: float) -> bool:
    """A flat stretch long enough that half the slope in question would have shown in it.

    In a slow log too: a run that it misses lifts the pressure between two stopped samples, which
    ends a flat stretch.
    """
    if day.night_flat_s < FLAT_S.value:
        return False
    # flatness is read between the means of the stretch's first and last five minutes
    span_min = (day.night_flat_s - FLAT_BLOCK_S.value) / 60.0
    hidden = max(week.pressure_step_kpa or 0.0, FLAT_KPA.value) / span_min
    return hidden < slope / 2


def _restarts_regularly(day: PumpDay, week: PumpWeek) -> bool:
    interval_s, cv = day.night_restart_s_median, day.night_restart_cv
    return (
        day.night_n_starts >= LEAK_NIGHTS.value
        and interval_s is not None
        and cv is not None
        and interval_s >= RESTART_SAMPLES.value * week.log_interval_s
        and cv <= _REGULAR_NIGHT * REGULAR_CV.value
    )


def leak_spell(nights: Sequence[NightRead]) -> list[NightRead]:
    """Leaking nights of one unbroken spell, or none.

    A leak is there in every night from when it begins to when it is mended, so nights that hold
    may lie before or after the spell but not within; one odd night in five is let pass.
    """
    telling = [n for n in nights if n.says not in (NightSays.UNSEEN, NightSays.BUSY)]
    leaking = [at for at, night in enumerate(telling) if night.says in LEAKING]
    if len(leaking) < LEAK_NIGHTS.value:
        return []
    inside = telling[leaking[0] : leaking[-1] + 1]
    n_odd = len(inside) - len(leaking)
    ends_early = leaking[0] > 0 and leaking[-1] < len(telling) - 1
    if n_odd > len(leaking) // 5 or ends_early:
        return []
    return [night for night in inside if night.says in LEAKING]
