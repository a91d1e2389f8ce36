"""The week as data files: findings, calls, assessments, rejects; same input, same bytes.

Cells of free text that a spreadsheet would take for a formula get a leading apostrophe; ids and
codes stay as they are, because other systems join on them.
"""

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from ingest.rows import arrow_table

if TYPE_CHECKING:
    from analysis.calls import Call
    from analysis.findings import Assessment, Finding, MeasureValue

FINDING_COLUMNS = (
    "week",
    "site_id",
    "pump_id",
    "kind",
    "cause",
    "severity",
    "confidence",
    "first_seen",
    "last_seen",
    "measures",
    "summary",
    "limit_source",
)
CALL_COLUMNS = (
    "rank",
    "site_id",
    "action",
    "score",
    "state",
    "severity",
    "confidence",
    "kinds",
    "summary",
)
ASSESSMENT_COLUMNS = ("week", "site_id", "pump_id", "kind", "status", "reason")
REJECT_COLUMNS = ("file", "line", "reason", "advice", "content")

FILES = (
    *("findings.csv", "findings.parquet", "calls.csv", "calls.xlsx", "assessments.csv"),
    "rejects.csv",
)
"""Every file that is written here."""

_COLUMN_WIDTHS = {"rank": 6, "kinds": 30, "summary": 90}
_WORKBOOK_DATE = datetime(2000, 1, 1)  # noqa: DTZ001 - a fixed stamp, so that bytes repeat

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(text: str) -> str:
    """Return free text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def utc_text(instant: datetime) -> str:
    """Return a UTC instant as ISO 8601 to the second: 2026-11-17T05:00:00Z."""
    return f"{instant:%Y-%m-%dT%H:%M:%S}Z"


def measures_json(measures: "Mapping[str, MeasureValue]") -> str:
    """Return measures as one JSON object with sorted names; what is no number becomes null."""
    return json.dumps(
        {name: _finite(value) for name, value in measures.items()},
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
        allow_nan=False,
    )


def write_findings(out: Path, findings: "Iterable[Finding]") -> None:
    """Write ``findings.csv`` and ``findings.parquet``, sorted by site, pump, kind and cause."""
    ordered = sorted(findings, key=lambda f: (f.site_id, f.pump_id, str(f.kind), f.cause))
    rows = [
        (
            f.week,
            f.site_id,
            f.pump_id,
            str(f.kind),
            f.cause,
            str(f.severity),
            _rounded(f.confidence),
            utc_text(f.first_seen),
            utc_text(f.last_seen),
            measures_json(f.measures),
            safe_cell(f.summary),
            safe_cell(f.limit_source),
        )
        for f in ordered
    ]
    _write_csv(out / "findings.csv", FINDING_COLUMNS, rows)
    _write_findings_parquet(out / "findings.parquet", ordered)


def write_calls(out: Path, calls: "Iterable[Call]") -> None:
    """Write ``calls.csv``, one row a site in the order of the call list."""
    rows = [
        (
            call.rank,
            call.site_id,
            str(call.action),
            f"{call.score:.2f}",
            call.state,
            str(call.severity),
            _rounded(call.confidence),
            " ".join(call.kinds),
            safe_cell(call.summary),
        )
        for call in calls
    ]
    _write_csv(out / "calls.csv", CALL_COLUMNS, rows)


def write_calls_workbook(out: Path, calls: "Iterable[Call]") -> None:
    """Write ``calls.xlsx``: the rows of ``calls.csv`` as one sheet to sort and filter.

    Numbers are numbers and every text is a text cell, so none is taken for a formula or a link.
    """
    import xlsxwriter

    path = out / "calls.xlsx"
    path.parent.mkdir(parents=True, exist_ok=True)
    texts_only = {"strings_to_formulas": False, "strings_to_urls": False, "in_memory": True}
    with xlsxwriter.Workbook(path, texts_only) as book:
        book.set_properties({"title": "Call list", "created": _WORKBOOK_DATE})
        sheet = book.add_worksheet("calls")
        bold, wrapped = book.add_format({"bold": True}), book.add_format({"text_wrap": True})
        sheet.write_row(0, 0, CALL_COLUMNS, bold)
        rows = [_call_cells(call) for call in calls]
        for place, row in enumerate(rows, start=1):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(place, column, value, wrapped)
                else:
                    sheet.write_number(place, column, value)
        sheet.autofilter(0, 0, len(rows), len(CALL_COLUMNS) - 1)
        sheet.freeze_panes(1, 0)
        for column, name in enumerate(CALL_COLUMNS):
            sheet.set_column(column, column, _COLUMN_WIDTHS.get(name, 12))


def _call_cells(call: "Call") -> tuple[str | float, ...]:
    return (
        call.rank,
        call.site_id,
        str(call.action),
        call.score,
        call.state,
        str(call.severity),
        _rounded(call.confidence),
        " ".join(call.kinds),
        call.summary,
    )


def write_assessments(out: Path, assessments: "Iterable[Assessment]") -> None:
    """Write ``assessments.csv``, one row per pump and kind."""
    rows = sorted(
        (a.week, a.site_id, a.pump_id, str(a.kind), str(a.status), safe_cell(a.reason))
        for a in assessments
    )
    _write_csv(out / "assessments.csv", ASSESSMENT_COLUMNS, rows)


def write_reject_file(con: duckdb.DuckDBPyConnection, out: Path) -> None:
    """Write every log row ever left out of the store, with file, line, reason and advice."""
    rejects = con.execute(
        "select file, line, reason, advice, coalesce(content, '') from rejects"
        " order by file, line nulls first, reason, advice, content"
    )
    write_rejects(out, rejects.fetchall())


def write_rejects(out: Path, rejects: Iterable[tuple[str, int | None, str, str, str]]) -> None:
    """Write ``rejects.csv``: every row of a log that was left out, where, why, what to do."""
    rows = [
        (safe_cell(file), "" if line is None else line, *map(safe_cell, texts))
        for file, line, *texts in rejects
    ]
    _write_csv(out / "rejects.csv", REJECT_COLUMNS, rows)


def _write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(buffer.getvalue().encode("utf-8", "backslashreplace"))


def _write_findings_parquet(path: Path, findings: "Sequence[Finding]") -> None:
    from pyarrow import parquet

    utc = "timestamp with time zone"
    table = arrow_table(
        {
            "week": ([f.week for f in findings], "varchar"),
            "site_id": ([f.site_id for f in findings], "varchar"),
            "pump_id": ([f.pump_id for f in findings], "varchar"),
            "kind": ([str(f.kind) for f in findings], "varchar"),
            "cause": ([f.cause for f in findings], "varchar"),
            "severity": ([str(f.severity) for f in findings], "varchar"),
            "confidence": ([_rounded(f.confidence) for f in findings], "double"),
            "first_seen": ([f.first_seen for f in findings], utc),
            "last_seen": ([f.last_seen for f in findings], utc),
            "measures": ([measures_json(f.measures) for f in findings], "varchar"),
            "summary": ([f.summary for f in findings], "varchar"),
            "limit_source": ([f.limit_source for f in findings], "varchar"),
        }
    )
    parquet.write_table(table, path)


def _rounded(confidence: float) -> float:
    return round(confidence, 3)


def _finite(value: "MeasureValue") -> "MeasureValue":
    if isinstance(value, float) and not isfinite(value):
        return None
    if isinstance(value, list):
        return [_finite(each) for each in value]
    return value
