"""Rows of Python values as Arrow columns, against Arrow's own conversion."""

from datetime import date, datetime, timedelta

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.rows import arrow_column, insert_columns, numbers_of

KINDS = {
    "varchar": (pa.string(), st.text()),
    "boolean": (pa.bool_(), st.booleans()),
    "bigint": (pa.int64(), st.integers(-(2**63), 2**63 - 1)),
    "integer": (pa.int32(), st.integers(-(2**31), 2**31 - 1)),
    "double": (pa.float64(), st.floats()),
    "timestamp": (pa.timestamp("us"), st.datetimes()),
    "date": (pa.date32(), st.dates()),
    "interval": (pa.duration("us"), st.timedeltas(timedelta(days=-9000), timedelta(days=9000))),
    "double[]": (pa.list_(pa.float64()), st.lists(st.floats(), max_size=4)),
    "varchar[]": (pa.list_(pa.string()), st.lists(st.text(), max_size=4)),
}


@pytest.mark.parametrize("kind", KINDS)
@settings(deadline=None)
@given(data=st.data())
def test_a_column_is_what_arrow_makes_of_the_same_values(kind, data):
    arrow_type, values = KINDS[kind]
    column = data.draw(st.lists(st.none() | values, max_size=20))

    made = arrow_column(column, kind)

    made.validate(full=True)
    assert made.type == arrow_type
    assert repr(made.to_pylist()) == repr(pa.array(column, type=arrow_type).to_pylist())


def test_rows_come_back_from_the_table_they_went_into(con):
    con.execute("create table told (name varchar, seen timestamp, day date, n integer, more int)")
    columns = {
        "day": [date(2026, 11, 16), None],
        "name": ["a", "b"],
        "seen": [None, datetime(2026, 11, 16, 1, 2, 3, 4)],
        "n": [1, None],
    }

    insert_columns(con, "told", columns)

    assert con.execute("select day, name, seen, n, more from told order by name").fetchall() == [
        (*row, None) for row in zip(*columns.values(), strict=True)
    ]


def test_a_column_the_table_does_not_have_is_an_error(con):
    con.execute("create table told (name varchar)")

    with pytest.raises(KeyError, match="other"):
        insert_columns(con, "told", {"other": [1]})


@settings(deadline=None)
@given(
    st.lists(st.none() | st.floats(width=32), max_size=40), st.integers(0, 9), st.integers(0, 9)
)
def test_numbers_are_what_arrow_reads_of_any_stretch_of_a_column(values, start, gap):
    column = pa.array(values, type=pa.float32())[start : len(values) - gap]

    for form in (column, pa.chunked_array([column, column])):
        read = numbers_of(form)
        assert read.dtype == np.float32
        np.testing.assert_array_equal(read, form.to_numpy(zero_copy_only=False))


def test_times_are_read_as_microseconds(con):
    found = con.sql("select timestamp '2026-11-16 00:00:01' as ts").to_arrow_table()

    assert numbers_of(found.column("ts")).tolist() == [1_794_787_201_000_000]
