"""What is known of the whole fleet this week: heard from or not, quiet or merely not judged.

Every pump of the register stands in exactly one group, so the groups add up to the fleet and a
quiet pump can never be mistaken for one that was not heard from.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.findings import Assessment, Kind, Status
from ingest.installed_base import Register

NEED_A_BETTER_LOG = (Kind.HUNTING, Kind.OVERHEATING, Kind.DRY_RUNNING)
"""Kinds that a usual log cannot clear: they take a sample every 2 or 10 s, or a temperature.

A pump is quiet in full without them, else no pump of a slow log ever were; what could not be
judged is listed by kind all the same.
"""


class PumpState(StrEnum):
    """The one group a pump stands in."""

    NOT_HEARD = "not heard from"
    SHUT_DOWN = "shut down"
    WITH_FINDINGS = "with findings"
    NOT_ASSESSED = "not assessed"
    QUIET_IN_PART = "quiet, assessed in part"
    QUIET = "quiet, assessed in full"


@dataclass(frozen=True, kw_only=True)
class NotAssessedGroup:
    """Pumps of which one kind could not be judged for one reason."""

    kind: Kind
    reason: str
    pump_ids: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FleetState:
    """The fleet's week, pump by pump and counted.

    Attributes
    ----------
    states : dict
        State of each registered pump, by pump id.
    reasons : dict
        Why a pump was not heard from or is taken as shut down, by pump id.
    not_assessed : tuple of NotAssessedGroup
        By kind, the reason that concerns most pumps first.
    n_sites, n_sites_with_findings, n_sites_quiet, n_sites_not_heard : int
        Sites that have pumps; quiet and not heard from are those all of whose pumps are.
    """

    states: dict[str, PumpState]
    reasons: dict[str, str]
    not_assessed: tuple[NotAssessedGroup, ...]
    n_sites: int
    n_sites_with_findings: int
    n_sites_quiet: int
    n_sites_not_heard: int

    @property
    def n_pumps(self) -> int:
        """Pumps in the register."""
        return len(self.states)

    @property
    def n_sites_mixed(self) -> int:
        """Sites with pumps of several states, or with nothing to judge."""
        counted = self.n_sites_with_findings + self.n_sites_quiet + self.n_sites_not_heard
        return self.n_sites - counted

    @property
    def n_heard(self) -> int:
        """Pumps whose log reached us, at rest and shut down included."""
        return self.n_pumps - self.count(PumpState.NOT_HEARD)

    def count(self, state: PumpState) -> int:
        """Pumps in one state."""
        return sum(1 for each in self.states.values() if each == state)

    def pumps(self, state: PumpState) -> tuple[str, ...]:
        """Pumps in one state, in order of their id."""
        return tuple(sorted(p for p, each in self.states.items() if each == state))


def fleet_state(assessments: Iterable[Assessment], register: Register) -> FleetState:
    """Sort every registered pump into one state from its answers of the week."""
    by_pump: dict[str, list[Assessment]] = {pump_id: [] for pump_id in register.pumps}
    for answer in assessments:
        if answer.pump_id in by_pump:
            by_pump[answer.pump_id].append(answer)
    states = {pump_id: _pump_state(answers) for pump_id, answers in by_pump.items()}
    site_states = [
        [states[pump.pump_id] for pump in register.pumps_at(site_id)] for site_id in register.sites
    ]
    return FleetState(
        states=states,
        reasons={pump_id: _reason(answers) for pump_id, answers in by_pump.items()},
        not_assessed=_not_assessed(by_pump),
        n_sites=len(site_states),
        n_sites_with_findings=sum(PumpState.WITH_FINDINGS in each for each in site_states),
        n_sites_quiet=sum(_is_quiet_site(each) for each in site_states),
        n_sites_not_heard=sum(_is_unheard_site(each) for each in site_states),
    )


def _pump_state(answers: Sequence[Assessment]) -> PumpState:
    """Judge by the kinds read from the log; a gap or a setting is found without any sample."""
    from_log = [a.status for a in answers if a.kind not in (Kind.DATA_GAP, Kind.SETTING)]
    if not from_log or all(status == Status.NO_DATA for status in from_log):
        return PumpState.NOT_HEARD
    if all(status == Status.SHUT_DOWN for status in from_log):
        return PumpState.SHUT_DOWN
    statuses = {a.status for a in answers}
    if Status.FOUND in statuses:
        return PumpState.WITH_FINDINGS
    if Status.CLEAR not in from_log:
        return PumpState.NOT_ASSESSED
    usual = {a.status for a in answers if a.kind not in NEED_A_BETTER_LOG}
    return PumpState.QUIET if usual == {Status.CLEAR} else PumpState.QUIET_IN_PART


def _reason(answers: Sequence[Assessment]) -> str:
    """Return the first reason given for no data or a shut-down."""
    wanted = (Status.NO_DATA, Status.SHUT_DOWN)
    if not answers:
        return "no assessment this week"
    return next((a.reason for a in answers if a.status in wanted and a.reason), "")


def _not_assessed(by_pump: dict[str, list[Assessment]]) -> tuple[NotAssessedGroup, ...]:
    pumps_by_reason: dict[tuple[Kind, str], set[str]] = {}
    for pump_id, answers in by_pump.items():
        for answer in answers:
            if answer.status == Status.NOT_ASSESSED:
                key = (answer.kind, answer.reason)
                pumps_by_reason.setdefault(key, set()).add(pump_id)
    order = {kind: n for n, kind in enumerate(Kind)}
    ranked = sorted(
        pumps_by_reason.items(), key=lambda item: (order[item[0][0]], -len(item[1]), item[0][1])
    )
    return tuple(
        NotAssessedGroup(kind=kind, reason=reason, pump_ids=tuple(sorted(pump_ids)))
        for (kind, reason), pump_ids in ranked
    )


def _is_quiet_site(states: Sequence[PumpState]) -> bool:
    """All its pumps were heard from and judged, and none has a finding."""
    return all(state in (PumpState.QUIET, PumpState.QUIET_IN_PART) for state in states)


def _is_unheard_site(states: Sequence[PumpState]) -> bool:
    return all(state == PumpState.NOT_HEARD for state in states)
