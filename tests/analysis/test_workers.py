"""Work spread over processes: the same results, in order, whoever dies meanwhile."""

import os
import signal
import time
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from analysis.measure_new import measure_apart, measure_new, to_measure
from analysis.record_checks import wrong_records
from analysis.workers import Aside, Here, Processes, Spread
from ingest.errors import WorkerError
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.store import open_store, save_register

WEEK = "2026-W47"
REGISTER = Register(
    sites={"S-1": Site(site_id="S-1"), "S-2": Site(site_id="S-2", timezone="Asia/Tokyo")},
    pumps={
        f"P-{n:02d}": Pump(
            pump_id=f"P-{n:02d}", site_id="S-2" if n > 8 else "S-1", pressure_setting_kpa=400.0
        )
        for n in range(12)
    },
)


def slow_square(number: int) -> int:
    time.sleep(0.05 / (1 + number))  # later jobs are done earlier
    return number**2


def die_once(trace: Path, number: int) -> int:
    if number == 3 and not trace.exists():
        trace.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def die(number: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return number


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "fleet.duckdb"
    with open_store(path, threads=1) as con:
        save_register(con, REGISTER)
    for pump_id in REGISTER.pumps:
        load(path, pump_id, first=0, n=600)
    return path


def load(path: Path, pump_id: str, first: int, n: int) -> None:
    """Load some minutes of a pump's week."""
    lines = ["timestamp,pressure_kpa,frequency_hz,current_a"]
    for minute in range(first, first + n):
        at, is_on = datetime(2026, 11, 17) + timedelta(minutes=minute), minute % 60 < 20
        lines.append(f"{at.isoformat()}Z,{400 + minute % 3},{45 * is_on},{4 * is_on}")
    log = path.parent / f"{pump_id}__{first}.csv"
    log.write_text("\n".join(lines) + "\n")
    with open_store(path, threads=1) as con:
        load_logs(con, [log], REGISTER)


def records(path: Path) -> list[object]:
    with open_store(path, read_only=True) as con:
        assert wrong_records(con) == []
        return [
            con.table(table).order("all").fetchall()
            for table in ("pump_week", "pump_day", "op_map", "trip_event", "coverage")
        ]


def test_results_come_in_the_order_of_the_jobs():
    with Processes(2) as processes:
        made = list(processes.map(slow_square, range(8)))

    assert made == list(Here().map(slow_square, range(8))) == [n**2 for n in range(8)]


def test_what_a_killed_worker_was_at_is_done_by_another(tmp_path):
    with Processes(2) as processes:
        made = list(processes.map(partial(die_once, tmp_path / "died"), range(6)))
        again = list(processes.map(slow_square, range(3)))

    assert (tmp_path / "died").exists()
    assert (made, again) == ([0, 1, 2, 3, 4, 5], [0, 1, 4])


def test_work_that_kills_every_worker_is_given_up_with_a_word():
    with Processes(1) as processes, pytest.raises(WorkerError, match="--workers 1"):
        list(processes.map(die, [1]))


def test_an_error_of_a_job_is_raised_here():
    with Processes(1) as processes, pytest.raises(TypeError):
        list(processes.map(slow_square, ["nine"]))


def test_records_measured_apart_are_those_measured_here(store, tmp_path):
    twin = tmp_path / "twin.duckdb"
    twin.write_bytes(store.read_bytes())
    with open_store(twin) as con:
        here = measure_new(con, WEEK)

    with Processes(2) as processes:
        apart = measure_apart(Spread(Here(), processes, Here(), store, "500MB"), WEEK)

    assert apart == here
    assert len(here) == len(REGISTER.pumps)
    assert records(store) == records(twin)


def test_a_pump_week_that_is_loaded_into_meanwhile_is_measured_by_the_next_scan(store):
    class Meddling(Here):
        """Workers during whose work someone loads."""

        def map(self, work, jobs):
            made = [work(job) for job in jobs]
            load(store, "P-03", first=600, n=60)
            return iter(made)

    measure_apart(Spread(Here(), Meddling(), Here(), store, "500MB"), WEEK)

    with open_store(store) as con:
        assert [one.pump_id for one in to_measure(con, WEEK)] == ["P-03"]
        measure_new(con, WEEK)
    records(store)


def test_a_worker_whose_parent_is_gone_ends():
    into, out = os.pipe()
    parent = os.fork()
    if not parent:
        with Processes(1) as processes:
            os.write(out, str(next(processes.map(_pid, [0]))).encode())
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(parent, 0)
    worker = int(os.read(into, 20))

    deadline = time.monotonic() + 5.0
    while Path(f"/proc/{worker}").exists() and time.monotonic() < deadline:
        if "\nState:\tZ" in Path(f"/proc/{worker}/status").read_text():
            break  # ended, and not yet buried
        time.sleep(0.05)
    else:
        assert not Path(f"/proc/{worker}").exists()


def _pid(_: int) -> int:
    return os.getpid()


def test_what_a_process_aside_is_at_ends_with_an_error() -> None:
    def fail() -> None:
        with Aside(()) as aside:
            aside.map(time.sleep, [120.0])
            raise WorkerError("something else went wrong")

    started = time.perf_counter()
    with pytest.raises(WorkerError):
        fail()

    assert time.perf_counter() - started < 60.0


def test_what_a_process_aside_was_asked_for_is_there_when_wanted() -> None:
    with Aside(()) as aside:
        squares = aside.map(slow_square, [3, 4])

        assert list(squares) == [9, 16]
