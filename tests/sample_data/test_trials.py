import json

import pytest

from sample_data import trials
from sample_data.list_order import ListOrder
from sample_data.reliability import (
    Verdict,
    brier,
    median_or_none,
    reliability,
    size_errors_pct,
    verdicts,
)
from sample_data.score import KindScore, score
from sample_data.trials import Trial, f1, false_per_100, kind_table, main, together, trials_text

WEEK = "2026-W47"


def truth_row(pump_id: str, kind: str = "", cause: str = "", **more: str) -> dict[str, str]:
    blank = dict.fromkeys(("site_id", "size", "began_on", "ended_on", "also_allowed", "note"), "")
    named = {"pump_id": pump_id, "scenario": f"scenario of {pump_id}", "kind": kind}
    return blank | named | {"cause": cause} | more


def finding(pump_id: str, kind: str, cause: str, confidence: float, **measures: float) -> dict:
    return {
        "week": WEEK,
        "pump_id": pump_id,
        "kind": kind,
        "cause": cause,
        "severity": "low",
        "confidence": str(confidence),
        "measures": json.dumps(measures),
        "summary": "words",
    }


TRUTH = [
    truth_row("P-1", "leak", "downstream", leak_lpm="0.200"),
    truth_row("P-2", "undervoltage", "supply_wiring", loop_resistance_ohm="0.500"),
    truth_row("P-3"),
    truth_row("P-4", also_allowed="leak"),
]
FOUND = [
    finding("P-1", "leak", "downstream", 0.9, leak_lpm=0.23),
    finding("P-2", "undervoltage", "supply_source", 0.6, loop_resistance_ohm=0.45),
    finding("P-3", "leak", "", 0.5),
    finding("P-4", "leak", "", 0.5),
]


def a_trial(seed: int, found: list[dict]) -> Trial:
    result = score(TRUTH, found, WEEK)
    return Trial(seed, result, tuple(verdicts(TRUTH, found, result)), ListOrder(0.9876, None))


def test_each_finding_is_right_wrong_or_merely_allowed():
    judged = a_trial(1, FOUND).verdicts

    assert [item.is_right for item in judged] == [True, True, False, None]
    assert [item.is_cause_right for item in judged] == [True, False, False, False]


def test_sizes_are_held_against_the_true_ones():
    # by hand: 0.23 for 0.20 L/min is 15 % off, 0.45 for 0.50 ohm 10 %
    judged = a_trial(1, FOUND).verdicts

    assert size_errors_pct(judged, "leak_lpm") == [pytest.approx(15)]
    assert size_errors_pct(judged, "loop_resistance_ohm") == [pytest.approx(10)]


def test_a_size_that_is_not_told_has_no_error():
    judged = a_trial(1, [finding("P-1", "leak", "downstream", 0.9)]).verdicts

    assert size_errors_pct(judged, "leak_lpm") == []
    assert median_or_none([]) is None


def test_brier_of_sure_and_right_is_0_and_of_sure_and_wrong_is_1():
    def sure(is_right: bool) -> Verdict:
        return Verdict("P-1", "leak", 1.0, is_right, is_right)

    assert brier([sure(True)]) == 0
    assert brier([sure(False)]) == 1
    assert brier([sure(True), Verdict("P-2", "leak", 0.5, False, False)]) == 0.125
    assert brier([Verdict("P-3", "leak", 0.5, None, False)]) is None


def test_bands_hold_their_lower_edge_and_leave_out_what_is_merely_allowed():
    judged = [
        Verdict("P-1", "leak", 0.6, True, False),
        Verdict("P-2", "leak", 0.69, False, False),
        Verdict("P-3", "leak", 1.0, True, True),
        Verdict("P-4", "leak", 0.65, None, False),
    ]

    low, high = reliability(judged)

    assert (low.low, low.n, low.share_right, low.share_cause_right) == (0.6, 2, 0.5, 0.0)
    assert (high.low, high.n, high.share_right) == (0.9, 1, 1.0)


def test_f1_is_the_harmonic_mean_of_precision_and_recall():
    # by hand: precision 3/4, recall 3/5 -> 2 x 0.45 / 1.35
    kind = KindScore("leak", 5, 3, 2, 1, 0, 3)

    assert f1(kind) == pytest.approx(2 * 0.45 / 1.35)
    assert f1(KindScore("leak", 0, 0, 0, 0, 0, 0)) is None


def test_seeds_are_added_up_and_the_worst_one_shown():
    runs = [a_trial(7, FOUND), a_trial(8, [])]

    lines = kind_table(runs)

    leak = next(line for line in lines if line.startswith("leak"))
    assert leak.split()[1:5] == ["2", "1", "1", "1"]
    assert leak.endswith("8 (F1 0.00)")


def test_scores_of_several_seeds_add_up():
    one = KindScore("leak", 5, 3, 2, 1, 1, 2)

    assert together([one, one]) == KindScore("leak", 10, 6, 4, 2, 2, 4)


def test_false_findings_are_counted_per_100_healthy_pump_weeks():
    # by hand: one false finding on 2 healthy pumps in each of two seeds
    assert false_per_100([a_trial(7, FOUND), a_trial(8, FOUND)]) == (50.0, 0.0)


def test_the_text_names_seeds_rates_sizes_and_the_brier_score():
    text = trials_text([a_trial(7, FOUND)])

    assert "Per 100 healthy pump-weeks: 50.0 false findings, 0.0 high ones." in text
    assert "Error of leak size: median 15 %, worst 15 % (1 findings)." in text
    assert "Brier score: 0.140" in text  # ((0.1)**2 + (0.4)**2 + (0.5)**2) / 3
    assert "1 x false leak: scenario of P-3 (seeds 7)" in text
    assert next(line for line in text.splitlines() if line.startswith("seed 7")).split() == [
        "seed",
        "7",
        "0.99",
        "-",
    ]


def test_the_command_says_when_the_program_is_not_installed(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(trials, "make_fleet", lambda folder, seed: folder.mkdir(parents=True))
    monkeypatch.setattr(trials.sys, "executable", str(tmp_path / "python"))
    monkeypatch.setattr(trials.shutil, "which", lambda name: None)

    status = main(["--seeds", "1", "--keep", str(tmp_path)])

    assert status == 1
    assert "pumprounds is not installed" in capsys.readouterr().err


def test_no_seeds_is_bad_usage(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["--seeds", "0"])

    assert stop.value.code == 2
    assert "expected 1 or more" in capsys.readouterr().err
