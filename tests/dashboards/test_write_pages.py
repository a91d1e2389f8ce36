import re
from collections.abc import Callable
from pathlib import Path
from urllib.parse import unquote

import duckdb
import pytest

from dashboards import steps
from dashboards.write_pages import write_pages
from ingest.errors import WeekError
from ingest.weeks import Week

WEEK = Week(2026, 47)


def written_at(folder: Path) -> dict[str, int]:
    """When each page was last written, ns."""
    return {
        str(path.relative_to(folder)): path.stat().st_mtime_ns for path in folder.rglob("*.html")
    }


def test_a_scanned_week_leaves_pages_and_data(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, files_in: Callable[[Path], dict[str, bytes]]
):
    report = write_pages(con, WEEK, tmp_path / "out")

    assert (report.n_calls, report.n_sites, report.n_not_heard) == (2, 4, 2)
    assert {
        "index.html",
        "faults.html",
        "findings.csv",
        "findings.parquet",
        "calls.csv",
        "assessments.csv",
        "rejects.csv",
        "assets/pages.css",
        "assets/plotly.min.js",
        "site/S-01.html",
    } <= set(files_in(tmp_path / "out"))


def test_every_link_of_the_call_list_leads_to_a_page_that_is_there(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
):
    write_pages(con, WEEK, tmp_path / "out")

    html = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    links = [link for link in re.findall(r'(?:href|src)="([^"#]+)"', html) if ":" not in link]
    assert "site/S-01.html" in links
    assert [link for link in links if not (tmp_path / "out" / unquote(link)).is_file()] == []


def test_pages_and_data_are_the_same_bytes_when_written_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, files_in: Callable[[Path], dict[str, bytes]]
):
    write_pages(con, WEEK, tmp_path / "a")
    write_pages(con, WEEK, tmp_path / "b")

    assert files_in(tmp_path / "a") == files_in(tmp_path / "b")


def test_pages_written_again_are_left_as_they_are(con: duckdb.DuckDBPyConnection, tmp_path: Path):
    write_pages(con, WEEK, tmp_path)
    before = written_at(tmp_path)

    write_pages(con, WEEK, tmp_path)

    assert written_at(tmp_path) == before


def test_only_the_page_of_a_site_that_changed_is_written_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
):
    write_pages(con, WEEK, tmp_path)
    before = written_at(tmp_path)
    con.execute("update sites set region = 'Elsewhere' where site_id = 'S-02'")

    write_pages(con, WEEK, tmp_path)

    after = written_at(tmp_path)
    changed = {name for name, at in after.items() if at != before[name]}
    assert {name for name in changed if name.startswith("site/")} == {"site/S-02.html"}


def test_the_trend_reaches_back_to_the_weeks_that_were_judged(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
):
    write_pages(con, WEEK, tmp_path)

    # 2 x 0.8 x 1.25 = 2 a week ago and 4 x 0.8 x 1.25 = 4 now, by hand
    told = ", ".join(["not scanned"] * 4 + ["2.0", "4.0"])
    assert told in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_every_reject_in_the_store_is_listed(con: duckdb.DuckDBPyConnection, tmp_path: Path):
    write_pages(con, WEEK, tmp_path)

    assert (tmp_path / "rejects.csv").read_text(encoding="utf-8").splitlines() == [
        "file,line,reason,advice,content",
        "a.csv,7,no number,row left out,'=1",
    ]


def test_a_week_that_was_not_scanned_is_no_quiet_week(con: duckdb.DuckDBPyConnection):
    with pytest.raises(WeekError, match=r"2026-W40 has not been scanned.*2026-W46, 2026-W47"):
        steps.scanned_week(con, Week(2026, 40))
