"""Weekly records out of the store: of some pumps and weeks, and of no others."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import duckdb

from analysis.record_tables import RECORD_TABLES, Row
from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """Which records are read; what is ``None`` sets no bound.

    Attributes
    ----------
    pump_ids : sequence of str or None
        These pumps.
    from_pump, to_pump : str or None
        Pumps from one to another in the order of their ids, both included: quicker than a list of
        them, as whole stretches of a table are passed over.
    since, up_to : str or None
        Weeks from one to another, both included.
    weeks : sequence of str or None
        These weeks.
    """

    pump_ids: Sequence[str] | None = None
    from_pump: str | None = None
    to_pump: str | None = None
    since: str | None = None
    up_to: str | None = None
    weeks: Sequence[str] | None = None

    def condition(self) -> tuple[str, dict[str, Any]]:
        """Return the same as SQL, with its parameters."""
        given = {
            "pump_id in (select unnest($pump_ids::varchar[]))": ("pump_ids", self.pump_ids),
            "pump_id >= $from_pump": ("from_pump", self.from_pump),
            "pump_id <= $to_pump": ("to_pump", self.to_pump),
            "week >= $since": ("since", self.since),
            "week <= $up_to": ("up_to", self.up_to),
            "week in (select unnest($weeks::varchar[]))": ("weeks", self.weeks),
        }
        used = {text: pair for text, pair in given.items() if pair[1] is not None}
        values = {
            name: value if isinstance(value, str) else list(value or ())
            for name, value in used.values()
        }
        return " and ".join(used) or "true", values


_ORDER = {
    PumpWeek: "week",
    PumpDay: "local_date",
    OpMapBin: "week, frequency_bin_hz, pressure_bin_pct",
    TripEvent: "tripped_at",
}


def read_weeks(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str] | None = None,
    up_to: str | None = None,
) -> dict[str, list[PumpWeek]]:
    """Weekly records by pump, oldest first, up to and with the week ``up_to``."""
    return read_records(con, PumpWeek, Chosen(pump_ids=pump_ids, up_to=up_to))


def read_week(con: duckdb.DuckDBPyConnection, week: str) -> dict[str, PumpWeek]:
    """Records of one week by pump, and of no other."""
    found = read_records(con, PumpWeek, Chosen(since=week, up_to=week))
    return {pump_id: records[0] for pump_id, records in found.items()}


def read_days(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str] | None = None,
    up_to: str | None = None,
) -> dict[str, list[PumpDay]]:
    """Daily records by pump, oldest first, up to and with the week ``up_to``."""
    return read_records(con, PumpDay, Chosen(pump_ids=pump_ids, up_to=up_to))


def read_op_map(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str] | None = None,
    up_to: str | None = None,
) -> dict[str, list[OpMapBin]]:
    """Operating maps by pump, oldest first, up to and with the week ``up_to``."""
    return read_records(con, OpMapBin, Chosen(pump_ids=pump_ids, up_to=up_to))


def read_trips(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str] | None = None,
    up_to: str | None = None,
) -> dict[str, list[TripEvent]]:
    """Trip events by pump, oldest first, up to and with the week ``up_to``."""
    return read_records(con, TripEvent, Chosen(pump_ids=pump_ids, up_to=up_to))


def log_begins(con: duckdb.DuckDBPyConnection) -> dict[str, datetime]:
    """First sample of each pump in any measured week, UTC, by pump id."""
    rows = con.execute("select pump_id, min(first_at) from pump_week group by pump_id")
    return dict(rows.fetchall())


def read_measures(
    con: duckdb.DuckDBPyConnection, week: str, names: Sequence[str]
) -> dict[str, tuple[Any, ...]]:
    """Some fields of `PumpWeek` of one week, by pump id."""
    rows = con.execute(
        f"select pump_id, {', '.join(names)} from pump_week"  # noqa: S608  # own names
        " where week = $week order by pump_id",
        {"week": week},
    ).fetchall()
    return {row[0]: row[1:] for row in rows}


def read_records(
    con: duckdb.DuckDBPyConnection, record: type[Row], chosen: Chosen
) -> dict[str, list[Row]]:
    """Records of one type by pump, oldest first."""
    names = [f.name for f in fields(record)]
    condition, values = chosen.condition()
    rows = con.execute(
        f"select {', '.join(names)} from {RECORD_TABLES[record]}"  # noqa: S608  # own names
        f" where {condition} order by pump_id, {_ORDER[record]}",
        values,
    ).fetchall()
    by_pump: dict[str, list[Row]] = {}
    for row in rows:
        by_pump.setdefault(row[0], []).append(_made(record, names, row))
    return by_pump


def _made(record: type[Row], names: Sequence[str], row: tuple[Any, ...]) -> Row:
    """Make a record of all its fields; a frozen class's own way takes four times as long."""
    made = object.__new__(record)
    made.__dict__.update(zip(names, row, strict=True))
    return made
