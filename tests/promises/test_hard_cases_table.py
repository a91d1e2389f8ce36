"""The table of hard cases in DEVELOPERS.md names each test there is of them, and no other."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SECTION = (
    (ROOT / "DEVELOPERS.md")
    .read_text(encoding="utf-8")
    .split("## Hard cases")[1]
    .split("\n## ")[0]
)
ROWS = [line for line in SECTION.splitlines() if line.startswith("| ")][1:]
TESTS = re.findall(
    r"^def (test_\w+)",
    (ROOT / "tests" / "end_to_end" / "test_hard_cases.py").read_text(encoding="utf-8"),
    re.MULTILINE,
)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.split("|")[1].strip())
def test_each_case_says_what_is_expected_and_names_its_test(row: str) -> None:
    _, case, expected, test, _ = row.split("|")

    assert case.strip()
    assert expected.strip()
    assert test.strip().strip("`") in TESTS


def test_every_test_of_a_hard_case_stands_in_the_table() -> None:
    named = re.findall(r"`(test_\w+)`", SECTION)

    assert named == TESTS
