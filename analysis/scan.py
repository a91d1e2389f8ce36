"""One week of the fleet: judge each pump by what was measured, write findings and answers."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import duckdb

from analysis.answer_reading import (
    count_findings,
    pumps_with_findings,
    read_findings,
    scan_states,
    scanned_weeks,
    weeks_with_assessments,
)
from analysis.answer_writing import add_laid_out, answers_laid_out, end_week, forget_week
from analysis.findings import Assessment, Finding
from analysis.fingerprint import answers_state, judgement_state
from analysis.fleet_reader import FleetReader
from analysis.garbage import no_collecting
from analysis.history import remembered_weeks
from analysis.judging import assessments_of, findings_of, judge_pump
from analysis.limits import REPORT_WEEK_SHARE
from analysis.measure_new import measure_new
from analysis.peers import MEASURED, PeerNote, notes_of, silent_where_told
from analysis.record_reading import read_measures
from analysis.record_tables import ensure_tables
from analysis.week_changes import Change, changes_between
from analysis.workers import Here, Workers, call
from ingest.errors import WeekError
from ingest.installed_base import Register
from ingest.store import read_register, transaction
from ingest.weeks import Week, parse_week

if TYPE_CHECKING:
    import pyarrow as pa

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
    plan = plan_of(con, week, touched)
    compared = compare(con, plan, workers or Here())
    changes: list[Change] = []
    reader = FleetReader(con, plan.register, plan.weeks or [plan.target])
    for name, notes in zip(plan.weeks, compared, strict=True):
        state = state_of(con, name)
        answers = (
            answers_laid_out(con, findings, assessments)
            for findings, assessments in judged_blocks(reader, name)
        )
        changes += store_week(con, plan, name, state, answers, notes)
    return report_on(con, plan, changes)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What there is to judge.

    Attributes
    ----------
    target : str
        The week asked for.
    weeks : tuple of str
        Weeks to judge, oldest first; none where the judgement of ``target`` stands.
    touched : tuple of (week, pump id)
        What was measured since the last scan.
    judged_before : set of str
        Weeks that were judged once.
    """

    register: Register
    target: str
    weeks: tuple[str, ...]
    touched: tuple[tuple[str, str], ...]
    judged_before: frozenset[str]


def plan_of(
    con: duckdb.DuckDBPyConnection, week: Week, touched: Sequence[tuple[str, str]]
) -> Plan:
    """Say what there is to judge, in a store open for writing."""
    ensure_tables(con)
    target = str(week)
    weeks = _weeks_to_judge(con, _weeks_with_data(con), touched, target)
    if weeks == [target] and _stands(con, target):
        weeks = []
    return Plan(
        register=read_register(con),
        target=target,
        weeks=tuple(weeks),
        touched=tuple(touched),
        judged_before=frozenset(weeks_with_assessments(con)),
    )


def compare(
    con: duckdb.DuckDBPyConnection, plan: Plan, workers: Workers
) -> Iterator[dict[str, PeerNote]]:
    """Compare pumps with their peers, week by week; begun at once where workers do it."""
    jobs = [
        partial(notes_of, plan.register, read_measures(con, name, MEASURED)) for name in plan.weeks
    ]
    return workers.map(call, jobs)


def state_of(con: duckdb.DuckDBPyConnection, week: str) -> str:
    """All that judging a week hangs on, as it is now."""
    states = scan_states(con)
    before = [(name, states[name][1]) for name in remembered_weeks(states, week)]
    return judgement_state(con, week, before)


def judged_blocks(
    reader: FleetReader, week: str
) -> Iterator[tuple[list[Finding], list[Assessment]]]:
    """Judge a week block by block of pumps."""
    around = reader.around(week)
    for pumps, fleet in reader.blocks(week):
        said = [judge_pump(fleet, pump, week, around) for pump in pumps]
        asked = [(one.pump.pump_id, item.kind) for one in said for item in one.judged]
        history = reader.history(week, asked)
        yield (
            [f for one in said for f in findings_of(one, fleet, week, history, around.learned)],
            [a for one in said for a in assessments_of(one, week)],
        )


def store_week(
    con: duckdb.DuckDBPyConnection,
    plan: Plan,
    week: str,
    state: str,
    answers: "Iterable[Mapping[str, pa.Table]]",
    notes: Mapping[str, PeerNote],
) -> list[Change]:
    """Store the judgement of a week, all of it or nothing; say what that changes.

    Parameters
    ----------
    state : str
        What it hung on.
    answers : iterable of dict
        What `answers_laid_out` gave of each block of pumps; may judge them as they are asked for.
    """
    before = read_findings(con, week) if week in plan.judged_before else None
    with transaction(con), no_collecting():
        forget_week(con, week)
        for laid_out in answers:
            add_laid_out(con, laid_out)
        end_week(con, week, silent_where_told(notes, pumps_with_findings(con, week)), state)
    return [] if before is None else changes_between(week, before, read_findings(con, week))


def report_on(con: duckdb.DuckDBPyConnection, plan: Plan, changes: Sequence[Change]) -> ScanReport:
    """Say what was done."""
    with_data = set(read_measures(con, plan.target, ["week"]))
    return ScanReport(
        week=plan.target,
        n_measured=len(plan.touched),
        weeks_judged=plan.weeks,
        n_pumps=len(plan.register.pumps),
        n_with_data=len(with_data & plan.register.pumps.keys()),
        n_findings=count_findings(con, plan.target),
        late=tuple(one for one in plan.touched if one[0] in plan.judged_before),
        changes=tuple(changes),
    )


def _stands(con: duckdb.DuckDBPyConnection, week: str) -> bool:
    """Whether judging a week again would say the very same."""
    judged_by, answers = scan_states(con).get(week, (None, None))
    return (
        judged_by is not None
        and judged_by == state_of(con, week)
        and answers == answers_state(con, week)
    )


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
