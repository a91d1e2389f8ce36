"""Weekly records into the store, in place of what the same pump-weeks had before."""

from collections.abc import Sequence
from dataclasses import fields

import duckdb

from analysis.record_tables import RECORD_TABLES, Row
from analysis.records import OpMapBin, PumpDay, PumpRecord, PumpWeek, TripEvent
from ingest.rows import insert_columns


def write_records(con: duckdb.DuckDBPyConnection, records: Sequence[PumpRecord]) -> None:
    """Store weekly records, replacing what the same pump-weeks had before."""
    if not records:
        return
    keys = [(r.week.pump_id, r.week.week) for r in records]
    for table in RECORD_TABLES.values():
        _delete_pump_weeks(con, table, keys)
    _insert(con, PumpWeek, [r.week for r in records])
    _insert(con, PumpDay, [day for r in records for day in r.days])
    _insert(con, OpMapBin, [cell for r in records for cell in r.op_map])
    _insert(con, TripEvent, [trip for r in records for trip in r.trips])


def _delete_pump_weeks(
    con: duckdb.DuckDBPyConnection, table: str, keys: Sequence[tuple[str, str]]
) -> None:
    con.execute(
        f"delete from {table} where (pump_id, week) in"  # noqa: S608  # own table name
        " (select unnest($pumps::varchar[]), unnest($weeks::varchar[]))",
        {"pumps": [pump for pump, _ in keys], "weeks": [week for _, week in keys]},
    )


def _insert(con: duckdb.DuckDBPyConnection, record: type[Row], rows: Sequence[Row]) -> None:
    if rows:
        names = [f.name for f in fields(record)]
        columns = {name: [getattr(row, name) for row in rows] for name in names}
        insert_columns(con, RECORD_TABLES[record], columns)
