"""Rows go into a table and come out of it through Arrow, far quicker than row by row.

Columns are laid out and read with numpy: Arrow's own ways to and from Python values load all of
pandas first, a third of a second of every start.
"""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any

import duckdb
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pyarrow as pa

_NUMPY_KINDS = {
    "boolean": "?",
    "smallint": "<i2",
    "usmallint": "<u2",
    "integer": "<i4",
    "uinteger": "<u4",
    "bigint": "<i8",
    "float": "<f4",
    "double": "<f8",
    "timestamp": "<M8[us]",
    "timestamp with time zone": "<M8[us]",
    "interval": "<m8[us]",
    "date": "<M8[D]",
}


def insert_columns(
    con: duckdb.DuckDBPyConnection, table: str, columns: Mapping[str, Sequence[Any]]
) -> None:
    """Insert rows, given as columns of one length, into a table that has these columns.

    Parameters
    ----------
    table, columns
        As of `lay_out`.

    Raises
    ------
    KeyError
        As `lay_out`.
    """
    insert_table(con, table, lay_out(con, table, columns))


def insert_table(con: duckdb.DuckDBPyConnection, table: str, rows: "pa.Table") -> None:
    """Insert rows that were laid out for a table."""
    con.register("incoming_rows", rows)
    con.execute(f"insert into {table} by name select * from incoming_rows")  # noqa: S608  # our own
    con.unregister("incoming_rows")


def lay_out(
    con: duckdb.DuckDBPyConnection, table: str, columns: Mapping[str, Sequence[Any]]
) -> "pa.Table":
    """Lay out rows, given as columns of one length, as a table takes them.

    Parameters
    ----------
    table : str
        One of our own names.
    columns : mapping of str to sequence
        Python values, ``None`` for NULL; the table says of what type. Other columns of the table
        get NULL.

    Raises
    ------
    KeyError
        The table lacks one of the columns, or has it in a type not foreseen here.
    """
    kinds = dict(
        con.execute(
            "select column_name, lower(data_type) from duckdb_columns() where table_name = $table",
            {"table": table},
        ).fetchall()
    )
    return arrow_table({name: (values, kinds[name]) for name, values in columns.items()})


def arrow_table(columns: Mapping[str, tuple[Sequence[Any], str]]) -> "pa.Table":
    """Lay out columns as an Arrow table.

    Parameters
    ----------
    columns : mapping of str to (sequence, str)
        Values and the database's name of their type: ``bigint``, ``varchar``, ``double[]``, ...
        Times are without zone, in UTC.

    Raises
    ------
    KeyError
        A type not foreseen here.
    """
    import pyarrow as pa

    return pa.Table.from_arrays(
        [arrow_column(values, kind) for values, kind in columns.values()], names=list(columns)
    )


def arrow_column(values: Sequence[Any], kind: str) -> "pa.Array":
    """Lay out one column; see `arrow_table`."""
    import pyarrow as pa

    n = len(values)
    is_valid = np.fromiter((value is not None for value in values), bool, n)
    mask = None if is_valid.all() else pa.py_buffer(np.packbits(is_valid, bitorder="little"))
    if kind.endswith("[]"):
        parts = [() if value is None else value for value in values]
        child = arrow_column(list(chain.from_iterable(parts)), kind.removesuffix("[]"))
        return pa.ListArray.from_buffers(
            pa.list_(child.type), n, [mask, _ends(map(len, parts), n)], children=[child]
        )
    if kind == "varchar":
        texts = [b"" if value is None else value.encode() for value in values]
        ends = _ends(map(len, texts), n)
        return pa.Array.from_buffers(pa.string(), n, [mask, ends, pa.py_buffer(b"".join(texts))])
    filled = np.array(
        [_BLANK[kind] if value is None else value for value in values], _NUMPY_KINDS[kind]
    )
    if kind == "boolean":
        return pa.Array.from_buffers(
            pa.bool_(), n, [mask, pa.py_buffer(np.packbits(filled, bitorder="little"))]
        )
    if kind == "date":
        return pa.Array.from_buffers(
            pa.date32(), n, [mask, pa.py_buffer(filled.astype("<i8").astype("<i4"))]
        )
    arrow_type = pa.from_numpy_dtype(filled.dtype)
    if kind == "timestamp with time zone":
        arrow_type = pa.timestamp("us", tz="UTC")
    return pa.Array.from_buffers(arrow_type, n, [mask, pa.py_buffer(filled)])


_BLANK: Mapping[str, Any] = {
    kind: np.datetime64(0, "D") if "M8" in code else 0 for kind, code in _NUMPY_KINDS.items()
}


def _ends(lengths: Any, n: int) -> "pa.Buffer":
    """Where each value ends in what holds them all, and where the first begins."""
    import pyarrow as pa

    ends = np.zeros(n + 1, "<i4")
    ends[1:] = np.cumsum(np.fromiter(lengths, np.int64, n))
    return pa.py_buffer(ends)


def numbers_of(column: "pa.Array | pa.ChunkedArray") -> NDArray[Any]:
    """Read a column of numbers or times as an array of its own type.

    Parameters
    ----------
    column : Array or ChunkedArray, shape (n,)
        Whole numbers and times must have no NULL.

    Returns
    -------
    ndarray, shape (n,)
        Not to be written to; NaN for NULL; times as int64, in their own unit.

    Raises
    ------
    KeyError
        A type not foreseen here.
    """
    import pyarrow as pa

    if isinstance(column, pa.ChunkedArray):
        column = column.combine_chunks()
    dtype = np.dtype(_NUMPY_TYPES[str(column.type).partition("[")[0]])
    stretch = slice(column.offset, column.offset + len(column))
    mask, data = column.buffers()
    if data is None or len(column) == 0:
        return np.empty(0, dtype)
    numbers = np.frombuffer(data, dtype)[stretch]
    if column.null_count == 0:
        return numbers
    is_valid = np.unpackbits(np.frombuffer(mask, np.uint8), bitorder="little")[stretch]
    return np.where(is_valid.astype(np.bool_), numbers, dtype.type(np.nan))


_NUMPY_TYPES = {
    "float": "<f4",
    "double": "<f8",
    "int16": "<i2",
    "uint16": "<u2",
    "int32": "<i4",
    "uint32": "<u4",
    "int64": "<i8",
    "timestamp": "<i8",
}
