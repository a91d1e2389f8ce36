"""Samples that were moved out of the store: which files hold them, and reading them by range.

The files lie in a folder beside the store, ``fleet.duckdb.archive/week=2026-W20/``. They are logs
as any other (``timestamp``, ``pump_id`` and the channels), sorted by pump and time, so that a pump
and a stretch of time are few row groups. The store's tables say which files count; others there
are left alone.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import duckdb

from ingest.errors import StoreError
from ingest.rows import arrow_column

if TYPE_CHECKING:
    import pyarrow as pa
    import pyarrow.dataset as ds

ARCHIVE_VERSION = 3
"""A store of which samples were moved out; earlier programs would take them as lost."""


class Archive:
    """The archive of an open store; keeps the files it has read from open to further reading."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self._con = con
        self._is_empty = not has_archive(con)
        self._open: dict[str, ds.Dataset] = {}

    def with_stored(
        self,
        stored: "pa.Table",
        pump_nos: Sequence[int],
        from_at: datetime,
        to_at: datetime,
    ) -> "pa.Table":
        """Return samples from the store with archived ones of ``[from_at, to_at)`` behind them.

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

        names = self._holding(pump_nos, from_at, to_at)
        if not names:
            return stored
        ids = self._ids(pump_nos)
        pieces = [self._read(name, ids, from_at, to_at, stored.schema) for name in names]
        return pa.concat_tables([stored, *pieces])

    def _holding(
        self, pump_nos: Sequence[int], from_at: datetime, to_at: datetime
    ) -> list[tuple[str, int]]:
        """Names and sizes of the files with samples of some pumps and a stretch of time."""
        if self._is_empty:
            return []
        rows = self._con.cursor().execute(
            "select distinct name, bytes from archived join archive_files using (name)"
            " where list_contains($pump_nos::integer[], pump_no)"
            " and first_at < $to_at and last_at >= $from_at order by name",
            {"pump_nos": list(pump_nos), "from_at": from_at, "to_at": to_at},
        )
        return rows.fetchall()

    def _ids(self, pump_nos: Sequence[int]) -> dict[str, int]:
        rows = self._con.cursor().execute(
            "select pump_id, pump_no from pump_numbers"
            " where list_contains($pump_nos::integer[], pump_no)",
            {"pump_nos": list(pump_nos)},
        )
        return dict(rows.fetchall())

    def _read(
        self,
        file: tuple[str, int],
        ids: dict[str, int],
        from_at: datetime,
        to_at: datetime,
        schema: "pa.Schema",
    ) -> "pa.Table":
        import pyarrow as pa
        import pyarrow.compute as pc
        import pyarrow.dataset as ds

        pump, at = ds.field("pump_id"), ds.field("timestamp")
        # The least and greatest id let whole row groups be skipped, which a list alone may not.
        within = (pump >= min(ids)) & (pump <= max(ids)) & pump.isin(list(ids))
        within &= (at >= pa.scalar(from_at.replace(tzinfo=UTC), pa.timestamp("us", "UTC"))) & (
            at < pa.scalar(to_at.replace(tzinfo=UTC), pa.timestamp("us", "UTC"))
        )
        channels = [name for name in schema.names if name not in ("pump_no", "ts")]
        dataset = self._dataset(*file)
        have = [name for name in channels if name in dataset.schema.names]
        try:
            found = dataset.to_table(columns=["pump_id", "timestamp", *have], filter=within)
        except (OSError, pa.ArrowException) as error:
            _damaged(archive_folder(self._con) / file[0], error)
        numbers = arrow_column(list(ids.values()), "integer")
        place = pc.index_in(found.column("pump_id"), arrow_column(list(ids), "varchar"))
        columns = {
            "pump_no": numbers.take(place.combine_chunks()),
            "ts": found.column("timestamp").cast(pa.timestamp("us")),
            **{name: found.column(name) for name in have},
        }
        return pa.table(
            [
                columns[field.name].cast(field.type)
                if field.name in columns
                else pa.nulls(found.num_rows, field.type)
                for field in schema
            ],
            schema=schema,
        )

    def _dataset(self, name: str, n_bytes: int) -> "ds.Dataset":
        import pyarrow as pa
        import pyarrow.dataset as ds

        if name not in self._open:
            path = archive_folder(self._con) / name
            options = ds.ParquetFragmentScanOptions(page_checksum_verification=True)
            as_written = ds.ParquetFileFormat(default_fragment_scan_options=options)
            try:
                if path.stat().st_size != n_bytes:
                    _damaged(path, f"it has {path.stat().st_size} bytes, not {n_bytes}")
                self._open[name] = ds.dataset(path, format=as_written)
            except (OSError, pa.ArrowException) as error:
                _damaged(path, error)
        return self._open[name]


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
    con.execute(files("ingest").joinpath("archive.sql").read_text(encoding="utf-8"))
    con.execute("update meta set schema_version = $version", {"version": ARCHIVE_VERSION})


def archived_count(con: duckdb.DuckDBPyConnection) -> int:
    """Return how many samples were moved out of the store."""
    if not has_archive(con):
        return 0
    (row,) = con.execute("select coalesce(sum(n_samples), 0) from archived").fetchall()
    return int(row[0])


def has_archive(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether samples of this store were ever archived."""
    found = con.cursor().execute("select 1 from duckdb_tables() where table_name = 'archived'")
    return found.fetchone() is not None


def _damaged(path: Path, error: OSError | Exception | str) -> NoReturn:
    if isinstance(error, FileNotFoundError):
        what = "is missing"
    elif isinstance(error, PermissionError):
        what = "may not be read"
    else:
        what = f"is damaged ({str(error).splitlines()[0].rstrip('.')})"
    raise StoreError(
        f"{path}: {what}. It holds samples that were moved out of the store: put a sound copy "
        "back and run this again."
    )
