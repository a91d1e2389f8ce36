"""Tables of weekly records, findings and answers: made from their dataclasses, kept up to date."""

import types
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import duckdb

from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent
from ingest.store import transaction

Row = TypeVar("Row", PumpWeek, PumpDay, OpMapBin, TripEvent)

RECORD_TABLES: Mapping[type[Any], str] = {
    PumpWeek: "pump_week",
    PumpDay: "pump_day",
    OpMapBin: "op_map",
    TripEvent: "trip_event",
}

SCAN_STATES = ("judged_by", "answers")
"""Columns of the table of weeks judged that stores made before them lack."""

_SQL_TYPES: Mapping[type[Any], str] = {
    str: "varchar",
    bool: "boolean",
    int: "bigint",
    float: "double",
    datetime: "timestamp",
    date: "date",
}

_FINDING_TABLES = """
create table if not exists findings (
    week varchar not null, site_id varchar not null, pump_id varchar not null,
    kind varchar not null, cause varchar not null, severity varchar not null,
    confidence double not null, first_seen timestamp not null, last_seen timestamp not null,
    measures varchar not null, summary varchar not null, limit_source varchar not null,
    consequence integer not null, state varchar not null,
    grounds varchar[] not null, alternatives varchar[] not null
);
create table if not exists assessments (
    week varchar not null, site_id varchar not null, pump_id varchar not null,
    kind varchar not null, status varchar not null, reason varchar not null
);
create table if not exists scans (week varchar not null, judged_by varchar, answers varchar);
create table if not exists peer_notes (
    week varchar not null, pump_id varchar not null, n_peers integer not null,
    text varchar not null, reason varchar not null
)
"""


def ensure_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Create the tables of records, findings and assessments where the store lacks them.

    Records that an earlier version made get the columns it did not know, and every pump-week is
    marked for measuring again, so that they are filled where its samples are still there. All of
    it is done or nothing.
    """
    with transaction(con):
        known: dict[str, set[str]] = {}
        for table, column in con.execute(
            "select table_name, column_name from duckdb_columns() where not internal"
        ).fetchall():
            known.setdefault(table, set()).add(column)
        is_outdated = False
        for record, table in RECORD_TABLES.items():
            wanted = {name: _sql_type(hint) for name, hint in get_type_hints(record).items()}
            if table not in known:
                columns = ", ".join(f"{name} {kind}" for name, kind in wanted.items())
                con.execute(f"create table {table} ({columns})")
                continue
            for name in wanted.keys() - known[table]:
                con.execute(f"alter table {table} add column {name} {wanted[name]}")
            for name in known[table] - wanted.keys():
                con.execute(f"alter table {table} drop column {name}")
            is_outdated |= wanted.keys() != known[table]
        if is_outdated and "coverage" in known:
            con.execute("update coverage set is_measured = false")
        con.execute(_FINDING_TABLES)
        for column in SCAN_STATES:  # a store made before them lacks them
            con.execute(f"alter table scans add column if not exists {column} varchar")


def _sql_type(hint: Any) -> str:
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(arg for arg in get_args(hint) if arg is not type(None))
    if get_origin(hint) is list:
        return "double[]"
    return _SQL_TYPES[hint]
