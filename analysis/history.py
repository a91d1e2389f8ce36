"""What was answered of pumps in earlier weeks, for "since when" and "worse", and for learning."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from analysis.findings import Assessment, Finding, Judged, Kind, Status
from analysis.limits import MEMORY_WEEKS
from analysis.memory import Past
from analysis.records import PumpWeek


def remembered_weeks(judged: Iterable[str], before: str) -> list[str]:
    """Of the weeks judged, those before one as far back as memory goes, oldest first."""
    earlier = sorted(name for name in judged if name < before)
    return earlier[-int(MEMORY_WEEKS.value) :]


@dataclass
class History:
    """Earlier answers by pump, kind and (for settings) cause; weeks are added oldest first."""

    answers: dict[tuple[str, Kind], list[tuple[str, Status]]] = field(default_factory=dict)
    findings: dict[tuple[str, Kind, str, str], Finding] = field(default_factory=dict)

    def add(self, findings: Iterable[Finding], assessments: Iterable[Assessment]) -> None:
        """Remember one week's judgement."""
        for answer in assessments:
            key = (answer.pump_id, answer.kind)
            self.answers.setdefault(key, []).append((answer.week, answer.status))
        for finding in findings:
            cause = _cause_key(finding.kind, finding.cause)
            self.findings[(finding.pump_id, finding.kind, cause, finding.week)] = finding

    def at(self, pump_id: str, kind: Kind, week: str) -> Finding | None:
        """Finding of a pump in a week; of no setting, of which a pump has several."""
        return self.findings.get((pump_id, kind, "", week))

    def of(
        self, pump_id: str, judged: Judged, records: Mapping[str, PumpWeek] | None = None
    ) -> list[Past]:
        """Earlier weeks of the same pump, kind and (for settings) cause, oldest first.

        ``records`` are the pump's by week.
        """
        cause = _cause_key(judged.kind, judged.cause)
        past = []
        for week, status in self.answers.get((pump_id, judged.kind), []):
            finding = self.findings.get((pump_id, judged.kind, cause, week))
            if finding is None and status is Status.FOUND:
                status = Status.CLEAR  # another setting was found, this one was not
            record = None if records is None else records.get(week)
            past.append(Past(week=week, status=status, finding=finding, record=record))
        return past


def _cause_key(kind: Kind, cause: str) -> str:
    """Settings are remembered one by one; other kinds also when their cause is revised."""
    return cause if kind is Kind.SETTING else ""
