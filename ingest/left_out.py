"""Values that no pump can show: counted where they are left out, so that they can be judged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.resources import files

import duckdb

from ingest.clock_table import instant_of_row, make_clock
from ingest.local_time import LocalTime
from ingest.row_problems import COSTS_ROW, not_plausible_bit
from ingest.rows import arrow_table, insert_columns
from ingest.samples import CHANNELS
from ingest.survey import week_starts

_IMPLAUSIBLE = sum(not_plausible_bit(channel) for channel in CHANNELS)
_MARGIN = timedelta(days=2)  # times may be local
_FIELDS = ("pump_no", "week", "channel", "n_values", "value", "n_of_value", "first_at", "last_at")


@dataclass(frozen=True, kw_only=True)
class LeftOutValues:
    """Values of one channel in one pump's local week, of all its files.

    Attributes
    ----------
    value : float
        The most frequent of them, in the channel's inner unit.
    n_of_value : int
        How often it came.
    first_at, last_at : datetime
        Instants of the first and the last.
    """

    week: str
    channel: str
    n_values: int
    value: float
    n_of_value: int
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True, kw_only=True)
class LeftOut(LeftOutValues):
    """The same of one file, by its place in the batch and the pump's number."""

    file_no: int
    pump_no: int


def count_left_out(
    con: duckdb.DuckDBPyConnection,
    timezone_of: Mapping[int, str],
    clocks: Mapping[str, tuple[LocalTime, list[int]]],
) -> list[LeftOut]:
    """Count implausible values of ``raw`` whose row has nothing else against it.

    Parameters
    ----------
    timezone_of : mapping
        Zone of each pump's site, by the pump's number.
    clocks : mapping
        Local times of the batch's rows, by zone.
    """
    usable = f"raw.problems & {COSTS_ROW & ~_IMPLAUSIBLE} = 0 and raw.pump_no is not null"
    bits, first_at, last_at = con.execute(
        "select coalesce(bit_or(problems), 0), min(ts), max(ts) from raw"  # noqa: S608  # our own
        f" where problems & {_IMPLAUSIBLE} <> 0 and {usable}"
    ).fetchall()[0]
    if first_at is None:
        return []
    make_clock(con, clocks)
    _make_week_starts(con, timezone_of, first_at - _MARGIN, last_at + _MARGIN)
    instant, join = instant_of_row(has_local=bool(clocks))
    found: list[LeftOut] = []
    for channel in CHANNELS:
        bit = not_plausible_bit(channel)
        if not bits & bit:
            continue
        rows = con.execute(
            f"""
            with cells as (
                select raw.file_no, raw.pump_no, {channel}::double as value, {instant} as ts
                from raw{join} where problems & {bit} <> 0 and {usable}
            ),
            by_value as (
                select file_no, pump_no, week, value, count(*) as n, min(ts) as first_at,
                    max(ts) as last_at
                from cells asof join week_start using (pump_no, ts) group by all
            )
            select file_no, pump_no, week, '{channel}', sum(n)::bigint,
                first(value order by n desc, value), max(n), min(first_at), max(last_at)
            from by_value group by all order by file_no, pump_no, week
            """  # noqa: S608  # our own names and numbers
        ).fetchall()
        found += [
            LeftOut(file_no=file_no, **dict(zip(_FIELDS, values, strict=True)))
            for file_no, *values in rows
        ]
    return found


def _make_week_starts(
    con: duckdb.DuckDBPyConnection,
    timezone_of: Mapping[int, str],
    from_at: datetime,
    to_at: datetime,
) -> None:
    by_zone = {zone: week_starts(zone, from_at, to_at) for zone in set(timezone_of.values())}
    rows = [
        (pump_no, week, start_us)
        for pump_no, zone in timezone_of.items()
        for week, start_us in zip(
            by_zone[zone].weeks, by_zone[zone].starts_us.tolist(), strict=True
        )
    ]
    starts = arrow_table(
        {
            "pump_no": ([row[0] for row in rows], "integer"),
            "week": ([row[1] for row in rows], "varchar"),
            "ts": ([row[2] for row in rows], "timestamp"),
        }
    )
    con.register("starts", starts)
    con.execute("create or replace temp table week_start as select * from starts")
    con.unregister("starts")


def write_left_out(
    con: duckdb.DuckDBPyConnection, keys: Sequence[str], found: Sequence[LeftOut]
) -> None:
    """Store what files had, once `forget_left_out` is done with what they had before.

    The weeks of these pumps are to be measured, and so judged, again, even if no sample came.

    Parameters
    ----------
    keys : sequence of str
        The files' keys in the ledger, in the order of their numbers.
    """
    if not found:
        return
    con.execute(files("ingest").joinpath("left_out.sql").read_text(encoding="utf-8"))
    columns = {name: [getattr(one, name) for one in found] for name in _FIELDS}
    insert_columns(con, "left_out", {"sha256": [keys[one.file_no] for one in found], **columns})
    con.execute(
        "update coverage set is_measured = false from left_out where left_out.week = coverage.week"
        " and left_out.pump_no = coverage.pump_no and list_contains($keys, left_out.sha256)",
        {"keys": list(keys)},
    )


def forget_left_out(con: duckdb.DuckDBPyConnection, keys: Sequence[str]) -> None:
    """Take out what files had when they were read before."""
    if has_left_out(con):
        con.execute(
            "delete from left_out where list_contains($keys, sha256)", {"keys": list(keys)}
        )


def read_left_out(
    con: duckdb.DuckDBPyConnection, pump_ids: tuple[str, str], weeks: tuple[str, str]
) -> dict[str, list[LeftOutValues]]:
    """What was left out of the pumps and weeks between two of each, by pump id, oldest first."""
    if not has_left_out(con):
        return {}
    rows = con.execute(
        "with by_value as (select pump_id, week, channel, value, sum(n_values) as n_values,"
        " sum(n_of_value) as n_of_value, min(first_at) as first_at, max(last_at) as last_at"
        " from left_out join pump_numbers using (pump_no) where pump_id between $from_pump and"
        " $to_pump and week between $from_week and $to_week group by all)"
        " select pump_id, week, channel, sum(n_values)::bigint,"
        " first(value order by n_of_value desc, value), max(n_of_value)::bigint, min(first_at),"
        " max(last_at) from by_value group by all order by pump_id, week, channel",
        {
            "from_pump": pump_ids[0],
            "to_pump": pump_ids[1],
            "from_week": weeks[0],
            "to_week": weeks[1],
        },
    ).fetchall()
    found: dict[str, list[LeftOutValues]] = {}
    for pump_id, *values in rows:
        one = LeftOutValues(**dict(zip(_FIELDS[1:], values, strict=True)))
        found.setdefault(pump_id, []).append(one)
    return found


def has_left_out(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether a store has ever left out such values."""
    found = con.execute("select 1 from duckdb_tables() where table_name = 'left_out'")
    return found.fetchone() is not None
