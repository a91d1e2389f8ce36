"""Samples in Parquet files outside the store, read by pump and time as the store's own are.

They were archived there by this program, or are logs that were left where they lie. Where such a
file is and how it is read is all it takes, so any process that reaches the file can do it.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ingest.rows import arrow_column, numbers_of

if TYPE_CHECKING:
    import pyarrow as pa
    import pyarrow.parquet as pq

_US_PER_UNIT = {"s": 1_000_000, "ms": 1_000, "us": 1}


@dataclass(frozen=True, kw_only=True)
class ChannelColumn:
    """``inner = value * factor + offset`` of a column."""

    field: str
    column: str
    factor: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How a file's columns become samples.

    Attributes
    ----------
    time : str
        Column of instants, with a zone.
    pump : str or None
        Column of the pumps' names; None where the whole file is of one pump.
    pump_ids : mapping of str to str
        Pump of each name that is not its id; of a file of one pump, that pump by the name "".
    channels : tuple of ChannelColumn, or None
        None where columns are named as the channels they hold, in inner units.
    blank : tuple of str
        Words that stand for no fault code.
    """

    time: str
    pump: str | None
    channels: tuple[ChannelColumn, ...] | None
    pump_ids: Mapping[str, str]
    blank: tuple[str, ...] = ()

    def as_json(self) -> str:
        """Write it down for the store."""
        return json.dumps(asdict(self), sort_keys=True)

    @staticmethod
    def of_json(text: str) -> "Reading":
        """Read what `as_json` wrote."""
        told = json.loads(text)
        channels = told["channels"]
        return Reading(
            time=told["time"],
            pump=told["pump"],
            channels=None if channels is None else tuple(ChannelColumn(**one) for one in channels),
            pump_ids=told["pump_ids"],
            blank=tuple(told["blank"]),
        )

    def names_of(self, pump_ids: Sequence[str]) -> dict[str, str]:
        """Pumps by the names they have in the file."""
        wanted = set(pump_ids)
        named = {name: pump_id for name, pump_id in self.pump_ids.items() if pump_id in wanted}
        return {
            **{pump_id: pump_id for pump_id in wanted if pump_id not in self.pump_ids},
            **named,
        }


ARCHIVED = Reading(time="timestamp", pump="pump_id", channels=None, pump_ids={})
"""How files are read that this program has written."""


@dataclass(frozen=True)
class OutsideFile:
    """A file outside the store: a path, or the address of an object store's file."""

    address: str
    n_bytes: int
    reading: Reading


@dataclass(frozen=True)
class OutsideRows:
    """Rows of one file, as they lie.

    Attributes
    ----------
    names : list of str
        Names of pumps, ``[""]`` where the file is of one pump.
    place : ndarray of int32, shape (n,)
        Place in ``names`` of each row's pump.
    ts_us : ndarray of int64, shape (n,)
        Instants, UTC. [us]
    channels : dict of str to ndarray of float32, shape (n,)
        In inner units, NaN for no value.
    fault_code : StringArray or None
        None where the file has none.
    """

    names: list[str]
    place: NDArray[np.int32]
    ts_us: NDArray[np.int64]
    channels: dict[str, NDArray[np.float32]]
    fault_code: "pa.Array | None"


def open_parquet(source: "pa.NativeFile", reading: Reading) -> "pq.ParquetFile":
    """Read what a file says of itself; the pumps' names then come as a dictionary with places.

    Raises
    ------
    ArrowException
        It is no Parquet.
    """
    import pyarrow.parquet as pq

    return pq.ParquetFile(
        source,
        read_dictionary=[] if reading.pump is None else [reading.pump],
        page_checksum_verification=True,
    )


def opened_source(address: str) -> "pa.NativeFile":
    """Open the bytes of a file, wherever it is."""
    import pyarrow as pa

    if "://" not in address:
        return pa.OSFile(address)
    file_system, path = file_system_of(address)
    return file_system.open_input_file(path)


def sha256_of_source(source: "pa.NativeFile") -> str:
    """Return the SHA-256 of a file's bytes as hexadecimal text."""
    source.seek(0)
    return hashlib.file_digest(source, "sha256").hexdigest()


