"""Leak: water leaves the system when nobody draws, night after night.

Reads    the quiet window of each night: falls, restarts, flat holds, never-stopping floor;
         register tank_l and precharge_kpa for litres.
Causes   downstream: even falls, goes on while the pump runs.  check_valve: quick right after a
         stop, differs from stop to stop, lifts the suction.
Misses   leaks below LEAK_MIN_LPM; what is steady use (waterer, filter) and not a leak: ask first.
"""

from collections.abc import Sequence
from datetime import datetime

from analysis.case import Case, Verdict
from analysis.detectors.causes import CauseCall
from analysis.detectors.certainty import weigh
from analysis.detectors.known_demand import demand_lines, demand_texts, is_scheduled_night
from analysis.detectors.leak_causes import (
    CHECK_VALVE,
    DOWNSTREAM,
    leak_cause,
    quiet_falls_differ,
    suction_rises,
    valve_days,
    valve_odds,
)
from analysis.detectors.leak_grounds import leak_grounds
from analysis.detectors.leak_size import BY_CURVE, LeakSize, leak_size, scale_text
from analysis.detectors.nights import (
    LEAKING,
    NightRead,
    NightSays,
    leak_spell,
    night_says,
    read_nights,
    runs_at_top_speed,
)
from analysis.detectors.spells import days_seen, since_words, spell_bounds
from analysis.few import median_of
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    BIG_LEAK_LPM,
    FLAT_KPA,
    FLOW_PRESSURE_ERROR_KPA,
    LEAK_CONFIDENCE,
    LEAK_MIN_LPM,
    LEAK_NIGHTS,
    NIGHTS_NEEDED,
    QUIET_HOURS,
    RUNNING_TOILET_L_PER_DAY,
    VALVE_ODDS,
)
from analysis.wording import (
    count_text,
    duration_text,
    flow_range_text,
    flow_text,
    pressure_rate_text,
    pressure_text,
    volume_text,
)

KIND = Kind.LEAK
NEEDS = Needs(interval_max_s=300.0)

MONEY, POOR_SERVICE = 2, 3


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    nights = read_nights(case)
    n_seen = sum(night.says is not NightSays.UNSEEN for night in nights)
    if n_seen < NIGHTS_NEEDED.value:
        return NotAssessed(
            reason=f"night data on {n_seen} of 7 nights; this needs {NIGHTS_NEEDED.value:g}"
        )
    spell = leak_spell(nights) or _valve_nights(case, nights)
    if not spell:
        return _untold(case, nights) or ()
    cause = leak_cause(case, nights)
    size = leak_size(case, spell)
    confidence, grounds = weigh(*leak_grounds(case, nights, spell, cause))
    if confidence < LEAK_CONFIDENCE.value:
        return NotAssessed(
            reason="water is drawn through the quiet hours, but as unevenly as use is: a leak"
            " cannot be told from it"
        )
    return (_finding(case, nights, spell, cause, size, confidence, grounds),)


def _valve_nights(case: Case, nights: Sequence[NightRead]) -> list[NightRead]:
    """Days of a check valve that seats on some stops: whole nights may hold, so it must show.

    By day every stop ends in somebody's draw, and gas that the pump has warmed cools after each
    stop, quickest first, so day falls alone prove nothing: the quiet stops must fall too, or the
    suction must rise.
    """
    n_falling = sum(night.says in (NightSays.PARTLY, NightSays.FALLS) for night in nights)
    is_seen = n_falling >= LEAK_NIGHTS.value or suction_rises(case.week)
    is_likely = is_seen and valve_odds(case) >= VALVE_ODDS.value
    if not is_likely and not quiet_falls_differ(case.week):
        return []
    dates = {day.local_date for day in valve_days(case)}
    found = [night for night in nights if night.day.local_date in dates]
    return found if len(found) >= LEAK_NIGHTS.value else []


