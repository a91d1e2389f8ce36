"""Samples of one pump as sorted arrays, fetched in batches from the store and its archive."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

import duckdb
import numpy as np
from numpy.typing import NDArray

from ingest.archive import Archive, read_files
from ingest.outside import OutsideFile
from ingest.rows import numbers_of
from ingest.store import pump_numbers

if TYPE_CHECKING:
    import pyarrow as pa

PUMPS_A_FETCH = 10
"""About a million rows at a log interval of five seconds."""

CHANNELS = (
    "pressure_kpa",
    "frequency_hz",
    "current_a",
    "voltage_v",
    "suction_kpa",
    "flow_lpm",
    "drive_temp_c",
    "input_current_a",
)

USUAL_CHANNELS = CHANNELS[:4]
"""Channels every store has a column for; the others, and fault codes, once a log has had them."""

_SELECT = """
select pump_no, ts, {columns}
from samples
where pump_no between $low and $high and list_contains($pump_nos, pump_no)
    and ts >= $from_at and ts < $to_at
"""


@dataclass(frozen=True, kw_only=True)
class PumpSamples:
    """One pump's samples in time order, each instant once.

    Attributes
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants, microseconds since 1970.
    pressure_kpa, ... : ndarray of float32, shape (n,)
        NaN where the log had no value.
    fault_code : ndarray of object, shape (n,), or None
        Codes as logged, None where there was none; None when the pump logged none at all.
    """

    pump_id: str
    ts_us: NDArray[np.int64]
    pressure_kpa: NDArray[np.float32]
    frequency_hz: NDArray[np.float32]
    current_a: NDArray[np.float32]
    voltage_v: NDArray[np.float32]
    suction_kpa: NDArray[np.float32]
    flow_lpm: NDArray[np.float32]
    drive_temp_c: NDArray[np.float32]
    input_current_a: NDArray[np.float32]
    fault_code: NDArray[np.object_] | None = None


def column_type(name: str) -> Literal["float", "varchar"]:
    """Type of a channel's column, or of the fault codes'."""
    return "varchar" if name == "fault_code" else "float"


def add_columns(con: duckdb.DuckDBPyConnection, names: Iterable[str]) -> None:
    """Give the store columns for channels (or fault codes) it has had no values of yet."""
    for name in sorted(set(names) - stored_columns(con)):
        con.execute(f"alter table samples add column {name} {column_type(name)}")


def stored_columns(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Return the columns the store has samples in."""
    return {name for name, *_ in con.cursor().execute("describe samples").fetchall()}


