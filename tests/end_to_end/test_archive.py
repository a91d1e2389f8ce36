"""Old weeks leave the store by the program's own commands; what is shown of them stays."""

import subprocess
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

Run = Callable[..., "subprocess.CompletedProcess[str]"]

MONDAY = datetime(2026, 11, 9)  # of 2026-W46


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "sites.csv").write_text("site_id,timezone\nS-1,America/Chicago\n")
    (tmp_path / "register" / "pumps.csv").write_text(
        "pump_id,site_id,supply_volts,pressure_setting_kpa\nP-1,S-1,230,400\n"
    )
    write_log(tmp_path, "P-1.csv", range(6 * 60, 21 * 1440))
    return tmp_path


def write_log(inbox: Path, name: str, minutes: range) -> None:
    rows = ["timestamp,pressure_kpa,frequency_hz,current_a"]
    for minute in minutes:
        at, is_on = MONDAY + timedelta(minutes=minute), minute % 10 < 4
        rows.append(f"{at.isoformat()}Z,{400 - 30 * (not is_on)},{45 * is_on},{4 * is_on}")
    path = inbox / "logs" / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("\n".join(rows) + "\n")


def weekly(run: Run, inbox: Path, out: str, *more: str) -> "subprocess.CompletedProcess[str]":
    return run(
        *("weekly", inbox / "logs", "--register", inbox / "register"),
        *("--store", inbox / "fleet.duckdb", "--out", inbox / out, *more),
    )


def pages_of(run: Run, inbox: Path, out: str) -> dict[str, bytes]:
    done = run(
        *("pages", "--store", inbox / "fleet.duckdb", "--out", inbox / out, "--week", "2026-W46")
    )
    assert done.returncode == 0, done.stderr
    return {
        str(path.relative_to(inbox / out)): path.read_bytes()
        for path in (inbox / out).rglob("*")
        if path.is_file()
    }


def test_weeks_are_archived_shown_as_before_and_added_to(pumprounds: Run, inbox: Path) -> None:
    assert weekly(pumprounds, inbox, "all").returncode == 0
    before = pages_of(pumprounds, inbox, "before")

    moved = weekly(pumprounds, inbox, "pages", "--keep-raw", "2w")

    assert moved.returncode == 0, moved.stderr
    folder = inbox / "fleet.duckdb.archive"
    told = next(line for line in moved.stdout.splitlines() if line.startswith("Archive"))
    assert told.startswith(
        "Archive of weeks before 2026-W47: 1 pump-week of 2026-W46, 10080 samples, moved to"
        f" {folder} ("
    )
    assert pages_of(pumprounds, inbox, "after") == before
    write_log(inbox, "P-1__late.csv", range(5 * 60, 7 * 60))

    late = weekly(pumprounds, inbox, "pages", "--keep-raw", "2w")

    assert "60 rows added (60 repeated, 0 conflicting, 0 rejected)" in late.stdout
    assert "1 pump-week of 2026-W45, 60 samples" in late.stdout  # the hour before midnight there
    shrunk = pumprounds(
        "archive", "--store", inbox / "fleet.duckdb", "--keep-raw", "2w", "--shrink"
    )
    assert shrunk.returncode == 0, shrunk.stderr
    assert " MB before, " in shrunk.stdout
    checked = pumprounds("verify", "--store", inbox / "fleet.duckdb")
    assert checked.returncode == 0, checked.stdout
    assert "29940 samples of 1 pump from 2 files, 10140 of them outside it" in checked.stdout


def test_an_archive_that_is_gone_costs_one_line_and_only_its_weeks(
    pumprounds: Run, inbox: Path
) -> None:
    weekly(pumprounds, inbox, "pages", "--keep-raw", "1w")
    (inbox / "fleet.duckdb.archive").rename(inbox / "elsewhere")
    store = ("--store", inbox / "fleet.duckdb")

    shown = pumprounds("pages", *store, "--out", inbox / "old", "--week", "2026-W46")
    checked = pumprounds("verify", *store)
    again = weekly(pumprounds, inbox, "pages", "--keep-raw", "1w")
    brief = pumprounds("brief", "S-1", *store, "--week", "2026-W46")

    assert (shown.returncode, shown.stderr.count("\n")) == (1, 1)
    assert "is missing. It holds samples that were moved out of the store" in shown.stderr
    assert checked.returncode == 1
    assert checked.stdout.count("is missing.") == 2
    assert again.returncode == 0, again.stderr
    assert brief.returncode == 0, brief.stderr
