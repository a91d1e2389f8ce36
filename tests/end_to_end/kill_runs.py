"""Kill loads, scans and archiving at many moments; say what the store held then and after a rerun.

    python tests/end_to_end/kill_runs.py FOLDER [N]

Each run is a fork of this process, killed with SIGKILL after its share of an undisturbed run's
time. Then one more fork looks at the store as it was left, runs everything anew and compares.
Prints one line a kill: moment, samples left by the kill, how many of them outside the store, and
what is wrong (``-`` for nothing).
"""

import hashlib
import os
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet

import analysis.measure_new
import analysis.scan
import ingest.in_place
import ingest.load
import ingest.load_batch
import ingest.retention
from analysis.record_checks import wrong_records
from ingest.register import load_register
from ingest.retention import archive_weeks
from ingest.samples import PumpSamples, read_samples
from ingest.store import open_store, save_register
from ingest.verify import verify_store
from ingest.weeks import week_of

N_ROWS = 400
PUMPS = tuple(f"P-{n}" for n in range(4))
START = datetime(2026, 11, 15, 20)  # on a Sunday: 240 rows of one week, 160 of the next
LATE = timedelta(seconds=30)


def make_world(folder: Path) -> None:
    """Write a register of four pumps and a log of each, and a log more repeating the first.

    Later come a log of the archived week with every second row new, and the rest of the second;
    last, two Parquet logs that are left in place.
    """
    for name in ("register", "logs", "late", "lake"):
        (folder / name).mkdir()
    (folder / "register" / "sites.csv").write_text("site_id\nS-1\n")
    (folder / "register" / "pumps.csv").write_text(
        "pump_id,site_id,pressure_setting_kpa\n" + "".join(f"{pump},S-1,400\n" for pump in PUMPS)
    )
    rows = [_row(START + timedelta(seconds=60 * k), k) for k in range(N_ROWS)]
    for pump in (*PUMPS, "P-0__again"):
        _write_log(folder / "logs" / f"{pump}.csv", rows)
    between = [_row(START + LATE + timedelta(seconds=60 * k), k) for k in range(N_ROWS)]
    _write_log(folder / "late" / "P-1__late.csv", sorted([*rows, *between]))
    after = range(N_ROWS, 2 * N_ROWS)
    columns = {
        "timestamp": pa.array(
            [(START + timedelta(seconds=60 * k)).replace(tzinfo=UTC) for k in after],
            pa.timestamp("us", "UTC"),
        ),
        "pressure_kpa": [400.0 + k % 3 for k in after],
        "frequency_hz": [45.0 * (k % 60 < 30) for k in after],
        "current_a": [4.0 * (k % 60 < 30) for k in after],
    }
    for pump in PUMPS[:2]:
        pyarrow.parquet.write_table(pa.table(columns), folder / "lake" / f"{pump}.parquet")


def _row(at: datetime, k: int) -> str:
    is_on = k % 60 < 30
    return f"{at.isoformat()}Z,{400 + k % 3},{45 * is_on},{4 * is_on}"


def _write_log(path: Path, rows: list[str]) -> None:
    header = "timestamp,pressure_kpa,frequency_hz,current_a"
    path.write_text("\n".join([header, *rows]) + "\n")


def work(folder: Path, store: Path) -> None:
    """Load, scan and archive, thrice, in many small steps that can be cut."""
    ingest.load_batch.FILES_A_BATCH = 1
    ingest.in_place.FILES_A_ROUND = 1
    analysis.measure_new.BATCH_PUMPS = 1
    ingest.retention.SAMPLES_A_FILE = 2 * N_ROWS
    register, _ = load_register(folder / "register")
    for logs in ("logs", "late", "lake"):
        with open_store(store, threads=1) as con:
            ingest.load.load_logs(con, [folder / logs], register, in_place=logs == "lake")
            save_register(con, register)
            analysis.scan.scan(con)
            archive_weeks(con, week_of(START.date()).plus(1))


