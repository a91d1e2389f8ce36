"""The program ``pumprounds``: parse, call, print. Whatever a user can mend is one line on stderr.

Everything heavy is imported inside the commands, so that ``--help`` answers at once.
"""

import sys
from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
from click.exceptions import NoArgsIsHelpError

from analysis.workers import Aside, Workers, call, process_aside
from dashboards.cli_options import (
    DEFAULT_STORE,
    FOLDER_IN,
    FOLDER_OUT,
    STORE_FILE,
    DayType,
    capacity_option,
    cluster_option,
    in_place_option,
    json_option,
    keep_raw_option,
    logs_argument,
    looked_at_argument,
    memory_option,
    out_option,
    profile_option,
    register_option,
    single_file_option,
    store_option,
    week_option,
    weights_option,
    workers_option,
)
from ingest.errors import PumproundsError
from ingest.found_logs import find_and_hash
from ingest.installed_base import OUTCOMES

if TYPE_CHECKING:
    from ingest.inbox import Inbox
    from ingest.weeks import Week

DEFAULT_SEED = 47
STOPPED = "stopped before the end; what was finished is kept"
TO_COMPARE = ("sklearn.ensemble", "analysis.peers")
TO_REPORT = ("scipy.optimize", "dashboards.write_pages")
"""What the comparison with peers and the fault report load, a second and half a second."""
DEMO_MARK = "truth.csv"  # only the demo writes it, so a folder with it may be made anew


class Program(click.Group):
    """A group of commands that turns every expected error into one line and an exit status."""

    def main(  # type: ignore[override]  # one way to end, so no overload for another
        self, args: Sequence[str] | None = None, prog_name: str | None = None, **extra: Any
    ) -> NoReturn:
        """Run a command; 0 done, 1 could not do its work, 2 bad usage."""
        extra["standalone_mode"] = False
        try:
            status = super().main(args=args, prog_name=prog_name, **extra)
        except NoArgsIsHelpError as asked:
            asked.show()
            sys.exit(2)
        except click.ClickException as error:
            _stop(error.format_message(), error.exit_code)
        except click.Abort:
            _stop(STOPPED, 1)
        except RuntimeError as error:
            if str(error) != "Query interrupted":  # how the database tells of the same key
                raise
            _stop(STOPPED, 1)
        except PumproundsError as error:
            _stop(str(error), 1)
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            _stop(f"{where}{error.strerror or error}", 1)
        sys.exit(status if isinstance(status, int) else 0)


@click.group(cls=Program)
@click.version_option(package_name="pumprounds", prog_name="pumprounds")
def main() -> None:
    """Read the logs of every pump you answer for; say which sites to call, why, what to check.

    Exit status: 0 done, 1 nothing usable loaded or the work could not be done, 2 bad usage.
    """


@main.command()
@logs_argument
@register_option
@store_option
@out_option
@week_option
@profile_option
@in_place_option
@capacity_option
@weights_option
@single_file_option
@keep_raw_option
@workers_option
@cluster_option
@memory_option
def weekly(
    logs: tuple[Path | str, ...],
    register: Path,
    store: Path,
    out: Path,
    week: "Week | None",
    profiles: tuple[Path, ...],
    in_place: bool,
    capacity: int | None,
    weights: Path | None,
    is_single_file: bool,
    keep_weeks: int | None,
    workers: int,
    cluster: str | None,
    memory_limit: str,
) -> None:
    """Load LOGS, scan the week, write its pages.

    LOGS are files or folders; pages go to --out. The same as load, scan and pages in turn.
    """
    with process_aside(workers, (*TO_COMPARE, *TO_REPORT)) as aside:
        ahead = _logs_ahead(aside, logs, profiles, in_place=in_place)
        if not store.exists():
            aside.prepare()
        from dashboards import load_steps, steps

        inputs = load_steps.read_inputs(logs, register, profiles, in_place=in_place, ahead=ahead)
        with steps.spread_over(workers, aside, store, memory_limit, cluster) as spread:
            steps.one_week(
                spread,
                inputs,
                out,
                memory_limit=memory_limit,
                week=week,
                capacity=capacity,
                weights=weights,
                is_single_file=is_single_file,
                keep_weeks=keep_weeks,
            )


