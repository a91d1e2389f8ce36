"""Judge a large fleet in several processes, each a part of the pumps.

They read the store for themselves. Small fleets are judged in this process: opening the store and
reading the register anew in each of the others would take longer than the judging.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from analysis.answer_writing import answers_laid_out
from analysis.fleet_reader import FleetReader
from analysis.garbage import no_collecting
from analysis.scan import (
    Plan,
    ScanReport,
    compare,
    judged_blocks,
    plan_of,
    report_on,
    state_of,
    store_week,
)
from analysis.week_changes import Change
from analysis.workers import Spread
from ingest.store import opened_store, read_register
from ingest.weeks import Week

if TYPE_CHECKING:
    import pyarrow as pa

APART_PUMPS = 4_000
"""Ours: judging them takes some 12 s, ten times what another process needs to begin."""
JOBS_A_WORKER = 4
"""Ours: each reads the register anew; with fewer, the last may keep the others waiting."""


@dataclass(frozen=True)
class JudgeJob:
    """A part of the pumps to judge in a week, by a process of its own."""

    store: Path
    memory_limit: str
    week: str
    part: tuple[int, int]


def is_worth_it(spread: Spread, con: duckdb.DuckDBPyConnection) -> bool:
    """Whether several processes judge the pumps of a store sooner than one."""
    (n_pumps,) = con.execute("select count(*) from pumps").fetchall()[0]
    return bool(spread.workers.n > 1 and n_pumps >= APART_PUMPS)


def judge_apart(spread: Spread, week: Week, touched: Sequence[tuple[str, str]] = ()) -> ScanReport:
    """Judge as `analysis.scan.judge` does, in other processes; the store must not be open here.

    They read it side by side, and it is opened for writing between the weeks. What somebody else
    changes of it meanwhile is found by the next scan, which judges the week again.

    Raises
    ------
    StoreError
        The store cannot be opened.
    WorkerError
        The workers are lost.
    """
    store, memory_limit = spread.store.absolute(), spread.memory_limit
    with opened_store(store, memory_limit=memory_limit) as con:
        plan = plan_of(con, week, touched)
        compared = compare(con, plan, spread.aside)
        states = [state_of(con, name) for name in plan.weeks[:1]]
    changes: list[Change] = []
    for name in plan.weeks:
        parts = list(_judged(spread, store, plan, name))
        with opened_store(store, memory_limit=memory_limit) as con:
            changes += store_week(con, plan, name, states[-1], parts, next(compared))
            states += [state_of(con, later) for later in plan.weeks if later > name][:1]
    with opened_store(store, read_only=True, memory_limit=memory_limit) as con:
        return report_on(con, plan, changes)


def _judged(spread: Spread, store: Path, plan: Plan, week: str) -> "Iterator[dict[str, pa.Table]]":
    n_jobs = JOBS_A_WORKER * spread.workers.n
    jobs = [
        JudgeJob(store, spread.memory_limit, week, (number, n_jobs)) for number in range(n_jobs)
    ]
    for blocks in spread.workers.map(judge_job, jobs):
        yield from blocks


def judge_job(job: JudgeJob) -> "list[dict[str, pa.Table]]":
    """Judge a part of the pumps; runs in a worker."""
    with (
        opened_store(job.store, read_only=True, memory_limit=job.memory_limit, threads=1) as con,
        no_collecting(),
    ):
        reader = FleetReader(con, read_register(con), [job.week], part=job.part)
        return [answers_laid_out(con, *block) for block in judged_blocks(reader, job.week)]
