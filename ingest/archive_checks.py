"""Whether files outside the store hold what the store says they do."""

from collections import Counter
from collections.abc import Iterator

import duckdb

from ingest.archive import has_archive, outside_files
from ingest.outside import (
    ARCHIVED,
    OutsideFile,
    open_parquet,
    opened_source,
    pieces_of,
    read_groups,
    sha256_of_source,
)


def wrong_archive(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    """Say what is wrong with files outside: bytes, counts by pump, order and ids of each."""
    if not has_archive(con):
        return
    lost = con.execute(
        "select distinct name from archived anti join archive_files using (name) order by name"
    ).fetchall()
    for (name,) in lost:
        yield f"archive: {name} is told to hold samples, but not among its files."
    hashes = con.execute("select name, sha256 from archive_files order by name").fetchall()
    for name, n_times in sorted(Counter(name for name, _ in hashes).items()):
        if n_times > 1:
            yield f"archive: {name} comes more than once."
    for (name, sha256), file in zip(hashes, outside_files(con), strict=True):
        yield from _wrong_file(con, name, file, sha256)


def _wrong_file(
    con: duckdb.DuckDBPyConnection, name: str, file: OutsideFile, sha256: str
) -> Iterator[str]:
    try:
        with opened_source(file.address) as source:
            found = sha256_of_source(source)
    except FileNotFoundError:
        yield f"archive: {file.address} is missing."
        return
    except OSError as error:
        yield f"archive: {file.address} cannot be read: {error.strerror or error}."
        return
    if found != sha256:
        yield f"archive: {file.address} is not as it was written."
        return
    told = {
        pump_id: tuple(rest)
        for pump_id, *rest in con.execute(
            "select pump_id, sum(n_samples)::bigint, epoch_us(min(first_at)),"
            " epoch_us(max(last_at)) from archived join pump_numbers using (pump_no)"
            " where name = $name group by pump_id",
            {"name": name},
        ).fetchall()
    }
    counted, is_in_order = _count(file)
    if not is_in_order:
        yield f"archive: {file.address} is not in order of time, or has an instant twice."
    whose = told.keys() | (counted.keys() if file.reading == ARCHIVED else set())
    for pump_id in sorted(whose):
        if told.get(pump_id) != counted.get(pump_id):
            n_told, n_counted = (side.get(pump_id, (0,))[0] for side in (told, counted))
            yield (
                f"archive: {file.address} has {n_counted} samples of {pump_id}, told are {n_told},"
                " or their first or last instant differs."
            )


def _count(file: OutsideFile) -> tuple[dict[str, tuple[int, int, int]], bool]:
    """Count samples by pump, with first and last instant in us; whether each pump's rise."""
    counted: dict[str, tuple[int, int, int]] = {}
    is_in_order = True
    with opened_source(file.address) as source:
        parquet = open_parquet(source, file.reading)
        for group in range(parquet.num_row_groups):
            rows = read_groups(parquet, file.reading, [group], [])
            for place, start, end in pieces_of(rows):
                name = rows.names[place]
                pump_id = file.reading.pump_ids.get(name, name)
                ts_us = rows.ts_us[start:end]
                first, last = int(ts_us[0]), int(ts_us[-1])
                n_before, begun, before = counted.get(pump_id, (0, first, first - 1))
                is_in_order &= bool((ts_us[1:] > ts_us[:-1]).all()) and before < first
                counted[pump_id] = (n_before + end - start, begun, last)
    return counted, is_in_order
