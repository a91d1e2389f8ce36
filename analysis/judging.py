"""Judge one week of the fleet from its records: one answer per pump and kind, and the findings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import ModuleType

from analysis.case import Case
from analysis.context import Around, Fleet, case_of, maps_alike
from analysis.detectors import DETECTORS, data_gap, setting
from analysis.findings import (
    SEVERITY_OF_CONSEQUENCE,
    Assessment,
    Finding,
    Judged,
    Kind,
    Needs,
    NotAssessed,
    Status,
)
from analysis.history import History
from analysis.learned_confidence import Learned, learn, outcomes_before, recalibrated
from analysis.losses import with_loss
from analysis.memory import Past, recall
from analysis.neighbours import count_idle_lows
from analysis.records import PumpWeek
from analysis.root_cause import held_back, nest
from analysis.visit_effects import weighed
from ingest.installed_base import Pump, Visit
from ingest.weeks import parse_week, week_bounds

HAS_CHANNEL: Mapping[str, str] = {
    "voltage_v": "has_voltage",
    "suction_kpa": "has_suction",
    "flow_lpm": "has_flow",
    "drive_temp_c": "has_drive_temp",
    "input_current_a": "has_input_current",
}
"""Log column to the field of ``PumpWeek`` that says whether it carried values."""


@dataclass(frozen=True)
class PumpAnswers:
    """What the detectors said of one pump's week, before its past answers are looked at."""

    pump: Pump
    judged: Sequence[Judged]
    answers: "Answers"


def judge_week(
    fleet: Fleet, week: str, history: History
) -> tuple[list[Finding], list[Assessment]]:
    """Judge every registered pump for one week.

    Returns
    -------
    findings : sorted by site, pump, kind and cause.
    assessments : one for every pump and kind, sorted by site, pump and kind.
    """
    idle_volts = {
        pump_id: record.idle_v_p05
        for pump_id, records in fleet.weeks.items()
        for record in records
        if record.week == week
    }
    around = Around(
        lows=count_idle_lows(fleet.register, idle_volts),
        learned=learn(outcomes_before(week, fleet.register.visits, history.at)),
        alike=partial(maps_alike, fleet, week),
    )
    findings: list[Finding] = []
    assessments: list[Assessment] = []
    for pump in fleet.register.pumps.values():
        said = judge_pump(fleet, pump, week, around)
        findings.extend(findings_of(said, fleet, week, history, around.learned))
        assessments.extend(assessments_of(said, week))
    findings.sort(key=lambda f: (f.site_id, f.pump_id, f.kind, f.cause))
    assessments.sort(key=lambda a: (a.site_id, a.pump_id, a.kind))
    return findings, assessments


def judge_pump(fleet: Fleet, pump: Pump, week: str, around: Around) -> PumpAnswers:
    """Let every detector answer for one pump's week."""
    record = next((w for w in reversed(fleet.weeks.get(pump.pump_id, ())) if w.week == week), None)
    if record is None:
        return PumpAnswers(pump, *_judge_silent(fleet, pump, week))
    return PumpAnswers(pump, *_judge_pump(case_of(fleet, pump, record, around)))


def findings_of(
    said: PumpAnswers,
    fleet: Fleet,
    week: str,
    history: History,
    learned: Mapping[Kind, Learned],
) -> list[Finding]:
    """Findings of one pump: what the detectors said, in the light of earlier weeks and visits."""
    pump = said.pump
    visits = fleet.register.visits_at(pump.site_id)
    records = {each.week: each for each in fleet.weeks.get(pump.pump_id, ())}
    return [
        _finding(pump, week, item, history.of(pump.pump_id, item, records), visits, learned)
        for item in said.judged
    ]


def assessments_of(said: PumpAnswers, week: str) -> list[Assessment]:
    """One answer for each kind."""
    return [
        Assessment(
            week=week,
            site_id=said.pump.site_id,
            pump_id=said.pump.pump_id,
            kind=kind,
            status=status,
            reason=reason,
        )
        for kind, (status, reason) in said.answers.items()
    ]


def lacks(needs: Needs, pump: Pump, week: PumpWeek) -> str:
    """Say what keeps a kind from being judged, or "" where nothing does."""
    reasons = [
        f"no {column} in the log"
        for column in needs.log
        if column in HAS_CHANNEL and not getattr(week, HAS_CHANNEL[column])
    ]
    reasons += [
        f"no {name} in the register" for name in needs.register if getattr(pump, name) is None
    ]
    if week.log_interval_s > needs.interval_max_s:
        reasons.append(
            f"the log has one sample every {week.log_interval_s:.0f} s;"
            f" this needs {needs.interval_max_s:.0f} s or faster"
        )
    if 1 - week.share_missing < needs.observed_min_share:
        reasons.append(
            f"only {100 * (1 - week.share_missing):.0f} % of the week was logged;"
            f" this needs {100 * needs.observed_min_share:.0f} %"
        )
    return "; ".join(reasons)


