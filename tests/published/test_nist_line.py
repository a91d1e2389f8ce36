"""Lines and their limits against NIST's certified values (StRD, linear regression, Norris)."""

import re
from importlib import resources

import numpy as np
import pytest
from scipy import stats

from analysis.physics.electrical import supply_line
from analysis.slopes import least_squares, theil_sen


@pytest.fixture(scope="module")
def norris():
    """Data and certified values as NIST's file gives them; it ships in scipy's wheel."""
    text = (resources.files("scipy.stats") / "tests/data/nist_linregress/Norris.dat").read_text(
        encoding="utf-8"
    )
    certified = {
        name: tuple(map(float, re.search(rf"^\s*{name}\s+(\S+)\s+(\S+)\s*$", text, re.M).groups()))
        for name in ("B0", "B1")
    }
    rows = text.splitlines()[60:96]
    y, x = np.array([row.split() for row in rows], dtype=np.float64).T
    return x, y, certified


def test_the_file_is_the_published_one(norris):
    x, _, certified = norris

    assert x.size == 36
    assert certified["B1"] == (1.00211681802045, 0.000429796848199937)
    assert certified["B0"] == (-0.262323073774029, 0.232818234301152)


def test_slope_and_its_standard_error_are_the_certified_ones(norris):
    x, y, certified = norris
    slope, standard_error = certified["B1"]

    got, low, high = least_squares(x, y, 0.95)

    reach = stats.t.ppf(0.975, 34) * standard_error
    assert got == pytest.approx(slope, rel=1e-12)
    assert (low, high) == pytest.approx((slope - reach, slope + reach), rel=1e-12)


def test_volts_against_amperes_give_the_certified_line(norris):
    x, y, certified = norris

    no_load_v, loop_ohm = supply_line(x, y)

    assert no_load_v == pytest.approx(certified["B0"][0], rel=1e-9)
    assert loop_ohm == pytest.approx(-certified["B1"][0], rel=1e-12)


def test_the_median_of_slopes_agrees_on_so_clean_a_line(norris):
    x, y, certified = norris

    got, low, high = theil_sen(x, y, 0.95)

    assert low <= certified["B1"][0] <= high
    assert got == pytest.approx(certified["B1"][0], abs=3 * certified["B1"][1])