@main.command()
@logs_argument
@register_option
@store_option
@profile_option
@in_place_option
@memory_option
def load(
    logs: tuple[Path | str, ...],
    register: Path,
    store: Path,
    profiles: tuple[Path, ...],
    in_place: bool,
    memory_limit: str,
) -> None:
    """Load LOGS into the store.

    LOGS are files or folders. The same rows loaded again change nothing.
    """
    with Aside(()) as aside:
        ahead = _logs_ahead(aside, logs, profiles, in_place=in_place)
        from dashboards import load_steps

        inputs = load_steps.read_inputs(logs, register, profiles, in_place=in_place, ahead=ahead)
        with load_steps.session(store, memory_limit=memory_limit, is_loading=True) as con:
            load_steps.load(con, inputs)


@main.command()
@store_option
@week_option
@workers_option
@cluster_option
@memory_option
def scan(
    store: Path, week: "Week | None", workers: int, cluster: str | None, memory_limit: str
) -> None:
    """Measure what is new, judge the week."""
    with process_aside(workers, TO_COMPARE) as aside:
        from dashboards import steps

        with steps.spread_over(workers, aside, store, memory_limit, cluster) as spread:
            steps.scan(spread, week, memory_limit)


@main.command()
@store_option
@out_option
@week_option
@capacity_option
@weights_option
@single_file_option
@workers_option
@memory_option
def pages(
    store: Path,
    out: Path,
    week: "Week | None",
    capacity: int | None,
    weights: Path | None,
    is_single_file: bool,
    workers: int,
    memory_limit: str,
) -> None:
    """Write the pages of a scanned week.

    Beside them the same as data: findings, calls, assessments and rejected rows.
    """
    with process_aside(workers, TO_REPORT) as aside:
        from dashboards import load_steps, steps

        with (
            steps.spread_over(workers, aside, store, memory_limit) as spread,
            load_steps.session(store, memory_limit=memory_limit, read_only=True) as con,
        ):
            steps.pages(
                con,
                steps.scanned_week(con, week),
                out,
                capacity=capacity,
                weights=weights,
                is_single_file=is_single_file,
                spread=spread,
            )


@main.command()
@click.argument("site")
@store_option
@week_option
@json_option
def brief(site: str, store: Path, week: "Week | None", as_json: bool) -> None:
    """Print the pre-read of one SITE.

    SITE is its site_id, as in sites.csv.
    """
    from analysis.brief import make_brief
    from dashboards import load_steps, steps, terminal
    from dashboards.as_json import brief_json

    with load_steps.session(store, read_only=True) as con:
        made = make_brief(con, site, steps.scanned_week(con, week))
    if as_json:
        click.echo(brief_json(made))
    else:
        terminal.print_brief(made)


@main.command()
@store_option
@week_option
@json_option
def faults(store: Path, week: "Week | None", as_json: bool) -> None:
    """Print what recurs in the fleet.

    Kinds per 100 pumps observed, by model, motor, installer, region and age, and their trends.
    """
    from dashboards import load_steps, steps, terminal
    from dashboards.as_json import faults_json

    with load_steps.session(store, read_only=True) as con:
        chosen = steps.scanned_week(con, week)
        result = steps.recurring(con, chosen)
    if as_json:
        click.echo(faults_json(result))
    else:
        terminal.print_faults(chosen, result)


@main.command()
@click.argument("site")
@store_option
@out_option
@week_option
@click.option(
    "--format",
    "file_format",
    type=click.Choice(["svg", "png"]),
    default="svg",
    show_default=True,
    help="SVG stays sharp; PNG goes into any letter.",
)
def pictures(site: str, store: Path, out: Path, week: "Week | None", file_format: str) -> None:
    """Write the plots of one SITE as files.

    SITE is its site_id, as in sites.csv. For a ticket, a mail or an invoice.
    """
    from dashboards import load_steps, steps
    from dashboards.write_pictures import write_pictures

    with load_steps.session(store, read_only=True) as con:
        written = write_pictures(con, site, steps.scanned_week(con, week), out, file_format)
    for path in written:
        click.echo(path)
    if not written:
        click.echo(f"No samples of this week are in the store for {site}: nothing to draw.")


