"""Samples that are not in the store: which files hold them, and reading them by range.

Those moved out of the store lie in a folder beside it, ``fleet.duckdb.archive/week=2026-W20/``.
They are logs as any other (``timestamp``, ``pump_id`` and the channels), sorted by pump and time,
so that a pump and a stretch of time are few row groups. Logs that were left in place lie anywhere.
The store's tables say which files count; others are left alone.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import duckdb

from ingest.errors import StoreError
from ingest.outside import ARCHIVED, OutsideFile, Reading, read_outside

if TYPE_CHECKING:
    import pyarrow as pa

ARCHIVE_VERSION = 3
"""A store of which samples were moved out; earlier programs would take them as lost."""

IN_PLACE_VERSION = 4
"""A store that knows of logs left in place; earlier programs would look for them elsewhere."""

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001  # instants are UTC without zone here


class Archive:
    """All samples of an open store that lie outside it, by pump and time."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self._con = con
        self._is_empty = not has_archive(con)

    def with_stored(
        self,
        stored: "pa.Table",
        pump_nos: Sequence[int],
        from_at: datetime,
        to_at: datetime,
    ) -> "pa.Table":
        """Return samples from the store with outside ones of ``[from_at, to_at)`` behind them.

        Parameters
        ----------
        stored : Table
            Its columns are ``pump_no``, ``ts`` and any channels; the result has the same.
        pump_nos : sequence of int
        from_at, to_at : datetime
            UTC without zone.

        Raises
        ------
        StoreError
            A file that holds such samples is missing or damaged.
        """
        import pyarrow as pa

        files = self.holding(pump_nos, from_at, to_at)
        if not files:
            return stored
        numbers = self._numbers(pump_nos)
        return pa.concat_tables(
            [stored, *read_files(files, numbers, from_at, to_at, stored.schema)]
        )

    def holding(
        self, pump_nos: Sequence[int], from_at: datetime, to_at: datetime
    ) -> list[OutsideFile]:
        """Files with samples of some pumps and a stretch of time."""
        if self._is_empty:
            return []
        names = self._con.cursor().execute(
            "select distinct name from archived where list_contains($pump_nos::integer[], pump_no)"
            " and first_at < $to_at and last_at >= $from_at",
            {"pump_nos": list(pump_nos), "from_at": from_at, "to_at": to_at},
        )
        return outside_files(self._con, [name for (name,) in names.fetchall()])

    def _numbers(self, pump_nos: Sequence[int]) -> dict[str, int]:
        rows = self._con.cursor().execute(
            "select pump_id, pump_no from pump_numbers"
            " where list_contains($pump_nos::integer[], pump_no)",
            {"pump_nos": list(pump_nos)},
        )
        return dict(rows.fetchall())


def outside_files(
    con: duckdb.DuckDBPyConnection, names: Sequence[str] | None = None
) -> list[OutsideFile]:
    """Files that hold samples outside the store, in order of their names; some, or all of them."""
    reading, left = (
        ("reading", "left join left_in_place using (name)") if has_left(con) else ("null", "")
    )
    rows = con.cursor().execute(
        f"select name, bytes, {reading} from archive_files {left}"  # noqa: S608  # our own names
        " where $names is null or list_contains($names, name) order by name",
        {"names": None if names is None else list(names)},
    )
    folder = archive_folder(con)
    return [
        OutsideFile(str(folder / name), n_bytes, ARCHIVED)
        if reading is None
        else OutsideFile(name, n_bytes, Reading.of_json(reading))
        for name, n_bytes, reading in rows.fetchall()
    ]


def read_files(
    files: Sequence[OutsideFile],
    numbers: Mapping[str, int],
    from_at: datetime,
    to_at: datetime,
    schema: "pa.Schema",
) -> "Iterator[pa.Table]":
    """Read some pumps' samples of ``[from_at, to_at)`` from each file; see `read_outside`.

    Raises
    ------
    StoreError
        A file is missing, damaged, or not as it was.
    """
    import pyarrow as pa

    from_us, to_us = ((at - _EPOCH) // timedelta(microseconds=1) for at in (from_at, to_at))
    for file in files:
        try:
            yield read_outside(file, numbers, from_us, to_us, schema)
        except (OSError, pa.ArrowException, KeyError, UnicodeError) as error:
            _damaged(file, error)


def archive_folder(con: duckdb.DuckDBPyConnection) -> Path:
    """Return the folder that a store's archived samples lie in; it need not exist."""
    (row,) = (
        con.cursor()
        .execute("select path from duckdb_databases() where database_name = current_database()")
        .fetchall()
    )
    store = Path(row[0]).absolute()
    return store.with_name(f"{store.name}.archive")


def ensure_archive(con: duckdb.DuckDBPyConnection) -> None:
    """Make the archive's tables where the store lacks them; the caller holds the transaction."""
    _ensure(con, "archive.sql", ARCHIVE_VERSION)


def ensure_left(con: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of logs left in place where the store lacks them; in a transaction."""
    ensure_archive(con)
    _ensure(con, "left_in_place.sql", IN_PLACE_VERSION)


def _ensure(con: duckdb.DuckDBPyConnection, tables: str, version: int) -> None:
    con.execute(files("ingest").joinpath(tables).read_text(encoding="utf-8"))
    con.execute(
        "update meta set schema_version = $version where schema_version < $version",
        {"version": version},
    )


def outside_counts(
    con: duckdb.DuckDBPyConnection, weeks: Sequence[str]
) -> dict[tuple[int, str], tuple[int, str]]:
    """Samples outside the store by pump number and week, with the first file that holds some."""
    if not has_archive(con):
        return {}
    rows = con.execute(
        "select pump_no, week, sum(n_samples)::bigint, min(name) from archived"
        " where list_contains($weeks, week) group by pump_no, week",
        {"weeks": list(weeks)},
    ).fetchall()
    return {(pump_no, week): (n, name) for pump_no, week, n, name in rows}


def archived_count(con: duckdb.DuckDBPyConnection) -> int:
    """Return how many samples were moved out of the store."""
    if not has_archive(con):
        return 0
    (row,) = con.execute("select coalesce(sum(n_samples), 0) from archived").fetchall()
    return int(row[0])


def has_archive(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether samples of this store were ever outside it."""
    return _has_table(con, "archived")


def has_left(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether logs were ever left in place."""
    return _has_table(con, "left_in_place")


def _has_table(con: duckdb.DuckDBPyConnection, name: str) -> bool:
    found = con.cursor().execute(
        "select 1 from duckdb_tables() where table_name = $name", {"name": name}
    )
    return found.fetchone() is not None


def _damaged(file: OutsideFile, error: OSError | Exception | str) -> NoReturn:
    if isinstance(error, FileNotFoundError):
        what = "is missing"
    elif isinstance(error, PermissionError):
        what = "may not be read"
    else:
        what = f"is damaged ({str(error).splitlines()[0].rstrip('.')})"
    whose = (
        "that were moved out of the store"
        if file.reading == ARCHIVED
        else "that were left where they lay"
    )
    raise StoreError(
        f"{file.address}: {what}. It holds samples {whose}: put a sound copy back and run this"
        " again."
    )
