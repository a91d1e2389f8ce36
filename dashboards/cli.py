"""The program ``pumprounds``: parse, call, print. Whatever a user can mend is one line on stderr.

Everything heavy is imported inside the commands, so that ``--help`` answers at once.
"""

import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
from click.exceptions import NoArgsIsHelpError

from ingest.errors import PumproundsError, WeekError

if TYPE_CHECKING:
    from ingest.weeks import Week

DEFAULT_STORE = "fleet.duckdb"
DEFAULT_MEMORY = "1GB"
DEFAULT_SEED = 47
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
            _stop("stopped before the end; what was finished is kept", 1)
        except PumproundsError as error:
            _stop(str(error), 1)
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            _stop(f"{where}{error.strerror or error}", 1)
        sys.exit(status if isinstance(status, int) else 0)


class WeekType(click.ParamType["Week"]):
    """An ISO week such as 2026-W47."""

    name = "week"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> "Week":
        """Read the week, or say how it is written."""
        from ingest.weeks import Week, parse_week

        if isinstance(value, Week):
            return value
        try:
            return parse_week(str(value))
        except WeekError as error:
            self.fail(str(error), param, ctx)


class SizeType(click.ParamType[str]):
    """An amount of memory such as 800MB or 2GB."""

    name = "size"
    _pattern = re.compile(r"[1-9]\d*(\.\d+)?\s*[KMGT]i?B", re.IGNORECASE)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Take the size as the store reads it, or say how it is written."""
        text = str(value).strip()
        if not self._pattern.fullmatch(text):
            self.fail(f"{text}: not a size. Write it as 800MB or 2GB.", param, ctx)
        return text


EXISTING = click.Path(exists=True, path_type=Path)
FOLDER_IN = click.Path(exists=True, file_okay=False, path_type=Path)
FILE_IN = click.Path(exists=True, dir_okay=False, path_type=Path)
FOLDER_OUT = click.Path(file_okay=False, path_type=Path)
STORE_FILE = click.Path(dir_okay=False, path_type=Path)

logs_argument = click.argument("logs", nargs=-1, required=True, type=EXISTING)
register_option = click.option(
    "--register", required=True, type=FOLDER_IN, help="Folder with sites.csv and pumps.csv."
)
store_option = click.option(
    "--store", type=STORE_FILE, default=DEFAULT_STORE, show_default=True, help="The store's file."
)
out_option = click.option(
    "--out", required=True, type=FOLDER_OUT, help="Folder the pages are written to."
)
week_option = click.option(
    "--week",
    type=WeekType(),
    help="ISO week to report, such as 2026-W47; else the last with data for most pumps.",
)
profile_option = click.option(
    "--profile",
    "profiles",
    multiple=True,
    type=FILE_IN,
    help="TOML log profile for logs of another layout; may be given several times.",
)
capacity_option = click.option(
    "--capacity",
    type=click.IntRange(min=0),
    help="Visits this week has room for; the call list is cut there, emergencies never.",
)
single_file_option = click.option(
    "--single-file",
    "is_single_file",
    is_flag=True,
    help="Make each site's page one file, to mail or carry on a stick; its plots stand still.",
)
memory_option = click.option(
    "--memory-limit",
    type=SizeType(),
    default=DEFAULT_MEMORY,
    show_default=True,
    help="Memory the store may use before it spills to disk.",
)


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
@capacity_option
@single_file_option
@memory_option
def weekly(
    logs: tuple[Path, ...],
    register: Path,
    store: Path,
    out: Path,
    week: "Week | None",
    profiles: tuple[Path, ...],
    capacity: int | None,
    is_single_file: bool,
    memory_limit: str,
) -> None:
    """Load LOGS, scan the week, write its pages.

    LOGS are files or folders; pages go to --out. The same as load, scan and pages in turn.
    """
    from dashboards import steps

    inputs = steps.read_inputs(logs, register, profiles)
    with steps.session(store, memory_limit=memory_limit) as con:
        steps.load(con, inputs, out)
        scanned = steps.scan(con, week)
    with steps.session(store, memory_limit=memory_limit, read_only=True) as con:
        steps.pages(con, scanned, out, capacity=capacity, is_single_file=is_single_file)


@main.command()
@logs_argument
@register_option
@store_option
@profile_option
@memory_option
def load(
    logs: tuple[Path, ...],
    register: Path,
    store: Path,
    profiles: tuple[Path, ...],
    memory_limit: str,
) -> None:
    """Load LOGS into the store.

    LOGS are files or folders. The same rows loaded again change nothing.
    """
    from dashboards import steps

    inputs = steps.read_inputs(logs, register, profiles)
    with steps.session(store, memory_limit=memory_limit) as con:
        steps.load(con, inputs)


@main.command()
@store_option
@week_option
@memory_option
def scan(store: Path, week: "Week | None", memory_limit: str) -> None:
    """Measure what is new, judge the week."""
    from dashboards import steps

    with steps.session(store, memory_limit=memory_limit, must_exist=True) as con:
        steps.scan(con, week)


@main.command()
@store_option
@out_option
@week_option
@capacity_option
@single_file_option
@memory_option
def pages(
    store: Path,
    out: Path,
    week: "Week | None",
    capacity: int | None,
    is_single_file: bool,
    memory_limit: str,
) -> None:
    """Write the pages of a scanned week.

    Beside them the same as data: findings, calls, assessments and rejected rows.
    """
    from dashboards import steps

    with steps.session(store, memory_limit=memory_limit, read_only=True) as con:
        chosen = steps.scanned_week(con, week)
        steps.pages(con, chosen, out, capacity=capacity, is_single_file=is_single_file)


@main.command()
@click.argument("site")
@store_option
@week_option
def brief(site: str, store: Path, week: "Week | None") -> None:
    """Print the pre-read of one SITE.

    SITE is its site_id, as in sites.csv.
    """
    from analysis.brief import make_brief
    from dashboards import steps, terminal

    with steps.session(store, read_only=True) as con:
        terminal.print_brief(make_brief(con, site, steps.scanned_week(con, week)))


@main.command()
@store_option
@week_option
def faults(store: Path, week: "Week | None") -> None:
    """Print what recurs in the fleet.

    Kinds per 100 pumps observed, by model, installer and region.
    """
    from dashboards import steps, terminal

    with steps.session(store, read_only=True) as con:
        chosen = steps.scanned_week(con, week)
        terminal.print_faults(chosen, steps.recurring(con, chosen))


@main.command()
@click.argument("folder", metavar="DIR", type=FOLDER_OUT)
@click.option("--files-only", is_flag=True, help="Write register and logs, and stop there.")
@click.option(
    "--seed", default=DEFAULT_SEED, show_default=True, help="Another seed, another fleet."
)
@memory_option
def demo(folder: Path, files_only: bool, seed: int, memory_limit: str) -> None:
    """Make an invented fleet, report on it.

    Register and logs go to DIR/register and DIR/logs, the pages of its last week to DIR/pages.
    """
    from dashboards import steps

    if folder.is_dir() and any(folder.iterdir()) and not (folder / DEMO_MARK).is_file():
        raise click.UsageError(
            f"{folder} is not empty and holds no earlier demo. Name a new or empty folder."
        )
    steps.make_demo(folder, seed)
    if files_only:
        return
    store, out = folder / DEFAULT_STORE, folder / "pages"
    store.unlink(missing_ok=True)
    inputs = steps.read_inputs(
        [folder / "logs"], folder / "register", sorted((folder / "profiles").glob("*.toml"))
    )
    with steps.session(store, memory_limit=memory_limit) as con:
        steps.load(con, inputs, out)
        scanned = steps.scan(con, None)
    with steps.session(store, memory_limit=memory_limit, read_only=True) as con:
        steps.pages(con, scanned, out)


def _stop(message: str, status: int) -> NoReturn:
    """Print one line on stderr and leave."""
    click.echo(f"pumprounds: {' '.join(message.split())}", err=True)
    sys.exit(status)