@main.command()
@click.argument("site")
@register_option
@click.option("--pump", help="pump_id, where the visit was about one pump.")
@click.option("--kind", help="Kind of finding it was about, such as short_cycling.")
@click.option(
    "--outcome", required=True, type=click.Choice(OUTCOMES), help="What was seen, or agreed."
)
@click.option("--on", "visited_on", required=True, type=DayType(), help="Day of the visit.")
@click.option("--until", type=DayType(), help="Last day on which what was agreed holds.")
@click.option("--found", help="What was found, in the technician's words.")
@click.option("--done", help="What was done, in the technician's words.")
@click.option(
    "--store", type=STORE_FILE, help="Store to tell it at once; else the next load does."
)
def visit(
    site: str,
    register: Path,
    pump: str | None,
    kind: str | None,
    outcome: str,
    visited_on: date,
    until: date | None,
    found: str | None,
    done: str | None,
    store: Path | None,
) -> None:
    """Add a visit to SITE to the register.

    It goes to visits.csv; the next scan and pages count it. SITE is a site_id of sites.csv.
    """
    from dashboards import steps
    from ingest.installed_base import Visit

    made = Visit(
        visited_on=visited_on,
        site_id=site,
        pump_id=pump,
        kind=kind,
        outcome=outcome,
        found=found,
        done=done,
        until_on=until,
    )
    steps.note_visit(register, made, store)


@main.command()
@looked_at_argument
@click.option(
    "--register",
    type=FOLDER_IN,
    help="Folder with sites.csv and pumps.csv, to tell pumps and units by.",
)
@click.option(
    "--out",
    "profile",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File the proposed profile is written to; one that exists is left alone.",
)
def look(logs: tuple[Path, ...], register: Path | None, profile: Path | None) -> None:
    """Propose a log profile for LOGS of another layout.

    Prints TOML with the evidence for each column and what is to be checked. Nothing is loaded.
    """
    from dashboards import steps

    steps.look_at(logs, register, profile)


@main.command()
@store_option
@keep_raw_option
@click.option(
    "--shrink",
    "is_shrunk",
    is_flag=True,
    help="Then write the store's file anew, without the room that has become free in it.",
)
@memory_option
def archive(store: Path, keep_weeks: int | None, is_shrunk: bool, memory_limit: str) -> None:
    """Move old samples out of the store.

    Samples of measured weeks older than --keep-raw go into Parquet files in a folder beside the
    store, FILE.archive; records, findings and plots stay as they are.
    """
    from dashboards import load_steps, steps

    if keep_weeks is None:
        raise click.UsageError("Name the weeks whose samples stay: --keep-raw 26w.")
    with load_steps.session(store, memory_limit=memory_limit, must_exist=True) as con:
        steps.archive(con, keep_weeks)
    if is_shrunk:
        steps.shrink(store, memory_limit)


@main.command()
@store_option
@memory_option
def verify(store: Path, memory_limit: str) -> None:
    """Check a store against itself.

    Counts, keys, order, ledger, coverage and weekly records; nothing is changed.
    """
    from dashboards import load_steps, steps

    with load_steps.session(store, memory_limit=memory_limit, read_only=True) as con:
        steps.verify(con, store)


@main.command()
@click.argument("folder", metavar="DIR", type=FOLDER_OUT)
@click.option("--files-only", is_flag=True, help="Write register and logs, and stop there.")
@click.option(
    "--seed", default=DEFAULT_SEED, show_default=True, help="Another seed, another fleet."
)
@workers_option
@memory_option
def demo(folder: Path, files_only: bool, seed: int, workers: int, memory_limit: str) -> None:
    """Make an invented fleet, report on it.

    Register and logs go to DIR/register and DIR/logs, the pages of its last week to DIR/pages.
    """
    from dashboards import load_steps, steps

    if folder.is_dir() and any(folder.iterdir()) and not (folder / DEMO_MARK).is_file():
        raise click.UsageError(
            f"{folder} is not empty and holds no earlier demo. Name a new or empty folder."
        )
    steps.make_demo(folder, seed)
    if files_only:
        return
    store, out = folder / DEFAULT_STORE, folder / "pages"
    store.unlink(missing_ok=True)
    inputs = load_steps.read_inputs(
        [folder / "logs"], folder / "register", sorted((folder / "profiles").glob("*.toml"))
    )
    with (
        process_aside(workers, (*TO_COMPARE, *TO_REPORT)) as aside,
        steps.spread_over(workers, aside, store, memory_limit) as spread,
    ):
        steps.one_week(spread, inputs, out, memory_limit=memory_limit)


def _logs_ahead(
    aside: Workers, logs: Sequence[Path | str], profiles: Sequence[Path], *, in_place: bool
) -> "Callable[[], Inbox] | None":
    """Set off the search for logs and their hashing; logs left in place are not hashed whole."""
    if in_place:
        return None
    found = aside.map(call, [partial(find_and_hash, logs, profiles)])
    return partial(next, found)


def _stop(message: str, status: int) -> NoReturn:
    """Print one line on stderr and leave."""
    click.echo(f"pumprounds: {' '.join(message.split())}", err=True)
    sys.exit(status)
