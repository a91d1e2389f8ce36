"""Data that comes late: just its pump-weeks are measured again, and what that changes is told."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import duckdb
import pytest

import analysis.scan
from analysis.answer_reading import scanned_weeks
from analysis.record_checks import wrong_records
from analysis.record_reading import read_week
from analysis.scan import scan
from analysis.week_changes import Change
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.retention import archive_weeks
from ingest.store import open_store, save_register
from ingest.verify import verify_store
from ingest.weeks import parse_week

REGISTER = Register(
    sites={"S-1": Site(site_id="S-1")},
    pumps={
        name: Pump(pump_id=name, site_id="S-1", pressure_setting_kpa=400.0)
        for name in ("P-1", "P-2")
    },
)
MONDAY = datetime(2026, 11, 9)


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_store(tmp_path / "fleet.duckdb", threads=1) as opened:
        save_register(opened, REGISTER)
        yield opened


def load(con: duckdb.DuckDBPyConnection, folder: Path, pump_id: str, first: int, n: int) -> None:
    """Load some days of a pump, days counted from MONDAY."""
    lines = ["timestamp,pressure_kpa,frequency_hz,current_a"]
    for minute in range(first * 1440, (first + n) * 1440):
        at, is_on = MONDAY + timedelta(minutes=minute), minute % 60 < 20
        lines.append(f"{at.isoformat()}Z,{400 + minute % 3},{45 * is_on},{4 * is_on}")
    path = folder / f"{pump_id}__{first}.csv"
    path.write_text("\n".join(lines) + "\n")
    load_logs(con, [path], REGISTER)


def test_late_data_is_measured_again_alone_and_later_weeks_are_judged_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    load(con, tmp_path, "P-1", 0, 14)
    load(con, tmp_path, "P-2", 0, 3)
    load(con, tmp_path, "P-2", 7, 7)
    first = scan(con, parse_week("2026-W47"))
    load(con, tmp_path, "P-2", 3, 4)  # the rest of 2026-W46

    second = scan(con, parse_week("2026-W47"))

    assert (first.n_measured, first.late, first.changes) == (4, (), ())
    assert second.late == (("2026-W46", "P-2"),)
    assert second.n_measured == 1
    assert second.weeks_judged == ("2026-W46", "2026-W47")
    gone = [change for change in second.changes if change.kind == "data_gap"]
    assert [(change.week, change.pump_id, change.now) for change in gone] == [
        ("2026-W46", "P-2", "")
    ]
    third = scan(con, parse_week("2026-W47"))
    assert (third.n_measured, third.late, third.changes) == (0, (), ())


def test_a_scan_that_stops_before_judging_is_made_up_for_by_the_next(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    load(con, tmp_path, "P-1", 0, 7)
    scan(con)
    load(con, tmp_path, "P-2", 0, 7)

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as broken:
        broken.setattr(analysis.scan, "judge_pump", stop)
        with pytest.raises(KeyboardInterrupt):
            scan(con)
    assert scanned_weeks(con) == []  # what is told of the week does not hold any more
    assert wrong_records(con) == []

    again = scan(con)

    assert again.weeks_judged == ("2026-W46",)
    assert scanned_weeks(con) == ["2026-W46"]
    assert again.n_with_data == 2


def test_a_record_that_is_missing_is_told(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    load(con, tmp_path, "P-1", 0, 7)
    scan(con)
    assert wrong_records(con) == []

    con.execute("delete from pump_week")
    con.execute("insert into scans (week) values ('2026-W46'), ('2026-W01')")

    assert wrong_records(con) == [
        "pump_week: P-1 is told to be measured in 2026-W46, but has no record.",
        "scans: 2026-W46 comes more than once.",
        "scans: 2026-W01 is told to be judged, but no pump has an answer.",
    ]


@pytest.mark.parametrize(
    ("before", "now", "told"),
    [
        ("", "high leak", "2026-W46 P-1 leak: new, high leak"),
        ("high leak", "", "2026-W46 P-1 leak: gone, was high leak"),
        ("low", "high", "2026-W46 P-1 leak: high, was low"),
    ],
)
def test_a_change_is_one_line(before: str, now: str, told: str) -> None:
    assert str(Change("2026-W46", "S-1", "P-1", "leak", before, now)) == told


@pytest.mark.parametrize("is_archived", [False, True])
def test_late_data_of_an_archived_week_is_measured_with_what_the_archive_holds(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, *, is_archived: bool
) -> None:
    load(con, tmp_path, "P-1", 0, 3)
    load(con, tmp_path, "P-1", 7, 7)
    scan(con)
    if is_archived:
        assert archive_weeks(con, parse_week("2026-W47")).n_samples == 3 * 1440
    load(con, tmp_path, "P-1", 2, 5)  # a day again, then the rest of 2026-W46

    second = scan(con)

    assert second.late == (("2026-W46", "P-1"),)
    record = read_week(con, "2026-W46")["P-1"]
    assert record.n_samples == 7 * 1440
    assert record.n_starts == 7 * 24 - 1  # one an hour; the first was before the log
    assert verify_store(con).faults == ()
    if is_archived:
        assert archive_weeks(con, parse_week("2026-W47")).n_samples == 4 * 1440
        con.execute("update coverage set is_measured = false")
        scan(con)
        assert read_week(con, "2026-W46")["P-1"] == record
