from collections.abc import Sequence
from datetime import datetime

import duckdb
import pytest

from analysis.answer_writing import write_week_findings
from analysis.fault_history import (
    FaultHistory,
    Spell,
    histories_of,
    of_cause,
    read_histories,
    week_no,
)
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.record_tables import ensure_tables
from ingest.weeks import Week

FIRST = Week(2026, 1)


def said(letters: str, measures: Sequence[dict] = (), causes: str = "") -> tuple[list, list]:
    """One letter a week: f found, c clear, n not assessed, - no answer at all."""
    findings, answers = [], []
    for n, letter in enumerate(letters):
        week = str(FIRST.plus(n))
        if letter == "-":
            continue
        status = {"f": Status.FOUND, "c": Status.CLEAR, "n": Status.NOT_ASSESSED}[letter]
        answers.append(
            Assessment(week=week, site_id="S", pump_id="P", kind=Kind.LEAK, status=status)
        )
        if letter == "f":
            findings.append(
                Finding(
                    week=week,
                    site_id="S",
                    pump_id="P",
                    kind=Kind.LEAK,
                    cause="check_valve" if causes[n : n + 1] == "v" else "downstream",
                    severity=Severity.LOW,
                    confidence=0.8,
                    first_seen=datetime(2026, 1, 1),
                    last_seen=datetime(2026, 1, 1),
                    measures={},
                    summary="",
                    limit_source="",
                    consequence=2,
                    state="new",
                )
            )
    return findings, answers


def history(letters: str, causes: str = "") -> FaultHistory:
    return histories_of(*said(letters, causes=causes))[0]


def spells(letters: str) -> list[tuple[int, int]]:
    start = week_no(str(FIRST))
    return [(s.begins - start, s.ends - start) for s in history(letters).spells]


def test_weeks_are_numbered_across_the_year() -> None:
    assert week_no("2026-W01") - week_no("2025-W52") == 1
    assert week_no("2027-W01") - week_no("2026-W53") == 1  # 2026 has 53 weeks


@pytest.mark.parametrize(
    ("letters", "expected"),
    [
        ("cfffc", [(1, 3)]),
        ("fcf", [(0, 2)]),  # one clear week ends nothing
        ("fccf", [(0, 0), (3, 3)]),  # two do
        ("fnncf", [(0, 4)]),  # weeks without an answer do not count
        ("f---f", [(0, 4)]),
        ("ccc", []),
    ],
)
def test_weeks_with_findings_make_spells(letters: str, expected: list[tuple[int, int]]) -> None:
    assert spells(letters) == expected


def test_what_was_there_at_the_first_look_did_not_begin_later() -> None:
    start = week_no(str(FIRST))

    assert history("ffccfc").begun_later == (start + 4,)
    assert history("nfcc").begun_later == ()  # the first week it could be judged


def test_a_history_of_one_cause_keeps_the_spells_last_laid_to_it() -> None:
    both = history("fcccff", causes="d...dv")

    valve = of_cause(both, "check_valve")

    assert [s.begins - week_no(str(FIRST)) for s in valve.spells] == [4]
    assert of_cause(both, "downstream").spells == (both.spells[0],)
    assert valve.judged == both.judged


def store_of(findings: list[Finding], answers: list[Assessment]) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    ensure_tables(con)
    for week in {a.week for a in answers}:
        write_week_findings(
            con,
            week,
            [f for f in findings if f.week == week],
            [a for a in answers if a.week == week],
        )
    return con


def test_the_store_gives_the_same_histories() -> None:
    findings, answers = said("cffcnccf")
    con = store_of(findings, answers)

    stored = read_histories(con, str(FIRST.plus(7)), 52)

    assert stored == histories_of(findings, answers)


def test_a_window_of_weeks_leaves_out_what_is_older() -> None:
    findings, answers = said("fccccf")
    con = store_of(findings, answers)

    (stored,) = read_histories(con, str(FIRST.plus(5)), 3)

    start = week_no(str(FIRST))
    assert stored.judged == (start + 3, start + 4, start + 5)
    assert stored.spells == (Spell(begins=start + 5, ends=start + 5),)
