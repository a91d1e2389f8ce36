"""The benchmarks run, and what they compare is the same; times are not looked at here."""

import importlib
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__).parent


@pytest.fixture
def compare(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(HERE)
    return importlib.import_module("compare")


def printed(script: str, *arguments: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, str(HERE / script), *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_figures_that_differ_are_all_told(compare: ModuleType) -> None:
    one = {"P-1": {"n_starts": 7, "run_s": 3600.0}, "P-2": {"n_starts": 1}}
    other = {"P-1": {"n_starts": 8, "run_s": 3601.0}, "P-2": {"n_starts": 1, "stop_s": 3.0}}

    with pytest.raises(ValueError, match=r"P-1 n_starts: 7 and 8\nP-1 run_s: 3600.0 and 3601.0$"):
        compare.check_equal(one, other, "one and other")


def test_figures_of_other_pumps_are_no_agreement(compare: ModuleType) -> None:
    with pytest.raises(ValueError, match=r"P-1.*P-2"):
        compare.check_equal({"P-1": {"run_s": 1.0}}, {"P-2": {"run_s": 1.0}}, "one and other")


def test_figures_of_nothing_in_common_are_no_agreement(compare: ModuleType) -> None:
    with pytest.raises(ValueError, match="P-1: nothing to compare"):
        compare.check_equal({"P-1": {"run_s": 1.0}}, {"P-1": {"stop_s": 1.0}}, "one and other")


@pytest.mark.slow
@pytest.mark.parametrize("file_format", ["csv", "parquet"])
def test_pandas_polars_and_the_tool_agree_on_the_same_files(file_format: str) -> None:
    pytest.importorskip("pandas")
    pytest.importorskip("polars")

    lines = printed(
        "compare.py", "--pumps", "2", "--interval", "60", "--repeats", "1", "--format", file_format
    )

    assert "(2 pumps)" in lines[0]
    assert {line[2:36].strip() for line in lines[2:]} >= {
        "bytes alone (cat)",
        "read and sum of the files",
        "pandas",
        "pandas, whole folder in one frame",
        "polars",
        "load",
        "the same figures alone, from store",
        "measure",
        "load, then the same figures alone",
        "load, then measure",
    }


@pytest.mark.slow
def test_every_step_of_a_week_is_timed() -> None:
    lines = printed("week.py", "--pumps", "2", "--interval", "60", "--repeats", "1")

    assert lines[0] == "2 pumps, 20,160 samples (csv)"
    assert [line[2:36].strip() for line in lines[2:]] == [
        "bytes alone (cat)",
        "read and sum of the files",
        "same, types found out",
        "load",
        "load again, nothing new",
        "load one file again (start-up)",
        "sum of the week in the store",
        "measure and judge (scan)",
        "measure alone",
        "judge alone",
        "pages",
        "weekly, all in one",
        "weekly again, nothing new",
    ]
    assert all(float(value) >= 0.0 for line in lines[2:] for value in line[36:].split())


@pytest.mark.slow
def test_the_coordinators_work_is_timed_on_clones_of_a_scanned_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool = str(Path(sys.executable).parent / "pumprounds")
    monkeypatch.syspath_prepend(HERE)
    logs = importlib.import_module("logs")
    (tmp_path / "fleet").mkdir()
    logs.make_fleet(tmp_path / "fleet", 2, 60.0)
    store = str(tmp_path / "small.duckdb")
    register = ["--register", str(tmp_path / "fleet" / "register")]
    for step in (["load", str(tmp_path / "fleet" / "logs"), *register], ["scan"]):
        subprocess.run([tool, *step, "--store", store], check=True, capture_output=True)

    lines = printed("coordinator.py", "--pumps", "7", "--weeks", "3", "--source", store)
    ages = ("--weeks", "2", "--weeks", "3")
    by_age = printed("coordinator.py", "--pumps", "3", *ages, "--source", store)

    assert lines[0].startswith("7 pumps, 3 weeks of records")
    assert "7 pumps," in lines[2]
    assert len(lines) == 6
    assert [line.split(" MB")[0].split(":")[0] for line in by_age[::3]] == [
        "3 pumps, 2 weeks of records",
        "3 pumps, 3 weeks of records",
    ]
