"""What was judged out of the store: findings, answers, notes on peers, and which weeks were."""

import json
from collections.abc import Sequence

import duckdb

from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.peers import PeerNote
from analysis.record_tables import SCAN_STATES


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


def scanned_weeks(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Weeks that have been judged, oldest first."""
    return [row[0] for row in con.execute("select week from scans order by week").fetchall()]


def scan_states(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[str | None, str | None]]:
    """Weeks that have been judged, oldest first: the state they were judged in, and the answers'.

    Both ``None`` where an earlier version of the program has judged.
    """
    columns = {name for name, *_ in con.execute("describe scans").fetchall()}
    states = [name if name in columns else f"null as {name}" for name in SCAN_STATES]
    rows = con.execute(f"select week, {', '.join(states)} from scans order by week")  # noqa: S608  # own
    return {week: (judged_by, answers) for week, judged_by, answers in rows.fetchall()}


def weeks_with_assessments(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Weeks that were judged once, be it that they are to be judged again."""
    return {row[0] for row in con.execute("select distinct week from assessments").fetchall()}
