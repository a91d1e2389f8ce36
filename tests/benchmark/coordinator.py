"""Time what one computer does for a large fleet once its pump-weeks are measured.

    python tests/benchmark/coordinator.py [--pumps 100000] [--weeks 4] [--source STORE]
    python tests/benchmark/coordinator.py --pumps 2000 --weeks 4 --weeks 26 --weeks 104

The weekly records of a small fleet (the demo's, or any scanned store's) are stored under as many
invented pump ids, with some weeks of history and answers; then the last week is judged, its sites
are ranked and the pages of the whole fleet are made. Each step is a fresh process: wall and
processor seconds, and the peak memory of it and its helpers together. Half of the demo's sites
have a fault, far more than in the field: the figures err to the slow side. With several numbers of
weeks it is shown what the years stored do to judging.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click
import duckdb

sys.path.insert(0, str(Path(__file__).parent))
from clones import clone_store

TOOL = str(Path(sys.executable).parent / "pumprounds")

JUDGE = """
import sys
from pathlib import Path
from analysis.judge_apart import judge_apart
from analysis.scan import report_week
from analysis.workers import Processes, Spread, process_aside
from ingest.store import opened_store
store = Path(sys.argv[1])
with process_aside(2, ("sklearn.ensemble", "analysis.peers")) as aside, Processes(2) as workers:
    aside.prepare()
    with opened_store(store, read_only=True) as con:
        week = report_week(con)
    done = judge_apart(Spread(workers, workers, aside, store, "500MB"), week)
    print(f"{done.n_pumps} pumps, {done.n_findings} findings", end="")
"""

RANK = """
import sys
from pathlib import Path
from analysis.scan import report_week
from dashboards.write_pages import read_week, ranked, write_data
from ingest.store import opened_store
with opened_store(Path(sys.argv[1]), read_only=True) as con:
    known = read_week(con, report_week(con))
    calls, parted = ranked(con, known)
    write_data(con, Path(sys.argv[2]), known, calls)
    print(f"{len(calls)} sites to call", end="")
"""

INDEX = """
import sys
from pathlib import Path
from analysis.scan import report_week
from dashboards.write_pages import read_week, ranked, write_index
from ingest.store import opened_store
with opened_store(Path(sys.argv[1]), read_only=True) as con:
    known = read_week(con, report_week(con))
    write_index(Path(sys.argv[2]), known, *ranked(con, known))
    print(f"{(Path(sys.argv[2]) / 'index.html').stat().st_size / 1e6:.1f} MB", end="")
"""

FAULTS = """
import sys
from pathlib import Path
from analysis.scan import report_week
from dashboards.write_pages import write_faults
from ingest.store import opened_store
with opened_store(Path(sys.argv[1]), read_only=True) as con:
    write_faults(con, report_week(con), Path(sys.argv[2]))
    print(f"{(Path(sys.argv[2]) / 'faults.html').stat().st_size / 1e6:.1f} MB", end="")
"""

STEPS = {
    "judge": JUDGE,
    "rank, call list, data files": RANK,
    "page of the call list, with ranking": INDEX,
    "page of recurring faults": FAULTS,
}


@click.command()
@click.option("--pumps", default=100_000, show_default=True)
@click.option(
    "--weeks",
    "histories",
    type=int,
    multiple=True,
    default=(4,),
    show_default=True,
    help="Weeks of records, the judged last; given several times, only judging is timed.",
)
@click.option(
    "--source",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A scanned store to take records from; else a demo is made first.",
)
def main(pumps: int, histories: tuple[int, ...], source: Path | None) -> None:
    """Print what judging, ranking and the fleet's pages cost for so many pumps."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if source is None:
            subprocess.run([TOOL, "demo", str(folder / "demo")], check=True, capture_output=True)
            source = folder / "demo" / "fleet.duckdb"
        out = folder / "pages"
        out.mkdir()
        for weeks in histories:
            store = folder / f"{weeks}.duckdb"
            clone_store(source, store, pumps, weeks)
            click.echo(
                f"{pumps:,} pumps, {weeks} weeks of records: {store.stat().st_size / 1e6:,.0f} MB,"
                f" {_record_bytes(store, pumps * weeks):,.0f} bytes a pump-week"
            )
            click.echo(f"{'':<38}{'wall s':>8}{'cpu s':>8}{'MB':>8}")
            for step in list(STEPS)[: 1 if len(histories) > 1 else None]:
                wall_s, cpu_s, peak_mb, said = _run(STEPS[step], store, out)
                click.echo(f"{step:<38}{wall_s:>8.1f}{cpu_s:>8.1f}{peak_mb:>8.0f}   {said}")
            store.unlink()


def _record_bytes(store: Path, n_pump_weeks: int) -> float:
    """Bytes of a store written anew, whole blocks included, by pump-week."""
    anew = store.with_suffix(".anew")
    with duckdb.connect() as con:
        con.execute(f"attach '{store}' as large (read_only); attach '{anew}' as anew")
        con.execute("copy from database large to anew")
    size = anew.stat().st_size
    anew.unlink()
    return size / n_pump_weeks


def _run(code: str, store: Path, out: Path) -> tuple[float, float, float, str]:
    """Run a step; return wall and processor seconds, peak memory in MB and what it said."""
    started, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    script = out.parent / "step.py"
    script.write_text(code)
    command = [sys.executable, str(script), str(store), str(out)]
    peak_kb = 0
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        while process.poll() is None:
            peak_kb = max(peak_kb, _tree_kb(process.pid))
            time.sleep(0.1)
        said = process.stdout.read() if process.stdout else ""
    if process.returncode:
        raise click.ClickException(f"a step failed: {said}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - started, cpu_s, peak_kb / 1024, said


def _tree_kb(pid: int) -> int:
    """Memory held by a process and those it started; pages they share count for each."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return 0
    held = status.partition("VmRSS:")[2].split()
    return (int(held[0]) if held else 0) + sum(_tree_kb(int(child)) for child in children)


if __name__ == "__main__":
    main()
