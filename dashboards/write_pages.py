"""All that one scanned week leaves in the output folder: pages, shared files and data files."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import partial
from math import ceil
from pathlib import Path
from typing import TypeVar

import duckdb

from analysis import answer_reading, record_reading
from analysis.call_weights import DEFAULT_WEIGHTS, Weights
from analysis.calls import Call, departed, rank_calls, utility_calls
from analysis.fault_report import read_fault_report
from analysis.findings import Assessment, Finding
from analysis.fingerprint import pages_state
from analysis.fleet_state import FleetState, PumpState, fleet_state
from analysis.visit_effects import RESTING, Standing, standing
from analysis.workers import Spread, call
from dashboards import export
from dashboards.assets import FOLDER as ASSETS
from dashboards.assets import asset_names, write_assets
from dashboards.pages.base import write_if_changed
from dashboards.pages.faults import faults_page, render_faults
from dashboards.pages.index import index_page, render_index
from dashboards.pages.site import write_site_pages
from dashboards.pages.site_links import SITE_FOLDER, site_file_name
from dashboards.written import forget_written, note_written, report_as_written
from ingest.installed_base import Register
from ingest.store import opened_store, read_register
from ingest.weeks import Week

TREND_WEEKS = 6  # weeks drawn beside a site, this one included: what a glance can take in

BATCHES_A_WORKER = 2
"""Ours: each reads the week's findings anew; with fewer, the last may keep the others waiting."""

Progress = Callable[[int, int, str], None]
Made = TypeVar("Made")


@dataclass(frozen=True, kw_only=True)
class PagesReport:
    """What was written: sites in the call list, sites in all, pumps not heard from."""

    n_calls: int
    n_sites: int
    n_not_heard: int


@dataclass(frozen=True, kw_only=True)
class KnownWeek:
    """What the pages of one week are made of; ``past`` is oldest first, None if not scanned."""

    week: Week
    register: Register
    findings: Sequence[Finding]
    assessments: Sequence[Assessment]
    past: Sequence[Sequence[Finding] | None]
    log_begins: Mapping[str, datetime]


def write_pages(
    con: duckdb.DuckDBPyConnection,
    week: Week,
    out: Path,
    *,
    capacity: int | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
    is_single_file: bool = False,
    spread: Spread | None = None,
    progress: Progress | None = None,
) -> PagesReport:
    """Write pages and data files of a week that has been scanned; unchanged pages stay.

    Parameters
    ----------
    con : DuckDBPyConnection
        Store, open for reading only where work is spread.
    is_single_file : bool
        Make each site's page one file of its own.
    spread : Spread, optional
        Workers to write pages side by side.
    """
    out.mkdir(parents=True, exist_ok=True)
    options = (f"{capacity} {is_single_file}", repr(weights))
    state = pages_state(con, str(week), *options)
    before = None if state is None else report_as_written(out, state)
    if before is not None:
        return PagesReport(**before)
    forget_written(out)
    if spread is not None:
        spread.aside.prepare()
    sites = partial(
        write_site_pages, week=week, out=out, weights=weights, is_single_file=is_single_file
    )
    if spread is not None and spread.workers.n > 1:
        batches = _even_batches(
            list(read_register(con).sites), BATCHES_A_WORKER * spread.workers.n
        )
        apart = spread.workers.map(
            call, [_apart(spread, partial(sites, site_ids=site_ids)) for site_ids in batches]
        )
        faults = spread.aside.map(
            call, [_apart(spread, partial(write_faults, week=week, out=out))]
        )
    known = read_week(con, week)
    calls, parted = ranked(con, known, capacity, weights)
    write_assets(out)
    write_data(con, out, known, calls)
    fleet = write_index(out, known, calls, parted, capacity, weights)
    if spread is not None and spread.workers.n > 1:
        n_done = 0
        for site_ids, n_written in zip(batches, apart, strict=True):
            n_done += n_written
            if progress is not None:
                progress(n_done, len(known.register.sites), site_ids[-1])
        list(faults)
    else:
        write_faults(con, week, out)
        sites(con, progress=progress)
    report = PagesReport(
        n_calls=len(calls),
        n_sites=len(known.register.sites),
        n_not_heard=fleet.count(PumpState.NOT_HEARD),
    )
    if state is not None:
        note_written(out, state, _files(out, known.register), asdict(report))
    return report


