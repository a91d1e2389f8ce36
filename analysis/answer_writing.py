"""What was judged of a week into the store: findings, answers, notes on peers, and that it was."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import duckdb

from analysis.findings import Assessment, Finding
from analysis.fingerprint import answers_state
from analysis.peers import PeerNote
from ingest.rows import insert_columns, insert_table, lay_out

if TYPE_CHECKING:
    import pyarrow as pa


def write_week_findings(
    con: duckdb.DuckDBPyConnection,
    week: str,
    findings: Sequence[Finding],
    assessments: Sequence[Assessment],
    notes: Iterable[PeerNote] = (),
) -> None:
    """Store the judgement of one week, replacing what it had before."""
    forget_week(con, week)
    add_laid_out(con, answers_laid_out(con, findings, assessments))
    end_week(con, week, notes)


def forget_week(con: duckdb.DuckDBPyConnection, week: str) -> None:
    """Take out the judgement of one week, for what is to replace it."""
    for table in ("findings", "assessments", "scans", "peer_notes"):
        con.execute(f"delete from {table} where week = $week", {"week": week})  # noqa: S608  # own


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


def forget_scans(con: duckdb.DuckDBPyConnection, from_week: str) -> None:
    """Take a week and those after it as not judged; findings stay until they are judged again."""
    con.execute("delete from scans where week >= $week", {"week": from_week})


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
