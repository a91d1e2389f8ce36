"""Whether the weekly records agree with what the store says was measured and judged."""

from collections.abc import Iterator

import duckdb

from analysis.record_tables import RECORD_TABLES

_UNIQUE = {"pump_week": "pump_id, week", "scans": "week"}


def wrong_records(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return every contradiction between records, coverage and judgements, as a sentence."""
    tables = {row[0] for row in con.execute("show tables").fetchall()}
    if not {*RECORD_TABLES.values(), "assessments", "scans"} <= tables:
        return []  # never scanned
    return [*_missing(con), *_doubled(con), *_unjudged(con)]


def _missing(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    rows = con.execute(
        "select pump_id, week from coverage join pump_numbers using (pump_no)"
        " semi join pumps using (pump_id) anti join pump_week using (pump_id, week)"
        " where is_measured order by all"
    ).fetchall()
    for pump_id, week in rows:
        yield f"pump_week: {pump_id} is told to be measured in {week}, but has no record."


def _doubled(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    for table, key in _UNIQUE.items():
        rows = con.execute(
            f"select {key} from {table} group by all having count(*) > 1 order by all"  # noqa: S608
        ).fetchall()
        for row in rows:
            yield f"{table}: {' '.join(map(str, row))} comes more than once."


def _unjudged(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    rows = con.execute(
        "select distinct week from scans anti join assessments using (week) order by week"
    ).fetchall()
    for (week,) in rows:
        yield f"scans: {week} is told to be judged, but no pump has an answer."
