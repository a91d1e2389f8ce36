"""One week of the fleet: judge each pump by what was measured, write findings and answers."""

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial

import duckdb

from analysis.findings import Finding
from analysis.fingerprint import answers_state, judgement_state
from analysis.fleet_reader import FleetReader
from analysis.history import remembered_weeks
from analysis.judging import assessments_of, findings_of, judge_pump
from analysis.limits import REPORT_WEEK_SHARE
from analysis.measure_new import measure_new
from analysis.peers import MEASURED, notes_of, silent_where_told
from analysis.record_reading import read_measures
from analysis.record_store import (
    add_answers,
    count_findings,
    end_week,
    ensure_tables,
    forget_week,
    read_findings,
    scan_states,
    scanned_weeks,
    weeks_with_assessments,
)
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
        Weeks judged now, oldest first; none where nothing has changed since ``week`` was.
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
    if weeks_judged == [target] and _stands(con, target):
        weeks_judged = []
    compared = (workers or Here()).map(
        call,
        [partial(notes_of, register, read_measures(con, name, MEASURED)) for name in weeks_judged],
    )
    changes: list[Change] = []
    reader = FleetReader(con, register, weeks_judged or [target])
    for name, notes in zip(weeks_judged, compared, strict=True):
        before = read_findings(con, name) if name in judged_before else None
        with transaction(con):
            forget_week(con, name)
            state = _state(con, name)
            with _no_collecting():
                told = {one.pump_id for one in _judge_week(con, reader, name)}
            end_week(con, name, silent_where_told(notes, told), state)
        if before is not None:
            changes += changes_between(name, before, read_findings(con, name))
    with_data = set(read_measures(con, target, ["week"]))
    return ScanReport(
        week=target,
        n_measured=len(touched),
        weeks_judged=tuple(weeks_judged),
        n_pumps=len(register.pumps),
        n_with_data=len(with_data & register.pumps.keys()),
        n_findings=count_findings(con, target),
        late=tuple(one for one in touched if one[0] in judged_before),
        changes=tuple(changes),
    )


def _stands(con: duckdb.DuckDBPyConnection, week: str) -> bool:
    """Whether judging a week again would say the very same."""
    judged_by, answers = scan_states(con).get(week, (None, None))
    return (
        judged_by is not None
        and judged_by == _state(con, week)
        and answers == answers_state(con, week)
    )


def _state(con: duckdb.DuckDBPyConnection, week: str) -> str:
    states = scan_states(con)
    before = [(name, states[name][1]) for name in remembered_weeks(states, week)]
    return judgement_state(con, week, before)


def _judge_week(
    con: duckdb.DuckDBPyConnection, reader: FleetReader, week: str
) -> Iterator[Finding]:
    """Judge a week block by block of pumps and store what is said of each."""
    around = reader.around(week)
    for pumps, fleet in reader.blocks(week):
        said = [judge_pump(fleet, pump, week, around) for pump in pumps]
        asked = [(one.pump.pump_id, item.kind) for one in said for item in one.judged]
        history = reader.history(week, asked)
        findings = [
            found
            for one in said
            for found in findings_of(one, fleet, week, history, around.learned)
        ]
        add_answers(con, findings, [a for one in said for a in assessments_of(one, week)])
        yield from findings


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Look for no cycles of garbage meanwhile: records hold none, and looking takes a sixth."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


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
