from datetime import date, datetime, timedelta
from typing import Any

import pytest

from analysis.fault_history import FaultHistory, Spell, week_no
from analysis.findings import Finding, Kind, Severity
from analysis.visit_report import VisitReport, visit_report
from analysis.visit_words import WORDS, cause_in
from ingest.installed_base import Register, Visit
from ingest.weeks import Week

WEEK = Week(2026, 47)
SUNDAY = date(2026, 11, 22)


def visit(days_ago: int, outcome: str, **change: Any) -> Visit:
    values = {
        "visited_on": SUNDAY - timedelta(days=days_ago),
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": "leak",
        "outcome": outcome,
    }
    return Visit(**(values | change))


def history(letters: str) -> FaultHistory:
    """One letter a week up to the last: f found, c clear."""
    last = week_no(str(WEEK))
    weeks = range(last - len(letters) + 1, last + 1)
    found = [week for week, letter in zip(weeks, letters, strict=True) if letter == "f"]
    return FaultHistory(
        pump_id="P-01",
        kind=Kind.LEAK,
        judged=tuple(weeks),
        spells=tuple(Spell(begins=week, ends=week) for week in found),
        causes=dict.fromkeys(found, "downstream"),
        events=len(found),
    )


def finding(weeks_ago: int, leak_lpm: float) -> Finding:
    return Finding(
        week=str(WEEK.plus(-weeks_ago)),
        site_id="S-01",
        pump_id="P-01",
        kind=Kind.LEAK,
        cause="downstream",
        severity=Severity.LOW,
        confidence=0.8,
        first_seen=datetime(2026, 11, 1),
        last_seen=datetime(2026, 11, 1),
        measures={"leak_lpm": leak_lpm},
        summary="",
        limit_source="",
        consequence=2,
        state="new",
    )


def report(*visits: Visit, letters: str = "", findings: tuple[Finding, ...] = (), weeks=None) -> VisitReport:  # fmt: skip  # noqa: E501
    histories = [history(letters)] if letters else []
    return visit_report(str(WEEK), Register(visits=visits), histories, findings, weeks)


def test_one_visit_does_not_make_a_kind_certain():
    (leak,) = report(visit(10, "confirmed")).precision

    assert (leak.n_right, leak.n_wrong) == (1, 0)
    assert leak.share == pytest.approx(5 / 6)  # 4 right and 1 wrong lent, by hand
    assert leak.low < leak.share < leak.high < 1.0


def test_adding_outcomes_moves_the_share_by_what_they_say():
    good = [visit(n, "fixed") for n in range(20, 40)]
    bad = [visit(n, "not_found") for n in range(20, 40)]

    before = report(*good).precision[0].share
    after = report(*good, *bad).precision[0].share

    assert before == pytest.approx(24 / 25)
    assert after == pytest.approx(24 / 45)


def test_the_kind_least_to_be_trusted_stands_first():
    visits = [visit(9, "not_found"), visit(9, "confirmed", kind="undervoltage")]

    assert [row.kind for row in report(*visits).precision] == [Kind.LEAK, Kind.UNDERVOLTAGE]


def test_a_second_visit_for_the_same_thing_is_a_repeat_call():
    visits = [
        visit(120, "fixed"),
        visit(100, "confirmed"),
        visit(95, "fixed", kind="undervoltage"),
    ]

    by_days = {row.days: row for row in report(*visits).repeat_calls}

    assert (by_days[30].n_repeated, by_days[30].n_fixed) == (1, 2)
    assert (by_days[90].n_repeated, by_days[90].n_fixed) == (1, 2)
    # Newcombe 1998, method 3: 1 of 2
    assert by_days[30].low == pytest.approx(0.0945, abs=5e-4)


def test_fixes_too_fresh_to_have_come_back_are_not_counted():
    by_days = {row.days: row for row in report(visit(40, "fixed")).repeat_calls}

    assert by_days[30].n_fixed == 1
    assert by_days[90].n_fixed == 0
    assert by_days[90].low is None


@pytest.mark.parametrize(
    ("days_ago", "letters", "state"),
    [
        (20, "ffccc", "holding"),  # fixed in the third week from the end
        (10, "ffcc", "watched"),  # not yet 14 days
        (20, "ffccf", "came back"),
        (4, "fffff", "no data since"),  # fixed within the last week
    ],
)
def test_a_fix_is_watched_then_holds_or_came_back(days_ago: int, letters: str, state: str):
    (fix,) = report(visit(days_ago, "fixed"), letters=letters).fixes

    assert fix.state == state


def test_a_fix_that_came_back_stands_beside_its_sizes():
    seen = (finding(4, 2.0), finding(3, 2.4), finding(0, 1.9))

    (fix,) = report(visit(20, "fixed"), letters="ffccf", findings=seen).fixes

    assert (fix.size_name, fix.before, fix.after) == ("leak_lpm", 2.4, 1.9)


def test_a_fix_that_holds_takes_its_size_from_the_weekly_record(case_factory):
    weeks = {"P-01": [case_factory.healthy_week(WEEK, quiet_leak_lpm_p50=0.1)]}

    (fix,) = report(
        visit(20, "fixed"), letters="ffccc", findings=(finding(3, 2.4),), weeks=weeks
    ).fixes

    assert (fix.before, fix.after) == (2.4, 0.1)


def test_a_visit_that_found_another_cause_is_listed():
    visits = [
        visit(7, "confirmed", found="Foot valve stuck open"),
        visit(14, "fixed", found="leaking pipe under the yard"),
        visit(21, "not_found"),
    ]
    seen = tuple(finding(n, 1.0) for n in range(5))

    others = report(*visits, findings=seen).other_causes

    assert [(o.our_cause, o.found_cause) for o in others] == [
        ("downstream", "check_valve"),
        ("downstream", ""),
    ]


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("tank_charge_lost", "tank_charge_lost"),
        ("Tank charge lost, refilled", "tank_charge_lost"),
        ("burst bladder", "tank_charge_lost"),
        ("check valve and a toilet", ""),  # two causes: nothing is guessed
        ("all fine", ""),
        ("", ""),
    ],
)
def test_words_name_a_cause_only_where_they_name_one(text: str, cause: str):
    assert cause_in(text) == cause


def test_every_word_belongs_to_one_cause_only():
    words = [word for names in WORDS.values() for word in names]

    assert len(words) == len(set(words))
