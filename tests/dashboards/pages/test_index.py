import re
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import date

import pytest
from jinja2 import UndefinedError

from analysis.calls import departed, rank_calls, utility_calls
from analysis.findings import Assessment, Finding, Kind, Status
from analysis.fleet_state import fleet_state
from analysis.visit_effects import Muted
from dashboards.pages.base import environment, page_frame, render, week_span
from dashboards.pages.index import IndexPage, index_page, render_index
from ingest.installed_base import Register, Visit
from ingest.weeks import Week

WEEK = Week(2026, 47)


@pytest.fixture
def answers(make_answers: Callable[..., list[Assessment]]) -> list[Assessment]:
    return [
        *make_answers("P-01", "S-01", Status.CLEAR, short_cycling=Status.FOUND),
        *make_answers("P-02", "S-02", Status.CLEAR, leak=Status.NOT_ASSESSED),
        *make_answers("P-03", "S-03", Status.NO_DATA),
        *make_answers("P-04", "S-04", Status.SHUT_DOWN),
    ]


@pytest.fixture
def make_page(register: Register, answers: list[Assessment]) -> Callable[..., IndexPage]:
    def make(*findings: Finding, capacity: int | None = None, gone: tuple = ()) -> IndexPage:
        return index_page(
            rank_calls(findings, register, capacity=capacity),
            fleet_state(answers, register),
            register,
            capacity=capacity,
            utility=utility_calls(findings, register),
            gone=gone,
        )

    return make


