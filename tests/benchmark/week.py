"""Time one week from logs to pages against what DuckDB alone needs to read and sum the files.

    python tests/benchmark/week.py [--pumps 100] [--interval 6] [--format csv] [--repeats 3]

Floor and tool run on the very same files, in turn, each in a fresh process, with the same number
of threads; the table gives medians and the ratio of each to the floor.
"""

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

sys.path.insert(0, str(Path(__file__).parent))
from logs import make_fleet

FLOOR = {
    "csv": """
import duckdb, glob, sys
con = duckdb.connect(config={"threads": 2})
con.sql("set TimeZone='UTC'")
print(con.execute(
    "select count(*), sum(pressure_psi), sum(frequency_hz), sum(current_a), sum(voltage_v),"
    " max(timestamp) from read_csv($files, header=true, auto_detect=false, columns={"
    "'timestamp': 'TIMESTAMPTZ', 'pressure_psi': 'FLOAT', 'frequency_hz': 'FLOAT',"
    " 'current_a': 'FLOAT', 'voltage_v': 'FLOAT'})",
    {"files": sorted(glob.glob(sys.argv[1] + "/*.csv"))}).fetchone())
""",
    "parquet": """
import duckdb, glob, sys
con = duckdb.connect(config={"threads": 2})
print(con.execute(
    "select count(*), sum(pressure_psi), sum(frequency_hz), sum(current_a), sum(voltage_v),"
    " max(timestamp) from read_parquet($files)",
    {"files": sorted(glob.glob(sys.argv[1] + "/*.parquet"))}).fetchone())
""",
}

FOUND_OUT = """
import duckdb, glob, sys
con = duckdb.connect(config={"threads": 2})
con.sql("set TimeZone='UTC'")
print(con.execute(
    "select count(*), sum(pressure_psi), sum(frequency_hz), sum(current_a), sum(voltage_v),"
    " max(timestamp) from read_csv($files)",
    {"files": sorted(glob.glob(sys.argv[1] + "/*.csv"))}).fetchone())
"""


@click.command()
@click.option("--pumps", default=100, show_default=True, help="Pumps, one week each.")
@click.option("--interval", default=6.0, show_default=True, help="Log interval in seconds.")
@click.option("--format", "file_format", type=click.Choice(["csv", "parquet"]), default="csv")
@click.option("--repeats", default=3, show_default=True)
def main(pumps: int, interval: float, file_format: str, repeats: int) -> None:
    """Print how long load, scan, pages and a second weekly take, in floors."""
    tool = str(Path(sys.executable).parent / "pumprounds")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        n_samples = make_fleet(folder, pumps, interval, file_format=file_format)
        logs, register = str(folder / "logs"), str(folder / "register")
        store, out = str(folder / "fleet.duckdb"), str(folder / "pages")
        weekly = [tool, "weekly", logs, "--register", register, "--store", store, "--out", out]
        load = [tool, "load", logs, "--register", register, "--store", store]
        steps = {
            "read and sum (floor)": [sys.executable, "-c", FLOOR[file_format], logs],
            "same, types found out": [sys.executable, "-c", FOUND_OUT, logs],
            "load": load,
            "load again, nothing new": load,
            "load one file again (start-up)": [
                *(tool, "load", f"{logs}/P-00000__00.{file_format}"),
                *("--register", register, "--store", store),
            ],
            "scan": [tool, "scan", "--store", store],
            "pages": [tool, "pages", "--store", store, "--out", out],
            "weekly again, nothing new": weekly,
            "weekly, all in one": weekly,
        }
        if file_format != "csv":
            del steps["same, types found out"]
        seconds: dict[str, list[float]] = {step: [] for step in steps}
        for _ in range(repeats):
            for step, command in steps.items():
                if step in ("load", "weekly, all in one"):
                    Path(store).unlink(missing_ok=True)
                    shutil.rmtree(out, ignore_errors=True)
                seconds[step].append(_run(command))
    _print_table(f"{pumps} pumps, {n_samples:,} samples ({file_format})", seconds)
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    click.echo(f"largest peak memory of any step: {peak_mb:.0f} MB")


def _run(command: list[str]) -> float:
    # As on a user's machine, where modules are compiled once and not at each start.
    usual = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    started = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=usual)
    return time.perf_counter() - started


def _print_table(title: str, seconds: dict[str, list[float]]) -> None:
    medians = {step: statistics.median(times) for step, times in seconds.items()}
    floor = next(iter(medians.values()))
    click.echo(title)
    for step, median in medians.items():
        click.echo(f"  {step:<32}{median:>8.2f} s{median / floor:>8.2f} floors")


if __name__ == "__main__":
    main()