def pieces_of(rows: OutsideRows) -> Iterator[tuple[int, int, int]]:
    """Stretches of rows of one pump: its place among the names, first row, row after the last."""
    if rows.place.size == 0:
        return
    cuts = (np.flatnonzero(np.diff(rows.place)) + 1).tolist()
    for start, end in pairwise([0, *cuts, rows.place.size]):
        yield int(rows.place[start]), start, end


def file_system_of(address: str) -> tuple[Any, str]:
    """Return the file system an address names, and the path there.

    Those Arrow knows itself are taken first, then those of fsspec, where it is installed.
    """
    import pyarrow as pa
    from pyarrow import fs

    try:
        return fs.FileSystem.from_uri(address)  # type: ignore[no-any-return]
    except pa.ArrowInvalid:
        from fsspec.core import url_to_fs

        found, path = url_to_fs(address)
        return fs.PyFileSystem(fs.FSSpecHandler(found)), path


def read_groups(
    file: "pq.ParquetFile", reading: Reading, groups: Sequence[int], fields: Sequence[str]
) -> OutsideRows:
    """Read some row groups of an open file, and of the channels (and fault code) some."""
    columns = _columns(file, reading, fields)
    names = [reading.time, *(one.column for one in columns)]
    if reading.pump is not None:
        names.append(reading.pump)
    table = file.read_row_groups(list(groups), columns=names, use_threads=False)
    return OutsideRows(
        *_pumps(table, reading),
        ts_us=_instants_us(table.column(reading.time)),
        channels={
            one.field: _channel(table.column(one.column), one)
            for one in columns
            if one.field != "fault_code"
        },
        fault_code=next(
            (
                _codes(table.column(one.column), reading.blank)
                for one in columns
                if one.field == "fault_code"
            ),
            None,
        ),
    )


def _columns(
    file: "pq.ParquetFile", reading: Reading, fields: Sequence[str]
) -> list[ChannelColumn]:
    if reading.channels is not None:
        return [one for one in reading.channels if one.field in fields]
    there = set(file.schema_arrow.names) - {reading.time, reading.pump}
    return [ChannelColumn(field=field, column=field) for field in fields if field in there]


def read_outside(
    outside: OutsideFile, numbers: Mapping[str, int], from_us: int, to_us: int, schema: "pa.Schema"
) -> "pa.Table":
    """Read some pumps' rows of ``[from_us, to_us)``.

    Parameters
    ----------
    numbers : mapping of str to int
        Pumps by their ids, with the number each has in ``pump_no``.
    schema : Schema
        Columns of the result: ``pump_no``, ``ts``, channels; NULL where the file has none, NaN
        where a row has no value.

    Raises
    ------
    OSError, ArrowException
        The file is missing, may not be read, is of another size, or is damaged.
    """
    import pyarrow as pa

    reading = outside.reading
    number_of = {name: numbers[pump_id] for name, pump_id in reading.names_of([*numbers]).items()}
    if reading.pump is None and "" not in number_of:
        return schema.empty_table()
    with opened_source(outside.address) as source:
        if source.size() != outside.n_bytes:
            raise OSError(f"it has {source.size()} bytes, not {outside.n_bytes}")
        file = open_parquet(source, reading)
        groups = _groups_within(file, reading, number_of, from_us, to_us)
        rows = read_groups(file, reading, groups, schema.names)
    number_at = np.array([number_of.get(name, -1) for name in rows.names] or [-1], np.int32)
    pump_no = number_at[rows.place]
    is_wanted = (pump_no >= 0) & (rows.ts_us >= from_us) & (rows.ts_us < to_us)
    chosen: Any = slice(None) if is_wanted.all() else is_wanted
    columns: dict[str, pa.Array] = {
        "pump_no": pa.array(pump_no[chosen]),
        "ts": pa.array(rows.ts_us[chosen]).view(pa.timestamp("us")),
        **{field: pa.array(values[chosen]) for field, values in rows.channels.items()},
    }
    if rows.fault_code is not None:
        columns["fault_code"] = rows.fault_code.filter(pa.array(is_wanted))
    n = len(columns["ts"])
    return pa.table(
        [
            columns[field.name] if field.name in columns else pa.nulls(n, field.type)
            for field in schema
        ],
        schema=schema,
    )


