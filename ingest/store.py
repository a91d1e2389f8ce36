"""The store: one DuckDB file with register, samples, rejects, weekly records and findings.

A writer locks the file for every other process, so whoever opens it for writing holds it shortly.
Times in it are UTC; the session is set to UTC so that no cast can shift them.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

import duckdb

from ingest.archive import ARCHIVE_VERSION, IN_PLACE_VERSION
from ingest.coverage import recount
from ingest.errors import StoreError
from ingest.installed_base import CurvePoint, FaultCode, Pump, Register, Site, Visit
from ingest.rows import insert_columns

SCHEMA_VERSION = 2
READABLE_VERSIONS = (1, 2, ARCHIVE_VERSION, IN_PLACE_VERSION)
"""Stores of version 1 differ only in having a column for every channel from the start."""
_LATER_COLUMNS = (
    ("sites", "dependence varchar"),
    ("sites", "energy_price_per_kwh double"),
    ("sites", "water_price_per_m3 double"),
    ("sites", "currency varchar"),
    ("pumps", "warranty_months double"),
    ("visits", "until_on date"),
)

_Row = TypeVar("_Row", Site, Pump, CurvePoint, FaultCode, Visit)


def open_store(
    path: Path, *, read_only: bool = False, memory_limit: str = "1GB", threads: int | None = None
) -> duckdb.DuckDBPyConnection:
    """Open a store; opened for writing, it is made where there is none.

    Parameters
    ----------
    path : Path
    read_only : bool
        Many processes may read at the same time, none while one writes.
    memory_limit : str
        What the database may hold in memory, such as ``1GB``; beyond it spills to disk.
    threads : int, optional
        All processors where not given.

    Raises
    ------
    StoreError
        No such store to read, locked by another process, not a store, or of another version.
    """
    if read_only and not path.is_file():
        raise StoreError(f"{path}: no such store. Load some logs into it first.")
    if not read_only and not path.absolute().parent.is_dir():
        raise StoreError(f"{path}: the folder {path.parent} does not exist.")
    config: dict[str, str | bool | int | float | list[str]] = {"memory_limit": memory_limit}
    if threads is not None:
        config["threads"] = threads
    try:
        if not path.exists():
            _make(path)
        con = duckdb.connect(str(path), read_only=read_only, config=config)
    except (duckdb.Error, OSError) as error:
        raise StoreError(_why_not_opened(path, str(error))) from error
    try:
        con.execute("set TimeZone = 'UTC'")
        _check_schema(con, path, read_only=read_only)
    except BaseException:
        con.close()
        raise
    return con


def share_of_memory(memory_limit: str, n: int) -> str:
    """Part of a memory limit, such as ``1GB``, for each of ``n`` processes."""
    number = memory_limit.rstrip("kmgtibKMGTIB ")
    return f"{float(number) / n:.3f}{memory_limit[len(number) :].strip()}"


@contextmanager
def opened_store(
    path: Path,
    *,
    read_only: bool = False,
    memory_limit: str = "1GB",
    threads: int | None = None,
    reaches_files: bool = False,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a store for a block of work; it then reaches no file but its own.

    Parameters
    ----------
    path, read_only, memory_limit, threads
        As of `open_store`.
    reaches_files : bool
        Leave other files within reach, until the work itself shuts them off.

    Raises
    ------
    StoreError
        As `open_store`, or the database gave up on the work.
    """
    con = open_store(path, read_only=read_only, memory_limit=memory_limit, threads=threads)
    try:
        if not reaches_files:
            shut_off_files(con)
        yield con
    except duckdb.Error as error:
        first_line = str(error).partition("\n")[0]
        raise StoreError(f"{path}: {first_line}") from error
    finally:
        con.close()


