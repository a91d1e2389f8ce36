"""Samples of weeks long measured leave the store for its archive: nothing lost, nothing doubled.

Each file is written whole, under another name, and made safe on the disk; then one transaction
deletes its samples from the store and tells the store of the file. Killed before it, the store has
them still and does not know of the file; after it, the archive has them.
"""

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from ingest.archive import archive_folder, ensure_archive
from ingest.errors import StoreError
from ingest.rows import arrow_table
from ingest.samples import CHANNELS, PUMPS_A_FETCH, column_type, stored_columns
from ingest.store import transaction
from ingest.weeks import Week

if TYPE_CHECKING:
    import pyarrow as pa

SAMPLES_A_FILE = 20_000_000
"""Ours: some 60 MB; a late sample or a plot opens no more than the head of that."""

ROWS_A_GROUP = 122_880
"""A pump's week at five seconds: what a plot reads is one group of rows."""

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, kw_only=True)
class ArchiveReport:
    """What was moved out of the store.

    Attributes
    ----------
    before : Week
        Weeks before it were to be moved.
    weeks : tuple of str
        Weeks of which samples were moved now, oldest first.
    n_kept_back : int
        Pump-weeks before it that stay, as they are not measured (or are to be again).
    """

    folder: Path
    before: Week
    weeks: tuple[str, ...]
    n_pump_weeks: int
    n_samples: int
    n_bytes: int
    n_kept_back: int


@dataclass(frozen=True)
class _PumpWeek:
    week: str
    pump_id: str
    pump_no: int
    n_samples: int
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True)
class _Written:
    name: str
    sha256: str
    n_bytes: int
    holds: tuple[_PumpWeek, ...]


def archive_weeks(
    con: duckdb.DuckDBPyConnection, before: Week, progress: Progress | None = None
) -> ArchiveReport:
    """Move the samples of all measured pump-weeks before a week into the archive.

    Their weekly records, and the count of their samples, stay in the store.

    Raises
    ------
    StoreError
        The store does not hold what it says it holds; it is as it was.
    OSError
        A file cannot be written.
    """
    with transaction(con):
        ensure_archive(con)
    folder = archive_folder(con)
    todo = _measured(con, before)
    done: list[_Written] = []
    n_seen = 0
    for part in _parts(todo):
        n_seen += len(part)
        written = _write(con, folder, part)
        if written is not None:
            _move(con, written)
            done.append(written)
        if progress is not None:
            progress(n_seen, len(todo), f"archiving {part[0].week}")
    if done:
        con.execute("checkpoint")  # their space in the store's file is free for other samples
    moved = [one for written in done for one in written.holds]
    return ArchiveReport(
        folder=folder,
        before=before,
        weeks=tuple(sorted({one.week for one in moved})),
        n_pump_weeks=len(moved),
        n_samples=sum(one.n_samples for one in moved),
        n_bytes=sum(written.n_bytes for written in done),
        n_kept_back=_count_kept_back(con, before),
    )


def _measured(con: duckdb.DuckDBPyConnection, before: Week) -> list[_PumpWeek]:
    """Pump-weeks that are measured and have more samples than the archive knows of."""
    rows = con.execute(
        "with moved as (select pump_no, week, sum(n_samples) as n from archived group by all)"
        " select c.week, p.pump_id, c.pump_no, c.n_samples - coalesce(m.n, 0),"
        "   c.first_at, c.last_at"
        " from coverage c join pump_numbers p using (pump_no)"
        " left join moved m on m.pump_no = c.pump_no and m.week = c.week"
        " where c.is_measured and c.week < $before and c.n_samples > coalesce(m.n, 0)"
        " order by c.week, p.pump_id",
        {"before": str(before)},
    ).fetchall()
    return [_PumpWeek(*row) for row in rows]


def _count_kept_back(con: duckdb.DuckDBPyConnection, before: Week) -> int:
    (row,) = con.execute(
        "select count(*) from coverage where not is_measured and week < $before",
        {"before": str(before)},
    ).fetchall()
    return int(row[0])


def _parts(todo: Sequence[_PumpWeek]) -> Iterator[list[_PumpWeek]]:
    """Split pump-weeks into files: of one week each, and not too large."""
    for _, group in groupby(todo, key=lambda one: one.week):
        part: list[_PumpWeek] = []
        n_samples = 0
        for one in group:
            if part and n_samples + one.n_samples > SAMPLES_A_FILE:
                yield part
                part, n_samples = [], 0
            part.append(one)
            n_samples += one.n_samples
        yield part