def _files(out: Path, register: Register) -> list[Path]:
    """Every file that is written."""
    names = ["index.html", "faults.html", *export.FILES]
    names += [f"{ASSETS}/{name}" for name in asset_names()]
    names += [f"{SITE_FOLDER}/{site_file_name(site_id)}" for site_id in register.sites]
    return [out / name for name in names]


def write_faults(con: duckdb.DuckDBPyConnection, week: Week, out: Path) -> None:
    """Write the page of recurring faults."""
    report = read_fault_report(con, week)
    write_if_changed(out / "faults.html", render_faults(week, faults_page(report)))


def _apart(
    spread: Spread, work: Callable[[duckdb.DuckDBPyConnection], Made]
) -> Callable[[], Made]:
    """Make some work on the store a job, to be done by a process of its own."""
    return partial(_with_store, spread.store, spread.memory_limit, work)


def _with_store(
    store: Path, memory_limit: str, work: Callable[[duckdb.DuckDBPyConnection], Made]
) -> Made:
    with opened_store(store, read_only=True, memory_limit=memory_limit, threads=1) as con:
        return work(con)


def _even_batches(site_ids: Sequence[str], n: int) -> list[Sequence[str]]:
    size = max(1, ceil(len(site_ids) / n))
    return [site_ids[first : first + size] for first in range(0, len(site_ids), size)]


def read_week(con: duckdb.DuckDBPyConnection, week: Week) -> KnownWeek:
    """Read what the pages of a scanned week are made of, those of single sites excepted."""
    scanned = set(answer_reading.scanned_weeks(con))
    earlier = [str(week.plus(-n)) for n in range(TREND_WEEKS - 1, 0, -1)]
    return KnownWeek(
        week=week,
        register=read_register(con),
        findings=answer_reading.read_findings(con, str(week)),
        assessments=answer_reading.read_assessments(con, str(week)),
        past=[
            answer_reading.read_findings(con, name) if name in scanned else None
            for name in earlier
        ],
        log_begins=record_reading.log_begins(con),
    )


def _history(con: duckdb.DuckDBPyConnection, known: KnownWeek) -> list[Finding]:
    """Earlier findings of pumps where a visit lets one rest that may have grown since."""
    at = {visit.site_id for visit in known.register.visits if visit.outcome in RESTING}
    pump_ids = [p.pump_id for site_id in sorted(at) for p in known.register.pumps_at(site_id)]
    if not pump_ids:
        return []
    found = answer_reading.read_findings(con, pump_ids=pump_ids)
    return [f for f in found if f.week < str(known.week)]


def ranked(
    con: duckdb.DuckDBPyConnection,
    known: KnownWeek,
    capacity: int | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
) -> tuple[tuple[Call, ...], Standing]:
    """Sites of a week in the order to act on them, and what rests meanwhile."""
    parted = standing(known.findings, known.register, str(known.week), _history(con, known))
    calls = rank_calls(
        parted.open,
        known.register,
        capacity=capacity,
        past=known.past,
        weights=weights,
        notes=parted.notes,
    )
    return calls, parted


def write_index(
    out: Path,
    known: KnownWeek,
    calls: Sequence[Call],
    parted: Standing,
    capacity: int | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
) -> FleetState:
    """Write the page of the call list; return what state the fleet is in."""
    fleet = fleet_state(known.assessments, known.register)
    last_week = known.past[-1] or ()
    page = index_page(
        calls,
        fleet,
        known.register,
        capacity=capacity,
        utility=utility_calls(parted.open, known.register, weights),
        gone=departed(known.findings, last_week, known.assessments),
        log_begins=known.log_begins,
        muted=parted.muted,
    )
    write_if_changed(out / "index.html", render_index(known.week, page))
    return fleet


def write_data(
    con: duckdb.DuckDBPyConnection, out: Path, known: KnownWeek, calls: Sequence[Call]
) -> None:
    """Write the week as data files."""
    export.write_findings(out, known.findings)
    export.write_calls(out, calls)
    export.write_calls_workbook(out, calls)
    export.write_assessments(out, known.assessments)
    export.write_reject_file(con, out)