def test_the_fleet_sentence_keeps_quiet_and_not_heard_from_apart(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    page = make_page(make_finding())

    assert page.sentence == "4 pumps in the register; heard from 3, not heard from 1."
    assert page.sites_sentence == (
        "Of 4 sites: 1 with findings, 1 quiet, 1 not heard from,"
        " 1 shut down, not assessed or heard from in part."
    )
    assert sum(tally.count for tally in page.tallies) == 4
    assert {tally.name: tally.count for tally in page.tallies if tally.is_missing} == {
        "not heard from": 1
    }


def test_a_row_says_who_where_what_since_when_how_sure_and_what_to_do(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    html = render_index(WEEK, make_page(make_finding()))

    row = html[html.index('<li class="call"') :]
    for told in (
        "Upper Meadow Farm",
        "North",
        "pump P-01",
        "Pump 1 started 910 times a day (was 60).",
        "since Mon 16 Nov",  # local day of 17 Nov 04:30 UTC
        "new this week",
        "medium",
        "(0.80)",
        "this week",
        'href="site/S-01.html"',
    ):
        assert told in row


def test_hostile_names_stay_text(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    html = render_index(
        WEEK, make_page(make_finding(site_id="S-02", pump_id="P-02", summary="<img src=x>"))
    )

    assert "<script>alert" not in html
    assert "<img" not in html
    assert "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &#34;Sons&#34;" in html


def test_customers_are_not_named(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    html = render_index(WEEK, make_page(make_finding()))

    assert "A. Customer" not in html


def test_silent_shut_down_and_not_assessed_pumps_are_listed_with_their_reason(
    make_page: Callable[..., IndexPage],
):
    page = make_page()

    assert [(line.pump_id, line.reason) for line in page.not_heard] == [
        ("P-03", "why short_cycling of P-03")
    ]
    assert [line.pump_id for line in page.shut_down] == ["P-04"]
    assert [(line.kind, line.reason, line.pumps) for line in page.not_assessed] == [
        ("Leak", "why leak of P-02", "P-02")
    ]


def test_a_week_without_findings_says_so_and_not_that_all_is_well(
    make_page: Callable[..., IndexPage],
):
    html = render_index(WEEK, make_page())

    assert "No findings this week at the pumps that could be judged." in html


def test_visits_past_the_capacity_wait_below_the_list(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    page = make_page(make_finding(4), make_finding(3, site_id="S-02", pump_id="P-02"), capacity=1)

    assert [row.site_id for row in page.rows] == ["S-01"]
    assert [row.site_id for row in page.beyond] == ["S-02"]
    assert "this week has room for 1 visit, so 1 wait" in page.capacity
    assert page.cut == "This week's room ends here: 1 visit. 1 visit below wait."


def test_the_cut_stands_between_what_fits_and_what_waits(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    page = make_page(make_finding(4), make_finding(3, site_id="S-02", pump_id="P-02"), capacity=1)

    html = render_index(WEEK, page)

    order = [html.index(told) for told in ('href="site/S-01', 'id="cut"', 'href="site/S-02')]
    assert order == sorted(order)
    assert html.count("waits for room") == 1


def test_an_uncut_list_shows_no_cut(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    assert 'id="cut"' not in render_index(WEEK, make_page(make_finding()))


def test_what_was_there_when_the_log_began_is_said_so(
    register: Register, answers: list[Assessment], make_finding: Callable[..., Finding]
):
    found = make_finding()

    page = index_page(
        rank_calls([found], register),
        fleet_state(answers, register),
        register,
        capacity=None,
        log_begins={"P-01": found.first_seen},
    )

    assert page.rows[0].since == "the log begins (Mon 16 Nov)"


def test_filters_offer_only_what_the_list_holds(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    page = make_page(make_finding(), make_finding(kind=Kind.LEAK, cause="", state="same"))

    assert [choice.value for choice in page.regions] == ["North"]
    assert [choice.text for choice in page.kinds] == ["Short cycling", "Leak"]
    assert [choice.value for choice in page.states] == ["new"]


def test_what_departed_is_shown_as_cleared_or_as_not_seen(
    make_page: Callable[..., IndexPage],
    make_finding: Callable[..., Finding],
    answers: list[Assessment],
):
    last_week = [
        make_finding(pump_id="P-02", site_id="S-02"),
        make_finding(pump_id="P-03", site_id="S-03"),
    ]

    page = make_page(gone=departed([], last_week, answers))

    assert [line.pump_id for line in page.cleared] == ["P-02"]
    assert page.changes == (
        "Since last week: no site with findings; 1 finding of last week not found again."
    )
    assert [(line.pump_id, line.note) for line in page.unseen] == [
        ("P-03", "no data: why short_cycling of P-03")
    ]


def test_what_rests_is_always_counted_and_named_with_its_last_day(
    register: Register, answers: list[Assessment], make_finding: Callable[..., Finding]
):
    accepted = Visit(
        visited_on=date(2026, 11, 2),
        site_id="S-01",
        pump_id="P-01",
        kind="short_cycling",
        outcome="accepted",
        found="known to the owner",
        until_on=date(2026, 12, 1),
    )

    def page(*muted: Muted) -> IndexPage:
        return index_page((), fleet_state(answers, register), register, capacity=None, muted=muted)

    one = page(Muted(finding=make_finding(), visit=accepted))

    assert page().muted_count == "0 findings muted."
    assert one.muted_count == "1 finding muted."
    assert [line.note for line in one.muted] == ["accepted (known to the owner) until 2026-12-01"]
    assert one.muted_count in render_index(WEEK, one)


def test_what_changed_since_last_week_is_counted(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    page = make_page(
        make_finding(state="back"), make_finding(site_id="S-02", pump_id="P-02", state="worse")
    )

    assert page.changes == (
        "Since last week: 1 worse, 1 back; 0 findings of last week not found again."
    )


def test_a_call_to_the_utility_names_its_sites(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding], register: Register
):
    register.sites["S-03"] = replace(register.sites["S-03"], region="North")
    low = [
        make_finding(
            site_id=f"S-0{n}", pump_id=f"P-0{n}", kind=Kind.UNDERVOLTAGE, cause="supply_source"
        )
        for n in (1, 2, 3)
    ]

    assert [line.region for line in make_page(*low).utility] == ["North"]
    assert make_page(*low[:2]).utility == ()  # two sites may be chance
    assert [row.utility for row in make_page(*low, make_finding(5)).rows] == ["", "North", "North"]


def test_the_small_drawing_stays_within_its_frame_and_is_told_in_words(
    register: Register, make_finding: Callable[..., Finding], answers: list[Assessment]
):
    found = make_finding(5, confidence=1.0, state="back")
    calls = rank_calls([found], register, past=[None, [], [found]])

    page = index_page(calls, fleet_state(answers, register), register, capacity=None)

    spark = page.rows[0].spark
    assert spark.text == "Score by week, this week last: not scanned, 0.0, 7.5, 7.5"
    assert len(spark.bars) == 3
    assert all(
        x + width <= 72 and y >= 0 and y + height <= 20 for x, y, width, height in spark.bars
    )


def test_a_page_refers_only_to_files_beside_it(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    html = render_index(WEEK, make_page(make_finding()))

    links = re.findall(r'(?:src|href)="([^"]*)"', html)
    assert links
    assert not [link for link in links if "//" in link or link.startswith("/")]


def test_the_same_week_gives_the_same_bytes(
    make_page: Callable[..., IndexPage], make_finding: Callable[..., Finding]
):
    found = [make_finding(), make_finding(kind=Kind.LEAK), make_finding(5, site_id="S-02")]

    assert render_index(WEEK, make_page(*found)) == render_index(WEEK, make_page(*found[::-1]))


def test_a_template_that_asks_for_a_missing_field_is_an_error():
    template = environment().from_string("{{ page.no_such_field }}")

    with pytest.raises(UndefinedError):
        template.render(page=IndexPage)


def test_every_field_of_the_page_is_shown(
    make_page: Callable[..., IndexPage],
):
    template = environment().loader.get_source(environment(), "index.html")[0]

    for field in fields(IndexPage):
        assert f"page.{field.name}" in template


@pytest.mark.parametrize(
    ("week", "span"),
    [
        (Week(2026, 47), "Mon 16 Nov to Sun 22 Nov 2026"),
        (Week(2026, 53), "Mon 28 Dec 2026 to Sun 3 Jan 2027"),
    ],
)
def test_the_week_is_said_with_its_days(week: Week, span: str):
    assert week_span(week) == span


def test_every_page_says_its_week_and_whose_time_it_is():
    html = render("base.html", page_frame("Title", WEEK, "calls"), None)

    assert "2026-W47" in html
    assert "Mon 16 Nov to Sun 22 Nov 2026" in html
    assert "in each site's own time zone" in html
