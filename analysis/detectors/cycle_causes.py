"""Why a pump cycles: a tank that lost its charge, a leak, or a small steady use.

The restart interval alone cannot tell a small leak with a dead tank from a large leak with a
good one: the quiet hold, the falls against the pump's own past and the registered tank must.
"""

from collections.abc import Sequence

from analysis.case import Case
from analysis.detectors import leak
from analysis.detectors.causes import FAIR, STRONG, WEAK, CauseCall, Clue, call_cause, graded
from analysis.detectors.cycle_facts import CycleFacts
from analysis.findings import CAUSES, Kind
from analysis.limits import (
    FALL_CHANGE,
    IRREGULAR_CV,
    REGULAR_CV,
    SLEEP_DRAW_LIKELY_LPM,
    SLEEP_DRAW_LPM,
    STARTS_CHANGE,
)
from analysis.records import PumpWeek
from analysis.wording import duration_text, flow_text, pressure_text

TANK, LEAK, LOW_DEMAND = CAUSES[Kind.SHORT_CYCLING]
_AS_EVER, _AS_EVER_WITH_SLOW_LOGS = 1.6, 2.5  # times the past: within what use alone varies
_WORTH_TELLING = 0.05  # share of the odds below which a cause is no alternative


def cycling_cause(case: Case, facts: CycleFacts) -> CauseCall:
    """Weigh all clues of one case; a leak is none where the nights are clear of one."""
    clues = [
        *_quiet_clues(facts),
        *_tank_clues(case, facts),
        *_past_clues(case, facts),
        *_regularity_clues(case, facts),
        _beside_a_leak(facts),
    ]
    if leak.judge(case) == ():
        clues.append(Clue("The nights are clear of a leak", {LEAK: -STRONG - FAIR}))
    if _no_sign_of_a_smaller_store(facts, clues):
        clues.append(Clue("Falls and short stops are as they ever were", {TANK: -STRONG}))
    return call_cause(CAUSES[Kind.SHORT_CYCLING], clues)


def _no_sign_of_a_smaller_store(facts: CycleFacts, clues: Sequence[Clue]) -> bool:
    """More starts alone are use: a tank that lost its charge shows it in falls or stops."""
    is_known = facts.fall_change is not None and facts.stop_change is not None
    return is_known and not any(clue.weights.get(TANK, 0.0) > 0 for clue in clues)


def has_high_precharge(case: Case) -> bool:
    """Falls bend into a cliff above the restart pressure: the tank is empty by then."""
    week = case.week
    return (
        (week.knee_share or 0.0) >= REGULAR_CV.value
        and week.knee_pressure_kpa is not None
        and week.restart_pressure_kpa is not None
        and week.knee_pressure_kpa > week.restart_pressure_kpa
    )


def large_draws_end_stops(week: PumpWeek) -> bool:
    """Whether the run after most stops is faster than at no flow."""
    return week.refill_over_f0_hz is not None and week.idle_stop_s_median is None


def other_causes(case: Case, call: CauseCall) -> tuple[str, ...]:
    """What else it could be, in short sentences."""
    said = {
        TANK: "Tank has lost its charge: read the pre-charge with the tank drained",
        LEAK: "Water runs off all the time: close the house valve and watch the gauge 10 min",
        LOW_DEMAND: "Small steady use (drip zone, filter) on a small tank or a fast ramp",
    }
    runners = sorted(call.shares, key=lambda cause: call.shares[cause], reverse=True)
    others = [
        said[cause] for cause in runners if cause != call.cause and call.shares[cause] > 0.05
    ]
    if has_high_precharge(case):
        knee = pressure_text(case.week.knee_pressure_kpa or 0.0, case.site.units)
        others.insert(0, f"Pre-charge too high: pressure drops off a cliff below {knee}")
    others.append("Backwash, test button or a sensor line that is plugged")
    return tuple(others)


def _quiet_clues(facts: CycleFacts) -> list[Clue]:
    clues = []
    if facts.holds_flat:
        clues.append(
            Clue("Pressure holds flat at night when nobody draws", {LEAK: -STRONG - FAIR})
        )
    if facts.leaks_at_night:
        clues.append(
            Clue(
                "Pressure falls and the pump restarts all through the nights",
                {LEAK: STRONG, LOW_DEMAND: -FAIR},
            )
        )
    if facts.evenness is not None:
        round_the_clock = graded(facts.evenness, 0.3, 0.6)
        in_use_only = graded(facts.evenness, 0.15, 0.05)
        clues.append(
            Clue(
                "It restarts round the clock",
                {
                    LEAK: FAIR * round_the_clock,
                    LOW_DEMAND: -FAIR * round_the_clock,
                    TANK: -FAIR * round_the_clock,
                },
            )
        )
        clues.append(Clue("It cycles only in hours of use", {LEAK: -FAIR * in_use_only}))
    return clues


def _beside_a_leak(facts: CycleFacts) -> Clue:
    """Why a leak, although it is there, is not what makes the stops short.

    It has its own finding and restarts the pump all night; but it neither makes other draws
    steeper nor empties a sound tank within seconds.
    """
    most = SLEEP_DRAW_LPM.value
    smaller = max(
        graded(facts.past.draw_change, _AS_EVER, FALL_CHANGE.value),
        graded(facts.short_stop_draw_lpm, most, 2 * most),
    )
    return Clue(
        "Water runs off as well, which does not explain how fast draws empty the tank",
        {LEAK: -(STRONG + FAIR) * smaller * facts.leaks_at_night},
    )


