"""The demo fleet against its own truth, and the same week twice: same answers, same bytes."""

import csv
import html
import json
import re
import subprocess
from datetime import datetime
from pathlib import Path

import duckdb
import pytest

from sample_data.score import Score, score_folder, score_text

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("demo")]

FINDING_COLUMNS = [
    "week",
    "site_id",
    "pump_id",
    "kind",
    "cause",
    "severity",
    "confidence",
    "first_seen",
    "last_seen",
    "measures",
    "summary",
    "limit_source",
]
CALL_COLUMNS = [
    "rank",
    "site_id",
    "action",
    "score",
    "state",
    "severity",
    "confidence",
    "kinds",
    "summary",
]


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="session")
def result(demo: Path) -> Score:
    return score_folder(demo)


def test_each_kind_is_found_and_little_else(result: Score) -> None:
    weak = [
        kind.kind
        for kind in result.kinds
        if (kind.precision or 0.0) < 0.9 or (kind.recall or 0.0) < 0.9
    ]

    assert not weak, score_text(result)
    assert len(result.kinds) >= 6


def test_the_cause_is_right_for_most_findings_of_each_kind(result: Score) -> None:
    weak = [kind.kind for kind in result.kinds if (kind.cause_accuracy or 0.0) < 0.85]

    assert not weak, score_text(result)


def test_no_healthy_pump_has_a_high_finding(result: Score) -> None:
    assert not result.high_on_healthy, score_text(result)
    assert result.n_healthy >= result.n_sick


def test_every_pump_has_one_answer_for_every_kind(demo: Path, result: Score) -> None:
    pumps = [row["pump_id"] for row in rows_of(demo / "register" / "pumps.csv")]

    answers = [(a["pump_id"], a["kind"]) for a in rows_of(demo / "pages" / "assessments.csv")]

    assert sorted(answers) == sorted((p, k.kind) for p in pumps for k in result.kinds)


def test_findings_and_calls_carry_the_columns_of_the_contract(demo: Path) -> None:
    findings = rows_of(demo / "pages" / "findings.csv")
    calls = rows_of(demo / "pages" / "calls.csv")

    assert list(findings[0])[: len(FINDING_COLUMNS)] == FINDING_COLUMNS
    assert list(calls[0])[: len(CALL_COLUMNS)] == CALL_COLUMNS
    for row in findings:
        assert datetime.fromisoformat(row["first_seen"]) <= datetime.fromisoformat(
            row["last_seen"]
        )
        assert 0 <= float(row["confidence"]) <= 1
        assert isinstance(json.loads(row["measures"]), dict)
        assert row["summary"].endswith(".")
        assert row["limit_source"]


def test_each_site_with_a_finding_is_called_once(demo: Path) -> None:
    sites = {row["site_id"] for row in rows_of(demo / "pages" / "findings.csv")}

    calls = rows_of(demo / "pages" / "calls.csv")

    assert sorted(row["site_id"] for row in calls) == sorted(sites)
    assert [int(row["rank"]) for row in calls] == list(range(1, len(calls) + 1))


def test_each_site_has_its_page(demo: Path) -> None:
    sites = [row["site_id"] for row in rows_of(demo / "register" / "sites.csv")]

    pages = [path.stem for path in (demo / "pages" / "site").glob("*.html")]

    assert sorted(pages) == sorted(sites)


def test_a_sites_page_tells_of_no_other_site_and_no_file_names_a_customer(demo: Path) -> None:
    sites = {row["site_id"]: row for row in rows_of(demo / "register" / "sites.csv")}
    names = {site_id: {site_id, row["site_name"]} for site_id, row in sites.items()}
    for row in rows_of(demo / "register" / "pumps.csv"):
        names[row["site_id"]].add(row["pump_id"])
    customers = {row["customer"] for row in sites.values()} - {""}
    texts = {
        path: html.unescape(path.read_text(encoding="utf-8"))
        for path in (demo / "pages").rglob("*")
        if path.suffix in (".html", ".csv")
    }

    told = [
        (path.name, name)
        for path, text in texts.items()
        if path.parent.name == "site"
        for site_id in names.keys() - {path.stem}
        for name in names[site_id]
        if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text)
    ]
    named = [(path.name, one) for path, text in texts.items() for one in customers if one in text]

    assert customers
    assert (told, named) == ([], [])


def test_loading_again_adds_nothing_and_says_so(
    weekly_again: "subprocess.CompletedProcess[str]",
) -> None:
    assert weekly_again.returncode == 0, weekly_again.stderr
    assert "0 rows added" in weekly_again.stdout


def test_the_same_week_again_gives_the_same_bytes(
    demo: Path, weekly_again: "subprocess.CompletedProcess[str]"
) -> None:
    assert weekly_again.returncode == 0, weekly_again.stderr
    first, again = demo / "pages", demo / "again"
    names = sorted(path.relative_to(first) for path in first.rglob("*") if path.is_file())

    differing = [
        name for name in names if (first / name).read_bytes() != (again / name).read_bytes()
    ]

    assert names
    assert not differing


def test_no_pump_has_an_instant_twice(demo: Path) -> None:
    with duckdb.connect(demo / "fleet.duckdb", read_only=True) as con:
        twice = con.execute(
            "select count(*) from"
            " (select pump_no, ts from samples group by all having count(*) > 1)"
        ).fetchone()

    assert twice == (0,)
