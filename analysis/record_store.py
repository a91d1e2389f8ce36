"""Weekly records and findings in the store: tables made from their dataclasses, read, written."""

import json
import types
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, TypeVar, Union, get_args, get_origin, get_type_hints

import duckdb

from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.fingerprint import answers_state
from analysis.peers import PeerNote
from analysis.records import OpMapBin, PumpDay, PumpRecord, PumpWeek, TripEvent
from ingest.rows import insert_columns, insert_table, lay_out
from ingest.store import transaction

if TYPE_CHECKING:
    import pyarrow as pa

Row = TypeVar("Row", PumpWeek, PumpDay, OpMapBin, TripEvent)

RECORD_TABLES: Mapping[type[Any], str] = {
    PumpWeek: "pump_week",
    PumpDay: "pump_day",
    OpMapBin: "op_map",
    TripEvent: "trip_event",
}

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


_SCAN_STATES = ("judged_by", "answers")


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
        for column in _SCAN_STATES:  # a store made before them lacks them
            con.execute(f"alter table scans add column if not exists {column} varchar")


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


def forget_week(con: duckdb.DuckDBPyConnection, week: str) -> None:
    """Take out the judgement of one week, for what is to replace it."""
    for table in ("findings", "assessments", "scans", "peer_notes"):
        con.execute(f"delete from {table} where week = $week", {"week": week})  # noqa: S608  # own


def add_answers(
    con: duckdb.DuckDBPyConnection, findings: Sequence[Finding], answers: Sequence[Assessment]
) -> None:
    """Store what was judged of some pumps in a week."""
    add_laid_out(con, answers_laid_out(con, findings, answers))


def answers_laid_out(
    con: duckdb.DuckDBPyConnection, findings: Sequence[Finding], answers: Sequence[Assessment]
) -> "dict[str, pa.Table]":
    """Lay out what was judged of some pumps as the store's tables take it, by their names."""
    rows: dict[str, list[tuple[Any, ...]]] = {
        "findings": [
            (*_plain(f), json.dumps(f.measures, sort_keys=True), *_texts(f)) for f in findings
        ],
        "assessments": [
            (a.week, a.site_id, a.pump_id, str(a.kind), str(a.status), a.reason) for a in answers
        ],
    }
    return {
        table: lay_out(con, table, _columns_of(con, table, some))
        for table, some in rows.items()
        if some
    }


def add_laid_out(con: duckdb.DuckDBPyConnection, tables: "Mapping[str, pa.Table]") -> None:
    """Store what `answers_laid_out` gave."""
    for table, rows in tables.items():
        insert_table(con, table, rows)


def end_week(
    con: duckdb.DuckDBPyConnection,
    week: str,
    notes: Iterable[PeerNote] = (),
    judged_by: str | None = None,
) -> None:
    """Store notes on peers and note that the whole week has been judged.

    Parameters
    ----------
    judged_by : str, optional
        The `judgement_state` it was judged in.
    """
    _insert_rows(
        con, "peer_notes", [(week, n.pump_id, n.n_peers, n.text, n.reason) for n in notes]
    )
    con.execute(
        "insert into scans by name select $week as week, $judged_by as judged_by,"
        " $answers as answers",
        {"week": week, "judged_by": judged_by, "answers": answers_state(con, week)},
    )


def write_week_findings(
    con: duckdb.DuckDBPyConnection,
    week: str,
    findings: Sequence[Finding],
    assessments: Sequence[Assessment],
    notes: Iterable[PeerNote] = (),
) -> None:
    """Store the judgement of one week, replacing what it had before."""
    forget_week(con, week)
    add_answers(con, findings, assessments)
    end_week(con, week, notes)


def read_peer_notes(con: duckdb.DuckDBPyConnection, week: str) -> dict[str, PeerNote]:
    """Notes on pumps beside their peers in a week, by pump id; none in a store without any."""
    if not con.execute("from duckdb_tables() where table_name = 'peer_notes'").fetchall():
        return {}
    rows = con.execute(
        "select pump_id, n_peers, text, reason from peer_notes where week = $week"
        " order by pump_id",
        {"week": week},
    ).fetchall()
    return {
        pump_id: PeerNote(pump_id=pump_id, n_peers=n_peers, text=text, reason=reason)
        for pump_id, n_peers, text, reason in rows
    }


def read_findings(
    con: duckdb.DuckDBPyConnection,
    week: str | None = None,
    *,
    weeks: Sequence[str] | None = None,
    pump_ids: Sequence[str] | None = None,
) -> list[Finding]:
    """Findings of one week or some, of some pumps or all, by week, site, pump, kind and cause."""
    chosen = weeks if week is None else [week]
    rows = con.execute(
        "select week, site_id, pump_id, kind, cause, severity, confidence, first_seen, last_seen,"
        " measures, summary, limit_source, consequence, state, grounds, alternatives from findings"
        " where ($first is null or week between $first and $last)"
        " and ($pumps is null or pump_id in (select unnest($pumps::varchar[])))"
        " order by week, site_id, pump_id, kind, cause",
        {
            "first": None if chosen is None else min(chosen, default=""),
            "last": None if chosen is None else max(chosen, default=""),
            "pumps": None if pump_ids is None else list(pump_ids),
        },
    ).fetchall()
    return [
        Finding(
            week=row[0],
            site_id=row[1],
            pump_id=row[2],
            kind=Kind(row[3]),
            cause=row[4],
            severity=Severity(row[5]),
            confidence=row[6],
            first_seen=row[7],
            last_seen=row[8],
            measures=json.loads(row[9]),
            summary=row[10],
            limit_source=row[11],
            consequence=row[12],
            state=row[13],
            grounds=tuple(row[14]),
            alternatives=tuple(row[15]),
        )
        for row in rows
    ]


