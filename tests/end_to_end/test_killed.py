"""A load, scan or archiving killed at any moment leaves all or nothing of each file."""

import subprocess
import sys
from pathlib import Path

import pytest

DRIVER = Path(__file__).with_name("kill_runs.py")


@pytest.mark.slow
def test_fifty_kills_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, str(DRIVER), str(tmp_path), "50"],
        capture_output=True,
        text=True,
        check=True,
        cwd=DRIVER.parents[2],
    )

    *kills, total = ran.stdout.splitlines()
    n_left = [int(line.split()[1]) for line in kills]
    n_archived = [int(line.split()[2]) for line in kills]
    assert total == "50 kills"
    assert [line for line in kills if not line.endswith(" -")] == []
    assert min(n_left) == 0  # some came before the first file was in,
    assert len(set(n_left)) >= 4  # some between files, some in the scan,
    assert len(set(n_archived)) >= 3  # some between files of the archive