def _write(
    con: duckdb.DuckDBPyConnection, folder: Path, part: Sequence[_PumpWeek]
) -> _Written | None:
    """Write a file of the samples the store has of some pump-weeks; None where it has none."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    home = folder / f"week={part[0].week}"
    home.mkdir(parents=True, exist_ok=True)
    unfinished = home / "unfinished"
    names = [name for name in (*CHANNELS, "fault_code") if name in stored_columns(con)]
    types = {"float": pa.float32(), "varchar": pa.string()}
    schema = pa.schema(
        [("timestamp", pa.timestamp("us", "UTC")), ("pump_id", pa.string())]
        + [(name, types[column_type(name)]) for name in names]
    )
    holds: list[_PumpWeek] = []
    try:
        with pq.ParquetWriter(
            unfinished,
            schema,
            compression="zstd",
            use_dictionary=[name for name in schema.names if name != "timestamp"],
            column_encoding={"timestamp": "DELTA_BINARY_PACKED"},  # a third of the bytes
            write_page_checksum=True,
        ) as writer:
            for start in range(0, len(part), PUMPS_A_FETCH):
                rows, counts = _samples(con, part[start : start + PUMPS_A_FETCH], names)
                writer.write_table(rows.cast(schema), row_group_size=ROWS_A_GROUP)
                holds += counts
        if not holds:
            return None
        sha256 = _made_safe(unfinished)
        name = f"{home.name}/{sha256[:16]}.parquet"
        n_bytes = unfinished.stat().st_size
        unfinished.replace(folder / name)
        for changed in (home, folder, folder.parent):
            _sync(changed)
    finally:
        unfinished.unlink(missing_ok=True)
    return _Written(name, sha256, n_bytes, tuple(holds))


def _samples(
    con: duckdb.DuckDBPyConnection, part: Sequence[_PumpWeek], names: Sequence[str]
) -> tuple["pa.Table", list[_PumpWeek]]:
    """Return what the store holds of some pump-weeks, by pump and time, and the count of each."""
    con.register("wanted", _table(part))
    in_reach = (
        "select wanted.pump_id, samples.* from samples join wanted"
        " on samples.pump_no = wanted.pump_no"
        " and samples.ts between wanted.first_at and wanted.last_at"
        " where samples.pump_no between $low and $high and samples.ts between $from_at and $to_at"
    )
    reach = {
        "low": min(one.pump_no for one in part),
        "high": max(one.pump_no for one in part),
        "from_at": min(one.first_at for one in part),
        "to_at": max(one.last_at for one in part),
    }
    rows = con.sql(
        f"select ts as timestamp, pump_id, {', '.join(names)} from ({in_reach})"  # noqa: S608
        " order by pump_id, timestamp",
        params=reach,
    ).to_arrow_table()
    counts = con.execute(
        "select pump_id, pump_no, count(*), min(ts), max(ts)"  # noqa: S608  # our own statement
        f" from ({in_reach}) group by all order by pump_id",
        reach,
    ).fetchall()
    con.unregister("wanted")
    return rows, [_PumpWeek(part[0].week, *row) for row in counts]


def _move(con: duckdb.DuckDBPyConnection, written: _Written) -> None:
    """Delete a file's samples from the store and tell the store of the file, all or nothing."""
    con.register("moved", _table(written.holds))
    n_samples = sum(one.n_samples for one in written.holds)
    with transaction(con):
        (row,) = con.execute(
            "delete from samples using moved where samples.pump_no = moved.pump_no"
            " and samples.ts between moved.first_at and moved.last_at"
            " and samples.ts between $from_at and $to_at",
            {
                "from_at": min(one.first_at for one in written.holds),
                "to_at": max(one.last_at for one in written.holds),
            },
        ).fetchall()
        if row[0] != n_samples:
            raise StoreError(
                f"{written.name}: was to take {n_samples} samples out of the store, which has"
                f" {row[0]}. Nothing was changed; run pumprounds verify."
            )
        con.execute(
            "insert into archive_files values ($name, $week, $sha256, $bytes)",
            {
                "name": written.name,
                "week": written.holds[0].week,
                "sha256": written.sha256,
                "bytes": written.n_bytes,
            },
        )
        con.execute(
            "insert into archived select $name, pump_no, week, n_samples, first_at, last_at"
            " from moved order by pump_no",
            {"name": written.name},
        )
    con.unregister("moved")


def _table(pump_weeks: Sequence[_PumpWeek]) -> "pa.Table":
    kinds = {
        "week": "varchar",
        "pump_id": "varchar",
        "pump_no": "integer",
        "n_samples": "bigint",
        "first_at": "timestamp",
        "last_at": "timestamp",
    }
    return arrow_table(
        {name: ([getattr(one, name) for one in pump_weeks], kind) for name, kind in kinds.items()}
    )


def _made_safe(path: Path) -> str:
    """Return the hash of a file, once its bytes are on the disk."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sync(folder: Path) -> None:
    """Make the names in a folder safe on the disk, where the system can."""
    if os.name != "posix":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
