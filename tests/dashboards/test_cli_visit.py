from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dashboards.cli import main


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sites.csv").write_text("site_id\nS-01\n")
    (tmp_path / "pumps.csv").write_text("pump_id,site_id\nP-01,S-01\n")
    return tmp_path


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["visit", "S-01", "--register", str(folder), *words])


def test_a_visit_is_added_to_the_registers_folder(folder: Path):
    result = run(folder, "--on", "2026-11-17", "--outcome", "fixed", "--kind", "leak", "--pump", "P-01")  # fmt: skip  # noqa: E501

    assert result.exit_code == 0
    assert result.output == f"Added to {folder / 'visits.csv'}.\n"
    assert (folder / "visits.csv").read_text().splitlines()[1] == (
        "2026-11-17,S-01,P-01,leak,fixed,,,"
    )


def test_a_visit_that_does_not_fit_is_refused_in_one_line(folder: Path):
    result = run(folder, "--on", "2026-11-17", "--outcome", "told", "--kind", "leek")

    assert result.exit_code == 1
    assert "kind is 'leek'" in result.stderr
    assert "until is blank" in result.stderr
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize(
    "words", [["--on", "yesterday", "--outcome", "fixed"], ["--on", "2026-11-17"]]
)
def test_a_day_or_an_outcome_that_cannot_be_read_is_bad_usage(folder: Path, words: list[str]):
    assert run(folder, *words).exit_code == 2