def _tank_clues(case: Case, facts: CycleFacts) -> list[Clue]:
    stop_s, short_s = case.week.idle_stop_s_median, case.week.idle_stop_s_p10
    if facts.tank_water_l is None:
        short = graded(stop_s, 15.0, 5.0)
        return [
            Clue(f"It rests only {duration_text(stop_s or 0)} between runs", {TANK: FAIR * short})
        ]
    likely, most = SLEEP_DRAW_LIKELY_LPM.value, SLEEP_DRAW_LPM.value
    too_much = graded(facts.sleep_draw_lpm, likely, most)
    # what drives find as no flow; half as much again, as a registered tank is known no better;
    # nothing where large draws end the stops
    little = graded(facts.sleep_draw_lpm or 0.0, 1.5 * likely, 0.5 * likely) * graded(
        facts.short_stop_draw_lpm or 0.0, most, 0.75 * most
    )
    is_known = case.week.refill_over_f0_hz is not None
    at_once = graded(facts.short_stop_draw_lpm, most, 2 * most)
    draw = flow_text(facts.sleep_draw_lpm or 0.0, case.site.units)
    return [
        Clue(
            f"The registered tank would last longer than {duration_text(stop_s or 0)}: only {draw}"
            " would empty it, and the drive finds no flow before and after",
            {TANK: STRONG * too_much},
        ),
        Clue(
            f"One stop in ten is over in {duration_text(short_s or 0)}, with no flow before and"
            " after: on the registered tank only a large draw could empty it",
            {TANK: STRONG * at_once * (1 - too_much)},
        ),
        Clue(
            f"A draw of {draw} on the registered tank explains the stops"
            if not large_draws_end_stops(case.week)
            else "Draws that the next run still feeds explain the stops",
            {TANK: -1.5 * FAIR * little * is_known},
        ),
    ]


def _past_clues(case: Case, facts: CycleFacts) -> list[Clue]:
    clues = []
    if facts.fall_change is not None:
        clues.append(
            Clue(
                f"Pressure falls {facts.fall_change:.1f} times as steeply as it used to",
                {TANK: _steeper_weight(facts)},
            )
        )
    if facts.stop_change is not None:
        shorter = graded(facts.stop_change, 2.0, 5.0) * graded(
            case.week.idle_stop_s_p10, 60.0, 15.0
        )
        clues.append(
            Clue(
                f"Short stops are {facts.stop_change:.1f} times shorter than they were",
                {TANK: FAIR * shorter},
            )
        )
    if facts.past.draw_change is not None:
        steeper = graded(facts.past.draw_change, 1.5, FALL_CHANGE.value)
        clues.append(
            Clue(
                f"Draws pull pressure down {facts.past.draw_change:.1f} times as fast as before",
                {TANK: FAIR * steeper},
            )
        )
    if facts.first_draw_empties:
        clues.append(
            Clue(
                "Pressure stands until the first draw and is gone with it, where it used to sink"
                " draw by draw",
                {TANK: STRONG, LEAK: -FAIR},
            )
        )
    if facts.refills_less:
        clues.append(Clue("Starts no longer have to fill the tank again", {TANK: FAIR}))
    if facts.refills_as_ever:
        clues.append(Clue("Starts fill the tank as they always did", {TANK: -STRONG}))
    if facts.overshoot_rise_share is not None:
        higher = graded(facts.overshoot_rise_share, 0.02, 0.06)
        clues.append(Clue("Pressure overshoots more at each stop", {TANK: FAIR * higher}))
    if facts.starts_change is not None:
        jump = graded(facts.starts_change, _AS_EVER, 1.25 * STARTS_CHANGE.value)
        clues.append(Clue("It used to start far less often", {LOW_DEMAND: -FAIR * jump}))
        if _is_as_ever(facts):
            clues.append(
                Clue(
                    "It has cycled like this as long as the log goes back",
                    {LOW_DEMAND: FAIR, TANK: -WEAK},
                )
            )
    return clues


def _steeper_weight(facts: CycleFacts) -> float:
    """Weight of steeper falls for a lost charge.

    A new small draw makes falls steeper too, but not steeper than that draw on a good tank: the
    change counts in full only where it is more than a drive would sleep on.
    """
    steeper = graded(facts.fall_change, 1.5, FALL_CHANGE.value)
    if facts.fall_draw_lpm is None:
        return FAIR * steeper
    likely = SLEEP_DRAW_LIKELY_LPM.value
    return STRONG * steeper * graded(facts.fall_draw_lpm, 0.6 * likely, 1.8 * likely)


def _is_as_ever(facts: CycleFacts) -> bool:
    changes = (facts.starts_change, facts.fall_change, facts.stop_change)
    return (
        all(change is None or change < _AS_EVER for change in changes)
        and (facts.starts_change_at_most or 1.0) < _AS_EVER_WITH_SLOW_LOGS
        and not facts.first_draw_empties
    )


def _regularity_clues(case: Case, facts: CycleFacts) -> list[Clue]:
    clues = []
    if facts.quiet_restart_cv is not None and (facts.quiet_starts or 0.0) >= 2:
        regular = graded(facts.quiet_restart_cv, IRREGULAR_CV.value, REGULAR_CV.value)
        clues.append(Clue("It restarts at the same interval at night", {LEAK: FAIR * regular}))
    if case.week.stop_s_cv is not None:
        varied = graded(case.week.stop_s_cv, 2 * REGULAR_CV.value, 2 * IRREGULAR_CV.value)
        clues.append(
            Clue(
                "Stops vary in length, as use does",
                {LOW_DEMAND: WEAK * varied, LEAK: -WEAK * varied},
            )
        )
    return clues
