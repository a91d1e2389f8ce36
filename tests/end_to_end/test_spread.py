"""Work spread over processes leaves the same bytes as work done in one."""

from datetime import datetime, timedelta
from pathlib import Path

N_PUMPS = 12


def make_world(folder: Path) -> None:
    """Write a register of twelve pumps and a day's log of each, every third with fast cycles."""
    (folder / "register").mkdir()
    (folder / "logs").mkdir()
    pumps = [f"P-{n:02d},S-{n // 2},400,100" for n in range(N_PUMPS)]
    sites = [f"S-{n}" for n in range(N_PUMPS // 2)]
    (folder / "register" / "sites.csv").write_text("\n".join(["site_id", *sites]) + "\n")
    (folder / "register" / "pumps.csv").write_text(
        "\n".join(["pump_id,site_id,pressure_setting_kpa,tank_l", *pumps]) + "\n"
    )
    for n in range(N_PUMPS):
        lines = ["timestamp,pressure_kpa,frequency_hz,current_a"]
        cycle = 6 if n % 3 == 0 else 360
        for k in range(8640):
            at, is_on = datetime(2026, 11, 17) + timedelta(seconds=10 * k), k % cycle < cycle // 3
            lines.append(f"{at.isoformat()}Z,{400 - k % cycle},{45 * is_on},{4 * is_on}")
        (folder / "logs" / f"P-{n:02d}.csv").write_text("\n".join(lines) + "\n")


def test_one_process_and_three_write_the_same_bytes(tmp_path, pumprounds):
    make_world(tmp_path)
    written = []
    for n in (1, 3):
        out = tmp_path / f"pages-{n}"
        done = pumprounds(
            *("weekly", tmp_path / "logs", "--register", tmp_path / "register", "--out", out),
            *("--store", tmp_path / f"{n}.duckdb", "--workers", n),
        )
        assert (done.returncode, done.stderr) == (0, "")
        files = sorted(path for path in out.rglob("*") if path.is_file())
        written.append({path.relative_to(out): path.read_bytes() for path in files})

    assert len(written[0]) > N_PUMPS // 2
    assert written[0][Path("findings.csv")].count(b"\n") > 1
    assert written[0] == written[1]
