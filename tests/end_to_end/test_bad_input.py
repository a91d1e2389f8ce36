"""What a user gets wrong costs one clear line and leaves the store as it was."""

import subprocess
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

pytestmark = pytest.mark.slow

Run = Callable[..., "subprocess.CompletedProcess[str]"]

SITES = "site_id,site_name,timezone,units\nS-1,Upper Meadow,America/Chicago,us\n"
PUMPS = "pump_id,site_id,supply_volts,pressure_setting_psi\nP-1,S-1,230,60\nP-2,S-1,230,60\n"
HEAD = "timestamp,pump_id,pressure_psi,frequency_hz,current_a\n"


def samples(pump_id: str, day: int, pressure_psi: float = 60.0, n: int = 360) -> str:
    return "".join(
        f"2026-11-{day:02d}T{6 + i // 360:02d}:{i // 6 % 60:02d}:{10 * (i % 6):02d}Z,"
        f"{pump_id},{pressure_psi + i % 3 / 10:.1f},{44.0 if i % 60 < 30 else 0.0},"
        f"{4.2 if i % 60 < 30 else 0.0}\n"
        for i in range(n)
    )


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "sites.csv").write_text(SITES)
    (tmp_path / "register" / "pumps.csv").write_text(PUMPS)
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "good.csv").write_text(HEAD + samples("P-1", 17))
    return tmp_path


def weekly(run: Run, inbox: Path, *more: object) -> "subprocess.CompletedProcess[str]":
    return run(
        *("weekly", inbox / "logs", "--register", inbox / "register"),
        *("--store", inbox / "fleet.duckdb", "--out", inbox / "pages", *more),
    )


def n_samples(inbox: Path) -> int:
    with duckdb.connect(inbox / "fleet.duckdb", read_only=True) as con:
        (n,) = con.execute("select count(*) from samples").fetchall()[0]
    return int(n)


def test_bad_lines_cost_themselves_and_are_named_by_file_and_line(
    pumprounds: Run, inbox: Path
) -> None:
    lines = (HEAD + samples("P-1", 18)).splitlines(keepends=True)
    lines.insert(5, "2026-11-18T06:00:35Z,P-1,60.1\n")  # becomes line 6: broken
    lines.insert(9, "2026-11-18T06:01:05Z,P-9,60.1,44.0,4.2\n")  # line 10: unknown pump
    lines.insert(20, "2026-13-45T06:00:00Z,P-1,60.1,44.0,4.2\n")  # line 21: impossible time
    (inbox / "logs" / "dirty.csv").write_text("".join(lines))
    (inbox / "logs" / "unit.csv").write_text(HEAD + samples("P-2", 18, pressure_psi=413.7))

    done = weekly(pumprounds, inbox)

    assert done.returncode == 0, done.stderr
    for place in ("dirty.csv line 6", "dirty.csv line 10", "dirty.csv line 21"):
        assert done.stdout.count(place) == 1, done.stdout
    unit = next(line for line in done.stdout.splitlines() if "unit.csv" in line)
    assert "kPa" in unit
    assert "60" in unit
    assert n_samples(inbox) == 2 * 360  # the good file and the good lines of the dirty one


@pytest.mark.parametrize(
    ("change", "status", "says"),
    [
        (lambda i: ("--week", "2026-47"), 2, "Write it as 2026-W47"),
        (lambda i: ("--week", "2026-W02"), 1, "2026-W02"),
        (lambda i: ("--profile", i / "none.toml"), 2, "none.toml"),
        (lambda i: ("--memory-limit", "lots"), 2, "lots"),
        (lambda i: (i / "register" / "pumps.csv").unlink() or (), 1, "pumps.csv"),
        (lambda i: (i / "logs" / "good.csv").write_text("a,b\n1,2\n") and (), 1, "Nothing usable"),
    ],
    ids=["no week", "week without data", "no profile", "no size", "no register", "no log"],
)
def test_bad_usage_is_one_line_without_traceback_and_changes_no_store(
    pumprounds: Run,
    inbox: Path,
    change: Callable[[Path], tuple[object, ...]],
    status: int,
    says: str,
) -> None:
    assert weekly(pumprounds, inbox).returncode == 0
    before = n_samples(inbox)

    done = weekly(pumprounds, inbox, *change(inbox))

    assert done.returncode == status, done.stdout + done.stderr
    assert says in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stdout + done.stderr
    assert n_samples(inbox) == before


def test_a_log_that_names_no_known_pump_loads_nothing(pumprounds: Run, inbox: Path) -> None:
    (inbox / "logs" / "good.csv").write_text(HEAD + samples("P-77", 17))

    done = weekly(pumprounds, inbox)

    assert done.returncode == 1
    assert "Nothing usable" in done.stderr
    assert not (inbox / "fleet.duckdb").exists()
