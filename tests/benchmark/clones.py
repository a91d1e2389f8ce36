"""A store with the weekly records of a large fleet: those of a small one, many times over.

Each pump of a scanned store stands for many, under invented ids and with its amps, volts and
pressures moved a little, each week by another seeded factor. What is told of them means nothing.
"""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import duckdb

from analysis.answer_writing import end_week
from analysis.record_tables import RECORD_TABLES, ensure_tables
from ingest.store import open_store
from ingest.weeks import Week, parse_week

VARIED_PCT = {"_a": 1.0, "_v": 0.5, "_kpa": 0.5}
"""How far a quantity moves either way, by the end of its name."""

REGION_COPIES = 8  # copies of the small fleet that share its regions

RECORDS = tuple(RECORD_TABLES.values())
ANSWERS = ("findings", "assessments")

_IDS = ("pump_id", "site_id", "region")


def clone_store(source: Path, target: Path, n_pumps: int, n_weeks: int, *, seed: int = 7) -> str:
    """Make a store of so many pumps and weeks, and no samples; return the last, unjudged week.

    Parameters
    ----------
    source : Path
        A store that has been scanned. A pump's weeks are the last ones it has there, the oldest
        again and again where these are too few.
    """
    with closing(open_store(target)) as con:
        ensure_tables(con)
        con.execute(f"attach '{source}' as small (read_only)")
        last = str(con.execute("select max(week) from small.pump_week").fetchall()[0][0])
        con.execute(
            "create temp table role as select * from ("
            " select p.pump_id as of_pump, copy,"
            "  row_number() over (order by copy, p.pump_id) as pump_no"
            " from small.pumps p cross join range($pumps) r(copy)"
            " where p.pump_id in (select pump_id from small.pump_week where week = $last)"
            ") where pump_no <= $pumps",
            {"last": last, "pumps": n_pumps},
        )
        _clone_register(con)
        for back in range(n_weeks - 1, -1, -1):
            week = parse_week(last).plus(-back)
            _clone_week(con, week, seed, (*RECORDS, *ANSWERS) if back else RECORDS)
            if back:
                end_week(con, str(week))
        con.execute(
            "insert into coverage (pump_no, week, n_samples, first_at, last_at, is_measured)"
            " select pump_no, week, n_samples, first_at, last_at, true"
            " from pump_week join pump_numbers using (pump_id) order by week, pump_no"
        )
    return last


def _clone_register(con: duckdb.DuckDBPyConnection) -> None:
    copies = "(select distinct copy from role)"
    for table, roles in {"pumps": "role", "sites": copies, "visits": copies}.items():
        columns = [name for name, *_ in con.execute(f"describe small.{table}").fetchall()]
        chosen = ", ".join(f"{_named(c)} as {c}" if c in _IDS else c for c in columns)
        its = "where of_pump = pump_id" if table == "pumps" else ""
        con.execute(
            f"insert into {table} by name select {chosen} from small.{table}, {roles} {its}"
        )
    for table in ("sites", "visits"):  # the last copy may be a part of the small fleet
        con.execute(f"delete from {table} where site_id not in (select site_id from pumps)")
    for table in ("curves", "fault_codes"):
        con.execute(f"insert into {table} by name from small.{table}")
    con.execute(f"insert into pump_numbers select pump_no, {_named('of_pump')} from role")


def _clone_week(
    con: duckdb.DuckDBPyConnection, week: Week, seed: int, tables: Sequence[str]
) -> None:
    con.execute(
        "create or replace temp table taken as select pump_id as of_pump,"
        " coalesce(max(week) filter (week <= $week), min(week)) as of_week"
        " from small.pump_week group by pump_id",
        {"week": str(week)},
    )
    of_weeks = con.execute("select distinct of_week from taken order by all").fetchall()
    for table in tables:
        columns = con.execute(f"describe small.{table}").fetchall()
        parts = []
        for (of_week,) in of_weeks:
            earlier_days = (parse_week(of_week).monday - week.monday).days
            chosen = [_moved(name, kind, week, earlier_days, seed) for name, kind, *_ in columns]
            parts.append(
                f"select {', '.join(chosen)}, pump_no from small.{table} s"
                " join role on of_pump = s.pump_id join taken using (of_pump)"
                f" where s.week = of_week and of_week = '{of_week}'"
            )
        con.execute(
            f"insert into {table} by name select * exclude (pump_no)"
            f" from ({' union all '.join(parts)}) order by pump_no"
        )


def _named(column: str) -> str:
    """Id of a copy: the copy's number before the id of the pump, site or region."""
    number = f"copy // {REGION_COPIES}" if column == "region" else "copy"
    return f"printf('C%05d-', {number}) || {column}"


def _moved(name: str, kind: str, week: Week, earlier_days: int, seed: int) -> str:
    """One column of a copy, as SQL."""
    if name in _IDS:
        return f"{_named(f's.{name}')} as {name}"
    if name == "week":
        return f"'{week}' as week"
    if kind in ("TIMESTAMP", "DATE"):
        return f"(s.{name} - interval {earlier_days} day)::{kind} as {name}"
    for ending, pct in VARIED_PCT.items():
        if name.endswith(ending) and kind == "DOUBLE":
            chance = f"(hash(s.pump_id, copy, '{week}', '{ending}', {seed}) % 2001 / 1000.0 - 1)"
            return f"s.{name} * (1 + {pct / 100.0} * {chance}) as {name}"
    return f"s.{name}"
