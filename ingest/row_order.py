"""What the order of a file's rows tells: a clock that was set back, seconds that were lost."""

from collections.abc import Iterator
from itertools import pairwise

import duckdb
import numpy as np
from numpy.typing import NDArray

from ingest.row_problems import COSTS_ROW, SECONDS_LOST, TIME_AGAIN

MAX_STEPS_BACK = 20
"""Ours: a file with more is not in order at all, which tells nothing of its clock."""

MAX_GAP = 3.0
"""Ours: neighbours nearer than three usual steps leave no room for further samples between."""

_MIN_ROWS = 10  # ours: fewer rows make no pattern
_MINUTE_US = 60_000_000
_ROWS_A_FETCH = 1_000_000


def mark_row_order(con: duckdb.DuckDBPyConnection) -> bool:
    """Mark rows of stretches logged twice and of files without seconds; True if there are any."""
    if _is_in_order(con):
        return False
    import pyarrow as pa

    rows = con.sql(
        "select file_no, coalesce(pump_no, 0) as pump_no, is_local, rowid as row_id, ts"  # noqa: S608
        f" from raw where problems & {COSTS_ROW} = 0 order by rowid"
    ).to_arrow_table()
    key = rows.column("file_no").to_numpy().astype(np.int64) << 33
    key |= rows.column("pump_no").to_numpy().astype(np.int64) << 1
    key |= rows.column("is_local").to_numpy().astype(np.int64)
    ts_us = rows.column("ts").to_numpy().astype("datetime64[us]").view(np.int64)
    bits = np.zeros(len(ts_us), dtype=np.uint32)
    for where in _groups(key):
        bits[where] = _bits(ts_us[where])
    if not bits.any():
        return False
    found = np.flatnonzero(bits)
    marked = pa.table(
        {"row_id": rows.column("row_id").to_numpy()[found], "bits": pa.array(bits[found])}
    )
    con.register("marked_rows", marked)
    con.execute(
        "update raw set problems = problems | bits from marked_rows where raw.rowid = row_id"
    )
    con.unregister("marked_rows")
    return True


def _is_in_order(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether times rise from row to row, but where pump or file change."""
    reader = con.sql(
        f"select file_no, pump_no, ts from raw where problems & {COSTS_ROW} = 0"  # noqa: S608
    ).to_arrow_reader(_ROWS_A_FETCH)
    try:
        for batch in reader:
            file_no, pump_no = batch.column(0).to_numpy(), batch.column(1).to_numpy()
            ts = batch.column(2).to_numpy()
            is_other = (np.diff(file_no) != 0) | (np.diff(pump_no) != 0)
            if not ((np.diff(ts) > np.timedelta64(0)) | is_other).all():
                return False
            n_changes = np.count_nonzero(is_other)
            if n_changes > len(np.unique(file_no)) * len(np.unique(pump_no)):
                return False  # pumps in turn
    finally:
        reader.close()
    return True


def _groups(key: NDArray[np.int64]) -> Iterator[NDArray[np.int64]]:
    """Places of the rows of each file and pump, in the order of the rows."""
    order = np.argsort(key, kind="stable")
    bounds = [0, *(np.flatnonzero(np.diff(key[order])) + 1).tolist(), len(key)]
    for start, end in pairwise(bounds):
        if start < end:
            yield order[start:end]


def _bits(ts_us: NDArray[np.int64]) -> NDArray[np.uint32]:
    steps = np.diff(ts_us)
    n_rows = len(ts_us)
    bits = np.zeros(n_rows, dtype=np.uint32)
    if has_lost_seconds(ts_us):
        bits[:] = SECONDS_LOST
        return bits
    if np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0):  # newest first
        return _bits(ts_us[::-1])[::-1]
    back = np.flatnonzero(steps < 0) + 1
    if 0 < len(back) <= MAX_STEPS_BACK:
        bits[is_lived_again(ts_us, back)] = TIME_AGAIN
    return bits


def has_lost_seconds(ts_us: NDArray[np.int64]) -> bool:
    """Whether all times are whole minutes and most minutes stand on several rows."""
    if len(ts_us) < _MIN_ROWS or (ts_us % _MINUTE_US).any():
        return False
    return len(np.unique(ts_us)) < len(ts_us) / 2


def is_lived_again(ts_us: NDArray[np.int64], back: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which rows fall between rows of an earlier stretch, in time already logged.

    A stretch begins where time steps back. Instants that stand in an earlier stretch exactly are
    left out of this: they are repeats. So are times in gaps of the earlier stretch: a logger may
    send later what it kept.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
    back : ndarray of int64
        Rows that are earlier than the row before.
    """
    again = np.zeros(len(ts_us), dtype=np.bool_)
    bounds = [0, *back.tolist(), len(ts_us)]
    earlier: list[NDArray[np.int64]] = []
    for start, end in pairwise(bounds):
        stretch = ts_us[start:end]
        for past in earlier:
            again[start:end] |= _is_between(stretch, past)
        if len(stretch) > 1:
            earlier.append(stretch)
    return again


def _is_between(ts_us: NDArray[np.int64], past: NDArray[np.int64]) -> NDArray[np.bool_]:
    usual = float(np.median(np.diff(past)))
    place = np.searchsorted(past, ts_us)
    is_inside = (place > 0) & (place < len(past))
    after = past[np.clip(place, 0, len(past) - 1)]
    before = past[np.clip(place - 1, 0, len(past) - 1)]
    is_near: NDArray[np.bool_] = after - before <= MAX_GAP * usual
    is_between: NDArray[np.bool_] = is_inside & is_near & (after != ts_us)
    return is_between
