"""The least that reading takes: the database's own read and sum of every column.

python tests/benchmark/floors.py logs LOGS          # types given
python tests/benchmark/floors.py found-out LOGS     # of CSV, types found out
python tests/benchmark/floors.py store STORE        # a week's samples in a store
"""

import sys
from pathlib import Path

import click
import duckdb

CHANNELS = "sum(frequency_hz), sum(current_a), sum(voltage_v)"
TYPES = (
    "{'timestamp': 'TIMESTAMPTZ', 'pressure_psi': 'FLOAT', 'frequency_hz': 'FLOAT',"
    " 'current_a': 'FLOAT', 'voltage_v': 'FLOAT'}"
)


def sum_of_logs(logs: Path, *, are_types_given: bool) -> tuple[object, ...]:
    """Count, sums and last instant of a folder's CSV or Parquet files."""
    files = sorted(str(path) for path in logs.iterdir())
    source = "read_csv($files)"
    if files[0].endswith(".parquet"):
        source = "read_parquet($files)"
    elif are_types_given:
        source = f"read_csv($files, header=true, auto_detect=false, columns={TYPES})"
    return _one(
        duckdb.connect(),
        f"select count(*), max(timestamp), sum(pressure_psi), {CHANNELS} from {source}",  # noqa: S608
        {"files": files},
    )


def sum_of_week(store: Path) -> tuple[object, ...]:
    """Count, sums and last instant of the last week's samples in a store."""
    con = duckdb.connect(str(store), read_only=True)
    (from_at,) = _one(con, "select date_trunc('week', max(ts)) from samples", {})
    return _one(
        con,
        f"select count(*), max(ts), sum(pump_no), sum(pressure_kpa), {CHANNELS} from samples"  # noqa: S608
        " where ts >= $from_at and ts < $from_at + interval 7 days",
        {"from_at": from_at},
    )


def _one(
    con: duckdb.DuckDBPyConnection, query: str, params: dict[str, object]
) -> tuple[object, ...]:
    con.execute("set TimeZone = 'UTC'")
    rows: list[tuple[object, ...]] = con.execute(query, params).fetchall()
    return rows[0]


if __name__ == "__main__":
    what, where = sys.argv[1], Path(sys.argv[2])
    sums = (
        sum_of_week(where)
        if what == "store"
        else sum_of_logs(where, are_types_given=what == "logs")
    )
    click.echo(sums)
