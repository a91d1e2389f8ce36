"""Short cycling: the pump starts more often than motor, pump and tank are made for.

Reads    starts, runs and stops by day and hour; pressure falls; register motor_kw, tank, suction.
Causes   tank_charge_lost: falls steeper than the tank or the past allow, flat when nobody draws.
         leak: restarts round the clock, at one interval.  low_demand: only in hours of use.
Misses   cycles shorter than two samples (then "at least"); all of them in averaged logs.
"""

from collections.abc import Sequence

from analysis.case import Case, Verdict
from analysis.detectors.causes import CauseCall
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.cycle_breaches import Breach, find_breaches
from analysis.detectors.cycle_causes import (
    LEAK,
    LOW_DEMAND,
    TANK,
    cycling_cause,
    large_draws_end_stops,
    other_causes,
)
from analysis.detectors.cycle_facts import CycleFacts, StartLimits, cycle_facts, start_limits
from analysis.detectors.known_demand import demand_lines
from analysis.detectors.own_past import DAY_S, starts_per_day, usable_days
from analysis.detectors.spells import since_words, spell_bounds
from analysis.findings import Judged, Kind, Needs, NotAssessed
from analysis.limits import (
    ALIAS_SAMPLES,
    ALIAS_STARTS_PER_DAY,
    CLEAR_INTERVAL_S,
    CYCLING_DAYS,
    REGULAR_CV,
    SHORTEST_RUN_S,
    STARTS_FAST_SHARE,
    STARTS_PER_HOUR,
)
from analysis.records import PumpWeek
from analysis.wording import count_text, duration_text, join_text

KIND = Kind.SHORT_CYCLING
NEEDS = Needs(interval_max_s=120.0)

_WORTH_COMPARING = 1.5  # times the past: less is not worth a word in the sentence

WEAR, DAMAGE_IN_MONTHS, DAMAGE_IN_DAYS = 2, 3, 4


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
    breaches = find_breaches(case, days, facts, limits)
    if breaches:
        return (_finding(case, facts, limits, breaches),)
    if facts.first_draw_empties:
        return NotAssessed(
            reason="pressure stands until the first draw and is gone with it, where it used to"
            " sink draw by draw: with so few starts the log cannot clear the tank"
        )
    return _too_slow_to_clear(case, limits) or ()


def _too_slow_to_clear(case: Case, limits: StartLimits) -> NotAssessed | None:
    """A slow log hides short runs, unless even so the starts stay within the limits.

    A sample meets a run of ``SHORTEST_RUN_S`` with a chance of that over the interval, so the true
    starts are at most about the counted ones times the inverse; and a pump cannot have started
    more often than its running time holds such runs.
    """
    week = case.week
    if week.log_interval_s <= CLEAR_INTERVAL_S.value:
        return None
    if _may_be_an_alias(week):
        return NotAssessed(
            reason="the starts seen come at one and the same interval; in a log of one sample"
            f" every {duration_text(week.log_interval_s)} a cycle about as long looks the same"
        )
    missed = week.log_interval_s / SHORTEST_RUN_S.value
    a_day = min(week.starts_per_day * missed, week.run_share * DAY_S / SHORTEST_RUN_S.value)
    an_hour = week.starts_per_hour_peak * missed
    if a_day <= limits.per_day and an_hour <= STARTS_PER_HOUR.value:
        return None
    return NotAssessed(
        reason=f"one sample every {duration_text(week.log_interval_s)}: short runs can hide"
        " between samples, and the starts that were seen are within the limits"
    )


def _may_be_an_alias(week: PumpWeek) -> bool:
    """Whether runs and stops repeat so evenly that a far faster cycle may stand behind them.

    A cycle of period ``p`` sampled every ``d`` shows one of ``p d / |p - d|``: 65 s looks like
    13 min in a log of 60 s.
    """
    if week.run_s_median is None or week.stop_s_median is None or week.stop_s_cv is None:
        return False
    samples = (week.run_s_median + week.stop_s_median) / week.log_interval_s
    return (
        week.stop_s_cv <= REGULAR_CV.value
        and samples <= ALIAS_SAMPLES.value
        and week.starts_per_day >= ALIAS_STARTS_PER_DAY.value
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
        consequence=_consequence(rate, facts.starts_before, limits, call),
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
        summary=_summary(case, facts, call, rate, since_words(case, since_at)),
        limit_source="; ".join(dict.fromkeys(breach.source for breach in breaches)),
        grounds=(*grounds, *demand_lines(case)),
        alternatives=other_causes(case, call),
    )


def _consequence(rate: float, before: float | None, limits: StartLimits, call: CauseCall) -> int:
    if rate <= limits.per_day and (call.cause == LOW_DEMAND or _as_ever(rate, before)):
        return WEAR
    if call.cause != LOW_DEMAND and rate >= STARTS_FAST_SHARE.value * limits.per_day:
        return DAMAGE_IN_DAYS
    if call.cause == TANK or rate > limits.per_day:
        return DAMAGE_IN_MONTHS
    return WEAR


def _as_ever(rate: float, before: float | None) -> bool:
    return before is not None and rate <= _WORTH_COMPARING * before


_MEANING = {
    TANK: "the tank has most likely lost its charge, so check the tank first",
    LEAK: "water most likely runs off all the time, so look for the leak first",
    LOW_DEMAND: "most likely a small steady use on too little stored water, so note what runs",
}


def _summary(case: Case, facts: CycleFacts, call: CauseCall, rate: float, since: str) -> str:
    week = case.week
    starts = count_text(rate, "start", at_least=facts.is_lower_bound)
    if call.cause == TANK and facts.first_draw_empties and _as_ever(rate, facts.starts_before):
        return (
            f"Pressure at {case.site.title} (pump {case.pump.pump_id}) stands until the first draw"
            f" and is gone with it {since}, though it hardly makes more starts than before"
            f" ({starts} a day): {_MEANING[TANK]}."
        )
    before = ""
    if (facts.starts_change or 1.0) >= _WORTH_COMPARING:
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
    if call.cause == LOW_DEMAND and large_draws_end_stops(week):
        meaning = "most likely one draw after another on little stored water, so note what draws"
    return (
        f"Pump {case.pump.pump_id} at {case.site.title} makes {starts} a day {since}{before};"
        f" {join_text([text for text in seen if text])}: {meaning}."
    )
