"""Measure the pump-weeks that are new, or that a load has touched, and store their records."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil
from pathlib import Path

import duckdb

from analysis.answer_writing import forget_scans
from analysis.measure.measure import measure_week
from analysis.record_tables import ensure_tables
from analysis.record_writing import write_records
from analysis.records import PumpRecord
from analysis.workers import Spread
from ingest.archive import Archive, outside_counts
from ingest.freed_memory import keep_freed_memory
from ingest.installed_base import Pump, Register, Site
from ingest.outside import OutsideFile
from ingest.samples import PumpSamples, read_outside_samples, read_samples, sample_columns
from ingest.store import opened_store, read_register, transaction
from ingest.weeks import Week, parse_week, week_bounds

BATCH_PUMPS = 20  # pumps measured and stored together; bounds memory, one transaction each
LEAST_JOB_PUMPS = 5
JOBS_A_WORKER = 4
"""Ours: each job opens the store, and the last one may keep the others waiting."""
ROUND_JOBS = 100
"""Jobs whose records are stored together, as no one may write while workers read."""

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class PumpWeekToDo:
    """A pump-week to measure, and how many samples of it there were when that was decided."""

    week: str
    timezone: str
    pump_id: str
    pump_no: int
    n_samples: int

    @property
    def key(self) -> tuple[str, str]:
        """Week and pump."""
        return self.week, self.pump_id


@dataclass(frozen=True)
class MeasureJob:
    """Pump-weeks of one week and zone, to be measured by a process of its own.

    Attributes
    ----------
    outside : tuple of OutsideFile
        Files that hold all their samples, so that the store is not needed; else none.
    columns : tuple of str
        Channels, and fault codes, the store has samples of.
    """

    store: Path
    memory_limit: str
    week: Week
    pumps: tuple[tuple[Pump, Site], ...]
    outside: tuple[OutsideFile, ...] = ()
    columns: tuple[str, ...] = ()


def measure_new(
    con: duckdb.DuckDBPyConnection, up_to: str, progress: Progress | None = None
) -> list[tuple[str, str]]:
    """Measure every pump-week, up to a week, that is new or touched, in this process.

    Parameters
    ----------
    con : DuckDBPyConnection
        A store open for writing.

    Returns
    -------
    list of (week, pump id) measured now.
    """
    ensure_tables(con)
    register = read_register(con)
    todo = to_measure(con, up_to)
    if todo:
        keep_freed_memory()
    done: list[tuple[str, str]] = []
    for batch in _batches(todo, BATCH_PUMPS):
        records = measure_pumps(con, parse_week(batch[0].week), _with_sites(batch, register))
        _store(con, batch, records)
        done += [one.key for one in batch]
        if progress is not None:
            progress(len(done), len(todo), f"measuring {batch[0].week}")
    return done


def measure_apart(
    spread: Spread, up_to: str, progress: Progress | None = None
) -> list[tuple[str, str]]:
    """Measure as `measure_new` does, in other processes; the store must not be open here.

    Workers read the store side by side, and it is opened for writing between their rounds. A
    pump-week that someone else's load touches meanwhile is left for the next scan.

    Raises
    ------
    StoreError
        The store cannot be opened.
    WorkerError
        The workers are lost.
    """
    store, memory_limit = spread.store.absolute(), spread.memory_limit
    with opened_store(store, memory_limit=memory_limit) as con:
        ensure_tables(con)
        register = read_register(con)
        todo = to_measure(con, up_to)
        n_jobs = JOBS_A_WORKER * spread.measurers.n
        n_pumps = min(BATCH_PUMPS, max(LEAST_JOB_PUMPS, ceil(len(todo) / n_jobs)))
        planner = _Planner(con, store, memory_limit, register, todo)
        by_file = sorted(todo, key=planner.place)
        plans = [(batch, planner.job(batch)) for batch in _batches(by_file, n_pumps)]
    done: list[tuple[str, str]] = []
    for start in range(0, len(plans), ROUND_JOBS):
        some = plans[start : start + ROUND_JOBS]
        found = []
        results = spread.measurers.map(measure_job, [job for _, job in some])
        for (batch, _), records in zip(some, results, strict=True):
            found.append((batch, records))
            if progress is not None:
                n_done = len(done) + sum(len(batch) for batch, _ in found)
                progress(n_done, len(todo), f"measuring {batch[0].week}")
        with opened_store(store, memory_limit=memory_limit) as con:
            for same in _joined(found):
                _store(con, *same)
        done += [one.key for batch, _ in found for one in batch]
    return done


def measure_job(job: MeasureJob) -> list[PumpRecord]:
    """Measure some pumps; runs in a worker."""
    if job.outside:
        bounds = week_bounds(job.week, job.pumps[0][1].timezone)
        pump_ids = [pump.pump_id for pump, _ in job.pumps]
        found = read_outside_samples(job.outside, job.columns, pump_ids, *bounds)
        return _measured(found, job.week, job.pumps)
    with opened_store(job.store, read_only=True, memory_limit=job.memory_limit, threads=1) as con:
        return measure_pumps(con, job.week, job.pumps)


def measure_pumps(
    con: duckdb.DuckDBPyConnection, week: Week, pumps: Sequence[tuple[Pump, Site]]
) -> list[PumpRecord]:
    """Measure a week of pumps of one time zone, in order of their ids."""
    bounds = week_bounds(week, pumps[0][1].timezone)
    found = read_samples(con, [pump.pump_id for pump, _ in pumps], *bounds)
    return _measured(found, week, pumps)


def _measured(
    found: Iterable[PumpSamples], week: Week, pumps: Sequence[tuple[Pump, Site]]
) -> list[PumpRecord]:
    of_id = {pump.pump_id: (pump, site) for pump, site in pumps}
    return [measure_week(samples, *of_id[samples.pump_id], week) for samples in found]


class _Planner:
    """Makes jobs of pump-weeks; those that lie outside the store need it no more."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        store: Path,
        memory_limit: str,
        register: Register,
        todo: Sequence[PumpWeekToDo],
    ) -> None:
        self.store = store
        self.memory_limit = memory_limit
        self.register = register
        self.archive = Archive(con)
        self.columns = tuple(sample_columns(con))
        self.outside = outside_counts(con, sorted({one.week for one in todo}))

    def place(self, one: PumpWeekToDo) -> tuple[str, str, str, str]:
        """Sort pumps of one file together, so that few jobs read it."""
        _, name = self.outside.get((one.pump_no, one.week), (0, ""))
        return one.week, one.timezone, name, one.pump_id

    def job(self, batch: Sequence[PumpWeekToDo]) -> MeasureJob:
        """Make one job."""
        week = parse_week(batch[0].week)
        counts = (self.outside.get((one.pump_no, one.week), (0, "")) for one in batch)
        outside: tuple[OutsideFile, ...] = ()
        if all(n == one.n_samples for one, (n, _) in zip(batch, counts, strict=True)):
            bounds = week_bounds(week, batch[0].timezone)
            outside = tuple(self.archive.holding([one.pump_no for one in batch], *bounds))
        pumps = _with_sites(batch, self.register)
        return MeasureJob(self.store, self.memory_limit, week, pumps, outside, self.columns)


