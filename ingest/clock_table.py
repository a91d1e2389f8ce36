"""Local times of a batch become instants in SQL."""

from collections.abc import Mapping

import duckdb

from ingest.local_time import LocalTime
from ingest.rows import arrow_table


def make_clock(
    con: duckdb.DuckDBPyConnection, clocks: Mapping[str, tuple[LocalTime, list[int]]]
) -> None:
    """Make the table that turns local times into instants, by pump and stretch."""
    rows = [
        (pump_no, stretch)
        for clock, pump_nos in clocks.values()
        for pump_no in pump_nos
        for stretch in clock.stretches
    ]
    stretches = arrow_table(
        {
            "pump_no": ([pump_no for pump_no, _ in rows], "integer"),
            "from_local": ([one.from_local for _, one in rows], "timestamp"),
            "to_local": ([one.to_local for _, one in rows], "timestamp"),
            "utc_offset": ([one.offset for _, one in rows], "interval"),
        }
    )
    con.register("stretches", stretches)
    con.execute("create or replace temp table clock as select * from stretches")
    con.unregister("stretches")


def instant_of_row(*, has_local: bool) -> tuple[str, str]:
    """Instant of a row of ``raw``, and what is to be joined for it."""
    if not has_local:
        return "raw.ts", ""
    return "coalesce(raw.ts - clock.utc_offset, raw.ts)", (
        " left join clock on raw.is_local and raw.pump_no = clock.pump_no"
        " and raw.ts >= clock.from_local and raw.ts < clock.to_local"
    )
