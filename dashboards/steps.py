"""The steps after the load: each does its work and says in a few lines what it did."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path

import click
import duckdb

from analysis import answer_reading
from analysis.call_weights import DEFAULT_WEIGHTS, read_weights
from analysis.fault_report import FaultReport, read_fault_report
from analysis.findings import Kind
from analysis.judge_apart import is_worth_it, judge_apart
from analysis.measure_new import measure_apart, to_measure
from analysis.record_checks import wrong_records
from analysis.scan import judge, report_week, week_to_scan
from analysis.scan import scan as scan_week
from analysis.wording import count_text
from analysis.workers import Here, Prepared, Processes, Spread, Workers
from dashboards.load_steps import SHOWN_PROBLEMS, Inputs, load, progress_bar, session
from dashboards.write_pages import write_pages
from ingest.errors import ProfileError, StoreError, WeekError
from ingest.installed_base import Visit
from ingest.look import look
from ingest.register import load_register
from ingest.retention import archive_weeks
from ingest.shrink import shrink_store
from ingest.store import save_register, share_of_memory
from ingest.verify import verify_store
from ingest.visit_file import add_visit
from ingest.weeks import Week, parse_week


@contextmanager
def spread_over(
    n: int, aside: Prepared, store: Path, memory_limit: str, cluster: str | None = None
) -> Iterator[Spread]:
    """Processes that work on a store, for the length of a command; just this one if ``n`` is 1.

    Where the address of a cluster's scheduler is given, its workers measure.

    Raises
    ------
    WorkerError
        The cluster cannot be reached.
    """
    with ExitStack() as stack:
        workers: Workers = Here() if n == 1 else stack.enter_context(Processes(n))
        measurers = workers
        if cluster is not None:
            from analysis.cluster import Cluster

            measurers = stack.enter_context(Cluster(cluster))
        yield Spread(workers, measurers, aside, store, share_of_memory(memory_limit, n))


def one_week(
    spread: Spread,
    inputs: Inputs,
    out: Path,
    *,
    memory_limit: str,
    week: Week | None = None,
    capacity: int | None = None,
    weights: Path | None = None,
    is_single_file: bool = False,
    keep_weeks: int | None = None,
) -> None:
    """Load, scan and write pages in turn; readers are shut out only while the store changes.

    Samples older than ``keep_weeks`` move into the archive before the pages are written.

    Raises
    ------
    PumproundsError
        As each of the steps.
    """
    with session(spread.store, memory_limit=memory_limit, is_loading=True) as con:
        load(con, inputs, out, spread.aside.prepare)
    scanned = scan(spread, week, memory_limit)
    if keep_weeks is not None:
        with session(spread.store, memory_limit=memory_limit) as con:
            archive(con, keep_weeks)
    with session(spread.store, memory_limit=memory_limit, read_only=True) as con:
        pages(
            con,
            scanned,
            out,
            capacity=capacity,
            weights=weights,
            is_single_file=is_single_file,
            spread=spread,
        )


def scan(spread: Spread, week: Week | None, memory_limit: str) -> Week:
    """Scan a week and say what was found; return the week.

    Raises
    ------
    PumproundsError
        The store cannot be used, or has no samples of the week.
    """
    open_for_work = partial(session, spread.store, memory_limit=memory_limit, must_exist=True)
    with progress_bar("scanning") as progress:
        if isinstance(spread.measurers, Here):
            with open_for_work() as con:
                report = scan_week(con, week, progress)
        else:
            with open_for_work() as con:
                chosen = week_to_scan(con, week)
                if to_measure(con, str(chosen)):
                    spread.aside.prepare()
                is_large = is_worth_it(spread, con)
            touched = measure_apart(spread, str(chosen), progress)
            if is_large:
                report = judge_apart(spread, chosen, touched)
            else:
                with open_for_work() as con:
                    report = judge(con, chosen, touched, spread.aside)
    click.echo(
        f"Scanned {report.week}: {report.n_with_data} of"
        f" {count_text(report.n_pumps, 'pump')} with data,"
        f" {count_text(report.n_measured, 'pump-week')} measured now,"
        f" {count_text(report.n_findings, 'finding')}."
    )
    if report.late:
        weeks = sorted({week for week, _ in report.late})
        click.echo(
            f"Late data: {count_text(len(report.late), 'pump-week')} of {', '.join(weeks)}"
            f" measured again; {count_text(len(report.changes), 'finding')} changed."
        )
        for change in report.changes[:SHOWN_PROBLEMS]:
            click.echo(f"  {change}")
        if len(report.changes) > SHOWN_PROBLEMS:
            click.echo(f"  ... and {len(report.changes) - SHOWN_PROBLEMS} more")
    return parse_week(report.week)


def archive(con: duckdb.DuckDBPyConnection, keep_weeks: int) -> None:
    """Move samples older than so many weeks out of the store and say what went where.

    The last week with data for most pumps is the first that counts: one wrong clock moves nothing.
    """
    before = report_week(con).plus(1 - keep_weeks)
    with progress_bar("archiving") as progress:
        report = archive_weeks(con, before, progress)
    what = (
        f"{count_text(report.n_pump_weeks, 'pump-week')} of {_span(report.weeks)},"
        f" {count_text(report.n_samples, 'sample')}, moved to {report.folder}"
        f" ({report.n_bytes / 1e6:.1f} MB)"
        if report.weeks
        else "nothing to move"
    )
    click.echo(f"Archive of weeks before {before}: {what}.")
    if report.n_kept_back:
        click.echo(
            f"  {count_text(report.n_kept_back, 'pump-week')} before it not moved: not measured"
            " since samples came, or not in the register."
        )


def shrink(store: Path, memory_limit: str) -> None:
    """Write the store's file anew and say what that gave back.

    Raises
    ------
    StoreError
        It cannot be written anew; it is as it was.
    """
    before, after = shrink_store(store, memory_limit=memory_limit)
    click.echo(f"{store}: {before / 1e6:.1f} MB before, {after / 1e6:.1f} MB now.")


def _span(weeks: Sequence[str]) -> str:
    return weeks[0] if len(weeks) == 1 else f"{weeks[0]} to {weeks[-1]}"


def look_at(logs: Sequence[Path], register_folder: Path | None, out: Path | None) -> None:
    """Print the profile proposed for logs of an unknown layout, and write it where asked to.

    Raises
    ------
    PumproundsError
        The logs cannot be read, or the file to write exists.
    """
    register = load_register(register_folder)[0] if register_folder is not None else None
    proposal = look(logs, register)
    click.echo(proposal.toml)
    if proposal.trial:
        click.echo(f"# {proposal.trial}")
    if out is not None:
        try:
            with out.open("x", encoding="utf-8") as file:
                file.write(proposal.toml)
        except FileExistsError:
            raise ProfileError(f"{out}: exists; it is left as it is. Name another file.") from None
        click.echo(f"# Written to {out}.")


def verify(con: duckdb.DuckDBPyConnection, store: Path) -> None:
    """Check the store against itself and say what was counted.

    Raises
    ------
    StoreError
        It contradicts itself; every contradiction is listed first.
    """
    with progress_bar("verifying") as progress:
        report = verify_store(con, progress)
        faults = [*report.faults, *wrong_records(con)]
    click.echo(
        f"{count_text(report.n_samples, 'sample')} of {count_text(report.n_pumps, 'pump')}"
        f" from {count_text(report.n_files, 'file')}"
        + (f", {report.n_archived} of them outside it." if report.n_archived else ".")
    )
    for fault in faults:
        click.echo(f"  {fault}")
    if faults:
        raise StoreError(
            f"{store}: {count_text(len(faults), 'contradiction')}. Load the logs into a new store."
        )
    click.echo("Counts, keys, order, ledger, coverage and records agree.")


def pages(
    con: duckdb.DuckDBPyConnection,
    week: Week,
    out: Path,
    *,
    capacity: int | None = None,
    weights: Path | None = None,
    is_single_file: bool = False,
    spread: Spread | None = None,
) -> None:
    """Write all pages and data files of a scanned week, and say where to look.

    Raises
    ------
    WeightsError
        The company's own weights cannot be used.
    """
    in_force = DEFAULT_WEIGHTS if weights is None else read_weights(weights)
    with progress_bar("writing pages") as progress:
        written = write_pages(
            con,
            week,
            out,
            capacity=capacity,
            weights=in_force,
            is_single_file=is_single_file,
            spread=spread,
            progress=progress,
        )
    click.echo(
        f"Call list: {written.n_calls} of"
        f" {count_text(written.n_sites, 'site')} with findings;"
        f" {count_text(written.n_not_heard, 'pump')} not heard from."
    )
    click.echo(f"Open {out / 'index.html'}")


def scanned_week(con: duckdb.DuckDBPyConnection, week: Week | None) -> Week:
    """Return the week to report, if it has been scanned.

    Raises
    ------
    WeekError
        It has not, or the store has no data.
    """
    record_tables = {row[0] for row in con.execute("show tables").fetchall()}
    scanned = answer_reading.scanned_weeks(con) if "scans" in record_tables else []
    chosen = week or report_week(con)
    if str(chosen) not in scanned:
        known = f" Scanned: {', '.join(scanned[-5:])}." if scanned else ""
        raise WeekError(f"{chosen} has not been scanned. Run pumprounds scan first.{known}")
    return chosen


def recurring(con: duckdb.DuckDBPyConnection, week: Week) -> FaultReport:
    """Return what recurs up to a scanned week."""
    return read_fault_report(con, week)


def note_visit(folder: Path, visit: Visit, store: Path | None) -> None:
    """Add a visit to the register's folder and, if asked, to a store; say where.

    Raises
    ------
    RegisterError
        The visit does not fit the register.
    """
    register, _ = load_register(folder)
    path = add_visit(folder, visit, register, tuple(Kind))
    click.echo(f"Added to {path}.")
    if store is not None:
        register, _ = load_register(folder)
        with session(store, must_exist=True) as con:
            save_register(con, register)
        click.echo(f"{store} knows it too; the next scan and pages count it.")


def make_demo(folder: Path, seed: int) -> None:
    """Write the invented fleet and say where it lies."""
    from sample_data.fleet import make_fleet

    click.echo(f"Making an invented fleet (seed {seed}); this takes about a minute.")
    make_fleet(folder, seed=seed)
    click.echo(f"Invented fleet in {folder / 'register'} and {folder / 'logs'}")
