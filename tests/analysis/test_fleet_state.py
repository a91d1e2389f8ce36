import pytest

from analysis.findings import Assessment, Kind, Status
from analysis.fleet_state import PumpState, fleet_state
from ingest.installed_base import Pump, Register, Site


def register_of(*pump_ids: str) -> Register:
    return Register(
        sites={f"S-{p}": Site(site_id=f"S-{p}") for p in pump_ids},
        pumps={p: Pump(pump_id=p, site_id=f"S-{p}") for p in pump_ids},
    )


def answers(pump_id: str, default: Status, **by_kind: Status) -> list[Assessment]:
    return [
        Assessment(
            week="2026-W47",
            site_id=f"S-{pump_id}",
            pump_id=pump_id,
            kind=kind,
            status=by_kind.get(kind, default),
            reason=f"why {kind}",
        )
        for kind in Kind
    ]


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (answers("A", Status.CLEAR), PumpState.QUIET),
        (answers("A", Status.CLEAR, leak=Status.NOT_ASSESSED), PumpState.QUIET_IN_PART),
        (answers("A", Status.CLEAR, hunting=Status.NOT_ASSESSED), PumpState.QUIET),
        (answers("A", Status.CLEAR, leak=Status.FOUND), PumpState.WITH_FINDINGS),
        (answers("A", Status.NOT_ASSESSED, data_gap=Status.CLEAR), PumpState.NOT_ASSESSED),
        (answers("A", Status.SHUT_DOWN, setting=Status.CLEAR), PumpState.SHUT_DOWN),
        (answers("A", Status.NO_DATA, data_gap=Status.FOUND), PumpState.NOT_HEARD),
        (answers("A", Status.NO_DATA, setting=Status.FOUND), PumpState.NOT_HEARD),
        ([], PumpState.NOT_HEARD),
    ],
)
def test_a_pump_stands_in_one_group(given: list[Assessment], expected: PumpState):
    state = fleet_state(given, register_of("A"))

    assert state.states == {"A": expected}


def test_quiet_and_not_heard_from_are_counted_apart_and_add_up():
    given = [
        *answers("A", Status.CLEAR),
        *answers("B", Status.NO_DATA),
        *answers("C", Status.CLEAR, leak=Status.FOUND),
        *answers("D", Status.SHUT_DOWN),
    ]

    state = fleet_state(given, register_of("A", "B", "C", "D", "E"))

    assert sum(state.count(each) for each in PumpState) == state.n_pumps == 5
    assert state.n_heard == 3
    assert state.pumps(PumpState.NOT_HEARD) == ("B", "E")
    assert (state.n_sites_quiet, state.n_sites_not_heard, state.n_sites_with_findings) == (1, 2, 1)
    assert state.n_sites_mixed == 1


def test_a_pump_not_heard_from_says_why():
    state = fleet_state(answers("A", Status.NO_DATA), register_of("A", "B"))

    assert state.reasons["A"] == "why short_cycling"
    assert state.reasons["B"] == "no assessment this week"


def test_pumps_not_assessed_for_one_reason_stand_together():
    given = [
        *answers("A", Status.CLEAR, leak=Status.NOT_ASSESSED),
        *answers("B", Status.CLEAR, leak=Status.NOT_ASSESSED, undervoltage=Status.NOT_ASSESSED),
    ]

    state = fleet_state(given, register_of("A", "B"))

    assert [(group.kind, group.pump_ids) for group in state.not_assessed] == [
        (Kind.UNDERVOLTAGE, ("B",)),
        (Kind.LEAK, ("A", "B")),
    ]
