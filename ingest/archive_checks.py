"""Whether the archive's files hold what the store says was moved into them."""

import hashlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import duckdb

from ingest.archive import archive_folder, has_archive


def wrong_archive(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    """Say what is wrong with the archive: bytes, counts by pump, order and ids of each file."""
    if not has_archive(con):
        return
    lost = con.execute(
        "select distinct name from archived anti join archive_files using (name) order by name"
    ).fetchall()
    for (name,) in lost:
        yield f"archive: {name} is told to hold samples, but not among its files."
    folder = archive_folder(con)
    known = con.execute("select name, sha256 from archive_files order by name").fetchall()
    for name, n_times in sorted(Counter(name for name, _ in known).items()):
        if n_times > 1:
            yield f"archive: {name} comes more than once."
    for name, sha256 in known:
        yield from _wrong_file(con, folder / name, name, sha256)


def _wrong_file(
    con: duckdb.DuckDBPyConnection, path: Path, name: str, sha256: str
) -> Iterator[str]:
    try:
        with path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        yield f"archive: {path} is missing."
        return
    except OSError as error:
        yield f"archive: {path} cannot be read: {error.strerror}."
        return
    if found != sha256:
        yield f"archive: {path} is not as it was written."
        return
    told = {
        pump_id: tuple(rest)
        for pump_id, *rest in con.execute(
            "select pump_id, n_samples, epoch_us(first_at), epoch_us(last_at)"
            " from archived join pump_numbers using (pump_no) where name = $name",
            {"name": name},
        ).fetchall()
    }
    counted, is_in_order = _count(path)
    if not is_in_order:
        yield f"archive: {path} is not in order of pump and time, or has an instant twice."
    for pump_id in sorted(told.keys() | counted.keys()):
        if told.get(pump_id) != counted.get(pump_id):
            n_told, n_counted = (side.get(pump_id, (0,))[0] for side in (told, counted))
            yield (
                f"archive: {path} has {n_counted} samples of {pump_id}, told are {n_told}, "
                "or their first or last instant differs."
            )


def _count(path: Path) -> tuple[dict[str, tuple[int, int, int]], bool]:
    """Count a file's samples by pump, with first and last instant in us; whether all rises."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    counted: dict[str, tuple[int, int, int]] = {}
    is_in_order = True
    last_id, last_us = "", 0
    with pq.ParquetFile(path, page_checksum_verification=True) as file:
        for batch in file.iter_batches(columns=["pump_id", "timestamp"]):
            coded = batch.column("pump_id").dictionary_encode()
            place = coded.indices.to_numpy()
            ts_us = batch.column("timestamp").cast(pa.timestamp("us")).to_numpy().view(np.int64)
            cuts = (np.flatnonzero(np.diff(place)) + 1).tolist()
            for start, end in zip([0, *cuts], [*cuts, len(place)], strict=True):
                if start == end:
                    continue
                pump_id = coded.dictionary[int(place[start])].as_py()
                first, last = int(ts_us[start]), int(ts_us[end - 1])
                is_in_order &= bool((np.diff(ts_us[start:end]) > 0).all())
                is_in_order &= (last_id, last_us) < (pump_id, first)
                n_before, begun, _ = counted.get(pump_id, (0, first, last))
                counted[pump_id] = (n_before + end - start, begun, last)
                last_id, last_us = pump_id, last
    return counted, is_in_order
