from math import log

import pytest

from analysis.detectors.causes import FAIR, STRONG, WEAK, Clue, call_cause, graded


@pytest.mark.parametrize(
    ("value", "none_at", "full_at", "weight"),
    [
        (None, 1.0, 3.0, 0.0),
        (0.5, 1.0, 3.0, 0.0),
        (1.0, 1.0, 3.0, 0.0),
        (3.0**0.5, 1.0, 3.0, 0.5),  # half way in its logarithm
        (9.0, 1.0, 3.0, 1.0),
        (0.0, 1.0, 3.0, 0.0),
        (0.0, 3.0, 1.0, 1.0),  # the smaller the surer
        (2.0, 3.0, 1.0, log(1.5) / log(3.0)),
    ],
)
def test_a_weight_grows_evenly_with_the_logarithm_and_never_jumps(value, none_at, full_at, weight):
    assert graded(value, none_at, full_at) == pytest.approx(weight)


def test_shares_are_the_odds_of_the_weights():
    # a clue seen three times as often with "a" as with "b": odds 3 to 1
    call = call_cause(("a", "b"), [Clue("seen", {"a": FAIR})])

    assert call.cause == "a"
    assert call.share == pytest.approx(0.75)
    assert call.shares["b"] == pytest.approx(0.25)


def test_without_a_clue_no_cause_is_named():
    assert call_cause(("a", "b", "c"), []).cause == ""


def test_clues_that_cancel_name_no_cause():
    call = call_cause(("a", "b"), [Clue("one", {"a": STRONG}), Clue("other", {"b": STRONG})])

    assert call.cause == ""
    assert set(call.texts) == {"one", "other"}


def test_only_clues_for_the_named_cause_are_told_the_heaviest_first():
    clues = [
        Clue("weak", {"a": WEAK}),
        Clue("strong", {"b": -STRONG}),
        Clue("against", {"a": -WEAK}),
    ]

    call = call_cause(("a", "b"), clues)

    assert call.cause == "a"
    assert call.texts == ("strong", "weak")
