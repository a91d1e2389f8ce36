"""Pages that would come out the same are not written again; whatever else is, is."""

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import duckdb
import pytest

from analysis import fingerprint
from analysis.call_weights import Weights
from dashboards import write_pages as module
from dashboards.write_pages import write_pages
from dashboards.written import NOTED_IN
from ingest.installed_base import Register, Site
from ingest.store import save_register
from ingest.weeks import Week

WEEK = Week(2026, 47)


@pytest.fixture
def n_written(monkeypatch: pytest.MonkeyPatch) -> list[None]:
    """One entry for each time that pages were made."""
    made: list[None] = []
    real = module.write_assets

    def counted(out: Path) -> None:
        made.append(None)
        real(out)

    monkeypatch.setattr(module, "write_assets", counted)
    return made


def test_pages_are_made_once_where_nothing_changes(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    n_written: list[None],
    files_in: Callable[[Path], dict[str, bytes]],
) -> None:
    first = write_pages(con, WEEK, tmp_path / "out")
    before = files_in(tmp_path / "out")

    second = write_pages(con, WEEK, tmp_path / "out")

    assert len(n_written) == 1
    assert second == first
    assert files_in(tmp_path / "out") == before


@pytest.mark.parametrize("name", ["index.html", "site/S-01.html", "calls.xlsx", "assets/site.css"])
@pytest.mark.parametrize("harm", [Path.unlink, lambda path: path.write_bytes(b"mine")])
def test_a_file_that_was_removed_or_edited_is_written_again(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    name: str,
    harm: Callable[[Path], object],
    files_in: Callable[[Path], dict[str, bytes]],
) -> None:
    write_pages(con, WEEK, tmp_path / "out")
    before = files_in(tmp_path / "out")
    harm(tmp_path / "out" / name)

    write_pages(con, WEEK, tmp_path / "out")

    assert files_in(tmp_path / "out") == before


def add_site(con: duckdb.DuckDBPyConnection, register: Register) -> None:
    sites = {**register.sites, "S-99": Site(site_id="S-99")}
    save_register(con, Register(sites=sites, pumps=register.pumps, visits=register.visits))


@pytest.mark.parametrize(
    "change",
    [
        lambda con, register: add_site(con, register),
        lambda con, register: con.execute(
            "insert into rejects values ('f', 'a', 1, 'r', 'a', 'c')"
        ),
        lambda con, register: con.execute(
            "insert into coverage"
            " values (1, '2026-W47', 9, '2026-11-16'::timestamp, '2026-11-17'::timestamp, true)"
        ),
        lambda con, register: con.execute("update scans set answers = 'other'"),
        lambda con, register: con.execute("update scans set answers = null"),
    ],
    ids=["register", "rejects", "samples", "answers", "judged by an earlier version"],
)
def test_what_changes_in_the_store_has_the_pages_made_again(
    con: duckdb.DuckDBPyConnection,
    register: Register,
    tmp_path: Path,
    n_written: list[None],
    change: Callable[[duckdb.DuckDBPyConnection, Register], object],
) -> None:
    write_pages(con, WEEK, tmp_path / "out")
    change(con, register)

    write_pages(con, WEEK, tmp_path / "out")

    assert len(n_written) == 2


def test_records_measured_otherwise_have_the_pages_made_again(
    world: ModuleType, store: duckdb.DuckDBPyConnection, tmp_path: Path, n_written: list[None]
) -> None:
    write_pages(store, world.WEEK, tmp_path / "out")
    store.execute("update pump_week set run_s = run_s + 1")  # as many samples, other values

    write_pages(store, world.WEEK, tmp_path / "out")
    write_pages(store, world.WEEK, tmp_path / "out")

    assert len(n_written) == 2


@pytest.mark.parametrize(
    "options",
    [
        {"capacity": 1},
        {"weights": Weights(own={"others.share": 0.5})},
        {"is_single_file": True},
    ],
    ids=["capacity", "weights", "single file"],
)
def test_other_options_have_the_pages_made_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, n_written: list[None], options: dict
) -> None:
    write_pages(con, WEEK, tmp_path / "out")

    write_pages(con, WEEK, tmp_path / "out", **options)

    assert len(n_written) == 2


def test_another_version_of_the_program_makes_the_pages_again(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    n_written: list[None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    write_pages(con, WEEK, tmp_path / "out")
    monkeypatch.setattr(fingerprint, "program_state", lambda *packages: "another")

    write_pages(con, WEEK, tmp_path / "out")

    assert len(n_written) == 2


def test_another_folder_gets_pages_of_its_own(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, files_in: Callable[[Path], dict[str, bytes]]
) -> None:
    write_pages(con, WEEK, tmp_path / "out")

    write_pages(con, WEEK, tmp_path / "other")

    assert files_in(tmp_path / "other") == files_in(tmp_path / "out")


def test_pages_cut_off_in_the_midst_are_not_taken_for_whole(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_pages(con, WEEK, tmp_path / "out")

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as broken:
        broken.setattr(module, "write_faults", stop)
        with pytest.raises(KeyboardInterrupt):
            write_pages(con, WEEK, tmp_path / "out", capacity=0)

    assert not (tmp_path / "out" / NOTED_IN).exists()


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"state": 1'])
def test_notes_that_are_no_notes_count_for_nothing(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, n_written: list[None], content: str
) -> None:
    write_pages(con, WEEK, tmp_path / "out")
    (tmp_path / "out" / NOTED_IN).write_text(content)

    write_pages(con, WEEK, tmp_path / "out")

    assert len(n_written) == 2
