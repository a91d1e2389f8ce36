from collections.abc import Callable
from dataclasses import fields

import pytest

from analysis.findings import Assessment, Finding, Kind, Status
from analysis.recurrence import Rate, Recurrence, recurrence
from dashboards.pages.base import environment
from dashboards.pages.faults import FaultsPage, RangeMark, faults_page, rate_text, render_faults
from ingest.installed_base import Pump, Register, Site
from ingest.weeks import Week

HOSTILE = "<b>Model</b>"


@pytest.fixture
def result(
    make_finding: Callable[..., Finding], make_answers: Callable[..., list[Assessment]]
) -> Recurrence:
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
    return recurrence("2026-W47", [make_finding(pump_id=p) for p in sick], answers, register)


def test_counts_stand_beside_the_pumps_observed(result: Recurrence):
    page = faults_page(result)

    cycling = page.kinds[0]
    assert cycling.kind == Kind.SHORT_CYCLING
    assert (cycling.rate.found, cycling.rate.per_100) == ("9 of 30 pumps", "30.0")
    assert cycling.causes == "tank charge lost 9"


def test_a_kind_that_was_not_judged_has_no_rate(result: Recurrence):
    leak = next(line for line in faults_page(result).kinds if line.kind == Kind.LEAK)

    assert (leak.rate.found, leak.rate.per_100, leak.not_judged) == ("none observed", "-", "30")
    assert leak.note == "too few to say"


def test_a_group_that_stands_out_is_told_in_a_sentence(result: Recurrence):
    page = faults_page(result)

    assert page.standing_out[0] == (
        f"Short cycling: pump model {HOSTILE} goes together with more of it"
        " (80 per 100 pumps observed there, 5 elsewhere)."
    )


def test_nothing_is_said_to_be_caused_by_a_group(result: Recurrence):
    html = render_faults(Week(2026, 47), faults_page(result))

    assert "caused by" not in html
    assert "Goes together with" in html


def test_hostile_model_names_stay_text(result: Recurrence):
    html = render_faults(Week(2026, 47), faults_page(result))

    assert HOSTILE not in html
    assert "&lt;b&gt;Model&lt;/b&gt;" in html


def test_an_interval_is_drawn_on_a_scale_of_0_to_100():
    rate = Rate(
        n_found=5,
        n_observed=20,
        n_findings=5,
        per_100=25.0,
        low_per_100=10.0,
        high_per_100=50.0,
        is_too_few=False,
    )

    mark = rate_text(rate).mark

    assert mark == RangeMark(low=14.0, middle=35.0, high=70.0)  # of a width of 140


def test_every_field_of_the_page_is_shown():
    template = environment().loader.get_source(environment(), "faults.html")[0]

    for field in fields(FaultsPage):
        assert f"page.{field.name}" in template
