"""A load, scan or archiving killed at any moment leaves all or nothing of each file."""

import subprocess
import sys
from pathlib import Path

import pytest

DRIVER = Path(__file__).with_name("kill_runs.py")
N_KILLS = 50


@pytest.mark.slow
def test_kills_at_many_moments_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, str(DRIVER), str(tmp_path), str(N_KILLS)],
        capture_output=True,
        text=True,
        check=True,
        cwd=DRIVER.parents[2],
    )

    *kills, total = ran.stdout.splitlines()
    print(ran.stdout)  # noqa: T201  # shown when it fails
    assert total == f"{N_KILLS} kills"
    assert [line for line in kills if not line.endswith(" -")] == []
    n_left = [int(line.split()[1]) for line in kills]
    n_archived = [int(line.split()[2]) for line in kills]
    assert len(set(n_left)) >= 3  # some between files, some in the scan,
    assert len(set(n_archived)) >= 2  # some before the archive, some after its first file
