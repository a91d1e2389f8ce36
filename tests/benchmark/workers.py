"""Time measuring a week of Parquet logs left in place: by one process, by several, on a cluster.

    python tests/benchmark/workers.py [--pumps 200] [--interval 5] [--workers 2] [--repeats 3]

Each run measures the same store anew and judges nothing; the records of all must be the same. The
cluster is a Dask scheduler and workers started for it on this machine, without the allocator
setting that Dask's nanny gives its workers by default: with it, numpy's arrays are handed back to
the system one by one.
"""

import hashlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path

import click

sys.path.insert(0, str(Path(__file__).parent))
from logs import make_fleet

from analysis.cluster import Cluster
from analysis.measure_new import measure_apart, measure_new
from analysis.record_tables import RECORD_TABLES
from analysis.workers import Here, Processes, Spread, Workers
from ingest.store import opened_store

TOOL = str(Path(sys.executable).parent / "pumprounds")


@click.command()
@click.option("--pumps", default=200, show_default=True)
@click.option("--interval", default=5.0, show_default=True, help="Log interval in seconds.")
@click.option("--workers", default=2, show_default=True)
@click.option("--repeats", default=3, show_default=True)
def main(pumps: int, interval: float, workers: int, repeats: int) -> None:
    """Print what measuring takes in each place, and whether the records agree."""
    with tempfile.TemporaryDirectory() as name, cluster_of(workers) as address:
        folder = Path(name)
        n_samples = make_fleet(folder, pumps, interval, file_format="parquet")
        noted = folder / "noted.duckdb"
        subprocess.run(
            [TOOL, "load", str(folder / "logs"), "--register", str(folder / "register"),
             "--store", str(noted), "--in-place"],
            check=True, capture_output=True,
        )  # fmt: skip
        places: dict[str, Callable[[], AbstractContextManager[Workers]] | None] = {
            "one process": None,
            f"{workers} processes": partial(Processes, workers),
            f"cluster of {workers}": partial(Cluster, address),
        }
        seconds: dict[str, list[float]] = {place: [] for place in places}
        records: set[str] = set()
        for _ in range(repeats):
            for place, workers_of in places.items():
                used = folder / "used.duckdb"
                shutil.copy(noted, used)
                seconds[place].append(measured(used, workers_of))
                records.add(digest(used))
        click.echo(f"{pumps} pumps, {n_samples:,} samples, Parquet left in place")
        one = statistics.median(seconds["one process"])
        for place, times in seconds.items():
            median = statistics.median(times)
            click.echo(f"  {place:<20}{median:>8.2f} s{one / median:>8.2f} times as fast as one")
        click.echo(f"records: {'the same' if len(records) == 1 else 'NOT the same'}")
        if len(records) > 1:
            sys.exit(1)


def measured(
    store: Path, workers_of: Callable[[], AbstractContextManager[Workers]] | None
) -> float:
    """Measure all weeks of a store; return the seconds it took, the start of workers included."""
    started = time.perf_counter()
    if workers_of is None:
        with opened_store(store) as con:
            measure_new(con, "9999-W01")
    else:
        with workers_of() as workers:
            measure_apart(Spread(Here(), workers, Here(), store, "500MB"), "9999-W01")
    return time.perf_counter() - started


def digest(store: Path) -> str:
    """Return a hash of all that was measured."""
    with opened_store(store, read_only=True) as con:
        rows = [
            con.execute(f"select * from {table} order by all").fetchall()  # noqa: S608  # our own
            for table in RECORD_TABLES.values()
        ]
    return hashlib.sha256(repr(rows).encode()).hexdigest()


@contextmanager
def cluster_of(n: int) -> Iterator[str]:
    """Start a scheduler and workers on this machine; yield its address."""
    import dask
    from distributed import LocalCluster

    environ = dict(dask.config.get("distributed.nanny.pre-spawn-environ"))
    environ.pop("MALLOC_TRIM_THRESHOLD_", None)
    with (
        dask.config.set({"distributed.nanny.pre-spawn-environ": environ}),
        LocalCluster(
            n_workers=n, threads_per_worker=1, dashboard_address=None, silence_logs="CRITICAL"
        ) as cluster,
    ):
        yield cluster.scheduler_address


if __name__ == "__main__":
    main()