def _untold(case: Case, nights: Sequence[NightRead]) -> NotAssessed | None:
    """Say why nights could not be read: those at top speed, or all where none holds."""
    seen = [night for night in nights if night.says is not NightSays.UNSEEN]
    at_top = [night for night in seen if runs_at_top_speed(case.pump, night.day)]
    if len(at_top) >= LEAK_NIGHTS.value:
        return NotAssessed(
            reason=f"at top speed all through the quiet hours on {len(at_top)} of {len(seen)}"
            " nights: a pump that misses its setting never stops, leak or not"
        )
    busy = [night for night in seen if night.says is NightSays.BUSY]
    if 2 * len(busy) <= len(seen) or any(night.says is NightSays.HOLDS for night in seen):
        return None
    timed = [night for night in busy if is_scheduled_night(case, night.day.local_date)]
    if 2 * len(timed) > len(busy):
        return NotAssessed(
            reason=f"{'; '.join(demand_texts(case))}: they fill the quiet hours on {len(timed)} of"
            f" {len(seen)} nights"
        )
    too_short = [night for night in busy if night.day.night_n_starts >= 2]
    if 2 * len(too_short) > len(busy):
        return NotAssessed(
            reason="stops at night are too short for a log with one sample every"
            f" {duration_text(case.week.log_interval_s)}"
        )
    return NotAssessed(
        reason=f"in use all through the quiet hours on {len(busy)} of {len(seen)} nights"
    )


def _finding(
    case: Case,
    nights: Sequence[NightRead],
    spell: Sequence[NightRead],
    cause: CauseCall,
    size: LeakSize | None,
    confidence: float,
    grounds: tuple[str, ...],
) -> Judged:
    leaking_dates = {night.day.local_date for night in spell}
    since_at, until_at = spell_bounds(
        case,
        lambda day: (
            day.local_date in leaking_dates
            or (day in case.past_days and night_says(day, case.week) in LEAKING)
        ),
    )
    is_big = size is not None and size.lpm >= BIG_LEAK_LPM.value
    runs = any(night.says is NightSays.RUNS for night in spell)
    return Judged(
        kind=KIND,
        cause=cause.cause,
        consequence=POOR_SERVICE if is_big or (runs and size is None) else MONEY,
        confidence=confidence,
        since_at=since_at,
        until_at=until_at,
        measures=_measures(case, nights, spell, cause, size),
        summary=_summary(case, nights, spell, cause, size, since_at),
        limit_source=(
            f"at least {LEAK_MIN_LPM.value:g} L/min on {LEAK_NIGHTS.value:g} nights:"
            f" {LEAK_MIN_LPM.source}; scale: {RUNNING_TOILET_L_PER_DAY.source}"
        ),
        grounds=(*grounds, *cause.texts[:2], *demand_lines(case)),
        alternatives=_alternatives(case, cause, size),
    )


def _measures(
    case: Case,
    nights: Sequence[NightRead],
    spell: Sequence[NightRead],
    cause: CauseCall,
    size: LeakSize | None,
) -> dict[str, MeasureValue]:
    slopes = [n.day.night_fall_p50_kpa_per_min for n in spell]
    known = [slope for slope in slopes if slope is not None]
    return {
        "leak_lpm": None if size is None else round(size.lpm, 3),
        "leak_l_per_day": None if size is None else round(size.l_per_day, 1),
        "leak_low_lpm": None if size is None else round(size.low_lpm, 3),
        "leak_high_lpm": None if size is None else round(size.high_lpm, 3),
        "leak_is_upper_bound": None if size is None else _is_at_most(size, cause),
        "leak_basis": None if size is None else size.basis,
        "fall_kpa_per_min": round(median_of(known), 3) if known else None,
        "restart_s_median": case.week.quiet_restart_s_median,
        "n_nights_leaking": len(spell),
        "n_nights_seen": _of_how_many(case, nights, spell)[0],
        "cause_share": round(cause.share, 2),
    }


def _is_at_most(size: LeakSize, cause: CauseCall) -> bool:
    """Not with a check valve: its slam is a steep fall too, whatever the tank holds."""
    return bool(size.at_most_because) and cause.cause != CHECK_VALVE


