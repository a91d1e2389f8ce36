"""The first step of the commands: open the store, load logs into it, say what became of them.

It stands apart from the steps that judge and draw, as their libraries take longest to import.
"""

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click
import duckdb

from analysis.wording import count_text
from dashboards.cli_options import DEFAULT_MEMORY
from dashboards.export import write_reject_file
from ingest.errors import LogError, StoreError
from ingest.inbox import Inbox
from ingest.installed_base import Problem, Register
from ingest.load import LoadReport, load_logs
from ingest.log_profile import LogProfile
from ingest.profile import read_profile
from ingest.register import load_register
from ingest.store import opened_store, save_register

SHOWN_PROBLEMS = 20

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, kw_only=True)
class Inputs:
    """What a load starts from, all of it read and found usable before the store is touched."""

    logs: tuple[Path | str, ...]
    register: Register
    profiles: tuple[LogProfile, ...]
    in_place: bool = False
    ahead: Callable[[], Inbox] | None = None


def read_inputs(
    logs: Sequence[Path | str],
    register_folder: Path,
    profile_files: Sequence[Path],
    *,
    in_place: bool = False,
    ahead: Callable[[], Inbox] | None = None,
) -> Inputs:
    """Read register and profiles, and list the register's problems.

    Parameters
    ----------
    ahead : callable, optional
        As of `load_logs`.

    Raises
    ------
    PumproundsError
        The register or a profile cannot be used at all.
    """
    profiles = tuple(read_profile(path) for path in profile_files)
    register, problems = load_register(register_folder)
    click.echo(
        f"Register: {count_text(len(register.sites), 'site')},"
        f" {count_text(len(register.pumps), 'pump')}."
    )
    _list_problems("Register", problems, "")
    return Inputs(
        logs=tuple(logs), register=register, profiles=profiles, in_place=in_place, ahead=ahead
    )


@contextmanager
def session(
    store: Path,
    *,
    memory_limit: str = DEFAULT_MEMORY,
    read_only: bool = False,
    must_exist: bool = False,
    is_loading: bool = False,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a store for the length of a command; unless it is for loading, no file but it.

    Raises
    ------
    StoreError
        It is missing, locked, of another schema, or the database gave up on the work.
    """
    if must_exist and not store.is_file():
        raise StoreError(f"{store}: no such store. Make one with pumprounds load.")
    is_new, is_empty = not store.exists(), False
    try:
        with opened_store(
            store, read_only=read_only, memory_limit=memory_limit, reaches_files=is_loading
        ) as con:
            try:
                yield con
            finally:
                n_weeks = con.execute("select count(*) from coverage").fetchone()
                is_empty = is_new and n_weeks == (0,)
    finally:
        if is_empty:  # a failed first load leaves no store behind
            store.unlink()


def load(
    con: duckdb.DuckDBPyConnection,
    inputs: Inputs,
    rejects_folder: Path | None = None,
    when_new: Callable[[], None] = lambda: None,
) -> None:
    """Load the logs and say what became of their files and rows.

    Parameters
    ----------
    when_new : callable
        Called as soon as a log is met that the store has not, so that there will be more to do.

    Raises
    ------
    LogError
        Nothing usable was in them; the store is as it was.
    """
    with progress_bar("loading") as progress:
        report = load_logs(
            con,
            inputs.logs,
            inputs.register,
            inputs.profiles,
            progress,
            is_last=True,
            in_place=inputs.in_place,
            when_new=when_new,
            ahead=inputs.ahead,
        )
    click.echo(_load_text(report))
    whole_list = (
        "all of them are in the store; pages writes them to rejects.csv"
        if rejects_folder is None
        else f"all of them: {rejects_folder / 'rejects.csv'}"
    )
    if rejects_folder is not None:
        write_reject_file(con, rejects_folder)
    _list_problems("Logs", report.rejects, whole_list, n_all=report.n_rejects)
    for note in report.notes:
        click.echo(f"  Note: {note}")
    if not (report.rows_kept or report.rows_repeated or report.n_files_unchanged):
        raise LogError(
            f"Nothing usable in {count_text(report.n_files, 'log file')}: no row was loaded."
        )
    save_register(con, inputs.register)


@contextmanager
def progress_bar(title: str) -> Iterator[Progress | None]:
    """Show a bar on stderr where that is a terminal; else nothing, and no progress is told."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=None)

        def tell(done: int, total: int, what: str) -> None:
            bar.update(task, completed=done, total=total, description=f"{title} {what}".rstrip())

        yield tell


def _load_text(report: LoadReport) -> str:
    return (
        f"Logs: {count_text(report.n_files, 'file')}, {report.n_files_new} new;"
        f" {report.rows_kept} rows added"
        f" ({report.rows_repeated} repeated, {report.rows_conflicting} conflicting,"
        f" {report.rows_rejected} rejected);"
        f" {count_text(report.n_files_unchanged, 'file')} seen before."
    )


def _list_problems(
    title: str, problems: Sequence[Problem], whole_list: str, n_all: int | None = None
) -> None:
    """Print the first problems, then how many more there are and where."""
    if not problems:
        return
    n_problems = max(len(problems), n_all or 0)
    click.echo(f"{title}: {count_text(n_problems, 'problem')}")
    for problem in problems[:SHOWN_PROBLEMS]:
        click.echo(f"  {problem}")
    n_more = n_problems - SHOWN_PROBLEMS
    if n_more > 0:
        click.echo(f"  ... and {n_more} more" + (f"; {whole_list}" if whole_list else ""))
