"""One week of the fleet: measure what is new, judge each pump, write findings and answers."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import duckdb

from analysis.judging import Fleet, History, judge_week
from analysis.limits import MEMORY_WEEKS, REPORT_WEEK_SHARE
from analysis.measure.measure import measure_week
from analysis.record_store import (
    ensure_tables,
    forget_scans,
    read_assessments,
    read_days,
    read_findings,
    read_op_map,
    read_trips,
    read_weeks,
    scanned_weeks,
    weeks_with_assessments,
    write_records,
    write_week_findings,
)
from analysis.week_changes import Change, changes_between
from ingest.errors import WeekError
from ingest.installed_base import Register
from ingest.samples import read_samples
from ingest.store import read_register
from ingest.weeks import Week, parse_week, week_bounds

BATCH_PUMPS = 20  # pumps measured and stored together; bounds memory, one transaction each

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
    """Measure new pump-weeks and judge the fleet's week.

    Weeks before it that were never judged, or whose samples or history changed, are judged
    too, oldest first, because "since when" and "worse" rest on them.

    Raises
    ------
    WeekError
        The store holds no samples of that week, or none at all.
    """
    ensure_tables(con)
    target = str(week or report_week(con))
    weeks_with_data = [
        row[0]
        for row in con.execute("select distinct week from coverage order by week").fetchall()
    ]
    if target not in weeks_with_data:
        raise WeekError(f"{target}: the store has no samples of this week.")
    register = read_register(con)
    judged_before = weeks_with_assessments(con)
    touched = measure_new(con, register, target, progress)
    weeks_judged = _weeks_to_judge(con, weeks_with_data, touched, target)
    fleet = Fleet(
        register=register,
        weeks=read_weeks(con, up_to=target),
        days=read_days(con, up_to=target),
        op_map=read_op_map(con, up_to=target),
        trips=read_trips(con, up_to=target),
    )
    history = _history_before(con, weeks_judged[0])
    changes: list[Change] = []
    for name in weeks_judged:
        findings, assessments = judge_week(fleet, name, history)
        if name in judged_before:
            changes += changes_between(name, read_findings(con, name), findings)
        with _transaction(con):
            write_week_findings(con, name, findings, assessments)
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


def measure_new(
    con: duckdb.DuckDBPyConnection,
    register: Register,
    up_to: str,
    progress: Progress | None = None,
) -> list[tuple[str, str]]:
    """Measure every pump-week, up to a week, that is new or that a load has touched.

    Returns
    -------
    list of (week, pump id) measured now.
    """
    todo = con.execute(
        "select c.week, s.timezone, p.pump_id, c.pump_no from coverage c"
        " join pump_numbers n using (pump_no) join pumps p on p.pump_id = n.pump_id"
        " join sites s on s.site_id = p.site_id"
        " where not c.is_measured and c.week <= $up_to order by c.week, s.timezone, p.pump_id",
        {"up_to": up_to},
    ).fetchall()
    done: list[tuple[str, str]] = []
    for batch in _batches(todo):
        week, timezone = parse_week(batch[0][0]), batch[0][1]
        from_at, to_at = week_bounds(week, timezone)
        pump_ids = [row[2] for row in batch]
        records = []
        for samples in read_samples(con, pump_ids, from_at, to_at):
            pump = register.pumps[samples.pump_id]
            records.append(measure_week(samples, pump, register.sites[pump.site_id], week))
        with _transaction(con):
            write_records(con, records)
            # Judgements of this week and later ones rest on what has changed. Should the work stop
            # before they are made again, they are known as not made.
            forget_scans(con, from_week=str(week))
            con.execute(
                "update coverage set is_measured = true"
                " where week = $week and list_contains($pump_nos::integer[], pump_no)",
                {"week": str(week), "pump_nos": [row[3] for row in batch]},
            )
        done.extend((str(week), pump_id) for pump_id in pump_ids)
        if progress is not None:
            progress(len(done), len(todo), f"measuring {week}")
    return done


class _transaction:  # noqa: N801  # reads as a statement: with _transaction(con)
    """All of a block, or nothing of it."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.con = con

    def __enter__(self) -> None:
        self.con.begin()

    def __exit__(self, kind: object, value: object, trace: object) -> None:
        if kind is None:
            self.con.commit()
        else:
            self.con.rollback()


def _batches(
    todo: Sequence[tuple[str, str, str, int]],
) -> Iterator[list[tuple[str, str, str, int]]]:
    """Split pump-weeks into batches of one week and one zone each."""
    for _, group in groupby(todo, key=lambda row: row[:2]):
        rows = list(group)
        for first in range(0, len(rows), BATCH_PUMPS):
            yield rows[first : first + BATCH_PUMPS]


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
