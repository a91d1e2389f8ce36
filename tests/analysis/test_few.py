"""Median and quantiles of a few numbers are numpy's to the last bit."""

import numpy as np
import pytest

from analysis.few import median_of, middle_of_seen, quantile_of


@pytest.mark.parametrize("n", [1, 2, 3, 10, 35])
def test_median_and_quantiles_are_numpys(n):
    rng = np.random.default_rng(n)
    for _ in range(50):
        values = rng.normal(size=n).round(2)

        assert median_of(values.tolist()) == np.median(values)
        for share in (0.0, 0.1, 0.5, 0.8, 1.0, float(rng.random())):
            assert quantile_of(values.tolist(), share) == np.quantile(values, share)


def test_no_number_has_no_middle():
    assert np.isnan(median_of([]))


def test_the_middle_of_a_column_leaves_out_what_is_not_known():
    values = np.array([[1.0, np.nan, np.nan], [9.0, 4.0, np.nan], [2.0, 5.0, np.nan]])

    assert middle_of_seen(values) == pytest.approx([2.0, 4.5, np.nan], nan_ok=True)
