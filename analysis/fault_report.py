"""Everything the page of recurring faults shows for one week, for page and terminal alike."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import duckdb

from analysis import answer_reading, record_reading
from analysis.fault_history import FaultHistory, read_histories
from analysis.findings import Finding
from analysis.garbage import no_collecting
from analysis.recurrence import RATE_WEEKS, Recurrence, recurrence
from analysis.recurrence_trend import COHORT_WEEKS, YEAR_WEEKS, Trends, trends
from analysis.visit_report import VisitReport, visit_report
from ingest.installed_base import Register
from ingest.store import read_register
from ingest.weeks import Week

TREND_WEEKS = 2 * YEAR_WEEKS + int(COHORT_WEEKS.value)  # last year's season of a span is in it


@dataclass(frozen=True, kw_only=True)
class FaultReport:
    """What recurs, whether it gets worse, and what visits teach."""

    recurrence: Recurrence
    trends: Trends
    visits: VisitReport


def read_fault_report(con: duckdb.DuckDBPyConnection, week: Week) -> FaultReport:
    """Report on a scanned week from the store's answers of up to two years before it."""
    with no_collecting():
        return _read_report(con, week)


def _read_report(con: duckdb.DuckDBPyConnection, week: Week) -> FaultReport:
    register = read_register(con)
    year = read_histories(con, str(week), RATE_WEEKS)
    rates = recurrence(str(week), year, register)
    visits = _visit_report(con, week, register, year)
    del year  # large, as is what comes next
    two_years = read_histories(con, str(week), TREND_WEEKS)
    return FaultReport(
        recurrence=rates, trends=trends(str(week), two_years, register), visits=visits
    )


def _visit_report(
    con: duckdb.DuckDBPyConnection, week: Week, register: Register, year: Sequence[FaultHistory]
) -> VisitReport:
    sites = {visit.site_id for visit in register.visits}
    visited = sorted({visit.pump_id for visit in register.visits if visit.pump_id})
    near = {pump.pump_id for pump in register.pumps.values() if pump.site_id in sites}
    near.update(visited)
    findings = answer_reading.read_findings(con, pump_ids=sorted(near)) if near else []
    return visit_report(
        str(week),
        register,
        year,
        [f for f in findings if f.week <= str(week)],
        record_reading.read_weeks(con, visited, str(week)) if visited else {},
    )


def fault_report(
    week: str,
    histories: Iterable[FaultHistory],
    register: Register,
    findings: Sequence[Finding] = (),
) -> FaultReport:
    """Report from histories and findings of up to a year in memory."""
    known = tuple(histories)
    return FaultReport(
        recurrence=recurrence(week, known, register),
        trends=trends(week, known, register),
        visits=visit_report(week, register, known, findings),
    )
