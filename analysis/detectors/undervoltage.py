"""Undervoltage: the supply at the controller is short, or a joint in its wiring is going.

Reads    log voltage_v, own drop at starts, loop resistance; register supply_volts, motor_volts,
         supply_wire; earlier weeks; other sites of the region.
Bases    percent of supply_volts (the utility's duty) and of motor_volts (the motor's need at full
         speed); each is named.
Causes   supply_wiring: fine at rest, falls with the own load. supply_source: low at rest too.
Misses   which of panel, transformer or service drop; the loss of one phase of three; sags between
         samples, so the lowest volts are the lowest seen.
"""

from datetime import datetime, timedelta

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Level, weigh
from analysis.detectors.register_contradictions import supply_contradiction
from analysis.detectors.spells import clear_if_seen, days_seen, spell_bounds
from analysis.detectors.supply_evidence import (
    SupplyEvidence,
    gather,
    is_low_day,
    looks_like_generator,
    low_days,
    undervoltage_days,
)
from analysis.detectors.supply_range import range_level
from analysis.detectors.supply_wording import alternatives, grounds, summary
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    DEEP_LONG_S,
    DEEP_SETTLED_PCT,
    DEEP_UNDERVOLTAGE_S,
    EXCESS_DROP_PCT,
    FULL_SPEED_UNDERVOLTAGE_S,
    GAP_AFTER_DIP_S,
    JOINT_HEAT_W,
    SAG_MEAN_S,
    SAG_MEAN_SAMPLES,
    SUPPLY_MISMATCH_LOW,
    UNDERVOLTAGE_DAYS,
    UNDERVOLTAGE_ONE_DAY_S,
    UNDERVOLTAGE_SETTLED_PCT,
    VOLTAGE_LOW_PCT,
    VOLTAGE_VERY_LOW_PCT,
    WIRE_RESISTANCE_RATIO,
    WIRING_DROP_PCT,
    WIRING_DROP_TOTAL_PCT,
)

KIND = Kind.UNDERVOLTAGE
NEEDS = Needs(log=("voltage_v",), register=("supply_volts",), observed_min_share=0.1)

WEAR, POOR_SERVICE, DAMAGE, FIRE = 2, 3, 4, 5


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    nominal_v = case.pump.supply_volts
    if not nominal_v:
        return NotAssessed(reason="no supply_volts in the register")
    contradiction = supply_contradiction(case)
    if contradiction is not None:
        return NotAssessed(reason=contradiction.reason)
    evidence = gather(case, nominal_v)
    levels = [_volts_level(case, evidence), _wiring_level(evidence)]
    found = [level for level in levels if level is not None]
    if not found:
        return clear_if_seen(case)
    level = max(found, key=lambda one: one.consequence)
    cause = _cause(case, evidence, is_low=levels[0] is not None)
    confidence, texts = weigh(level.start_confidence, grounds(case, evidence, cause))
    since_at, until_at = _bounds(case, evidence)
    return (
        Judged(
            kind=KIND,
            cause=cause,
            consequence=level.consequence,
            confidence=confidence,
            since_at=since_at,
            until_at=until_at,
            measures=_measures(case, evidence),
            summary=summary(case, evidence, cause, since_at, is_low=levels[0] is not None),
            limit_source=level.limit.source,
            grounds=texts,
            alternatives=alternatives(case, evidence, cause),
        ),
    )


def _bounds(case: Case, evidence: SupplyEvidence) -> tuple[datetime, datetime]:
    """First and last day of it.

    A resistance is known by the week: where it went up in the week in which the low days begin,
    the first low day tells since when; where it went up before, the start of that week does.
    """
    since_at, until_at = spell_bounds(case, is_low_day)
    growth = evidence.growth
    if growth is None or (
        any(is_low_day(day) for day in case.days)
        and growth.since_at <= since_at < growth.since_at + timedelta(days=7)
    ):
        return since_at, until_at
    return min(since_at, growth.since_at), until_at


def _volts_level(case: Case, evidence: SupplyEvidence) -> Level | None:
    if looks_like_generator(case, evidence.nominal_v):
        return None
    tests = (_deep_level, _under_90_level, _full_speed_level)
    found = next((level for test in tests if (level := test(case)) is not None), None)
    return range_level(case, evidence.nominal_v) if found is None else found


def _deep_level(case: Case) -> Level | None:
    """Under 85 % for long, or on more than one day; or under 90 % and then silence."""
    under = undervoltage_days(case)
    if not under or not _lasts(case):
        return None
    deep_v = _nominal_v(case) * VOLTAGE_VERY_LOW_PCT.value / 100
    days = [d for d in case.days if d.voltage_min_v is not None and d.voltage_min_v < deep_v]
    enough = len(days) >= UNDERVOLTAGE_DAYS.value or len(days_seen(case)) == 1
    deep_s = case.week.below_85_s or 0.0
    settled = _settled_pct(case) < DEEP_SETTLED_PCT.value
    is_deep = deep_s > DEEP_UNDERVOLTAGE_S.value and enough
    if is_deep and (settled or deep_s >= DEEP_LONG_S.value):
        return Level(DAMAGE, VOLTAGE_VERY_LOW_PCT, 0.6)
    falls_silent = case.week.silent_s >= GAP_AFTER_DIP_S.value and under[-1] == days_seen(case)[-1]
    return Level(DAMAGE, VOLTAGE_LOW_PCT, 0.5) if falls_silent else None


