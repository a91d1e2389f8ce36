"""Slopes and limits are those of scipy, which takes far longer for them."""

import numpy as np
import pytest
from scipy import stats

from analysis.slopes import least_squares, theil_sen


@pytest.mark.parametrize("n", [3, 4, 5, 12, 30])
def test_theil_and_sens_slope_and_limits_are_scipys(n):
    rng = np.random.default_rng(n)
    for decimals in (0, 1, 6):  # with ties and without
        x = np.sort(rng.choice(60, n, replace=False)).astype(np.float64)
        y = rng.normal(size=n).round(decimals)
        theirs = stats.theilslopes(y, x, alpha=0.95)

        got = theil_sen(x, y, 0.95)

        expected = (theirs.slope, theirs.low_slope, theirs.high_slope)
        assert got == pytest.approx(expected, rel=1e-12, nan_ok=True)


@pytest.mark.parametrize("n", [3, 4, 12])
def test_the_least_squares_line_is_scipys(n):
    rng = np.random.default_rng(n)
    x, y = np.arange(n) + rng.random(n), rng.normal(size=n)
    theirs = stats.linregress(x, y)
    reach = stats.t.ppf(0.95, n - 2) * theirs.stderr

    got = least_squares(x, y, 0.9)

    assert got == pytest.approx((theirs.slope, theirs.slope - reach, theirs.slope + reach))


def test_a_level_line_has_no_limits():
    slope, low, high = least_squares(np.arange(4.0), np.ones(4), 0.95)

    assert slope == 0.0
    assert np.isnan([low, high]).all()
