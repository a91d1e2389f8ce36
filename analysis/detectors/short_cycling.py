"""Short cycling: the pump starts more often than motor, pump and tank are made for.

Reads    starts, runs and stops by day and hour; pressure falls; register motor_kw, tank, suction.
Causes   tank_charge_lost: falls steeper than the tank or the past allow, flat when nobody draws.
         leak: restarts round the clock, at one interval.  low_demand: only in hours of use.
Misses   cycles shorter than two samples (then "at least"); all of them in averaged logs.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.case import Case, Verdict
from analysis.detectors.causes import CauseCall
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.cycle_causes import (
    LEAK,
    LOW_DEMAND,
    TANK,
    cycling_cause,
    other_causes,
)
from analysis.detectors.cycle_facts import (
    DAY_S,
    CycleFacts,
    StartLimits,
    cycle_facts,
    start_limits,
    starts_per_day,
    usable_days,
)
from analysis.detectors.spells import spell_bounds
from analysis.findings import Judged, Kind, Needs, NotAssessed
from analysis.limits import (
    CLEAR_INTERVAL_S,
    CYCLING_DAYS,
    FALL_CHANGE,
    IMPOSSIBLE_STARTS_PER_DAY,
    IMPOSSIBLE_STOP_S,
    KEPT_UP_HOURS,
    KEPT_UP_STARTS_PER_DAY,
    MIN_RUN_S,
    SHORTEST_RUN_S,
    SLEEP_DRAW_LPM,
    STARTS_CHANGE,
    STARTS_CHANGE_DAYS,
    STARTS_CHANGE_WITH_TANK,
    STARTS_FAST_SHARE,
    STARTS_PER_HOUR,
)
from analysis.records import PumpDay
from analysis.wording import count_text, duration_text, join_text, local_date_text

KIND = Kind.SHORT_CYCLING
NEEDS = Needs(interval_max_s=120.0)

WEAR, DAMAGE_IN_MONTHS, DAMAGE_IN_DAYS = 2, 3, 4
_LEAST_STARTS = 40  # a day; below it a change is small change


@dataclass(frozen=True, kw_only=True)
class Breach:
    """One limit that is passed: which, on which days, by how much."""

    text: str
    shows: Callable[[PumpDay], bool]
    n_days: int
    is_absolute: bool
    source: str


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    if case.week.is_averaged:
        return NotAssessed(
            reason="the log averages over each interval, which smears starts: they cannot be"
            " counted"
        )
    days = usable_days(case.days)
    if len(days) < CYCLING_DAYS.value:
        return NotAssessed(
            reason=f"{count_text(len(days), 'day')} logged for half or more;"
            f" this needs {CYCLING_DAYS.value:g}"
        )
    facts, limits = cycle_facts(case), start_limits(case.pump)
    breaches = _breaches(case, days, facts, limits)
    if breaches:
        return (_finding(case, facts, limits, breaches),)
    return _too_slow_to_clear(case, limits) or ()


def _too_slow_to_clear(case: Case, limits: StartLimits) -> NotAssessed | None:
    """A slow log hides short cycles, unless the pump ran too little to have made many."""
    week = case.week
    most_starts = week.run_share * DAY_S / SHORTEST_RUN_S.value
    if week.log_interval_s <= CLEAR_INTERVAL_S.value or most_starts < limits.per_day:
        return None
    return NotAssessed(
        reason=f"one sample every {duration_text(week.log_interval_s)}: cycles of less than"
        f" {duration_text(2 * week.log_interval_s)} can hide between samples, and those seen are"
        " within the limits"
    )


def _breaches(
    case: Case, days: Sequence[PumpDay], facts: CycleFacts, limits: StartLimits
) -> list[Breach]:
    tests = (
        _over_day_limit(limits),
        _over_hour_limit(),
        _kept_up(case, limits),
        _changed(case, facts, limits),
        _shorter_than_tank(case, facts),
    )
    found = []
    for test in tests:
        if test is None:
            continue
        text, shows, least_days, is_absolute, source = test
        n_days = sum(shows(day) for day in days)
        if n_days >= least_days:
            found.append(
                Breach(
                    text=text, shows=shows, n_days=n_days, is_absolute=is_absolute, source=source
                )
            )
    return found


_Test = tuple[str, Callable[[PumpDay], bool], float, bool, str]


def _over_day_limit(limits: StartLimits) -> _Test:
    return (
        f"More than {limits.per_day:.0f} starts a day",
        lambda day: day.observed_s > 0 and starts_per_day(day) > limits.per_day,
        CYCLING_DAYS.value,
        True,
        limits.source,
    )


def _over_hour_limit() -> _Test:
    return (
        f"More than {STARTS_PER_HOUR.value:g} starts in the busiest hour",
        lambda day: day.starts_per_hour_peak > STARTS_PER_HOUR.value,
        CYCLING_DAYS.value,
        True,
        STARTS_PER_HOUR.source,
    )


def _kept_up(case: Case, limits: StartLimits) -> _Test | None:
    week = case.week
    n_hours = sum(starts > limits.per_hour_kept_up for starts in week.starts_by_hour)
    runs_short = week.run_s_median is not None and week.run_s_median < MIN_RUN_S.value
    if n_hours < KEPT_UP_HOURS.value or not runs_short:
        return None
    return (
        f"{n_hours} hours of the day with more than {limits.per_hour_kept_up:g} starts each, and"
        f" runs shorter than {duration_text(MIN_RUN_S.value)}",
        lambda day: day.observed_s > 0 and starts_per_day(day) > KEPT_UP_STARTS_PER_DAY.value,
        CYCLING_DAYS.value,
        False,
        f"{limits.source}; run of at least 60 s: {MIN_RUN_S.source}",
    )


def _changed(case: Case, facts: CycleFacts, limits: StartLimits) -> _Test | None:
    before = facts.starts_before
    if before is None:
        return None
    tank_changed = (facts.fall_change or 0.0) >= FALL_CHANGE.value / 1.5 or (
        (facts.stop_change or 0.0) >= FALL_CHANGE.value
        and (case.week.stop_s_p10 or SLEEP_DRAW_LPM.value) <= IMPOSSIBLE_STOP_S.value
    )
    runs_short = (case.week.run_s_median or MIN_RUN_S.value) < MIN_RUN_S.value
    times = STARTS_CHANGE_WITH_TANK.value if tank_changed else STARTS_CHANGE.value
    floor = _LEAST_STARTS if tank_changed else limits.per_day / 2
    if not (tank_changed or runs_short):
        return None
    least = max(times * before, floor)
    return (
        f"{times:g} times the pump's own usual {before:.0f} starts a day",
        lambda day: day.observed_s > 0 and starts_per_day(day) > least,
        STARTS_CHANGE_DAYS.value,
        False,
        f"the pump's own past, times {times:g} on {STARTS_CHANGE_DAYS.value:g} days: ours",
    )


def _shorter_than_tank(case: Case, facts: CycleFacts) -> _Test | None:
    stop_s = case.week.stop_s_median
    if (
        stop_s is None
        or stop_s > IMPOSSIBLE_STOP_S.value
        or (facts.sleep_draw_lpm or 0.0) < SLEEP_DRAW_LPM.value
    ):
        return None
    return (
        f"Stops of {duration_text(stop_s)}, shorter than the registered tank can give",
        lambda day: day.observed_s > 0 and starts_per_day(day) > IMPOSSIBLE_STARTS_PER_DAY.value,
        CYCLING_DAYS.value,
        False,
        f"Boyle's law on the registered tank; {SLEEP_DRAW_LPM.source}",
    )


def _finding(
    case: Case, facts: CycleFacts, limits: StartLimits, breaches: Sequence[Breach]
) -> Judged:
    call = cycling_cause(case, facts)
    week = case.week
    days = [day for day in usable_days(case.days) if any(b.shows(day) for b in breaches)]
    rate = sorted(starts_per_day(day) for day in days)[len(days) // 2]
    since_at, until_at = spell_bounds(case, lambda day: any(b.shows(day) for b in breaches))
    most_days = max(breach.n_days for breach in breaches)
    confidence, grounds = weigh(
        0.55,
        [
            *(Ground(True, 0.1, f"{b.text} on {count_text(b.n_days, 'day')}") for b in breaches),
            Ground(any(b.is_absolute for b in breaches), 0.1, "Starts pass a fixed limit"),
            Ground(rate > 1.5 * limits.per_day, 0.05, "They pass it by half or more"),
            Ground(most_days >= 5, 0.1, f"Seen on {most_days} days of the week"),
            *(Ground(True, 0.05, text) for text in call.texts[:3]),
            Ground(not call.cause, -0.1, "The log does not tell one cause from another"),
            Ground(facts.is_lower_bound, 0.0, "The log is slow: true starts can only be more"),
        ],
    )
    return Judged(
        kind=KIND,
        cause=call.cause,
        consequence=_consequence(rate, limits, breaches, call),
        confidence=confidence,
        since_at=since_at,
        until_at=until_at,
        measures={
            "starts_per_day": round(rate, 1),
            "starts_per_hour_peak": week.starts_per_hour_peak,
            "run_s_median": week.run_s_median,
            "stop_s_median": week.stop_s_median,
            "starts_are_at_least": facts.is_lower_bound,
            "starts_per_day_limit": limits.per_day,
            "starts_per_day_before": facts.starts_before,
            "is_over_fixed_limit": any(b.is_absolute for b in breaches),
            "fall_p90_kpa_per_min": week.fall_p90_kpa_per_min,
            "fall_change": None if facts.fall_change is None else round(facts.fall_change, 2),
            "cause_share": round(call.share, 2),
        },
        summary=_summary(case, facts, call, rate, _since(case, since_at)),
        limit_source="; ".join(dict.fromkeys(breach.source for breach in breaches)),
        grounds=grounds,
        alternatives=other_causes(case, call),
    )


def _consequence(
    rate: float, limits: StartLimits, breaches: Sequence[Breach], call: CauseCall
) -> int:
    if call.cause == LOW_DEMAND and rate <= limits.per_day:
        return WEAR
    if call.cause != LOW_DEMAND and rate >= STARTS_FAST_SHARE.value * limits.per_day:
        return DAMAGE_IN_DAYS
    if call.cause == TANK or rate > limits.per_day:
        return DAMAGE_IN_MONTHS
    return WEAR


def _since(case: Case, since_at: datetime) -> str:
    if since_at <= (case.past[0] if case.past else case.week).first_at:
        return "as far back as the log goes" if case.past else "all week"
    return f"since {local_date_text(since_at, case.site.timezone)}"


_MEANING = {
    TANK: "the tank has most likely lost its charge, so check the tank first",
    LEAK: "water most likely runs off all the time, so look for the leak first",
    LOW_DEMAND: "most likely a small steady use on too little stored water, so note what runs",
}


def _summary(case: Case, facts: CycleFacts, call: CauseCall, rate: float, since: str) -> str:
    week = case.week
    starts = count_text(rate, "start", at_least=facts.is_lower_bound)
    before = ""
    if (facts.starts_change or 1.0) >= STARTS_CHANGE_WITH_TANK.value:
        before = f" (was {facts.starts_before:.0f})"
    seen = [
        f"it rests {duration_text(week.stop_s_median)} between runs"
        if week.stop_s_median is not None
        else "",
        "pressure holds flat at night when nobody draws" if facts.holds_flat else "",
        "it restarts in the quiet hours too" if call.cause == LEAK else "",
    ]
    meaning = _MEANING.get(
        call.cause,
        "the log cannot tell a tank without charge from a steady draw, so check the tank first",
    )
    return (
        f"Pump {case.pump.pump_id} at {case.site.title} makes {starts} a day {since}{before};"
        f" {join_text([text for text in seen if text])}: {meaning}."
    )