def to_measure(con: duckdb.DuckDBPyConnection, up_to: str) -> list[PumpWeekToDo]:
    """Pump-weeks up to a week that are not measured as they are now, weeks in order."""
    rows = con.execute(
        "select c.week, s.timezone, p.pump_id, c.pump_no, c.n_samples from coverage c"
        " join pump_numbers n using (pump_no) join pumps p on p.pump_id = n.pump_id"
        " join sites s on s.site_id = p.site_id"
        " where not c.is_measured and c.week <= $up_to order by c.week, s.timezone, p.pump_id",
        {"up_to": up_to},
    ).fetchall()
    return [PumpWeekToDo(*row) for row in rows]


def _with_sites(
    batch: Sequence[PumpWeekToDo], register: Register
) -> tuple[tuple[Pump, Site], ...]:
    pumps = [register.pumps[one.pump_id] for one in batch]
    return tuple((pump, register.sites[pump.site_id]) for pump in pumps)


def _store(
    con: duckdb.DuckDBPyConnection, batch: Sequence[PumpWeekToDo], records: Sequence[PumpRecord]
) -> None:
    """Store the records of pump-weeks of one week, all of them or none."""
    week = batch[0].week
    with transaction(con):
        write_records(con, records)
        # Judgements of this week and later ones rest on what has changed. Should the work stop
        # before they are made again, they are known as not made.
        forget_scans(con, from_week=week)
        con.execute(
            "update coverage set is_measured = true from (select unnest($pump_nos::integer[]) as"
            " pump_no, unnest($n_samples::bigint[]) as n_samples) as measured"
            " where coverage.week = $week and coverage.pump_no = measured.pump_no"
            " and coverage.n_samples = measured.n_samples",
            {
                "week": week,
                "pump_nos": [one.pump_no for one in batch],
                "n_samples": [one.n_samples for one in batch],
            },
        )


def _batches(todo: Sequence[PumpWeekToDo], n_pumps: int) -> Iterator[list[PumpWeekToDo]]:
    """Split pump-weeks into batches of one week and one zone each."""
    for _, group in groupby(todo, key=lambda one: (one.week, one.timezone)):
        rows = list(group)
        for first in range(0, len(rows), n_pumps):
            yield rows[first : first + n_pumps]


def _joined(
    found: Sequence[tuple[list[PumpWeekToDo], list[PumpRecord]]],
) -> Iterator[tuple[list[PumpWeekToDo], list[PumpRecord]]]:
    """Put batches of one week together."""
    for _, group in groupby(found, key=lambda one: one[0][0].week):
        same = list(group)
        yield (
            [todo for batch, _ in same for todo in batch],
            [record for _, records in same for record in records],
        )