def _alternatives(case: Case, cause: CauseCall, size: LeakSize | None) -> tuple[str, ...]:
    """What else it could be; the steady use that looks the same always among it."""
    test = "close the house valve and watch the gauge 10 min"
    told = ["Steady use such as a waterer, filter, frost drip or ice maker: ask before driving"]
    if cause.cause == DOWNSTREAM:
        told.append(f"Check valve that lets water back: {test}; if it still falls, it is upstream")
    elif cause.cause == CHECK_VALVE:
        told.append(f"Leak behind the house valve: {test}; if it holds, it is downstream")
    else:
        told.append(f"Leak or check valve: {test}")
    if size is not None and size.basis == "tank":
        told.append("Smaller if the tank has lost charge, larger if other tanks hang on the line")
    if size is not None and _is_at_most(size, cause):
        told.append(
            f"Tank has lost its charge as well: {size.at_most_because}, so the litres are at most"
            " these; read the pre-charge with the tank drained"
        )
    if size is not None and size.basis == BY_CURVE:
        error = pressure_text(FLOW_PRESSURE_ERROR_KPA.value, case.site.units)
        told.append(
            "More or less water: a flow read from the pump's curve moves much with a sensor"
            f" {error} off, and a worn pump looks like less"
        )
    if size is None and case.week.stored_kpa_per_l is None:
        told.append("No litres: tank size or pre-charge is not in the register")
    return tuple(told)


def _summary(
    case: Case,
    nights: Sequence[NightRead],
    spell: Sequence[NightRead],
    cause: CauseCall,
    size: LeakSize | None,
    since_at: datetime,
) -> str:
    n_seen, noun = _of_how_many(case, nights, spell)
    when = f"{len(spell)} of {count_text(n_seen, noun)}"
    ask = "ask about toilets, waterers and anything left running before sending a truck"
    if cause.cause == CHECK_VALVE:
        ask = "most likely the check valve lets water back, so close the house valve and watch"
    return (
        f"{_drawn(case, spell, size, cause)} at {case.site.title} (pump {case.pump.pump_id}) when"
        f" nobody should draw, on {when} {since_words(case, since_at)}: {ask}."
    )


def _of_how_many(
    case: Case, nights: Sequence[NightRead], spell: Sequence[NightRead]
) -> tuple[int, str]:
    """Nights that were seen; days, where days show it: of those a night may be unseen."""
    if all(night.says in LEAKING for night in spell):
        return sum(night.says is not NightSays.UNSEEN for night in nights), "night"
    return len(days_seen(case)), "day"


def _told_fall_kpa_per_min(case: Case, spell: Sequence[NightRead]) -> float | None:
    """Median fall of the nights; None where a night's fall is within the sensor's resolution."""
    known = [night.day.night_fall_p50_kpa_per_min for night in spell]
    slopes = [slope for slope in known if slope is not None]
    if not slopes:
        return None
    finest_kpa = max(case.week.pressure_step_kpa or 0.0, 2 * FLAT_KPA.value)
    fall = median_of(slopes)
    return fall if 60.0 * QUIET_HOURS.value * fall > finest_kpa else None


def _drawn(case: Case, spell: Sequence[NightRead], size: LeakSize | None, cause: CauseCall) -> str:
    units = case.site.units
    if size is not None and size.basis == BY_CURVE:
        return (
            "Water runs off all night and the pump never stops, by its curve about"
            f" {flow_text(size.lpm, units)} (at most {flow_text(size.high_lpm, units)})"
        )
    if size is not None and _is_at_most(size, cause):
        return (
            f"Water, at most {flow_text(size.high_lpm, units)} as the tank seems to hold less than"
            " registered, runs off"
        )
    if size is not None:
        return (
            f"About {flow_range_text(size.low_lpm, size.high_lpm, units)}"
            f" ({volume_text(size.l_per_day, units)} a day, {scale_text(size.l_per_day)}) runs off"
        )
    if any(night.says is NightSays.RUNS for night in spell):
        return "Water runs off all night and the pump never stops"
    fall = _told_fall_kpa_per_min(case, spell)
    if fall is not None:
        return f"Pressure falls {pressure_rate_text(fall, units)}"
    every_s = case.week.quiet_restart_s_median
    if every_s is not None:
        return f"The pump restarts every {duration_text(every_s)}"
    return "Pressure does not hold"
