"""Which limits of starting too often a week passes, and on which of its days."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis.case import Case
from analysis.detectors.cycle_facts import CycleFacts, StartLimits
from analysis.detectors.own_past import starts_per_day
from analysis.limits import (
    CYCLING_DAYS,
    FALL_CHANGE,
    IMPOSSIBLE_STARTS_PER_DAY,
    IMPOSSIBLE_STOP_S,
    KEPT_UP_HOURS,
    KEPT_UP_STARTS_PER_DAY,
    MIN_RUN_S,
    SLEEP_DRAW_LIKELY_LPM,
    SLEEP_DRAW_LPM,
    STARTS_CHANGE,
    STARTS_CHANGE_DAYS,
    STARTS_CHANGE_SHARE,
    STARTS_CHANGE_TIMES_WITH_TANK,
    STARTS_CHANGE_WITH_TANK,
    STARTS_PER_HOUR,
)
from analysis.records import PumpDay
from analysis.wording import duration_text


@dataclass(frozen=True, kw_only=True)
class Breach:
    """One limit that is passed: which, on which days, by how much."""

    text: str
    shows: Callable[[PumpDay], bool]
    n_days: int
    is_absolute: bool
    source: str


def find_breaches(
    case: Case, days: Sequence[PumpDay], facts: CycleFacts, limits: StartLimits
) -> list[Breach]:
    """Try every limit on the week's usable days; those passed on days enough are breaches."""
    tests = (
        _over_day_limit(limits),
        _over_hour_limit(),
        _kept_up(case, limits),
        _changed(case, facts, limits),
        _shorter_than_tank(case, facts),
        _short_stops(case, facts),
        _emptied_by_one_draw(facts),
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
    """More starts than were usual on such a day, and than the pump's own range reached before."""
    before = facts.starts_before
    if before is None:
        return None
    tank_changed = _tank_changed(case, facts)
    tank_says = tank_changed or facts.first_draw_empties
    runs_short = (case.week.run_s_median or MIN_RUN_S.value) < MIN_RUN_S.value
    if not (tank_says or runs_short):
        return None
    times = (STARTS_CHANGE_TIMES_WITH_TANK if tank_says else STARTS_CHANGE).value
    if tank_changed:
        floor = STARTS_CHANGE_WITH_TANK.value
    elif facts.first_draw_empties:
        floor = 0.0  # the stops themselves say that the tank spans one draw, however few there are
    else:
        floor = STARTS_CHANGE_SHARE.value * limits.per_day
    floor = max(floor, facts.past.top_starts_per_day or 0.0)

    def shows(day: PumpDay) -> bool:
        usual = facts.past.usual_starts(day) or before
        return day.observed_s > 0 and starts_per_day(day) > max(times * usual, floor)

    return (
        f"{times:g} times the pump's own usual {before:.0f} starts a day",
        shows,
        STARTS_CHANGE_DAYS.value,
        False,
        f"the pump's own past, times {times:g} on {STARTS_CHANGE_DAYS.value:g} days: ours",
    )


def _tank_changed(case: Case, facts: CycleFacts) -> bool:
    """Whether falls or short stops say, beside the starts, that less water is stored than was."""
    steeper = (facts.fall_change or 0.0) >= FALL_CHANGE.value
    shorter = (
        facts.stop_change is not None
        and facts.stop_change >= FALL_CHANGE.value
        and case.week.idle_stop_s_p10 is not None
        and case.week.idle_stop_s_p10 <= IMPOSSIBLE_STOP_S.value
    )
    if facts.fall_draw_lpm is None:
        return steeper and shorter
    return shorter or (steeper and facts.fall_draw_lpm >= SLEEP_DRAW_LIKELY_LPM.value)


def _shorter_than_tank(case: Case, facts: CycleFacts) -> _Test | None:
    stop_s = case.week.idle_stop_s_median
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


def _short_stops(case: Case, facts: CycleFacts) -> _Test | None:
    """Whether a tenth of the stops is too short for the registered tank.

    The drive stops when it finds no flow. A large draw may begin within seconds of that and empty
    a sound tank, on a busy site time and again, but then the next run is faster than at no flow.
    """
    stop_s = case.week.idle_stop_s_p10
    if (
        stop_s is None
        or stop_s > IMPOSSIBLE_STOP_S.value
        or (facts.short_stop_draw_lpm or 0.0) < SLEEP_DRAW_LPM.value
    ):
        return None
    return (
        f"One stop in ten is over in {duration_text(stop_s)}, sooner than the registered tank can"
        " be empty",
        lambda day: day.observed_s > 0 and starts_per_day(day) > STARTS_CHANGE_WITH_TANK.value,
        STARTS_CHANGE_DAYS.value,
        False,
        f"Boyle's law on the registered tank; {SLEEP_DRAW_LPM.source}",
    )


def _emptied_by_one_draw(facts: CycleFacts) -> _Test | None:
    """Whether stops and starts both show an empty tank, however few starts that makes."""
    usual = facts.past.fall_p50_kpa_per_min
    if usual is None or not (facts.first_draw_empties and facts.refills_less):
        return None
    most = usual / FALL_CHANGE.value
    return (
        "Pressure stands until the first draw and is gone with it, and starts hardly fill a tank",
        lambda day: day.fall_p50_kpa_per_min is not None and day.fall_p50_kpa_per_min <= most,
        STARTS_CHANGE_DAYS.value,
        False,
        "the pump's own falls and refills, a third or less of what they were: ours",
    )