def left_wrong(store: Path) -> list[str]:
    """Say what is wrong with a store as a kill left it: all or nothing of each file, no more."""
    if not store.exists():
        return []
    with open_store(store, threads=1) as con:
        faults = [*verify_store(con).faults, *wrong_records(con)]
        kept = con.execute("select name, rows_kept from files where rows_kept > 0").fetchall()
        faults += [f"{name} has {n} rows" for name, n in kept if n != N_ROWS]
    return faults


def held(con: duckdb.DuckDBPyConnection) -> list[PumpSamples]:
    """Return all samples, be they in the store or the archive."""
    return list(read_samples(con, PUMPS, START - timedelta(days=9), START + timedelta(days=9)))


def digest(store: Path) -> str:
    """Return a hash of all that matters in a store and its archive."""
    with open_store(store, read_only=True) as con:
        parts: list[object] = [
            con.execute(query).fetchall()
            for query in (
                "select * from samples order by pump_no, ts",
                "select * from coverage order by all",
                "select name, rows_kept, rows_repeated from files order by all",
                "select * from pump_week order by pump_id, week",
                "select * from findings order by all",
                "select * from assessments order by all",
                "select * from scans order by all",
            )
        ]
        for one in held(con):
            parts += [one.pump_id, one.ts_us.tobytes(), one.pressure_kpa.tobytes()]
            parts += [one.frequency_hz.tobytes(), one.current_a.tobytes()]
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def n_held(store: Path) -> str:
    """Say how many samples a store has, and how many of them outside it."""
    if not store.exists():
        return "0 0"
    with open_store(store, read_only=True) as con:
        (n_stored,) = con.execute("select count(*) from samples").fetchall()[0]
        n_all = sum(len(one.ts_us) for one in held(con))
    return f"{n_all} {n_all - n_stored}"


def forked(job: Callable[[], str]) -> tuple[int, int]:
    """Run a job in a fork; return its process and the pipe its answer comes from."""
    out, into = os.pipe()
    pid = os.fork()
    if pid:
        os.close(into)
        return pid, out
    try:
        answer = job()
    except BaseException:
        answer = f"raised {' | '.join(traceback.format_exc().splitlines())}"
    os.write(into, answer.encode())
    os._exit(0)


def answer_of(pid: int, out: int) -> str:
    """Wait for a fork and return its answer."""
    with os.fdopen(out, "rb") as pipe:
        answer = pipe.read().decode()
    os.waitpid(pid, 0)
    return answer


def main() -> None:
    """Run the kills; the last line counts them."""
    folder, n_kills = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 50
    make_world(folder)

    def undisturbed() -> str:
        work(folder, folder / "whole.duckdb")
        return digest(folder / "whole.duckdb")

    answer_of(*forked(undisturbed))  # once to warm up
    (folder / "whole.duckdb").unlink()
    shutil.rmtree(folder / "whole.duckdb.archive")
    started = time.perf_counter()
    expected = answer_of(*forked(undisturbed))
    span_s = time.perf_counter() - started
    n_done = n_tried = 0
    while n_done < n_kills and n_tried < 3 * n_kills:
        n_tried += 1
        share = n_tried * 0.618034 % 1.0  # moments spread evenly, however many there are
        home = folder / f"run-{n_tried}"
        home.mkdir()
        store = home / "fleet.duckdb"
        pid, out = forked(lambda store=store: work(folder, store) or "")
        time.sleep(share * span_s)
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        os.close(out)
        if not os.WIFSIGNALED(status):
            continue  # it was through already

        def after(store: Path = store) -> str:
            faults = left_wrong(store)
            left = n_held(store)
            work(folder, store)
            faults += left_wrong(store)
            if digest(store) != expected:
                faults.append("the second run made another store")
            return f"{left} {'; '.join(faults) or '-'}"

        print(f"{share:.3f} {answer_of(*forked(after))}", flush=True)  # noqa: T201
        n_done += 1
        shutil.rmtree(home)
    print(f"{n_done} kills")  # noqa: T201


if __name__ == "__main__":
    main()
