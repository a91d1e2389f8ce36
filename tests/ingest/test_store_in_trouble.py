"""What loading does when files change under it, the disk fills, or the store is read-only."""

import os
import resource
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

import ingest.load
import ingest.store
from ingest.load import load_logs
from ingest.store import open_store, save_register
from ingest.verify import verify_store

ROOT = Path(__file__).parents[2]
ROWS = [f"2026-11-16T00:{m:02d}:{s:02d}Z,400,45,3" for m in range(20) for s in range(0, 60, 5)]


@pytest.fixture
def while_read(monkeypatch):
    """Do something to a file right after it was hashed, as another process might."""

    def arrange(change):
        original = ingest.load.sha256_of

        def hashed(files):
            found = original(files)
            change()
            return found

        monkeypatch.setattr(ingest.load, "sha256_of", hashed)

    return arrange


def test_a_file_that_grows_while_read_is_read_again_and_then_is_whole(
    con, register, write_log, instants_of, while_read, monkeypatch
):
    path = write_log("P-1.csv", ROWS[:100])

    def grow():
        with path.open("a") as log:
            log.write("\n".join(ROWS[100:150]) + "\n" + ROWS[150][:20])

    while_read(grow)
    report = load_logs(con, [path], register)
    assert any("was written to while it was read" in note for note in report.notes)
    monkeypatch.undo()
    path.write_text("\n".join(["timestamp,pressure_kpa,frequency_hz,current_a", *ROWS]) + "\n")

    again = load_logs(con, [path], register)

    assert again.n_files_new == 1
    assert again.rejects == ()
    assert len(instants_of("P-1")) == len(ROWS)
    assert verify_store(con).faults == ()


def test_a_file_removed_while_read_is_told_and_read_once_it_is_back(
    con, register, write_log, instants_of, while_read, monkeypatch
):
    gone = write_log("P-1.csv", ROWS)
    write_log("P-2.csv", ROWS)
    content = gone.read_bytes()
    while_read(gone.unlink)
    report = load_logs(con, [gone.parent], register)
    assert [problem.file for problem in report.rejects] == ["P-1.csv"]
    assert len(instants_of("P-2")) == len(ROWS)
    monkeypatch.undo()
    gone.write_bytes(content)

    load_logs(con, [gone.parent], register)

    assert len(instants_of("P-1")) == len(ROWS)
    assert verify_store(con).faults == ()


