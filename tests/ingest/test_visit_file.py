from datetime import date
from pathlib import Path

import pytest

from ingest.errors import RegisterError
from ingest.installed_base import Visit
from ingest.register import load_register
from ingest.visit_file import add_visit

KINDS = ("leak", "short_cycling")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sites.csv").write_text("site_id\nS-01\nS-02\n")
    (tmp_path / "pumps.csv").write_text("pump_id,site_id\nP-01,S-01\nP-02,S-02\n")
    return tmp_path


def visit(**change: object) -> Visit:
    values = {
        "visited_on": date(2026, 11, 17),
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": "leak",
        "outcome": "fixed",
        "found": 'a "tap", open',
    }
    return Visit(**(values | change))


def add(folder: Path, **change: object) -> None:
    register, _ = load_register(folder)
    add_visit(folder, visit(**change), register, KINDS)


def test_a_visit_added_is_read_back_as_it_was(folder: Path):
    add(folder)
    add(folder, outcome="explained", until_on=date(2027, 1, 31), found=None)

    register, problems = load_register(folder)

    assert problems == []
    assert register.visits == (
        visit(),
        visit(outcome="explained", until_on=date(2027, 1, 31), found=None),
    )


def test_rows_that_stand_there_stay_byte_for_byte(folder: Path):
    before = "site_id,visited_on,kind,outcome,extra\r\nS-02,2026-01-05, leak ,confirmed,x\r\n"
    (folder / "visits.csv").write_bytes(before.encode())

    add(folder, pump_id=None, found=None)

    after = (folder / "visits.csv").read_bytes().decode()
    assert after.startswith(before)
    assert after[len(before) :] == "S-01,2026-11-17,leak,fixed,\n"


def test_a_column_the_file_lacks_is_added_for_all_rows(folder: Path):
    (folder / "visits.csv").write_text("visited_on,site_id\n2026-01-05,S-02\n")

    add(folder, found=None)

    assert (folder / "visits.csv").read_text() == (
        "visited_on,site_id,pump_id,kind,outcome\n2026-01-05,S-02,,,\n2026-11-17,S-01,P-01,leak,fixed\n"
    )


def test_all_that_does_not_fit_is_listed_and_nothing_is_added(folder: Path):
    with pytest.raises(RegisterError) as caught:
        add(folder, pump_id="P-02", kind="leek", outcome="told", until_on=date(2026, 1, 1))

    for told in (
        "pump_id is 'P-02', expected one of the site's: P-01.",
        "kind is 'leek', expected one of leak, short_cycling.",
        "until is 2026-01-01, expected no day before 2026-11-17.",
        "Nothing was added.",
    ):
        assert told in str(caught.value)
    assert not (folder / "visits.csv").exists()


@pytest.mark.parametrize("outcome", ["planned", "told", "accepted", "explained"])
def test_what_is_agreed_needs_a_day_on_which_it_ends(folder: Path, outcome: str):
    with pytest.raises(RegisterError, match="until is blank"):
        add(folder, outcome=outcome)


def test_an_agreement_without_an_end_in_the_file_is_listed(folder: Path):
    (folder / "visits.csv").write_text("visited_on,site_id,outcome\n2026-01-05,S-02,accepted\n")

    register, (problem,) = load_register(folder)

    assert "expected the last day on which 'accepted' holds" in problem.text
    assert len(register.visits) == 1


def test_no_half_written_file_is_left_behind(folder: Path):
    add(folder)

    assert sorted(p.name for p in folder.iterdir()) == ["pumps.csv", "sites.csv", "visits.csv"]
