"""Everything the page of recurring faults shows for one week, for page and terminal alike."""

from collections.abc import Iterable
from dataclasses import dataclass

import duckdb

from analysis.fault_history import FaultHistory, read_histories
from analysis.recurrence import RATE_WEEKS, Recurrence, recurrence
from analysis.recurrence_trend import COHORT_WEEKS, YEAR_WEEKS, Trends, trends
from ingest.installed_base import Register
from ingest.store import read_register
from ingest.weeks import Week

TREND_WEEKS = 2 * YEAR_WEEKS + int(COHORT_WEEKS.value)  # last year's season of a span is in it


@dataclass(frozen=True, kw_only=True)
class FaultReport:
    """What recurs, and whether it gets worse."""

    recurrence: Recurrence
    trends: Trends


def read_fault_report(con: duckdb.DuckDBPyConnection, week: Week) -> FaultReport:
    """Report on a scanned week from the store's answers of up to two years before it."""
    register = read_register(con)
    year = read_histories(con, str(week), RATE_WEEKS)
    return FaultReport(
        recurrence=recurrence(str(week), year, register),
        trends=trends(str(week), read_histories(con, str(week), TREND_WEEKS), register),
    )


def fault_report(week: str, histories: Iterable[FaultHistory], register: Register) -> FaultReport:
    """Report from histories of up to a year in memory."""
    known = tuple(histories)
    return FaultReport(
        recurrence=recurrence(week, known, register), trends=trends(week, known, register)
    )
