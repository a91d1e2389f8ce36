"""Time a week's load and scan by how many weeks the store has had before.

    python tests/benchmark/growth.py [--pumps 40] [--interval 20] [--weeks 26] [--repeats 3]

The same logs of one week go into an empty store, into one of so many weeks, and into one of which
all but two weeks were archived. Each step is a fresh process on a fresh copy of the store, the
stores in turn. The table gives medians of wall and processor seconds; the ratio, to the empty
store's, is of processor seconds, which other work on the machine disturbs less.
"""

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
from logs import make_register, make_week

TOOL = str(Path(sys.executable).parent / "pumprounds")


@click.command()
@click.option("--pumps", default=40, show_default=True)
@click.option("--interval", default=20.0, show_default=True, help="Log interval in seconds.")
@click.option("--weeks", default=26, show_default=True, help="Weeks in the store beforehand.")
@click.option("--repeats", default=3, show_default=True)
def main(pumps: int, interval: float, weeks: int, repeats: int) -> None:
    """Print what one more week costs in a store that is empty, full, or full and archived."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_register(folder / "register", pumps)
        for week in range(weeks):
            make_week(folder / f"{week}", pumps, interval, week=week, file_format="parquet")
        n_rows = make_week(folder / "next", pumps, interval, week=weeks)
        register = ["--register", str(folder / "register")]
        full, thinned = folder / "full.duckdb", folder / "thinned.duckdb"
        before = [str(folder / f"{week}") for week in range(weeks)]
        _run([TOOL, "load", *before, *register, "--store", str(full)])
        _run([TOOL, "scan", "--store", str(full)])
        shutil.copy(full, thinned)
        _run([TOOL, "archive", "--store", str(thinned), "--keep-raw", "2w"])
        stores = {"empty": None, f"{weeks} weeks": full, f"{weeks} weeks, archived": thinned}
        seconds: dict[tuple[str, str], list[tuple[float, float]]] = {}
        for _ in range(repeats):
            for title, store in stores.items():
                used = _copy(store, folder / "used.duckdb")
                load = [TOOL, "load", str(folder / "next"), *register, "--store", str(used)]
                for step, command in {
                    "load": load,
                    "load again": load,
                    "scan": [TOOL, "scan", "--store", str(used)],
                }.items():
                    seconds.setdefault((step, title), []).append(_run(command))
        click.echo(f"{pumps} pumps, {n_rows:,} samples a week; store of {weeks} weeks:")
        for path in (full, thinned, Path(f"{thinned}.archive")):
            click.echo(f"  {path.name:<24}{_bytes(path) / 1e6:>8.1f} MB")
        click.echo(f"  {'':<36}{'wall s':>8}{'cpu s':>8}{'ratio':>8}")
        for (step, title), times in seconds.items():
            wall_s, cpu_s = _medians(times)
            ratio = cpu_s / _medians(seconds[step, "empty"])[1]
            click.echo(f"  {step:<12}{title:<24}{wall_s:>8.2f}{cpu_s:>8.2f}{ratio:>8.2f}")


def _medians(times: list[tuple[float, float]]) -> tuple[float, float]:
    wall_s, cpu_s = zip(*times, strict=True)
    return statistics.median(wall_s), statistics.median(cpu_s)


def _copy(store: Path | None, used: Path) -> Path:
    archive = Path(f"{used}.archive")
    used.unlink(missing_ok=True)
    shutil.rmtree(archive, ignore_errors=True)
    if store is not None:
        shutil.copy(store, used)
        if Path(f"{store}.archive").is_dir():
            shutil.copytree(f"{store}.archive", archive)
    return used


def _bytes(path: Path) -> int:
    inside = path.rglob("*") if path.is_dir() else [path]
    return sum(one.stat().st_size for one in inside)


def _run(command: list[str]) -> tuple[float, float]:
    """Run a command; return its wall and processor seconds."""
    started, cpu_before = time.perf_counter(), _cpu_s()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - started, _cpu_s() - cpu_before


def _cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
