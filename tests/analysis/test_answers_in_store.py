"""What was judged survives the store unchanged and is replaced, never doubled."""

from datetime import datetime, timedelta

import duckdb

from analysis.answer_reading import read_assessments, read_findings, scanned_weeks
from analysis.answer_writing import write_week_findings
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.record_tables import ensure_tables

MONDAY = datetime(2026, 11, 16, 6)


def finding(week: str, pump_id: str = "P-1") -> Finding:
    return Finding(
        week=week,
        site_id="S-1",
        pump_id=pump_id,
        kind=Kind.LEAK,
        cause="downstream",
        severity=Severity.LOW,
        confidence=0.7,
        first_seen=MONDAY,
        last_seen=MONDAY + timedelta(days=6),
        measures={"leak_lpm": 0.3, "also": ["short_cycling"], "note": None},
        summary="Something draws water every night.",
        limit_source="ours",
        consequence=2,
        state="new",
        grounds=("7 of 7 nights",),
        alternatives=(),
    )


def test_findings_and_assessments_come_back_and_are_replaced() -> None:
    con = duckdb.connect()
    ensure_tables(con)
    held = finding("2026-W47")
    judged = Assessment(
        week="2026-W47", site_id="S-1", pump_id="P-1", kind=Kind.LEAK, status=Status.FOUND
    )

    write_week_findings(con, "2026-W47", [held, finding("2026-W47", "P-2")], [judged])
    write_week_findings(con, "2026-W47", [held], [judged])

    assert read_findings(con, "2026-W47") == [held]
    assert read_findings(con) == [held]
    assert read_assessments(con, "2026-W47") == [judged]
    assert scanned_weeks(con) == ["2026-W47"]
