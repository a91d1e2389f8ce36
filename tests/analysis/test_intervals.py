"""Intervals of counts and shares against published tables."""

import numpy as np
import pytest

from analysis.intervals import poisson_limits, wilson_interval


@pytest.mark.parametrize(
    ("k", "level", "low", "high", "printed_to"),
    [
        (25, 0.95, 16.18, 36.90, 0.01),
        (25, 0.90, 17.38, 34.92, 0.01),
        (10, 0.95, 4.80, 18.39, 0.01),
        (0, 0.95, 0.0, 3.689, 0.001),
        (1, 0.95, 0.0253, 5.5716, 0.0001),
        (3, 0.95, 0.6187, 8.7673, 0.0001),
    ],
)
def test_exact_poisson_limits(k, level, low, high, printed_to):
    # Garwood 1936; two statistics pages print k = 25, 10 and 0, the others are derived
    got = poisson_limits(k, level=level)

    assert got == pytest.approx((low, high), abs=printed_to / 2)


def test_poisson_limits_of_a_rate():
    # Garwood 1936, derived: 12 in 10 pump-years -> 0.6201 to 2.0962 a year
    assert poisson_limits(12, 10) == pytest.approx((0.6201, 2.0962), abs=0.00005)


def test_poisson_limits_of_impossible_counts_are_unknown():
    low, high = poisson_limits([-1, np.nan, 3], [1, 1, 0])

    assert low.shape == high.shape == (3,)
    assert np.isnan(low).all()
    assert np.isnan(high).all()


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_interval_of_the_published_shares(k, n, low, high):
    # Newcombe 1998, Table I, method 3
    assert wilson_interval(k, n) == pytest.approx((low, high), abs=0.00005)


def test_wilson_interval_mirrors_a_share_and_its_complement():
    low, high = wilson_interval([3, 27], 30)

    assert low[1] == pytest.approx(1 - high[0])
    assert high[1] == pytest.approx(1 - low[0])


def test_wilson_interval_of_impossible_shares_is_unknown():
    low, high = wilson_interval([5, -1, np.nan, 1], [4, 10, 10, 0])

    assert np.isnan(low).all()
    assert np.isnan(high).all()
