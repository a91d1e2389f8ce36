"""Quantiles and robust spreads."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.quantiles import (
    held_quantile,
    held_quantiles,
    in_order,
    quantile,
    robust_cv,
    robust_sd,
    row_medians,
)

finite = st.floats(-1e3, 1e3, width=32)


@given(st.lists(st.tuples(finite, st.integers(1, 9)), min_size=1, max_size=30), st.floats(0, 1))
def test_a_held_quantile_is_that_of_values_repeated_as_often_as_held(pairs, share):
    values = np.array([v for v, _ in pairs], dtype=np.float32)
    held_s = np.array([float(w) for _, w in pairs])
    repeated = np.sort(np.repeat(values, held_s.astype(int)))
    rank = max(int(np.ceil(share * repeated.size - 1e-9)), 1)

    assert held_quantile(values, held_s, share) == pytest.approx(repeated[rank - 1])


def test_a_value_held_long_outweighs_many_held_briefly():
    values = np.array([230.0] * 60 + [200.0], dtype=np.float32)
    held_s = np.array([1.0] * 60 + [3600.0])

    assert held_quantile(values, held_s, 0.5) == 200.0


@pytest.mark.parametrize("held_s", [[1.0, 1.0, 1.0], [1.0, 2.0, 3.0]])
def test_blanks_are_left_out(held_s):
    values = np.array([np.nan, 5.0, np.nan], dtype=np.float32)

    assert held_quantiles(values, np.array(held_s), (0.0, 0.5, 1.0)) == [5.0, 5.0, 5.0]


def test_nothing_but_blanks_has_no_quantile():
    assert held_quantiles(np.full(3, np.nan), np.ones(3), (0.5,)) is None
    assert quantile(np.empty(0), 0.5) is None


def test_robust_scale_matches_its_text_book_value():
    # 1.4826 x the median absolute deviation (1) of 1, 2, 3, 4, 100, from memory of text-books
    assert robust_sd(np.array([1.0, 2.0, 3.0, 4.0, 100.0])) == pytest.approx(1.4826)
    assert robust_cv(np.array([1.0, 2.0, 3.0, 4.0, 100.0])) == pytest.approx(1.4826 / 3)


def test_two_values_have_no_spread():
    assert robust_sd(np.array([1.0, 2.0])) is None


@pytest.mark.parametrize("kind", [np.float32, np.float64])
@pytest.mark.parametrize(
    "made",
    [
        lambda rng, n: rng.normal(size=n),
        lambda rng, n: np.round(rng.normal(size=n), 1),  # many alike, as in rounded logs
        lambda rng, n: np.where(rng.random(n) < 0.8, 0.0, rng.normal(50.0, 1.0, n)),
        lambda rng, n: np.where(rng.random(n) < 0.3, np.nan, rng.normal(size=n)),
        lambda rng, n: np.sort(rng.normal(size=n)),
        lambda rng, n: np.arange(n) % round(n ** (1 / 3)),  # any sample at even steps misleads
        lambda rng, n: np.full(n, np.nan),
    ],
)
def test_places_of_many_values_are_those_of_all_sorted(made, kind):
    values = made(np.random.default_rng(7), 100_003).astype(kind)
    places = [0, 1_000, 1_001, 50_001, 50_002, 69_000, 99_000, 100_002]

    found = in_order(values, places)

    np.testing.assert_array_equal(found, np.sort(values)[places])
    assert found.dtype == kind


def test_a_row_median_leaves_blanks_out():
    table = np.array([[3.0, 1.0, np.nan], [np.nan, np.nan, np.nan], [1.0, 2.0, 4.0]])

    np.testing.assert_array_equal(row_medians(table), [2.0, np.nan, 2.0])
