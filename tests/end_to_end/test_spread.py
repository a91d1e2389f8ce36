"""Work spread over processes leaves the same bytes as work done in one."""

from datetime import datetime, timedelta
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

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


def make_lake(folder: Path) -> None:
    """Write the same logs as Parquet, by week and group of pumps."""
    home = folder / "lake" / "week=2026-W47"
    for group in range(3):
        tables = []
        for n in range(group, N_PUMPS, 3):
            table = pyarrow.csv.read_csv(folder / "logs" / f"P-{n:02d}.csv")
            at = table.column("timestamp").cast(pa.timestamp("us", "UTC"))
            tables.append(
                table.set_column(0, "timestamp", at).append_column(
                    "pump_id", [[f"P-{n:02d}"] * table.num_rows]
                )
            )
        (home / f"bucket={group}").mkdir(parents=True)
        pyarrow.parquet.write_table(pa.concat_tables(tables), home / f"bucket={group}/a.parquet")


def pages(out: Path) -> dict[Path, bytes]:
    files = sorted(path for path in out.rglob("*") if path.is_file())
    return {path.relative_to(out): path.read_bytes() for path in files}


def test_logs_left_in_place_give_the_same_pages_however_many_measure(tmp_path, pumprounds):
    make_world(tmp_path)
    make_lake(tmp_path)
    written = []
    for name, options in {
        "copied": (),
        "one": ("--in-place", "--workers", 1),
        "three": ("--in-place", "--workers", 3),
    }.items():
        done = pumprounds(
            *("weekly", tmp_path / "lake", "--register", tmp_path / "register"),
            *("--out", tmp_path / name, "--store", tmp_path / f"{name}.duckdb", *options),
        )
        assert (done.returncode, done.stderr) == (0, "")
        written.append(pages(tmp_path / name))

    assert written[0] == written[1] == written[2]
    with duckdb.connect(str(tmp_path / "three.duckdb"), read_only=True) as con:
        assert con.execute("select count(*) from samples").fetchone() == (0,)


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
        written.append(pages(out))

    assert len(written[0]) > N_PUMPS // 2
    assert written[0][Path("findings.csv")].count(b"\n") > 1
    assert written[0] == written[1]