def count_findings(con: duckdb.DuckDBPyConnection, week: str) -> int:
    """How many findings there are of a week."""
    rows = con.execute("select count(*) from findings where week = $week", {"week": week})
    return int(rows.fetchall()[0][0])


def pumps_with_findings(con: duckdb.DuckDBPyConnection, week: str) -> set[str]:
    """Pumps of which there is a finding of a week."""
    rows = con.execute("select distinct pump_id from findings where week = $week", {"week": week})
    return {pump_id for (pump_id,) in rows.fetchall()}


def read_assessments(
    con: duckdb.DuckDBPyConnection, week: str, pump_ids: Sequence[str] | None = None
) -> list[Assessment]:
    """Assessments of one week, of some pumps or all, sorted by site, pump and kind."""
    rows = con.execute(
        "select week, site_id, pump_id, kind, status, reason from assessments"
        " where week = $week"
        " and ($pumps is null or pump_id in (select unnest($pumps::varchar[])))"
        " order by site_id, pump_id, kind",
        {"week": week, "pumps": None if pump_ids is None else list(pump_ids)},
    ).fetchall()
    return [
        Assessment(
            week=row[0],
            site_id=row[1],
            pump_id=row[2],
            kind=Kind(row[3]),
            status=Status(row[4]),
            reason=row[5],
        )
        for row in rows
    ]


def read_answers(
    con: duckdb.DuckDBPyConnection, weeks: Sequence[str], asked: Sequence[tuple[str, Kind]]
) -> list[tuple[str, Kind, str, Status]]:
    """Answers of some weeks to some pumps' kinds: pump id, kind, week, status; weeks in order."""
    rows = con.execute(
        "select pump_id, kind, week, status from assessments"
        " where week between $first and $last and (pump_id, kind) in"
        " (select unnest($pumps::varchar[]), unnest($kinds::varchar[]))"
        " order by pump_id, kind, week",
        {
            "first": min(weeks),
            "last": max(weeks),
            "pumps": [pump_id for pump_id, _ in asked],
            "kinds": [str(kind) for _, kind in asked],
        },
    ).fetchall()
    return [(pump_id, Kind(kind), week, Status(status)) for pump_id, kind, week, status in rows]


def scanned_weeks(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Weeks that have been judged, oldest first."""
    return [row[0] for row in con.execute("select week from scans order by week").fetchall()]


def scan_states(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[str | None, str | None]]:
    """Weeks that have been judged, oldest first: the state they were judged in, and the answers'.

    Both ``None`` where an earlier version of the program has judged.
    """
    columns = {name for name, *_ in con.execute("describe scans").fetchall()}
    states = [name if name in columns else f"null as {name}" for name in _SCAN_STATES]
    rows = con.execute(f"select week, {', '.join(states)} from scans order by week")  # noqa: S608  # own
    return {week: (judged_by, answers) for week, judged_by, answers in rows.fetchall()}


def weeks_with_assessments(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Weeks that were judged once, be it that they are to be judged again."""
    return {row[0] for row in con.execute("select distinct week from assessments").fetchall()}


def forget_scans(con: duckdb.DuckDBPyConnection, from_week: str) -> None:
    """Take a week and those after it as not judged; findings stay until they are judged again."""
    con.execute("delete from scans where week >= $week", {"week": from_week})


def _sql_type(hint: Any) -> str:
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(arg for arg in get_args(hint) if arg is not type(None))
    if get_origin(hint) is list:
        return "double[]"
    return _SQL_TYPES[hint]


def _insert(con: duckdb.DuckDBPyConnection, record: type[Row], rows: Sequence[Row]) -> None:
    if rows:
        names = [f.name for f in fields(record)]
        columns = {name: [getattr(row, name) for row in rows] for name in names}
        insert_columns(con, RECORD_TABLES[record], columns)


def _insert_rows(
    con: duckdb.DuckDBPyConnection, table: str, rows: Sequence[tuple[Any, ...]]
) -> None:
    if rows:
        insert_columns(con, table, _columns_of(con, table, rows))


def _columns_of(
    con: duckdb.DuckDBPyConnection, table: str, rows: Sequence[tuple[Any, ...]]
) -> dict[str, Sequence[Any]]:
    """Rows of a table as its columns."""
    names = [name for name, *_ in con.execute(f"describe {table}").fetchall()]
    return dict(zip(names, zip(*rows, strict=True), strict=True))


def _delete_pump_weeks(
    con: duckdb.DuckDBPyConnection, table: str, keys: Sequence[tuple[str, str]]
) -> None:
    con.execute(
        f"delete from {table} where (pump_id, week) in"  # noqa: S608  # own table name
        " (select unnest($pumps::varchar[]), unnest($weeks::varchar[]))",
        {"pumps": [pump for pump, _ in keys], "weeks": [week for _, week in keys]},
    )


def _plain(finding: Finding) -> tuple[Any, ...]:
    return (
        finding.week,
        finding.site_id,
        finding.pump_id,
        str(finding.kind),
        finding.cause,
        str(finding.severity),
        finding.confidence,
        finding.first_seen,
        finding.last_seen,
    )


def _texts(finding: Finding) -> tuple[Any, ...]:
    return (
        finding.summary,
        finding.limit_source,
        finding.consequence,
        finding.state,
        list(finding.grounds),
        list(finding.alternatives),
    )
