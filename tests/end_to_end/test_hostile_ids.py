"""Ids, names and cells made to do harm, through the whole program: all of it stays text."""

import csv
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

Run = Callable[..., "subprocess.CompletedProcess[str]"]

SITES = ["../../outside", '"><script>alert(1)</script>', "'; drop table samples; --", "=1+1"]
FORMULAS = ("=", "+", "@", "\t", "\r")


def test_no_file_leaves_the_folder_and_no_page_or_table_carries_code(
    pumprounds: Run, tmp_path: Path
) -> None:
    register, logs = tmp_path / "register", tmp_path / "logs"
    register.mkdir()
    logs.mkdir()
    with (register / "sites.csv").open("w", newline="") as file:
        csv.writer(file).writerows([["site_id", "site_name"], *([site, site] for site in SITES)])
    with (register / "pumps.csv").open("w", newline="") as file:
        rows = [[f"P{site}", site, "60", site] for site in SITES]
        csv.writer(file).writerows(
            [["pump_id", "site_id", "pressure_setting_psi", "pump_model"], *rows]
        )
    with (logs / "fleet.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["timestamp", "pump_id", "pressure_psi", "frequency_hz", "current_a"])
        for minute in range(3 * 1440):
            for site in SITES:
                at = f"2026-11-{17 + minute // 1440}T{minute // 60 % 24:02d}:{minute % 60:02d}:00Z"
                writer.writerow(
                    [at, f"P{site}", 60, 44 * (minute % 10 < 3), 4 * (minute % 10 < 3)]
                )
        writer.writerow(["=cmd|' /C calc'!A0", f"P{SITES[0]}", "@SUM(1)", "\x1b[2J", "+1"])
    before = {path for path in tmp_path.rglob("*") if path.is_file()}

    done = pumprounds(
        *("weekly", logs, "--register", register, "--store", tmp_path / "fleet.duckdb"),
        *("--out", tmp_path / "a" / "pages"),
    )

    assert done.returncode == 0, done.stderr
    made = {path for path in tmp_path.rglob("*") if path.is_file()} - before
    outside = {path for path in made if not path.is_relative_to(tmp_path / "a" / "pages")}
    assert outside == {tmp_path / "fleet.duckdb"}
    assert "\x1b" not in done.stdout + done.stderr
    for page in (tmp_path / "a" / "pages").rglob("*.html"):
        assert "<script>alert(1)" not in page.read_text(encoding="utf-8")
    with (tmp_path / "a" / "pages" / "rejects.csv").open(newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert any("cmd|" in cell for cell in cells)
    assert not [cell for cell in cells if cell.startswith(FORMULAS)]
