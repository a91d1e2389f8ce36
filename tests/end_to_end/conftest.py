"""The demo, run once by its own command as a user would, for all checks that need its output."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

PROGRAM = Path(sys.executable).with_name("pumprounds")

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="session")
def pumprounds() -> Run:
    """Run the program with the given arguments; returns status, stdout and stderr."""

    def run(*arguments: object) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [PROGRAM, *(str(argument) for argument in arguments)],
            capture_output=True,
            text=True,
            check=False,
        )

    return run


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, pumprounds: Run) -> Path:
    """Folder of the demo fleet with its store and pages."""
    folder = tmp_path_factory.mktemp("fleet") / "demo"
    done = pumprounds("demo", folder)
    assert done.returncode == 0, done.stderr
    assert done.stdout.rstrip().endswith(f"Open {folder / 'pages' / 'index.html'}")
    return folder


@pytest.fixture(scope="session")
def weekly_again(demo: Path, pumprounds: Run) -> "subprocess.CompletedProcess[str]":
    """What the same week loaded and reported a second time says; its pages are in ``again``."""
    profiles = [part for path in sorted((demo / "profiles").glob("*.toml")) for part in _of(path)]
    return pumprounds(
        *("weekly", demo / "logs", "--register", demo / "register", "--out", demo / "again"),
        *("--store", demo / "fleet.duckdb", *profiles),
    )


def _of(profile: Path) -> tuple[str, Path]:
    return ("--profile", profile)
