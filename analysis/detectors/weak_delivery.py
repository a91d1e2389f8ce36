"""Weak delivery: no speed left to give and still short of the pressure set.

Reads    spells over 60 s more than 10 % short, with their current, volts and hours; whether the
         setting is reached at all; no-flow speed and current at like speed over weeks; expected
         current.
Causes   wrong_rotation: never reaches it, not even at night, from the first record or from one
         day to the next. worn_or_blocked: no-flow speed creeps up, current at like speed falls,
         or there is little of it while short. low_voltage: short only while the volts are low.
Misses   a filter blocked behind the pressure sensor. Demand is asked first: a pump that is short
         only while much is drawn, with healthy no-flow speed and current, is too small for it
         and no fault. A pump held back by a current ceiling is told under the overload margin.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from analysis.case import Case, Verdict
from analysis.detectors.certainty import weigh
from analysis.detectors.gone_spells import Gone, Spell, gone_spells, of_kind
from analysis.detectors.pump_wear import creep_of, creeps_far, fall_of_amps
from analysis.detectors.register_contradictions import pressure_contradiction
from analysis.detectors.sensor_evidence import pressure_is_bad
from analysis.detectors.spells import clear_if_seen, spell_bounds
from analysis.detectors.weak_evidence import (
    WeakEvidence,
    curve_says_it_can,
    gather,
    is_weak_day,
    volts_explain,
)
from analysis.detectors.weak_wording import alternatives, gone_summary, grounds, summary
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    F0_RISE_ALONE_HZ,
    GONE_FOR_GOOD_S,
    OPEN_CIRCUIT_PCT,
    SHORT_OF_SETTING_SHARE,
    WEAK_WEEK_S,
    Limit,
)

KIND = Kind.WEAK_DELIVERY
NEEDS = Needs(interval_max_s=60.0)

ROTATION, WORN, VOLTS, UNTOLD = "wrong_rotation", "worn_or_blocked", "low_voltage", ""
WEAR, POOR_SERVICE, DAMAGE, NO_WATER = 2, 3, 4, 5
_ONE_PHASE = 1
_CONSEQUENCE = {ROTATION: DAMAGE, WORN: POOR_SERVICE, VOLTS: POOR_SERVICE, UNTOLD: POOR_SERVICE}
_START = {ROTATION: 0.5, WORN: 0.5, VOLTS: 0.65, UNTOLD: 0.35}


@dataclass(frozen=True)
class Answer:
    """A cause with how bad and by which limit."""

    cause: str
    consequence: int
    start_confidence: float
    limit: Limit


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    if case.week.weak_s is None:
        return NotAssessed(reason="no settled running against a pressure setting this week")
    contradiction = pressure_contradiction(case)
    if contradiction is not None:
        return NotAssessed(reason=contradiction.reason)
    bad_sensor = pressure_is_bad(case)
    if bad_sensor is not None:
        return NotAssessed(reason=f"the pressure reading cannot be trusted: {bad_sensor}")
    gone = _gone_for_good(case)
    if gone:
        return (_gone_finding(case, gone),)
    evidence = gather(case)
    answer = _answer(case, evidence)
    if answer is None:
        return clear_if_seen(case)
    since_at, until_at = _bounds(case, evidence, answer)
    confidence, texts = weigh(
        answer.start_confidence, grounds(case, evidence, answer.cause, since_at)
    )
    return (
        Judged(
            kind=KIND,
            cause=answer.cause,
            consequence=answer.consequence,
            confidence=confidence,
            since_at=since_at,
            until_at=until_at,
            measures=_measures(case, evidence),
            summary=summary(case, evidence, answer.cause, since_at),
            limit_source=answer.limit.source,
            grounds=texts,
            alternatives=alternatives(case, evidence, answer.cause),
        ),
    )


def _answer(case: Case, evidence: WeakEvidence) -> Answer | None:
    """Demand first: None where nothing but the demand speaks for a shortage."""
    cause = _cause(case, evidence) if _is_short_of_its_own(case, evidence) else None
    if cause is not None:
        return Answer(cause, _CONSEQUENCE[cause], _START[cause], SHORT_OF_SETTING_SHARE)
    if creeps_far(case):
        return Answer(WORN, WEAR, _START[WORN], F0_RISE_ALONE_HZ)
    return None


def _is_short_of_its_own(case: Case, evidence: WeakEvidence) -> bool:
    """Whether it is short for long enough once the time it ran dry is taken off."""
    dry_s = sum(s.length_s for s in of_kind(gone_spells(case), Gone.DRY, Gone.MAYBE_DRY))
    return evidence.is_short and (case.week.weak_s or 0.0) - dry_s >= WEAK_WEEK_S.value


def _cause(case: Case, evidence: WeakEvidence) -> str | None:
    if volts_explain(case):
        return VOLTS
    if evidence.never:
        return _cause_of_never(case, evidence)
    wears = creep_of(case) is not None or fall_of_amps(case) is not None
    if wears or (evidence.takes_little and evidence.is_new):
        return WORN
    return None


def _cause_of_never(case: Case, evidence: WeakEvidence) -> str | None:
    """Why it does not reach the setting at all."""
    if curve_says_it_can(case) is False:
        return None  # the setting is beyond this pump, which is told as a setting
    if evidence.current_pct is not None and evidence.current_pct > 100.0:
        return UNTOLD  # more water leaves than it can give
    went_slowly = evidence.held_before and not evidence.came_at_once
    return WORN if went_slowly or case.pump.motor_phases == _ONE_PHASE else ROTATION


def _bounds(case: Case, evidence: WeakEvidence, answer: Answer) -> tuple[datetime, datetime]:
    if evidence.never and answer.cause in (ROTATION, UNTOLD):
        first = evidence.began_on or evidence.never_days[0]
        return max(first.from_at, _record_begin(case)), case.week.last_at
    if not evidence.is_short and case.past:
        return case.past[0].first_at, case.week.last_at
    return spell_bounds(case, is_weak_day)


def _record_begin(case: Case) -> datetime:
    return (case.past[0] if case.past else case.week).first_at


def _gone_for_good(case: Case) -> tuple[Spell, ...]:
    """Spells that leave the site without water: an open motor circuit, or a loss that stays."""
    spells = gone_spells(case)
    opened = of_kind(spells, Gone.OPEN)
    if opened:
        return opened
    wet = of_kind(spells, Gone.WET)
    if not wet or wet[-1] != spells[-1] or (case.week.held_after_gone_s or 0.0) > 0:
        return ()
    last = wet[-1]
    to_end_s = (case.week.last_at - last.to_at).total_seconds()
    stays = last.length_s >= GONE_FOR_GOOD_S.value and to_end_s <= GONE_FOR_GOOD_S.value
    return (last,) if stays else ()


def _gone_finding(case: Case, spells: Sequence[Spell]) -> Judged:
    opened = spells[0].what is Gone.OPEN
    limit = OPEN_CIRCUIT_PCT if opened else GONE_FOR_GOOD_S
    pressure_pct = 100 * spells[-1].share_of_setting
    told = (
        (
            "Breaker or contactor behind the drive switched off, or a motor lead off",
            "Current and pressure readings both lost: a loose sensor plug",
        )
        if opened
        else (
            "A burst or an open hydrant: more water leaves than the pump can give",
            "A pressure sensor that failed low",
            "A pool, cistern or tank that is being filled",
        )
    )
    return Judged(
        kind=KIND,
        cause=UNTOLD,
        consequence=NO_WATER,
        confidence=0.75 if opened else 0.45,
        since_at=spells[0].from_at,
        until_at=min(spells[-1].to_at + timedelta(seconds=1), case.week.last_at),
        measures={
            "short_of_setting_s": round(sum(s.length_s for s in spells), 1),
            "pressure_pct_setting": round(pressure_pct, 1),
            "current_a": spells[-1].current_a,
            "current_pct_expected": spells[-1].current_pct,
            "motor_circuit_open": opened,
        },
        summary=gone_summary(case, spells),
        limit_source=limit.source,
        grounds=(
            ("The motor takes no current although the drive runs",)
            if opened
            else ("The motor takes the current of a pump that moves water: it is not dry",)
        ),
        alternatives=told,
    )


def _measures(case: Case, evidence: WeakEvidence) -> dict[str, MeasureValue]:
    week, creep, drift = case.week, creep_of(case), fall_of_amps(case) or case.drift
    values: dict[str, float | None] = {
        "short_of_setting_s": week.weak_s,
        "pressure_pct_setting": week.weak_pressure_pct,
        "short_spells": week.n_weak_spells,
        "short_s_longest": week.weak_longest_s,
        "short_quiet_s": week.weak_quiet_s,
        "at_setting_share": week.at_setting_share,
        "frequency_hz": week.weak_hz,
        "current_a": week.weak_current_a,
        "current_pct_expected": evidence.current_pct,
        "voltage_v": week.weak_voltage_v,
        "low_volts_share": week.weak_low_volts_share,
        "voltage_held_v": week.same_held_voltage_v,
        "suction_kpa": week.weak_suction_kpa,
        "flow_lpm": week.weak_flow_lpm,
        "f0_hz": week.f0_hz,
        "f0_rise_hz": None if creep is None else creep.rise_hz,
        "head_lost_pct": None if creep is None else creep.head_lost_pct,
        "current_drift_pct": None if drift is None else drift.total_pct,
    }
    told: dict[str, MeasureValue] = {
        name: None if value is None else round(value, 3) for name, value in values.items()
    }
    told["never_days"] = len(evidence.never_days)
    return told