def _groups_within(
    file: "pq.ParquetFile", reading: Reading, names: Mapping[str, int], from_us: int, to_us: int
) -> list[int]:
    """Row groups that may hold rows of some pumps and a stretch of time, by their statistics."""
    found = []
    for number in range(file.num_row_groups):
        told = statistics_of(file, reading, number)
        if told.instants_us is not None:
            first, last = told.instants_us
            if last < from_us or first >= to_us:
                continue
        if told.names is not None:
            low, high = told.names
            if not any(low <= name <= high for name in names):
                continue
        found.append(number)
    return found


@dataclass(frozen=True)
class GroupStatistics:
    """Least and greatest instant [us] and pump's name of a row group, as far as the file says."""

    instants_us: tuple[int, int] | None
    names: tuple[str, str] | None

    def fit(self, rows: OutsideRows) -> bool:
        """Whether the rows of the group agree; else rows that are there would not be found."""
        if rows.ts_us.size == 0:
            return True
        if self.instants_us is not None:
            first, last = self.instants_us
            if not first <= rows.ts_us.min() <= rows.ts_us.max() <= last:
                return False
        if self.names is not None:
            low, high = self.names
            there = [rows.names[place] for place in np.unique(rows.place)]
            return all(low <= name <= high for name in there)
        return True


def statistics_of(file: "pq.ParquetFile", reading: Reading, group: int) -> GroupStatistics:
    """Read what a file says of a row group."""
    metadata = file.metadata
    place = {metadata.schema.column(n).path: n for n in range(metadata.num_columns)}
    unit = file.schema_arrow.field(reading.time).type.unit
    told = metadata.row_group(group)
    instants_us = names = None
    time = told.column(place[reading.time]).statistics
    if time is not None and time.has_min_max:
        instants_us = (_as_us(int(time.min_raw), unit), _as_us(int(time.max_raw), unit))
    pump = None if reading.pump is None else told.column(place[reading.pump]).statistics
    if pump is not None and pump.has_min_max:
        names = (str(pump.min), str(pump.max))
    return GroupStatistics(instants_us, names)


def _pumps(table: "pa.Table", reading: Reading) -> tuple[list[str], NDArray[np.int32]]:
    import pyarrow as pa

    if reading.pump is None:
        return [""], np.zeros(table.num_rows, np.int32)
    column = table.column(reading.pump)
    if not pa.types.is_dictionary(column.type):
        column = column.dictionary_encode()
    coded = column.unify_dictionaries().combine_chunks()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.chunk(0) if coded.num_chunks else pa.array([], column.type)
    if coded.null_count:
        raise pa.ArrowInvalid("some rows name no pump")
    coded.validate(full=True)  # in a damaged file, text may be none, and places lie beyond it
    names = [name.as_py() for name in coded.dictionary]
    return names, numbers_of(coded.indices).astype(np.int32, copy=False)


def _instants_us(column: "pa.ChunkedArray") -> NDArray[np.int64]:
    import pyarrow as pa

    if column.null_count:
        raise pa.ArrowInvalid("some rows have no time")
    ts = numbers_of(column)
    unit = column.type.unit
    if unit == "ns":
        return np.asarray(ts // 1000)
    return ts if unit == "us" else ts * _US_PER_UNIT[unit]


def _as_us(value: int, unit: str) -> int:
    return value // 1000 if unit == "ns" else value * _US_PER_UNIT[unit]


def _channel(column: "pa.ChunkedArray", read_as: ChannelColumn) -> NDArray[np.float32]:
    import pyarrow as pa

    if pa.types.is_integer(column.type):
        column = column.cast(pa.float64())
    values = numbers_of(column)
    if (read_as.factor, read_as.offset) != (1.0, 0.0):
        values = values.astype(np.float64)
        values *= read_as.factor
        if read_as.offset:
            values += read_as.offset
    return values.astype(np.float32, copy=False)


def _codes(column: "pa.ChunkedArray", blank: Sequence[str]) -> "pa.Array":
    """Fault codes, NULL where the cell says there is none."""
    import pyarrow as pa
    import pyarrow.compute as pc

    codes = pc.utf8_trim_whitespace(column.cast(pa.string())).combine_chunks()
    if isinstance(codes, pa.ChunkedArray):
        codes = pa.concat_arrays(codes.chunks) if codes.num_chunks else pa.array([], pa.string())
    none = arrow_column(["", "0", "0.0", *blank], "varchar")
    return pc.if_else(pc.is_in(pc.utf8_lower(codes), none), pa.scalar(None, pa.string()), codes)
