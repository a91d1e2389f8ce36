from pathlib import Path

import pytest

from analysis.call_weights import DEFAULT_WEIGHTS, TABLE, read_weights
from ingest.errors import WeightsError


def test_a_file_changes_what_it_names_and_nothing_else(tmp_path: Path):
    path = tmp_path / "weights.toml"
    path.write_text("[trend]\nworse = 1.4\n[who]\ncritical = 2\n")

    weights = read_weights(path)

    assert (weights["trend.worse"], weights["who.critical"]) == (1.4, 2.0)
    others = set(TABLE) - {"trend.worse", "who.critical"}
    assert all(weights[name] == DEFAULT_WEIGHTS[name] for name in others)


def test_all_that_is_wrong_is_listed_at_once(tmp_path: Path):
    path = tmp_path / "weights.toml"
    path.write_text(
        "worse = 2\n[trend]\nworse = 99\nnewer = 1\n[who]\ncritical = 'much'\n[odd]\na = 1\n"
    )

    with pytest.raises(WeightsError) as caught:
        read_weights(path)

    text = str(caught.value)
    for told in (
        "worse stands in no table",
        "trend.worse is 99, expected a number from 0.1 to 5",
        "trend.newer is no weight, expected one of trend.better",
        "who.critical is 'much'",
        "odd.a is no weight",
    ):
        assert told in text


def test_a_file_that_is_no_toml_is_refused(tmp_path: Path):
    path = tmp_path / "weights.toml"
    path.write_text("trend: worse")

    with pytest.raises(WeightsError, match="is no TOML"):
        read_weights(path)


@pytest.mark.parametrize("name", TABLE)
def test_every_weight_stands_within_its_own_limits_and_says_why(name: str):
    weight = TABLE[name]

    assert weight.low <= weight.value <= weight.high
    assert weight.source.startswith("ours: ")