@contextmanager
def transaction(con: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """All of a block's statements, or nothing of them."""
    con.execute("begin")
    try:
        yield
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


def shut_off_files(
    con: duckdb.DuckDBPyConnection, but: Sequence[Path] = (), folder: Path | None = None
) -> None:
    """Let the database open no file for good but its own, some named ones and a folder's.

    Whatever a stranger's file might make of a statement, it can then reach nothing else.
    """
    con.execute(f"set allowed_paths = {_literal([str(path.absolute()) for path in but])}")
    folders = [] if folder is None else [str(folder.absolute())]
    con.execute(f"set allowed_directories = {_literal(folders)}")
    con.execute("set enable_external_access = false")


def _literal(texts: Sequence[str]) -> str:
    """Write a list of texts as SQL; the database takes no parameters in its settings."""
    is_text = [text for text in texts if text.encode(errors="replace").decode() == text]
    quoted = ["'" + text.replace("'", "''") + "'" for text in is_text]
    return f"[{', '.join(quoted)}]"


def _why_not_opened(path: Path, error: str) -> str:
    if "read-only file system" in error.lower() or "permission denied" in error.lower():
        return f"{path}: may not be written to. Give the store a place that can be written."
    if "lock" in error.lower():
        return (
            f"{path}: another process has the store open. "
            "Wait until it is done, or close it, and run this again."
        )
    if "different configuration" in error:
        return f"{path}: this process has the store open already, in another way."
    if "not a valid" in error.lower():
        return f"{path}: is not a store of this program."
    return f"{path}: cannot be opened: {error.splitlines()[0]}"


def _check_schema(con: duckdb.DuckDBPyConnection, path: Path, *, read_only: bool) -> None:
    tables = {
        str(name)
        for (name,) in con.execute(
            "select table_name from duckdb_tables() where not temporary"
        ).fetchall()
    }
    if not tables and not read_only:
        _create(con)
        return
    if "meta" not in tables:
        raise StoreError(f"{path}: is a database, but not a store of this program.")
    found = con.execute("select max(schema_version) from meta").fetchone()
    version = found[0] if found else None
    if version not in READABLE_VERSIONS:
        raise StoreError(
            f"{path}: has store version {version}, this program reads up to"
            f" {max(READABLE_VERSIONS)}. Load the logs into a new store."
        )


def _make(path: Path) -> None:
    """Make an empty store aside and give it its name when it is whole.

    The database writes a new file's head in several steps: killed between them, it would leave a
    file that no one can open. Two who make the same store at once end with one of the two.
    """
    with TemporaryDirectory(prefix=f".{path.name}-", dir=path.absolute().parent) as aside:
        made = Path(aside) / "store"
        with duckdb.connect(str(made)) as con:
            _create(con)
        try:
            os.link(made, path)
        except FileExistsError:
            return
        except OSError:  # a file system without hard links
            made.replace(path)


def _create(con: duckdb.DuckDBPyConnection) -> None:
    schema = files("ingest").joinpath("schema.sql").read_text(encoding="utf-8")
    with transaction(con):
        con.execute(schema)
        con.execute("insert into meta values ($version)", {"version": SCHEMA_VERSION})


def save_register(con: duckdb.DuckDBPyConnection, register: Register) -> None:
    """Replace the register in the store; a pump's number, once given, stays.

    Samples of a pump that is not in the register any more stay too. Weeks of a pump whose site is
    in another time zone now are counted anew. Nothing is written where nothing has changed.
    """
    if register == read_register(con):
        return
    zones_before = _timezones(con)
    with transaction(con):
        for table, column in _LATER_COLUMNS:  # a store made before them lacks them
            con.execute(f"alter table {table} add column if not exists {column}")
        _replace(con, "sites", Site, list(register.sites.values()))
        _replace(con, "pumps", Pump, list(register.pumps.values()))
        _replace(con, "curves", CurvePoint, list(register.curves))
        _replace(con, "fault_codes", FaultCode, list(register.fault_codes))
        _replace(con, "visits", Visit, list(register.visits))
        con.execute(
            "insert into pump_numbers"
            " select (select coalesce(max(pump_no), 0) from pump_numbers)"
            "   + row_number() over (order by pump_id), pump_id"
            " from pumps where pump_id not in (select pump_id from pump_numbers)"
            " order by pump_id"
        )
        changed = {
            pump_no: timezone
            for pump_no, timezone in sorted(_timezones(con).items())
            if zones_before.get(pump_no, timezone) != timezone
        }
        recount(con, changed)


def _timezones(con: duckdb.DuckDBPyConnection) -> dict[int, str]:
    """Zone of each pump's site, by the pump's number."""
    rows = con.execute(
        "select pump_no, timezone from pump_numbers join pumps using (pump_id)"
        " join sites using (site_id)"
    ).fetchall()
    return dict(rows)


def _replace(
    con: duckdb.DuckDBPyConnection, table: str, kind: type[_Row], rows: list[_Row]
) -> None:
    """Replace a register table's rows; its columns are the dataclass's fields, in order."""
    con.execute(f"delete from {table}")  # noqa: S608  # one of our own five names
    if rows:
        names = [field.name for field in fields(kind)]
        insert_columns(con, table, {name: [getattr(row, name) for row in rows] for name in names})


def read_register(con: duckdb.DuckDBPyConnection) -> Register:
    """Return the register as it was saved last."""
    return Register(
        sites={row.site_id: row for row in _rows(con, Site, "select * from sites order by all")},
        pumps={row.pump_id: row for row in _rows(con, Pump, "select * from pumps order by all")},
        curves=tuple(
            _rows(con, CurvePoint, "select * from curves order by pump_model, flow_lpm, head_m")
        ),
        fault_codes=tuple(_rows(con, FaultCode, "select * from fault_codes order by all")),
        visits=tuple(
            _rows(
                con,
                Visit,
                "select * from visits order by visited_on, site_id, coalesce(pump_id, '')",
            )
        ),
    )


def _rows(con: duckdb.DuckDBPyConnection, kind: type[_Row], query: str) -> list[_Row]:
    cursor = con.cursor().execute(query)
    names = [column[0] for column in cursor.description or ()]
    made: list[Any] = [kind(**dict(zip(names, row, strict=True))) for row in cursor.fetchall()]
    return made


def pump_numbers(con: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Return the number that stands for each pump in the tables, by pump id."""
    rows = con.cursor().execute("select pump_id, pump_no from pump_numbers order by pump_id")
    return {str(pump_id): int(pump_no) for pump_id, pump_no in rows.fetchall()}
