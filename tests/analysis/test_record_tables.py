"""Weekly records survive the store unchanged and are replaced, never doubled."""

from dataclasses import fields
from datetime import date, datetime
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

import duckdb
import pytest

from analysis.record_checks import wrong_records
from analysis.record_reading import read_days, read_op_map, read_trips, read_weeks
from analysis.record_tables import ensure_tables
from analysis.record_writing import write_records
from analysis.records import OpMapBin, PumpDay, PumpRecord, PumpWeek, TripEvent

MONDAY = datetime(2026, 11, 16, 6)


def filled(record: type[Any], full: bool, **known: Any) -> Any:
    """Make a record whose optional columns are all filled, or all None."""
    samples = {str: "x", bool: True, int: 3, float: 1.5, datetime: MONDAY, date: MONDAY.date()}
    values: dict[str, Any] = {}
    for f in fields(record):
        hint = get_type_hints(record)[f.name]
        if get_origin(hint) is UnionType:
            if not full:
                values[f.name] = None
                continue
            hint = get_args(hint)[0]
        values[f.name] = [1.0, 2.5] if get_origin(hint) is list else samples[hint]
    return record(**values | known)


def pump_record(pump_id: str, week: str, full: bool = True) -> PumpRecord:
    return PumpRecord(
        week=filled(PumpWeek, full, pump_id=pump_id, week=week),
        days=(filled(PumpDay, full, pump_id=pump_id, week=week),),
        op_map=(filled(OpMapBin, full, pump_id=pump_id, week=week),),
        trips=(filled(TripEvent, full, pump_id=pump_id, week=week),),
    )


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    ensure_tables(con)
    return con


@pytest.mark.parametrize("full", [True, False], ids=["every column filled", "optional ones None"])
def test_a_record_comes_back_as_it_was_written(con: duckdb.DuckDBPyConnection, full: bool) -> None:
    record = pump_record("P-1", "2026-W47", full)

    write_records(con, [record])

    assert read_weeks(con) == {"P-1": [record.week]}
    assert read_days(con) == {"P-1": list(record.days)}
    assert read_op_map(con) == {"P-1": list(record.op_map)}
    assert read_trips(con) == {"P-1": list(record.trips)}


def test_writing_a_pump_week_again_replaces_it(con: duckdb.DuckDBPyConnection) -> None:
    write_records(con, [pump_record("P-1", "2026-W46"), pump_record("P-1", "2026-W47")])

    write_records(con, [pump_record("P-1", "2026-W47", full=False)])

    weeks = read_weeks(con)["P-1"]
    assert [w.week for w in weeks] == ["2026-W46", "2026-W47"]
    assert weeks[1].run_s_median is None


def test_a_store_of_an_earlier_version_gets_new_columns_and_is_measured_again() -> None:
    con = duckdb.connect()
    con.execute("create table coverage (pump_no integer, week varchar, is_measured boolean)")
    con.execute("insert into coverage values (1, '2026-W46', true)")
    ensure_tables(con)
    write_records(con, [pump_record("P-1", "2026-W46")])
    con.execute("alter table pump_week drop column f0_hz")
    con.execute("alter table pump_week add column forgotten double")

    ensure_tables(con)
    ensure_tables(con)

    assert con.execute("select is_measured from coverage").fetchall() == [(False,)]
    assert read_weeks(con)["P-1"][0].f0_hz is None
    write_records(con, [pump_record("P-1", "2026-W46")])
    assert read_weeks(con) == {"P-1": [pump_record("P-1", "2026-W46").week]}


def test_tables_that_are_as_they_should_be_stay_measured() -> None:
    con = duckdb.connect()
    con.execute("create table coverage (pump_no integer, week varchar, is_measured boolean)")
    con.execute("insert into coverage values (1, '2026-W46', true)")
    ensure_tables(con)

    ensure_tables(con)

    assert con.execute("select is_measured from coverage").fetchall() == [(True,)]


class CutShort:
    """A connection on which one statement fails, as where the process is ended before it."""

    def __init__(self, con: duckdb.DuckDBPyConnection, at: int) -> None:
        self.con = con
        self.left = at

    def execute(self, statement: str) -> duckdb.DuckDBPyConnection:
        if statement not in ("begin", "commit", "rollback"):
            self.left -= 1
            if self.left == 0:
                raise InterruptedError
        return self.con.execute(statement)


@pytest.mark.parametrize("is_older", [True, False])
def test_tables_are_made_all_or_none_wherever_the_work_is_cut_short(is_older: bool) -> None:
    n_cut = 0
    for at in range(1, 200):
        con = duckdb.connect()
        con.execute("create table coverage (pump_no integer, week varchar, is_measured boolean)")
        con.execute("insert into coverage values (1, '2026-W46', true)")
        if is_older:
            ensure_tables(con)
            con.execute("alter table pump_week drop column f0_hz")
            con.execute("alter table op_map drop column current_sd_a")
        before = tables_of(con)
        try:
            ensure_tables(CutShort(con, at))  # type: ignore[arg-type]
        except InterruptedError:
            n_cut += 1
            assert tables_of(con) == before
            assert con.execute("select is_measured from coverage").fetchall() == [(True,)]
        else:
            break

    assert n_cut >= 5
    assert tables_of(con) != before
    assert con.execute("select is_measured from coverage").fetchall() == [(not is_older,)]


def tables_of(con: duckdb.DuckDBPyConnection) -> list[tuple[str, str]]:
    return con.execute(
        "select table_name, column_name from duckdb_columns() where not internal order by all"
    ).fetchall()


@pytest.mark.parametrize("lost", ["scans", "assessments", "pump_week"])
def test_a_store_left_half_made_by_an_earlier_version_contradicts_nothing(
    con: duckdb.DuckDBPyConnection, lost: str
) -> None:
    con.execute(f"drop table {lost}")

    assert wrong_records(con) == []


def test_reading_stops_at_the_week_asked_for(con: duckdb.DuckDBPyConnection) -> None:
    write_records(con, [pump_record("P-1", w) for w in ("2026-W47", "2026-W45", "2026-W46")])

    weeks = read_weeks(con, ["P-1"], up_to="2026-W46")["P-1"]

    assert [w.week for w in weeks] == ["2026-W45", "2026-W46"]


def test_only_the_pumps_asked_for_are_read(con: duckdb.DuckDBPyConnection) -> None:
    write_records(con, [pump_record("P-1", "2026-W47"), pump_record("P-2", "2026-W47")])

    assert list(read_weeks(con, ["P-2"])) == ["P-2"]
