"""Where a leak's water goes: out downstream, or back through the check valve."""

from collections.abc import Sequence

from analysis.case import Case
from analysis.detectors.causes import FAIR, STRONG, WEAK, CauseCall, Clue, call_cause, graded
from analysis.detectors.nights import NightRead, NightSays, least_fall_kpa_per_min
from analysis.findings import CAUSES, Kind
from analysis.limits import (
    IRREGULAR_CV,
    QUICK_AFTER_STOP,
    REGULAR_CV,
    SUCTION_RISE_KPA,
    VALVE_EARLY_OVER_LATE,
    VALVE_FLAT_SHARE,
)
from analysis.records import PumpDay, PumpWeek

DOWNSTREAM, CHECK_VALVE = CAUSES[Kind.LEAK]
_FALLS_AS_A_WHOLE = 0.9  # first over last third; a draw at the end of a flat stop is near 0
_FEW_FALLS = 7  # below it the scatter of slopes is chance


def leak_cause(case: Case, nights: Sequence[NightRead]) -> CauseCall:
    """Weigh the clues for either way out."""
    seen = [night for night in nights if night.says is not NightSays.UNSEEN]
    clues = [*_slope_clues(case), *_suction_clues(case), *_night_clues(case, seen)]
    return call_cause(CAUSES[Kind.LEAK], clues)


def valve_odds(case: Case) -> float:
    """How much a whole week of stops speaks for the check valve, as a sum of clue weights.

    A valve that seats on some stops holds through most nights: by then it has seated. Its sign is
    then that stops of any hour fall as a whole, quickest first, and each at its own pace; draws
    leave pressure flat and drop it at the end.
    """
    week = case.week
    clues = [*_slope_clues(case), *_suction_clues(case)]
    odds = sum(clue.weights.get(CHECK_VALVE, 0.0) for clue in clues)
    quick = week.fall_first_over_last or 0.0
    if quick < QUICK_AFTER_STOP.value and not suction_rises(week):
        return 0.0  # several draws of a day also differ from each other
    if quick < _FALLS_AS_A_WHOLE:
        return odds
    half, steep = week.fall_p50_kpa_per_min, week.fall_p90_kpa_per_min
    if half is not None and steep is not None and half >= least_fall_kpa_per_min(week):
        odds += FAIR + FAIR * graded(steep / half, 1.5, 4.0)
    return odds


def quiet_falls_differ(week: PumpWeek) -> bool:
    """Whether pressure falls through the quiet stops, each at its own pace, and seldom holds.

    Draws leave a stop flat before, after or between them; a steady use falls alike in every stop.
    """
    cv, first_over_last = week.quiet_fall_cv, week.quiet_fall_first_over_last
    steep, flat_share = week.quiet_fall_p90_kpa_per_min, week.quiet_flat_share
    if cv is None or first_over_last is None or steep is None or flat_share is None:
        return False
    return (
        week.quiet_n_falls >= _FEW_FALLS
        and cv >= IRREGULAR_CV.value
        and first_over_last >= _FALLS_AS_A_WHOLE
        and flat_share <= VALVE_FLAT_SHARE.value
        and _fall_as_a_whole(week)
        and steep >= least_fall_kpa_per_min(week)
    )


def _fall_as_a_whole(week: PumpWeek) -> bool:
    """Whether quiet stops never stand and then fall on, as they do where draws follow draws."""
    return (week.quiet_fall_early_over_late or 0.0) >= VALVE_EARLY_OVER_LATE.value


def suction_rises(week: PumpWeek) -> bool:
    """Whether water that leaves the discharge comes back at the suction."""
    return week.has_suction and (week.suction_rise_kpa or 0.0) >= SUCTION_RISE_KPA.value


def valve_days(case: Case) -> list[PumpDay]:
    """Days on which half the stops, at any hour, fall faster than the least leak."""
    least = least_fall_kpa_per_min(case.week)
    return [day for day in case.days if (day.fall_p50_kpa_per_min or 0.0) >= least]


def _slope_clues(case: Case) -> list[Clue]:
    week = case.week
    clues = []
    known = [
        of for of in (week.quiet_fall_first_over_last, week.fall_first_over_last) if of is not None
    ]
    if known:
        quick = max(known)  # a draw at the end of a stop can only make it smaller
        clues.append(
            Clue(
                "Pressure falls quickest right after the pump stops",
                {CHECK_VALVE: FAIR * graded(quick, 0.9 * QUICK_AFTER_STOP.value, 1.8)},
            )
        )
        clues.append(
            Clue(
                "Pressure falls at an even pace through each stop",
                {DOWNSTREAM: FAIR * graded(quick, QUICK_AFTER_STOP.value, 1.15)},
            )
        )
    cv = week.quiet_fall_cv
    if cv is not None and week.quiet_n_falls >= _FEW_FALLS:
        # a hole keeps its size; where no draws explain it, only what seats anew each time differs
        differs = STRONG if _fall_as_a_whole(week) else FAIR
        clues.append(
            Clue(
                "The fall differs from stop to stop",
                {CHECK_VALVE: differs * graded(cv, REGULAR_CV.value, IRREGULAR_CV.value)},
            )
        )
        clues.append(
            Clue(
                "Every quiet stop falls alike",
                {DOWNSTREAM: FAIR * graded(cv, 1.2 * REGULAR_CV.value, 0.6 * REGULAR_CV.value)},
            )
        )
    return clues


def _suction_clues(case: Case) -> list[Clue]:
    rise_kpa = case.week.suction_rise_kpa
    if not case.week.has_suction or rise_kpa is None:
        return []
    # a well or a stiff main takes the water without a rise, so that its absence says nothing
    rises = graded(rise_kpa, SUCTION_RISE_KPA.value / 3, SUCTION_RISE_KPA.value)
    return [
        Clue("Suction pressure rises while the discharge falls", {CHECK_VALVE: STRONG * rises})
    ]


def _night_clues(case: Case, seen: Sequence[NightRead]) -> list[Clue]:
    n_runs = sum(night.says is NightSays.RUNS for night in seen)
    n_partly = sum(night.says is NightSays.PARTLY for night in seen)
    share = n_partly / len(seen) if seen else 0.0
    regular = graded(case.week.quiet_restart_cv, IRREGULAR_CV.value, REGULAR_CV.value)
    clues = [
        Clue(
            "On some stops of a night it falls, on others it holds",
            {CHECK_VALVE: FAIR * graded(share, 0.15, 0.5)},
        ),
        Clue("It restarts at one interval", {DOWNSTREAM: WEAK * regular}),
    ]
    if 2 * n_runs >= len(seen) > 0:
        clues.append(
            Clue("The flow goes on while the pump runs: it never stops", {DOWNSTREAM: STRONG})
        )
    return clues