def sample_columns(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the channels, and fault codes, the store has samples of, in our order."""
    known = stored_columns(con)
    return [name for name in (*CHANNELS, "fault_code") if name in known]


def channel_columns(con: duckdb.DuckDBPyConnection) -> str:
    """All channels and fault codes as columns of a select from ``samples``."""
    stored = stored_columns(con)
    return ", ".join(
        name if name in stored else f"null::{column_type(name)} as {name}"
        for name in (*CHANNELS, "fault_code")
    )


def read_samples(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str],
    from_at: datetime,
    to_at: datetime,
) -> Iterator[PumpSamples]:
    """Samples of the pumps in ``[from_at, to_at)``, one pump at a time, in order of pump id.

    Pumps without samples in the range are left out. Times are UTC without zone. The caller may run
    other statements on ``con`` between two pumps.

    Raises
    ------
    StoreError
        Some of them were archived, and a file of the archive is missing or damaged.
    """
    wanted = set(pump_ids)
    numbers = {no: name for name, no in pump_numbers(con).items() if name in wanted}
    select = _SELECT.format(columns=", ".join(sample_columns(con)))
    archive = Archive(con)
    by_id = sorted(numbers, key=lambda no: numbers[no])
    for start in range(0, len(by_id), PUMPS_A_FETCH):
        batch = by_id[start : start + PUMPS_A_FETCH]
        stored = _fetch(con, select, batch, from_at, to_at)
        rows = archive.with_stored(stored, batch, from_at, to_at)
        yield from _of_pumps(rows, {no: numbers[no] for no in batch})


def read_outside_samples(
    files: Sequence[OutsideFile],
    columns: Sequence[str],
    pump_ids: Sequence[str],
    from_at: datetime,
    to_at: datetime,
) -> Iterator[PumpSamples]:
    """Samples as `read_samples` gives them, where all of them lie outside the store.

    Parameters
    ----------
    files : sequence of OutsideFile
    columns : sequence of str
        Channels, and fault codes, the store has samples of.

    Raises
    ------
    StoreError
        A file is missing or damaged.
    """
    import pyarrow as pa

    types = {"float": pa.float32(), "varchar": pa.string()}
    schema = pa.schema(
        [("pump_no", pa.int32()), ("ts", pa.timestamp("us"))]
        + [(name, types[column_type(name)]) for name in columns]
    )
    by_id = sorted(pump_ids)
    for start in range(0, len(by_id), PUMPS_A_FETCH):
        pumps = dict(enumerate(by_id[start : start + PUMPS_A_FETCH]))
        numbers = {pump_id: number for number, pump_id in pumps.items()}
        tables = list(read_files(files, numbers, from_at, to_at, schema))
        if tables:
            yield from _of_pumps(pa.concat_tables(tables), pumps)


def _fetch(
    con: duckdb.DuckDBPyConnection,
    select: str,
    pump_nos: list[int],
    from_at: datetime,
    to_at: datetime,
) -> "pa.Table":
    # low and high let whole row groups be skipped, which a list alone does not.
    return (
        con.cursor()
        .sql(
            select,
            params={
                "low": min(pump_nos),
                "high": max(pump_nos),
                "pump_nos": pump_nos,
                "from_at": from_at,
                "to_at": to_at,
            },
        )
        .to_arrow_table()
    )


def _of_pumps(rows: "pa.Table", pumps: Mapping[int, str]) -> Iterator[PumpSamples]:
    """Samples of each pump that has some, in the order of the pumps given by number."""
    pieces = _by_pump(rows)
    for number, pump_id in pumps.items():
        if number in pieces:
            yield _as_samples(pump_id, *pieces[number])


def _by_pump(fetched: "pa.Table") -> dict[int, tuple[NDArray[np.int64], "pa.Table"]]:
    """Split at pump changes, each pump's instants and rows in time order."""
    pump_no, ts_us = numbers_of(fetched.column("pump_no")), numbers_of(fetched.column("ts"))
    if len(ts_us) == 0:
        return {}
    if not _is_in_order(pump_no, ts_us):
        order = np.lexsort((ts_us, pump_no))
        fetched, pump_no, ts_us = fetched.take(order), pump_no[order], ts_us[order]
    starts = np.append(0, np.flatnonzero(pump_no[1:] != pump_no[:-1]) + 1)
    ends = np.append(starts[1:], len(pump_no))
    return {
        int(pump_no[start]): (ts_us[start:end], fetched.slice(start, end - start))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    }


def _is_in_order(pump_no: NDArray[np.int32], ts_us: NDArray[np.int64]) -> bool:
    is_next = pump_no[1:] > pump_no[:-1]
    is_later = (pump_no[1:] == pump_no[:-1]) & (ts_us[1:] > ts_us[:-1])
    return bool((is_next | is_later).all())


def _as_samples(pump_id: str, ts_us: NDArray[np.int64], rows: "pa.Table") -> PumpSamples:
    stored = set(rows.column_names)
    nothing = np.full(rows.num_rows, np.nan, np.float32)
    nothing.flags.writeable = False
    channels = {name: numbers_of(rows.column(name)) for name in CHANNELS if name in stored}
    return PumpSamples(
        pump_id=pump_id,
        ts_us=ts_us,
        **{name: channels.get(name, nothing) for name in CHANNELS},
        fault_code=_codes(rows.column("fault_code")) if "fault_code" in stored else None,
    )


def _codes(column: "pa.ChunkedArray") -> NDArray[np.object_] | None:
    if column.null_count == len(column):
        return None
    return np.array(column.to_pylist(), dtype=np.object_)
