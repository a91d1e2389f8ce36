"""The table of dirty logs in DEVELOPERS.md names a test for each case, and each of them exists."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SECTION = (
    (ROOT / "DEVELOPERS.md")
    .read_text(encoding="utf-8")
    .split("## Dirty logs")[1]
    .split("\n## ")[0]
)
ROWS = [line for line in SECTION.splitlines() if line.startswith("| ")][1:]
TESTS = {
    name
    for folder in ("ingest", "analysis", "end_to_end")
    for path in (ROOT / "tests" / folder).glob("test_*.py")
    for name in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.split("|")[1].strip())
def test_each_case_says_what_happens_and_names_tests_that_exist(row: str) -> None:
    _, case, happens, tests, _ = row.split("|")

    named = set(re.findall(r"`(test_\w+)`", tests))

    assert case.strip()
    assert happens.strip()
    assert named
    assert named <= TESTS


def test_every_test_of_dirty_and_hostile_files_stands_in_the_table() -> None:
    shown = set(re.findall(r"`(test_\w+)`", SECTION))
    of_one_case = {  # details of a case whose main test is named
        "test_the_same_header_again_is_no_sample_and_no_problem",
        "test_a_fault_that_is_cleared_is_not_held",
        "test_a_local_date_with_slashes_keeps_the_sites_time_zone",
        "test_a_file_name_means_only_itself",
        "test_a_file_name_that_is_no_text_costs_its_file",
    }

    written = {
        name
        for file in ("test_dirty_logs.py", "test_hostile_files.py")
        for name in re.findall(
            r"^def (test_\w+)",
            (ROOT / "tests" / "ingest" / file).read_text(encoding="utf-8"),
            re.MULTILINE,
        )
    }

    assert written - of_one_case <= shown
