"""Work spread over a Dask cluster: the same records, whoever dies meanwhile."""

import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from analysis.cluster import Cluster
from analysis.workers import Here, call
from ingest.errors import WorkerError

distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.xdist_group("cluster")

PROGRAM = Path(sys.executable).with_name("pumprounds")
KILLS_ITS_PROCESS = "__import__('os').kill(__import__('os').getpid(), 9)"


@pytest.fixture(scope="module")
def scheduler():
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        dashboard_address="127.0.0.1:0",
        silence_logs="CRITICAL",
    ) as cluster:
        yield cluster.scheduler_address


def test_results_come_in_the_order_of_the_jobs(scheduler):
    jobs = [partial(pow, n, 2) for n in range(6)]

    with Cluster(scheduler) as cluster:
        assert cluster.n == 2
        assert list(cluster.map(call, jobs)) == list(Here().map(call, jobs))


def test_jobs_run_in_other_processes_and_equal_ones_run_each(scheduler):
    with Cluster(scheduler) as cluster:
        pids = list(cluster.map(call, [partial(os.getpid)] * 4))

    assert len(pids) == 4
    assert os.getpid() not in pids


def test_what_a_killed_worker_was_at_is_done_by_another(scheduler, tmp_path: Path):
    died = tmp_path / "died"
    once = f"7 if __import__('os').path.exists({str(died)!r}) else "
    once += f"(open({str(died)!r}, 'w').close(), {KILLS_ITS_PROCESS})"

    with Cluster(scheduler) as cluster:
        made = list(cluster.map(call, [partial(pow, 2, 3), partial(eval, once), partial(abs, -5)]))

    assert died.exists()
    assert made == [8, 7, 5]


def test_an_error_of_a_job_is_raised_here(scheduler):
    with Cluster(scheduler) as cluster, pytest.raises(ZeroDivisionError):
        list(cluster.map(call, [partial(divmod, 1, 0)]))


def test_no_scheduler_is_said_in_one_line(monkeypatch):
    monkeypatch.setattr("analysis.cluster._ANSWER_S", 0.5)

    with pytest.raises(WorkerError, match=r"tcp://127\.0\.0\.1:9: no scheduler answers there"):
        Cluster("tcp://127.0.0.1:9")


def test_a_scheduler_without_workers_is_said_in_one_line():
    with (
        distributed.LocalCluster(n_workers=0, dashboard_address="127.0.0.1:0") as empty,
        pytest.raises(WorkerError, match="has no workers"),
    ):
        Cluster(empty.scheduler_address)


def test_a_scheduler_that_is_lost_meanwhile_is_said_in_one_line():
    lost = distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs="CRITICAL"
    )
    slow = partial(eval, "__import__('time').sleep(30)")
    with Cluster(lost.scheduler_address) as cluster:
        results = cluster.map(call, [slow])
        lost.close()
        with pytest.raises(WorkerError, match="the scheduler is lost"):
            next(results)


def test_the_command_writes_the_same_with_a_cluster_and_alone(scheduler, tmp_path: Path):
    (tmp_path / "register").mkdir()
    (tmp_path / "logs").mkdir()
    (tmp_path / "register" / "sites.csv").write_text("site_id\nS-1\n")
    (tmp_path / "register" / "pumps.csv").write_text(
        "pump_id,site_id,pressure_setting_kpa\n"
        + "".join(f"P-{n:02d},S-1,400\n" for n in range(12))
    )
    rows = [
        f"{1_794_787_200 + 60 * k},{400 + k % 3},{45 * (k % 60 < 20)},{4 * (k % 60 < 20)}"
        for k in range(3000)
    ]
    for n in range(12):
        text = "\n".join(["timestamp,pressure_kpa,frequency_hz,current_a", *rows[n:]])
        (tmp_path / "logs" / f"P-{n:02d}.csv").write_text(text + "\n")
    written = []
    for name, *options in (("alone", "--workers", "1"), ("cluster", "--cluster", scheduler)):
        out = tmp_path / name
        status = subprocess.run(
            [
                *(PROGRAM, "weekly", tmp_path / "logs", "--register", tmp_path / "register"),
                *("--store", tmp_path / f"{name}.duckdb", "--out", out, *options),
            ],
            capture_output=True,
            text=True,
            check=False,
        )
        assert (status.returncode, status.stderr) == (0, "")
        files = sorted(path for path in out.rglob("*") if path.is_file())
        written.append({path.relative_to(out): path.read_bytes() for path in files})

    assert len(written[0]) > 5
    assert written[0] == written[1]
