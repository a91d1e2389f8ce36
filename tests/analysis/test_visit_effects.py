from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from analysis.findings import SEVERITY_OF_CONSEQUENCE, Finding, Judged, Kind, Status
from analysis.memory import Past
from analysis.visit_effects import Weighed, standing, weighed
from ingest.installed_base import Pump, Register, Visit
from ingest.weeks import Week

WEEK = Week(2026, 47)  # Mon 16 Nov to Sun 22 Nov
PUMP = Pump(pump_id="P-01", site_id="S-01")


def finding(week: Week = WEEK, starts: float = 400.0, consequence: int = 3) -> Finding:
    return Finding(
        week=str(week),
        site_id="S-01",
        pump_id="P-01",
        kind=Kind.SHORT_CYCLING,
        cause="tank_charge_lost",
        severity=SEVERITY_OF_CONSEQUENCE[consequence],
        confidence=0.8,
        first_seen=datetime(2026, 11, 16),
        last_seen=datetime(2026, 11, 22),
        measures={"starts_per_day": starts},
        summary="",
        limit_source="",
        consequence=consequence,
        state="same",
    )


def judged(starts: float = 400.0) -> Judged:
    return Judged(
        kind=Kind.SHORT_CYCLING,
        cause="tank_charge_lost",
        consequence=3,
        confidence=0.8,
        since_at=datetime(2026, 11, 16),
        until_at=datetime(2026, 11, 22),
        measures={"starts_per_day": starts},
        summary="",
        limit_source="",
    )


def visit(outcome: str, weeks_ago: int = 2, **change: Any) -> Visit:
    values = {
        "visited_on": WEEK.plus(-weeks_ago).monday,
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": "short_cycling",
        "outcome": outcome,
    }
    return Visit(**(values | change))


def past(*weeks_ago: int, starts: float = 400.0) -> list[Past]:
    return [
        Past(str(WEEK.plus(-n)), Status.FOUND, finding(WEEK.plus(-n), starts))
        for n in sorted(weeks_ago, reverse=True)
    ]


def weigh(*visits: Visit, starts: float = 400.0, before: list[Past] | None = None) -> Weighed:
    known = past(3, 2, 1) if before is None else before
    return weighed(judged(starts), "same", PUMP, str(WEEK), visits, known)


def test_without_a_visit_nothing_changes():
    assert weigh() == Weighed(confidence=0.8, state="same", grounds=())


def test_what_was_not_found_is_less_sure_for_eight_weeks():
    assert weigh(visit("not_found", 8)).confidence == pytest.approx(0.48)
    assert weigh(visit("not_found", 9)).confidence == 0.8
    assert "Not found on a visit on 2 Nov 2026" in weigh(visit("not_found", 2)).grounds[0]


def test_what_has_grown_since_it_was_not_found_is_as_sure_as_before():
    assert weigh(visit("not_found"), starts=501.0).confidence == 0.8  # 25 % over 400 is 500
    assert weigh(visit("not_found"), starts=499.0).confidence < 0.8


def test_another_pump_or_kind_is_not_touched():
    assert weigh(visit("not_found", pump_id="P-02")).confidence == 0.8
    assert weigh(visit("not_found", kind="leak")).confidence == 0.8
    assert weigh(visit("not_found", pump_id=None)).confidence < 0.8  # all pumps of the site


def test_a_later_visit_outweighs_an_earlier_one():
    seen = weigh(visit("not_found", 3), visit("confirmed", 2))

    assert seen.confidence == 0.95
    assert seen.grounds == ("Confirmed on a visit on 2 Nov 2026",)


def test_a_fault_seen_again_after_its_fix_is_back():
    seen = weigh(visit("fixed", 2), before=past(3, 2))

    assert seen.state == "back"
    assert seen.grounds == ("Fixed on 2 Nov 2026; seen again 14 days later",)


def test_a_fault_is_back_only_in_the_first_week_it_is_seen_again():
    assert weigh(visit("fixed", 2), before=past(3, 1)).state == "same"


def test_a_visit_within_the_week_does_not_change_the_weeks_own_finding():
    assert weigh(visit("fixed", 0)).state == "same"


def part(*visits: Visit, of: Finding | None = None, history: list[Finding] | None = None):
    now = of or finding()
    known = [finding(WEEK.plus(-2))] if history is None else history
    return standing([now], Register(visits=visits), str(WEEK), known)


@pytest.mark.parametrize("outcome", ["accepted", "explained"])
def test_what_is_accepted_or_explained_rests_until_its_day(outcome: str):
    until = {"until_on": date(2026, 11, 16)}  # the Monday of the week still counts

    parted = part(visit(outcome, **until))

    assert parted.open == ()
    assert [m.visit.until_on for m in parted.muted] == [date(2026, 11, 16)]
    assert part(visit(outcome, until_on=date(2026, 11, 15))).muted == ()


def test_what_has_grown_by_a_quarter_is_open_again_and_says_so():
    parted = part(visit("accepted", until_on=date(2026, 12, 31)), of=finding(starts=501.0))

    assert parted.muted == ()
    assert parted.notes == {"S-01": ("accepted until 31 Dec 2026, but has grown",)}


def test_no_water_fire_or_burst_never_rests():
    emergency = finding(consequence=5)

    parted = part(visit("explained", until_on=date(2026, 12, 31)), of=emergency)

    assert parted.open == (emergency,)


def test_what_does_more_harm_than_when_it_was_accepted_is_open_again():
    parted = part(visit("accepted", until_on=date(2026, 12, 31)), of=finding(consequence=4))

    assert parted.muted == ()


def test_a_plan_or_a_word_to_the_customer_mutes_nothing_and_is_told():
    parted = part(
        visit("planned", until_on=date(2026, 12, 3)), visit("told", until_on=date(2026, 11, 30))
    )

    assert len(parted.open) == 1
    assert parted.notes["S-01"] == (
        "visit planned, until 3 Dec 2026",
        "customer told on 2 Nov 2026, until 30 Nov 2026",
    )


def test_an_agreement_without_an_end_changes_nothing():
    assert part(visit("accepted")).muted == ()


def test_a_visit_to_come_mutes_nothing_yet():
    later = replace(visit("accepted"), visited_on=date(2026, 11, 23), until_on=date(2026, 12, 31))

    assert part(later).muted == ()