Answers = dict[Kind, tuple[Status, str]]


def _judge_pump(case: Case) -> tuple[list[Judged], Answers]:
    judged: list[Judged] = []
    answers: Answers = {}
    for detector in DETECTORS:
        found, status, reason = _judge_kind(detector, case)
        judged.extend(found)
        answers[detector.KIND] = (status, reason)
    kept = [with_loss(_compared(item, case), case) for item in nest(judged)]
    for kind in {item.kind for item in judged} - {item.kind for item in kept}:
        root = next(item.kind for item in kept if kind in _also(item))
        answers[kind] = (Status.FOUND, f"part of {root}")
    for kind, reason in held_back(kept).items():
        if kind in answers and answers[kind][0] is Status.CLEAR:
            answers[kind] = (Status.NOT_ASSESSED, reason)
    return kept, answers


def _compared(judged: Judged, case: Case) -> Judged:
    """Say beside a finding that the pump's past was cut, where it was."""
    text = case.baseline.text(case.site.timezone)
    if not text or judged.kind in (Kind.DATA_GAP, Kind.SETTING):
        return judged
    return replace(judged, grounds=(*judged.grounds, text))


def _judge_kind(detector: ModuleType, case: Case) -> tuple[Sequence[Judged], Status, str]:
    if case.week.is_shut_down and detector.KIND is not Kind.DATA_GAP:
        return (), Status.SHUT_DOWN, "never ran and stood flat near zero pressure all week"
    reason = lacks(detector.NEEDS, case.pump, case.week)
    if reason:
        return (), Status.NOT_ASSESSED, reason
    verdict = detector.judge(case)
    if isinstance(verdict, NotAssessed):
        return (), Status.NOT_ASSESSED, verdict.reason
    partly = "; ".join(setting.unassessed(case)) if detector.KIND is Kind.SETTING else ""
    return verdict, Status.FOUND if verdict else Status.CLEAR, partly


def _judge_silent(fleet: Fleet, pump: Pump, week: str) -> tuple[list[Judged], Answers]:
    """Answer for a pump without a sample this week: silent, or never heard from."""
    earlier = [record for record in fleet.weeks.get(pump.pump_id, ()) if record.week < week]
    reason = "no samples this week" if earlier else "no samples yet"
    answers: Answers = {detector.KIND: (Status.NO_DATA, reason) for detector in DETECTORS}
    if not earlier:
        return [], answers
    site = fleet.register.sites[pump.site_id]
    from_at, to_at = week_bounds(parse_week(week), site.timezone)
    answers[Kind.DATA_GAP] = (Status.FOUND, "")
    left_out = [one for one in fleet.left_out.get(pump.pump_id, ()) if one.week == week]
    return [data_gap.judge_silence(site, pump, earlier[-1], from_at, to_at, left_out)], answers


def _finding(
    pump: Pump,
    week: str,
    stated: Judged,
    past: Sequence[Past],
    visits: Sequence[Visit],
    learned: Mapping[Kind, Learned],
) -> Finding:
    judged = recalibrated(stated, learned)
    first_seen, state = recall(judged, past)
    seen = weighed(judged, state, pump, week, visits, past)
    measures = dict(judged.measures)
    if judged is not stated or seen.confidence != stated.confidence:
        measures["stated_confidence"] = round(stated.confidence, 3)
    if seen.state == "back":
        first_seen = judged.since_at
    return Finding(
        week=week,
        site_id=pump.site_id,
        pump_id=pump.pump_id,
        kind=judged.kind,
        cause=judged.cause,
        severity=SEVERITY_OF_CONSEQUENCE[judged.consequence],
        confidence=seen.confidence,
        first_seen=first_seen,
        last_seen=judged.until_at,
        measures=measures,
        summary=judged.summary,
        limit_source=judged.limit_source,
        consequence=judged.consequence,
        state=seen.state,
        grounds=(*judged.grounds, *seen.grounds),
        alternatives=judged.alternatives,
    )


def _also(judged: Judged) -> list[object]:
    also = judged.measures.get("also")
    return list(also) if isinstance(also, list) else []
