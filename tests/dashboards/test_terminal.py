import io
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime

import pytest
from rich.console import Console

from analysis.advice import STANDING
from analysis.brief_contents import Brief, FindingBrief, PumpBrief
from analysis.brief_facts import Fact, NormalValue
from analysis.brief_visits import VisitLine
from analysis.call_rules import Action
from analysis.fault_history import histories_of
from analysis.fault_report import fault_report
from analysis.findings import Assessment, Finding, Kind, Status
from dashboards.terminal import print_brief, print_faults
from ingest.installed_base import Register
from ingest.weeks import Week

WEEK = Week(2026, 47)


@pytest.fixture
def brief(register: Register, make_finding: Callable[..., Finding]) -> Brief:
    found = FindingBrief(
        finding=make_finding(4),
        action=Action.THIS_WEEK,
        sure_from="from 24 visits about this kind, stated grounds 0.60",
        since="Mon 16 Nov (6 days)",
        alternatives=("a tank too small for its use",),
        also=("leak",),
        checks=("drain to zero, read the pre-charge", "tap the tank", "refill", "watch starts"),
        parts=("valve core",),
        loss="Loses about 4 kWh a week.",
        no_loss="",
    )
    pump = PumpBrief(
        pump=register.pumps["P-01"],
        week=None,
        past=(),
        days=(),
        op_map=(),
        nameplate=(Fact("Motor", "1.5 hp"), Fact("Rated amps", None)),
        settings=(),
        normal=(
            NormalValue("Idle volts", "238 V", "236 to 241 V"),
            NormalValue("Flow", None, None),
        ),
        habits=(Fact("Known demand", "draws 02:05-03:10 every 4th night: looks like a softener"),),
        quality=(Fact("Log interval", "5 s"),),
        cannot_tell=("what happens between two samples",),
        not_assessed=(
            Assessment(
                week="2026-W47",
                site_id="S-01",
                pump_id="P-01",
                kind=Kind.LEAK,
                status=Status.NOT_ASSESSED,
                reason="no tank_l in the register",
            ),
        ),
        clear=(Kind.UNDERVOLTAGE,),
        last_at=datetime(2026, 11, 22),
    )
    return Brief(
        site=register.sites["S-02"],
        week=WEEK,
        from_at=datetime(2026, 11, 16, 5),
        to_at=datetime(2026, 11, 23, 5),
        standing=Status.FOUND,
        headline="Pump 1 started 910 times a day (was 60).",
        also_know=("Pump P-09 was not heard from.",),
        findings=(found,),
        bring=("valve core",),
        always_bring=(),
        cautions=(STANDING,),
        pumps=(pump,),
        visits=(
            VisitLine(
                visited_on=date(2026, 10, 2),
                pump_id="P-01",
                kind="short_cycling",
                outcome="fixed",
                found="valve core leaking",
                done="core changed",
                since_then="came back",
                sizes="Starts a day: 910 before, 640 now.",
            ),
        ),
        fixes=(),
    )


def printed(show: Callable[[Console], None], width: int = 80) -> str:
    to = Console(file=io.StringIO(), width=width, highlight=False)
    show(to)
    assert isinstance(to.file, io.StringIO)
    return to.file.getvalue()


def test_the_brief_says_what_how_sure_since_when_and_what_first(brief: Brief):
    text = printed(lambda to: print_brief(brief, to))

    for told in (
        "Pump 1 started 910 times a day (was 60).",
        "Pump P-09 was not heard from.",
        "Short cycling: tank charge lost",
        "Severity high",
        "(0.80), from 24 visits about this kind",
        "since Mon 16 Nov (6 days)",
        "Or: a tank too small for its use",
        "Check 1: drain to zero, read the pre-charge",
        "Check 3: refill",
        "Loses about 4 kWh a week.",
        "- valve core",
        STANDING.title,
        "Idle volts",
        "236 to 241 V",
        "Leak not assessed: no tank_l in the register",
        "Clear: Undervoltage",
        "2026-10-02: P-01; short_cycling; fixed; valve core leaking; core changed.",
        "Starts a day: 910",
        "times in America/New_York",
    ):
        assert told in text
    assert "Check 4" not in text


def test_a_register_blank_is_a_line_to_fill_in(brief: Brief):
    text = printed(lambda to: print_brief(brief, to))

    line = next(line for line in text.splitlines() if "Rated amps" in line)
    assert "____" in line


def test_brief_and_faults_keep_within_80_columns_and_plain_when_piped(
    brief: Brief,
    register: Register,
    make_finding: Callable[..., Finding],
    make_answers: Callable[..., list[Assessment]],
):
    answers = [
        answer
        for n in range(1, 5)
        for answer in make_answers(f"P-0{n}", f"S-0{n}", Status.CLEAR, short_cycling=Status.FOUND)
    ]
    result = fault_report("2026-W47", histories_of([make_finding()], answers), register)

    text = printed(lambda to: print_brief(brief, to)) + printed(
        lambda to: print_faults(WEEK, result, to)
    )

    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text


def test_square_brackets_in_names_are_printed_as_they_are(brief: Brief, register: Register):
    site = replace(register.sites["S-01"], site_name="Farm [red]north[/] [/]")

    text = printed(lambda to: print_brief(replace(brief, site=site), to))

    assert "Farm [red]north[/] [/]" in text


def test_faults_print_counts_beside_pumps_observed(
    register: Register,
    make_finding: Callable[..., Finding],
    make_answers: Callable[..., list[Assessment]],
):
    answers = [
        answer for n in range(1, 5) for answer in make_answers(f"P-0{n}", f"S-0{n}", Status.CLEAR)
    ]
    result = fault_report("2026-W47", histories_of([make_finding()], answers), register)

    text = printed(lambda to: print_faults(WEEK, result, to))

    line = next(line for line in text.splitlines() if line.startswith("Short cycling"))
    # Garwood 1936: a count of 1 has the limits 0.0253 and 5.572 (table read from memory)
    # of 4 pumps; more than all of them it cannot be
    assert " ".join(line.split()) == (
        "Short cycling 1 of 4 pumps 25.0 0.6 to 100.0 too few to say"
    )