def test_a_disk_that_fills_up_keeps_whole_files_and_the_next_run_completes(
    tmp_path, register, write_log
):
    lines = [f"2026-11-16T{h:02d}:{m:02d}:{s:02d}Z,{400 + (h * m * s) % 997 / 100},45,{s / 7:.4f}"
             for h in range(24) for m in range(60) for s in range(0, 60, 2)]  # fmt: skip
    for pump_id in ("P-1", "P-2", "P-LON"):
        path = write_log(f"{pump_id}.csv", lines)
    store = tmp_path / "full.duckdb"
    with open_store(store, threads=1) as con:
        save_register(con, register)
    script = textwrap.dedent(
        """
        import resource, signal, sys
        from pathlib import Path
        import ingest.load, ingest.load_batch
        from ingest.store import open_store, read_register
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        con = open_store(Path(sys.argv[1]), threads=1)
        ingest.load_batch.FILES_A_BATCH = 1
        resource.setrlimit(resource.RLIMIT_FSIZE, (600_000, resource.RLIM_INFINITY))
        ingest.load.load_logs(con, [Path(sys.argv[2])], read_register(con))
        """
    )
    full = subprocess.run(
        [sys.executable, "-c", script, str(store), str(path.parent)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert full.returncode != 0
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY

    with open_store(store, threads=1) as con:
        assert verify_store(con).faults == ()
        before = con.execute("select count(*) from samples").fetchone()[0]
        load_logs(con, [path.parent], register)
        assert verify_store(con).faults == ()
        after = con.execute("select count(*) from samples").fetchone()[0]

    assert before % len(lines) == 0
    assert before < 3 * len(lines) == after


@pytest.mark.skipif(os.geteuid() != 0, reason="only the superuser can run as somebody else")
def test_a_store_that_may_not_be_written_is_told_in_plain_words(tmp_path):
    store = tmp_path / "fleet.duckdb"
    open_store(store).close()
    for folder in [*tmp_path.parents, tmp_path]:
        if folder.name.startswith(("pytest-", "popen-", tmp_path.name)):
            folder.chmod(0o755)  # pytest closes its folders to others
    store.chmod(0o444)
    script = textwrap.dedent(
        """
        import os, sys
        from pathlib import Path
        from ingest.store import open_store
        os.setuid(65534)
        if not os.access(sys.argv[1], os.R_OK):
            sys.exit(77)
        open_store(Path(sys.argv[1]))
        """
    )

    tried = subprocess.run(
        [sys.executable, "-c", script, str(store)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    if tried.returncode == 77:
        pytest.skip("the folder of temporary files is closed to other users")
    assert "may not be written to. Give the store a place" in tried.stderr


def test_a_store_that_contradicts_itself_is_told_so(con, register, write_log):
    load_logs(con, [write_log("P-1.csv", ROWS)], register)
    assert verify_store(con).faults == ()
    con.execute("insert into samples select * from samples limit 1")
    con.execute("insert into samples (pump_no, ts) values (99, timestamp '2026-11-16')")
    con.execute("update files set rows_in = rows_in + 1")

    faults = " ".join(verify_store(con).faults)

    assert "samples: 1 values of pump_no are not in pump_numbers." in faults
    assert "P-1 has 1 instants more than once" in faults
    assert f"{len(ROWS)} rows were kept, but samples has {len(ROWS) + 2}" in faults
    assert f"P-1.csv had {len(ROWS) + 1} rows, but {len(ROWS)} are accounted for" in faults


def test_a_file_read_again_after_the_register_changed_still_adds_up(con, register, write_log):
    lines = [f"{pump},{row}" for row in ROWS for pump in ("P-1", "P-9")]
    path = write_log("fleet.csv", lines, "pump_id,timestamp,pressure_kpa,frequency_hz,current_a")
    load_logs(con, [path], register)
    from ingest.installed_base import Pump, Register

    more = Register(
        sites=register.sites,
        pumps={**register.pumps, "P-9": Pump(pump_id="P-9", site_id="S-P-1")},
    )
    save_register(con, more)

    load_logs(con, [path], more)

    assert verify_store(con).faults == ()


def test_a_site_moved_to_another_zone_has_its_weeks_counted_anew(con, register, write_log):
    from dataclasses import replace

    lines = [f"2026-11-{d:02d}T{h:02d}:00:00Z,400,45,3" for d in (22, 23) for h in range(24)]
    load_logs(con, [write_log("P-1.csv", lines)], register)
    before = con.execute("select week, n_samples from coverage order by week").fetchall()
    moved = replace(register.sites["S-P-1"], timezone="America/Chicago")

    save_register(con, replace(register, sites={**register.sites, "S-P-1": moved}))

    after = con.execute("select week, n_samples from coverage order by week").fetchall()
    assert before == [("2026-W47", 24), ("2026-W48", 24)]
    assert after == [("2026-W47", 30), ("2026-W48", 18)]
    assert verify_store(con).faults == ()


def test_a_store_cut_short_while_it_is_made_is_not_there_yet(tmp_path, monkeypatch):
    def cut_short(con):
        raise KeyboardInterrupt

    path = tmp_path / "fleet.duckdb"
    with monkeypatch.context() as patch:
        patch.setattr(ingest.store, "_create", cut_short)
        with pytest.raises(KeyboardInterrupt):
            open_store(path)
    assert not path.exists()

    open_store(path).close()
    assert verify_store(open_store(path, read_only=True)).faults == ()


def test_a_file_system_without_hard_links_holds_a_store_as_well(tmp_path, monkeypatch):
    def refuse(src, dst):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    with open_store(tmp_path / "fleet.duckdb") as con:
        assert con.execute("select count(*) from samples").fetchone() == (0,)
