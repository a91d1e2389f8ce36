import numpy as np
import pytest

from analysis.reliability.trend_tests import handbook_test, laplace_test

# NIST/SEMATECH e-Handbook 8.4.5.2, stopped at 1500 h
NIST_H = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# Modarres et al., example 5.11: times between failures, watched to the last
BETWEEN = [
    104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106, 140, 1, 102, 3, 393,
    96, 232, 89, 61, 37, 293, 7, 165, 87, 99,
]  # fmt: skip
# A reliability wiki's Laplace example, T = 2000 (data from memory, its U read)
WIKI = [1.2, 55.6, 72.7, 111.9, 121.9, 303.6, 326.9, 1568.4, 1913.5]


def test_laplace_gives_the_wikis_printed_value_for_an_improving_system():
    test = laplace_test([WIKI], [2000])

    assert test.statistic == pytest.approx(-2.6121, abs=5e-5)
    assert test.chance_better < 0.005 < test.chance_worse


def test_laplace_gives_the_textbooks_value_for_a_worsening_system():
    at = np.cumsum(BETWEEN)

    test = laplace_test([at], [at[-1]], is_ended_by_event=True)

    assert test.statistic == pytest.approx(2.409, abs=5e-4)  # Modarres et al., example 5.11
    assert test.n == 29


def test_the_handbook_test_gives_chi_squared_of_the_e_handbooks_case():
    test = handbook_test([NIST_H], [1500])

    # formula of NIST e-Handbook 8.2.3.4 on the data of 8.4.5.2, worked by hand
    assert test.statistic == pytest.approx(37.2281, abs=5e-5)
    assert test.chance_better == pytest.approx(0.010986, abs=5e-7)


def test_the_handbook_test_leaves_out_the_event_that_ended_the_watch():
    at = np.cumsum(BETWEEN)

    test = handbook_test([at], [at[-1]], is_ended_by_event=True)

    assert test.statistic == pytest.approx(37.7821, abs=5e-5)  # on 58 degrees, worked by hand
    assert test.chance_worse == pytest.approx(0.018291, abs=5e-7)


def test_systems_that_joined_late_make_no_trend():
    ends = [50.0] * 40 + [5.0] * 200
    at = [[end / 2.0] for end in ends]

    test = laplace_test(at, ends)

    assert test.statistic == pytest.approx(0.0)  # each event half-way through its own watch


def test_the_chances_hold_what_they_say_for_steady_rates():
    rng = np.random.default_rng(1)
    low = []
    for _ in range(2000):
        ends = [52.0, 30.0, 12.0]
        at = [end * rng.uniform(size=rng.poisson(0.1 * end)) for end in ends]
        tests = [laplace_test(at, ends), handbook_test(at, ends)]
        low.append([t.chance_worse < 0.05 for t in tests if t is not None] or [False, False])

    share = np.mean(np.array(low), axis=0)

    assert share == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 2000))  # 4 standard errors


@pytest.mark.parametrize("test", [laplace_test, handbook_test])
def test_without_an_event_there_is_nothing_to_test(test):
    assert test([[], []], [10.0, 20.0]) is None