def _under_90_level(case: Case) -> Level | None:
    under, seen = undervoltage_days(case), days_seen(case)
    if not under or not _lasts(case):
        return None
    if len(under) >= UNDERVOLTAGE_DAYS.value:
        return Level(POOR_SERVICE, VOLTAGE_LOW_PCT, 0.6)
    only_chance = len(seen) < UNDERVOLTAGE_DAYS.value or under[-1] == seen[-1]
    long_enough = (under[-1].undervoltage_s or 0.0) >= UNDERVOLTAGE_ONE_DAY_S.value
    return Level(POOR_SERVICE, VOLTAGE_LOW_PCT, 0.45) if only_chance and long_enough else None


def _full_speed_level(case: Case) -> Level | None:
    """The motor's own base: short of its nameplate volts at full speed on a supply that fits."""
    motor_v, short_s = case.pump.motor_volts, case.week.motor_undervoltage_s or 0.0
    if not motor_v or _nominal_v(case) / motor_v < SUPPLY_MISMATCH_LOW.value:
        return None
    settled_v = case.week.running_v_p05
    is_low = settled_v is not None and settled_v < UNDERVOLTAGE_SETTLED_PCT.value / 100 * motor_v
    repeats = len(low_days(case)) >= UNDERVOLTAGE_DAYS.value
    if is_low and repeats and short_s > FULL_SPEED_UNDERVOLTAGE_S.value:
        return Level(POOR_SERVICE, VOLTAGE_LOW_PCT, 0.5)
    return None


def _wiring_level(evidence: SupplyEvidence) -> Level | None:
    """A bad conductor or joint, also where the volts still hold up."""
    drop_pct = evidence.pct(evidence.own_part_v)
    if evidence.growth is not None:
        return Level(FIRE, JOINT_HEAT_W, 0.6)
    if evidence.wire_ratio is None:
        return None
    excess_pct = drop_pct - evidence.pct(evidence.wire_drop_v)
    is_bad = (
        evidence.wire_ratio >= WIRE_RESISTANCE_RATIO.value
        and drop_pct >= WIRING_DROP_PCT.value
        and excess_pct >= EXCESS_DROP_PCT.value
    )
    if not is_bad:
        return None
    consequence = POOR_SERVICE if drop_pct >= WIRING_DROP_TOTAL_PCT.value else WEAR
    return Level(consequence, WIRE_RESISTANCE_RATIO, 0.6)


def _cause(case: Case, evidence: SupplyEvidence, *, is_low: bool) -> str:
    """The bigger part; a growing joint is named even where the supply is low as well.

    What is under 90 % mostly with the pump stopped is not its own load's doing, even where the
    usual volts at rest, which a single bad evening hardly moves, are fine.
    """
    if not is_low or evidence.growth is not None:
        return "supply_wiring"
    if (case.week.undervoltage_idle_s or 0.0) > (case.week.undervoltage_run_s or 0.0):
        return "supply_source"
    if evidence.idle_part_v is None or evidence.own_part_v is None:
        return ""
    return "supply_wiring" if evidence.own_part_v > evidence.idle_part_v else "supply_source"


def _lasts(case: Case) -> bool:
    """Whether time under 90 % is more than starting sags and single samples."""
    week = case.week
    if _settled_pct(case) < UNDERVOLTAGE_SETTLED_PCT.value:
        return True
    mean_s = (week.undervoltage_s or 0.0) / max(1, week.undervoltage_episodes or 0)
    return mean_s >= max(SAG_MEAN_S.value, SAG_MEAN_SAMPLES.value * week.log_interval_s)


def _settled_pct(case: Case) -> float:
    """Lowest usual volts, settled running or at rest, in percent of the supply."""
    usual = [v for v in (case.week.running_v_p05, case.week.idle_v_p05) if v is not None]
    return 100 * min(usual) / _nominal_v(case) if usual else 100.0


def _nominal_v(case: Case) -> float:
    return case.pump.supply_volts or float("nan")


def _measures(case: Case, evidence: SupplyEvidence) -> dict[str, MeasureValue]:
    week, pump = case.week, case.pump
    lowest_v, motor_v = week.voltage_min_v, pump.motor_volts
    values: dict[str, float | None] = {
        "voltage_min_pct": week.voltage_min_pct,
        "undervoltage_s": week.undervoltage_s,
        "no_load_v": week.idle_v_median,
        "loop_resistance_ohm": week.loop_resistance_ohm,
        "loop_resistance_low_ohm": week.loop_resistance_low_ohm,
        "loop_resistance_high_ohm": week.loop_resistance_high_ohm,
        "wire_resistance_ohm": evidence.wire_ohm,
        "voltage_min_v": lowest_v,
        "voltage_min_motor_pct": 100 * lowest_v / motor_v if lowest_v and motor_v else None,
        "idle_low_v": evidence.idle_low_v,
        "idle_part_v": evidence.idle_part_v,
        "own_part_v": evidence.own_part_v,
        "own_part_before_v": evidence.growth.from_drop_v if evidence.growth else None,
        "joint_heat_w": evidence.growth.heat_w if evidence.growth else None,
        "below_95_run_share": week.below_95_run_share,
        "below_85_s": week.below_85_s,
        "overvoltage_s": week.overvoltage_s,
        "motor_undervoltage_s": week.motor_undervoltage_s,
    }
    measures: dict[str, MeasureValue] = {
        name: None if value is None else round(value, 3) for name, value in values.items()
    }
    measures["n_undervoltage_days"] = len(undervoltage_days(case))
    measures["supply_current_is_logged"] = week.supply_current_is_logged
    return measures
