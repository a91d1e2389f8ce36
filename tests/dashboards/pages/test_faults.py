from collections.abc import Callable
from dataclasses import fields

import pytest

from analysis.fault_history import histories_of
from analysis.fault_report import FaultReport, fault_report
from analysis.findings import Assessment, Finding, Kind, Status
from analysis.recurrence_rates import Rate
from dashboards.pages.base import environment
from dashboards.pages.faults import FaultsPage, faults_page, render_faults
from dashboards.pages.faults_rates import RangeMark, rate_text
from dashboards.pages.faults_visits import visits_text
from ingest.installed_base import Pump, Register, Site, Visit
from ingest.weeks import Week, parse_week

HOSTILE = "<b>Model</b>"


@pytest.fixture
def result(
    make_finding: Callable[..., Finding], make_answers: Callable[..., list[Assessment]]
) -> FaultReport:
    """Cycling at 8 of 10 pumps of one model and at 1 of 20 of the other; no leak judged."""
    pumps = {
        f"P-{n:02d}": Pump(
            pump_id=f"P-{n:02d}", site_id="S-01", pump_model=HOSTILE if n < 10 else "Plain"
        )
        for n in range(30)
    }
    register = Register(sites={"S-01": Site(site_id="S-01")}, pumps=pumps)
    sick = [f"P-{n:02d}" for n in (*range(8), 15)]
    answers = [
        answer
        for pump_id in pumps
        for answer in make_answers(
            pump_id,
            "S-01",
            Status.CLEAR,
            leak=Status.NOT_ASSESSED,
            short_cycling=Status.FOUND if pump_id in sick else Status.CLEAR,
        )
    ]
    histories = histories_of([make_finding(pump_id=p) for p in sick], answers)
    return fault_report("2026-W47", histories, register)


def test_counts_stand_beside_the_pumps_observed(result: FaultReport):
    page = faults_page(result)

    cycling = page.kinds[0]
    assert cycling.kind == Kind.SHORT_CYCLING
    assert (cycling.rate.found, cycling.rate.per_100) == ("9 of 30 pumps", "30.0")
    assert cycling.causes == "tank charge lost (9)"


def test_a_kind_that_was_not_judged_has_no_rate(result: FaultReport):
    leak = next(line for line in faults_page(result).kinds if line.kind == Kind.LEAK)

    assert (leak.rate.found, leak.rate.per_100, leak.not_judged) == ("none observed", "-", "30")
    assert leak.note == "too few to say"


def test_a_group_that_stands_out_is_told_in_a_sentence(result: FaultReport):
    page = faults_page(result)

    assert page.standing_out[0] == (
        f"Short cycling: pump model {HOSTILE} goes together with more of it"
        " (8 of 10 pumps, 80 per 100 (35 to 100); 5 per 100 elsewhere;"
        " 2.7 times (1.2 to 5.3) the fleet's rate)."
    )


def test_nothing_is_said_to_be_caused_by_a_group(result: FaultReport):
    html = render_faults(Week(2026, 47), faults_page(result))

    assert "caused by" not in html
    assert "Goes together with" in html


def test_hostile_model_names_stay_text(result: FaultReport):
    html = render_faults(Week(2026, 47), faults_page(result))

    assert HOSTILE not in html
    assert "&lt;b&gt;Model&lt;/b&gt;" in html


def test_an_interval_is_drawn_on_a_scale_of_0_to_100():
    rate = Rate(
        n_found=5,
        n_observed=20,
        n_spells=5,
        pump_weeks=20,
        per_100=25.0,
        low_per_100=10.0,
        high_per_100=50.0,
        per_100_weeks=25.0,
        low_per_100_weeks=10.0,
        high_per_100_weeks=50.0,
        is_too_few=False,
    )

    mark = rate_text(rate).mark

    assert mark == RangeMark(low=14.0, middle=35.0, high=70.0)  # of a width of 140


@pytest.mark.parametrize(
    ("n_visits", "words"),
    [(19, "stated grounds: 19 of 20 visits to learn from"), (20, "20 visits: 0 there, 14 stated")],
)
def test_the_page_says_whether_confidence_comes_from_stated_grounds_or_from_visits(
    make_finding: Callable[..., Finding], n_visits: int, words: str
):
    found = [make_finding(pump_id=f"P-{n:02d}", confidence=0.7) for n in range(n_visits)]
    visits = tuple(
        Visit(
            visited_on=parse_week(each.week).monday,
            site_id=each.site_id,
            pump_id=each.pump_id,
            kind=str(each.kind),
            outcome="not_found",
        )
        for each in found
    )

    report = fault_report("2026-W47", (), Register(visits=visits), found)

    (line,) = visits_text(report.visits).precision
    assert line.confidence.startswith(words)


def test_every_field_of_the_page_is_shown():
    template = environment().loader.get_source(environment(), "faults.html")[0]

    for field in fields(FaultsPage):
        assert f"page.{field.name}" in template
