import csv
from pathlib import Path

import numpy as np
import pytest
from sklearn.metrics import average_precision_score

from sample_data.list_order import (
    ListOrder,
    consequence,
    graded_average_precision,
    read_list_order,
    site_gains,
    weighted_average_precision,
)
from sample_data.score import score


def fault(site: str, kind: str, cause: str = "", size: str = "mild") -> dict[str, str]:
    return {
        "pump_id": f"P-{site}",
        "site_id": site,
        "scenario": "",
        "kind": kind,
        "cause": cause,
        "size": size,
        "began_on": "",
        "ended_on": "",
        "also_allowed": "",
    }


def test_weighted_average_precision_is_scikit_learns_with_weights():
    # all sites listed, so that the library sees the same ranks
    gains = {f"S-{n}": 1 + n % 5 for n in range(0, 40, 2)}
    ranked = [f"S-{n}" for n in np.random.default_rng(7).permutation(40)]

    ours = weighted_average_precision(ranked, gains)

    expected = average_precision_score(
        [site in gains for site in ranked],
        -np.arange(len(ranked)),
        sample_weight=[gains.get(site, 1) for site in ranked],
    )
    assert ours == pytest.approx(expected, abs=1e-12)


def test_graded_average_precision_of_a_truth_of_0_and_1_is_scikit_learns():
    gains = {f"S-{n}": 1 for n in range(0, 40, 3)}
    ranked = [f"S-{n}" for n in np.random.default_rng(8).permutation(40)]

    ours = graded_average_precision(ranked, gains)

    expected = average_precision_score([s in gains for s in ranked], -np.arange(len(ranked)))
    assert ours == pytest.approx(expected, abs=1e-12)


def test_graded_average_precision_by_hand():
    # ranks 2, 0, 5: (2/1 + 7/3) over the best order's (5/1 + 7/2)
    gains = {"A": 2, "B": 5}

    assert graded_average_precision(["A", "X", "B"], gains) == pytest.approx((2 + 7 / 3) / 8.5)
    assert graded_average_precision(["B", "A", "X"], gains) == 1.0


def test_a_site_that_the_list_lacks_costs_by_its_consequence():
    gains = {"A": 1, "B": 4}

    assert weighted_average_precision(["A"], gains) == pytest.approx(1 / 5)
    assert weighted_average_precision(["B"], gains) == pytest.approx(4 / 5)


def test_without_a_fault_there_is_no_precision():
    assert weighted_average_precision(["A"], {}) is None
    assert graded_average_precision(["A"], {}) is None


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (fault("A", "dry_running", "suction_lost"), 5),
        (fault("A", "undervoltage", "supply_wiring", "strong"), 5),  # a joint that heats
        (fault("A", "undervoltage", "supply_source", "strong"), 3),
        (fault("A", "short_cycling", "leak"), 3),
        (fault("A", "leak", "downstream"), 2),
        (fault("A", "setting", "ramp", "strong"), 1),
        (fault("A", "of a kind nobody weighed"), 1),
    ],
)
def test_a_fault_counts_by_kind_cause_and_size(row: dict[str, str], expected: int):
    assert consequence(row) == expected


def test_a_site_counts_by_its_worst_fault():
    rows = [fault("A", "leak"), fault("A", "dry_running"), fault("B", "hunting")]

    assert site_gains(rows) == {"A": 5, "B": 2}


def test_a_folder_is_compared_for_the_kinds_scored(tmp_path: Path):
    truth = [
        fault("A", "leak"),
        fault("B", "other"),
        {**fault("C", "leak"), "ended_on": "2026-01-01"},
    ]
    (tmp_path / "pages").mkdir()
    for name, rows in (("truth.csv", truth), ("pages/calls.csv", [{"site_id": "A"}])):
        with (tmp_path / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)

    told = read_list_order(tmp_path, score(truth, [], "2026-W47", ["leak"]))

    assert told == ListOrder(1.0, 1.0)
