"""One week of the fleet: judge each pump by what was measured, write findings and answers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import duckdb

from analysis.judging import Fleet, History, judge_week
from analysis.limits import MEMORY_WEEKS, REPORT_WEEK_SHARE
from analysis.measure_new import measure_new
from analysis.peers import peer_notes, silent_where_told
from analysis.record_store import (
    ensure_tables,
    read_assessments,
    read_days,
    read_findings,
    read_op_map,
    read_trips,
    read_weeks,
    scanned_weeks,
    weeks_with_assessments,
    write_week_findings,
)
from analysis.records import PumpWeek
from analysis.week_changes import Change, changes_between
from analysis.workers import Here, Workers, call
from ingest.errors import WeekError
from ingest.store import read_register, transaction
from ingest.weeks import Week, parse_week

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, kw_only=True)
class ScanReport:
    """What one scan did.

    Attributes
    ----------
    week : str
        The week judged, 2026-W47.
    n_measured : int
        Pump-weeks measured now (new or touched by a load).
    weeks_judged : tuple of str
        Weeks judged now, oldest first; the last is ``week``.
    n_pumps, n_with_data, n_findings : int
        Of the week: pumps registered, pumps heard from, findings.
    late : tuple of (week, pump id)
        Pump-weeks measured again, as a load added samples to a week judged before.
    changes : tuple of Change
        What judging such weeks again has changed.
    """

    week: str
    n_measured: int
    weeks_judged: tuple[str, ...]
    n_pumps: int
    n_with_data: int
    n_findings: int
    late: tuple[tuple[str, str], ...] = ()
    changes: tuple[Change, ...] = ()


def scan(
    con: duckdb.DuckDBPyConnection, week: Week | None = None, progress: Progress | None = None
) -> ScanReport:
    """Measure new pump-weeks and judge the fleet's week, all in this process.

    Raises
    ------
    WeekError
        The store holds no samples of that week, or none at all.
    """
    chosen = week_to_scan(con, week)
    return judge(con, chosen, measure_new(con, str(chosen), progress))


def week_to_scan(con: duckdb.DuckDBPyConnection, week: Week | None) -> Week:
    """Return the week asked for, or else the one to report; the store has samples of it.

    Raises
    ------
    WeekError
        It has not, or none at all.
    """
    chosen = week or report_week(con)
    if str(chosen) not in _weeks_with_data(con):
        raise WeekError(f"{chosen}: the store has no samples of this week.")
    return chosen


def judge(
    con: duckdb.DuckDBPyConnection,
    week: Week,
    touched: Sequence[tuple[str, str]] = (),
    workers: Workers | None = None,
) -> ScanReport:
    """Judge the fleet's week by its records.

    Weeks before it that were never judged, or whose samples or history changed, are judged
    too, oldest first, because "since when" and "worse" rest on them.

    Parameters
    ----------
    touched : sequence of (week, pump id)
        What was measured since the last scan.
    workers : Workers, optional
        Where pumps are compared with their peers meanwhile.
    """
    ensure_tables(con)
    target = str(week)
    register = read_register(con)
    judged_before = weeks_with_assessments(con)
    weeks_judged = _weeks_to_judge(con, _weeks_with_data(con), touched, target)
    weeks = read_weeks(con, up_to=target)
    compared = (workers or Here()).map(
        call, [partial(peer_notes, register, _of_week(weeks, name)) for name in weeks_judged]
    )
    fleet = Fleet(
        register=register,
        weeks=weeks,
        days=read_days(con, up_to=target),
        op_map=read_op_map(con, up_to=target),
        trips=read_trips(con, up_to=target),
    )
    history = _history_before(con, weeks_judged[0])
    changes: list[Change] = []
    for name, notes in zip(weeks_judged, compared, strict=True):
        findings, assessments = judge_week(fleet, name, history)
        if name in judged_before:
            changes += changes_between(name, read_findings(con, name), findings)
        with transaction(con):
            write_week_findings(
                con, name, findings, assessments, silent_where_told(notes, findings)
            )
        history.add(findings, assessments)
    with_data = {pump for pump, weeks in fleet.weeks.items() if weeks[-1].week == target}
    return ScanReport(
        week=target,
        n_measured=len(touched),
        weeks_judged=tuple(weeks_judged),
        n_pumps=len(register.pumps),
        n_with_data=len(with_data & register.pumps.keys()),
        n_findings=len(read_findings(con, target)),
        late=tuple(one for one in touched if one[0] in judged_before),
        changes=tuple(changes),
    )


def _of_week(weeks: Mapping[str, Sequence[PumpWeek]], name: str) -> dict[str, PumpWeek]:
    """Records of one week, by pump."""
    return {
        pump_id: one for pump_id, of_pump in weeks.items() for one in of_pump if one.week == name
    }


def report_week(con: duckdb.DuckDBPyConnection) -> Week:
    """Last ISO week with data for most of the pumps that ever sent any.

    Raises
    ------
    WeekError
        The store holds no samples.
    """
    rows = con.execute(
        "select week, count(*) from coverage group by week order by week desc"
    ).fetchall()
    if not rows:
        raise WeekError("The store has no samples yet: load logs first.")
    (n_pumps,) = con.execute("select count(distinct pump_no) from coverage").fetchall()[0]
    enough = [name for name, n in rows if n >= REPORT_WEEK_SHARE.value * n_pumps]
    return parse_week(enough[0] if enough else rows[0][0])


def _weeks_with_data(con: duckdb.DuckDBPyConnection) -> list[str]:
    rows = con.execute("select distinct week from coverage order by week").fetchall()
    return [week for (week,) in rows]


def _weeks_to_judge(
    con: duckdb.DuckDBPyConnection,
    weeks_with_data: Sequence[str],
    touched: Sequence[tuple[str, str]],
    target: str,
) -> list[str]:
    """Weeks whose judgement is missing or rests on what has changed, oldest first."""
    judged = set(scanned_weeks(con))
    candidates = [week for week in weeks_with_data if week <= target]
    stale = [week for week in candidates if week not in judged] + [week for week, _ in touched]
    return [week for week in candidates if week >= min(stale, default=target)]


def _history_before(con: duckdb.DuckDBPyConnection, week: str) -> History:
    history = History()
    earlier = [name for name in scanned_weeks(con) if name < week]
    for name in earlier[-int(MEMORY_WEEKS.value) :]:
        history.add(read_findings(con, name), read_assessments(con, name))
    return history
