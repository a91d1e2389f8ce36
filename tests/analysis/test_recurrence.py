from datetime import datetime

import pytest

from analysis.fault_history import histories_of
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.recurrence import Recurrence, recurrence
from analysis.recurrence_groups import GroupRate
from ingest.installed_base import Pump, Register, Site

WEEK = "2026-W47"


def fleet(n_by_model: dict[str | None, int], region: str | None = "North") -> Register:
    pumps = {
        f"{model}-{n:02d}": Pump(pump_id=f"{model}-{n:02d}", site_id="S-01", pump_model=model)
        for model, count in n_by_model.items()
        for n in range(count)
    }
    return Register(sites={"S-01": Site(site_id="S-01", region=region)}, pumps=pumps)


def judge(
    register: Register, found: set[str], not_judged: frozenset[str] = frozenset()
) -> Recurrence:
    """Cycling found at ``found``, not assessed at ``not_judged``, clear at all others."""
    findings = [
        Finding(
            week=WEEK,
            site_id="S-01",
            pump_id=pump_id,
            kind=Kind.SHORT_CYCLING,
            cause="tank_charge_lost",
            severity=Severity.MEDIUM,
            confidence=0.8,
            first_seen=datetime(2026, 11, 17),
            last_seen=datetime(2026, 11, 22),
            measures={},
            summary="",
            limit_source="",
            consequence=3,
            state="new",
        )
        for pump_id in found
    ]
    assessments = [
        Assessment(
            week=WEEK,
            site_id="S-01",
            pump_id=pump_id,
            kind=Kind.SHORT_CYCLING,
            status=Status.FOUND
            if pump_id in found
            else Status.NOT_ASSESSED
            if pump_id in not_judged
            else Status.CLEAR,
        )
        for pump_id in register.pumps
    ]
    return recurrence(WEEK, histories_of(findings, assessments), register)


def by_model(result: Recurrence) -> dict[str, GroupRate]:
    return {each.group: each for each in result.groups if each.grouping == "pump_model"}


def test_a_rate_is_per_100_pumps_observed_with_its_exact_poisson_limits():
    register = fleet({"A": 50})

    result = judge(register, {f"A-{n:02d}" for n in range(5)})

    cycling = result.kinds[0]
    assert cycling.kind == Kind.SHORT_CYCLING
    assert (cycling.rate.n_found, cycling.rate.n_observed) == (5, 50)
    assert cycling.rate.per_100 == pytest.approx(10.0)
    # Garwood 1936: a count of 5 has the limits 1.62 and 11.67 (to 0.01; table read from memory)
    assert cycling.rate.low_per_100 == pytest.approx(1.62 * 2, abs=0.01)
    assert cycling.rate.high_per_100 == pytest.approx(11.67 * 2, abs=0.01)
    assert cycling.causes == (("tank_charge_lost", 5),)


def test_no_more_than_100_of_100_pumps_can_have_a_finding():
    register = fleet({"A": 4})

    rate = judge(register, {"A-00", "A-01"}).kinds[0].rate

    assert rate.high_per_100 == 100.0  # Poisson alone would say 181


def test_a_pump_that_was_not_judged_is_not_counted_as_observed():
    register = fleet({"A": 20})

    result = judge(register, {"A-00"}, frozenset({"A-01", "A-02"}))

    assert result.kinds[0].rate.n_observed == 18
    assert result.kinds[0].n_not_judged == 2


def test_a_kind_nobody_was_judged_for_has_no_rate():
    result = judge(fleet({"A": 20}), set())

    leak = next(each for each in result.kinds if each.kind == Kind.LEAK)
    assert leak.rate.n_observed == 0
    assert leak.rate.per_100 is None
    assert leak.rate.is_too_few


@pytest.mark.parametrize(
    ("n_pumps", "n_found"),
    [(4, 4), (40, 2)],
    ids=["four pumps", "two findings"],
)
def test_few_pumps_or_few_findings_are_too_few_to_say(n_pumps: int, n_found: int):
    register = fleet({"A": n_pumps, "B": 100})

    result = judge(register, {f"A-{n:02d}" for n in range(n_found)})

    assert by_model(result)["A"].verdict == "too few to say"


def test_a_group_clearly_above_the_rest_goes_together_with_more():
    register = fleet({"A": 20, "B": 100})

    result = judge(register, {f"A-{n:02d}" for n in range(10)} | {"B-01", "B-02", "B-03"})

    groups = by_model(result)
    assert groups["A"].verdict == "goes together with more of it"
    assert groups["B"].verdict == "goes together with less of it"
    assert (groups["A"].rest.n_found, groups["A"].rest.n_observed) == (3, 100)


@pytest.mark.parametrize(
    ("n_found", "chance", "verdict"),
    [
        (5, 2 * 0.5**5, "no clear difference"),
        (6, 2 * 0.5**6, "goes together with more of it"),
    ],
)
def test_all_findings_in_one_of_two_equal_groups_is_tossing_heads_each_time(
    n_found: int, chance: float, verdict: str
):
    result = judge(fleet({"A": 40, "B": 40}), {f"A-{n:02d}" for n in range(n_found)})

    group = by_model(result)["A"]
    assert group.chance == pytest.approx(chance)  # by hand: heads or tails each time
    assert group.verdict == verdict


def test_a_large_count_from_a_large_group_is_no_difference():
    register = fleet({"A": 100, "B": 20})

    result = judge(register, {f"A-{n:02d}" for n in range(10)} | {"B-01", "B-02"})

    assert by_model(result)["A"].verdict == "no clear difference"


def test_a_group_that_is_the_whole_fleet_has_nothing_to_be_compared_with():
    result = judge(fleet({"A": 50}), {f"A-{n:02d}" for n in range(5)})

    assert by_model(result)["A"].verdict == "too few to say"


def test_blanks_are_a_group_of_their_own_and_no_group_where_all_are_blank():
    register = fleet({"A": 20, None: 20}, region=None)

    result = judge(register, {"A-00", "None-00"})

    assert set(by_model(result)) == {"A", "not in the register"}
    assert [each for each in result.groups if each.grouping == "region"] == []


def test_the_result_does_not_depend_on_the_order_of_the_findings():
    register = fleet({"A": 20, "B": 20, "C": 20})
    found = {"A-00", "B-00", "B-01", "C-03"}

    result = judge(register, found)

    assert [each.group for each in result.groups if each.grouping == "pump_model"] == [
        "B",
        "A",
        "C",
    ]
