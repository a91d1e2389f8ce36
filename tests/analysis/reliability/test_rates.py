from math import inf

import numpy as np
import pytest
from scipy.stats import binom, binomtest, false_discovery_control, fisher_exact

from analysis.reliability.rates import (
    Stratum,
    chance_tails,
    false_discovery,
    stratified_tails,
    time_between_limits,
)


def test_time_between_events_has_the_e_handbooks_limits():
    low, high = time_between_limits(800.0, 2, level=0.90)

    # formula of NIST e-Handbook 8.4.5.1, worked by hand with chi-squared tables
    assert low == pytest.approx(127.069, abs=5e-4)
    assert high == pytest.approx(2251.229, abs=5e-4)


def test_without_an_event_only_a_lower_limit_is_known():
    assert time_between_limits(800.0, 0) == (pytest.approx(267.047, abs=5e-4), inf)


def test_a_group_is_compared_with_the_others_by_the_exact_binomial():
    more, less = chance_tails(7, 20.0, 12, 120.0)

    # Przyborowski and Wilenski 1940: 7 in 20 against 12 in 120 pump-years, worked by hand
    assert more == pytest.approx(0.012612, abs=5e-7)
    second = binomtest(7, 19, 20.0 / 140.0, alternative="less")
    assert less == pytest.approx(second.pvalue)


def test_one_stratum_is_the_plain_comparison():
    stratified = stratified_tails([Stratum(events=7, exposure=20.0, others=12, rest=120.0)])

    assert (stratified.more, stratified.less) == pytest.approx(chance_tails(7, 20.0, 12, 120.0))
    assert stratified.expected == pytest.approx(19 * 20 / 140)


def test_strata_that_hold_only_the_group_tell_nothing():
    stratified = stratified_tails(
        [
            Stratum(events=9, exposure=20.0, others=0, rest=0.0),
            Stratum(events=0, exposure=0.0, others=1, rest=50.0),
        ]
    )

    assert (stratified.events, stratified.expected) == (0, 0.0)
    assert stratified.more == stratified.less == 1.0


def test_a_difference_that_comes_from_the_strata_alone_goes_when_they_are_compared_apart():
    # the group stands mostly where everybody has many events: same rates within each stratum
    strata = [
        Stratum(events=40, exposure=100.0, others=4, rest=10.0),
        Stratum(events=1, exposure=10.0, others=10, rest=100.0),
    ]

    plain, _ = chance_tails(41, 110.0, 14, 110.0)
    stratified = stratified_tails(strata)

    assert plain < 0.001
    assert stratified.events == pytest.approx(stratified.expected, abs=1e-9)
    assert stratified.more > 0.4


def test_benjamini_and_hochbergs_own_example_rejects_the_first_four():
    # Benjamini and Hochberg 1995, section 3.2: 15 comparisons, q = 0.05
    chances = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
        0.5719, 0.6528, 0.7590, 1.0000,
    ]  # fmt: skip

    adjusted = false_discovery(chances)

    assert (adjusted <= 0.05).tolist() == [True] * 4 + [False] * 11


def test_nothing_to_adjust_stays_nothing():
    assert false_discovery([]).size == 0


def test_two_by_two_counts_agree_with_fishers_test_where_rates_are_small():
    # 6 of 1000 against 2 of 1000: a share so small is as good as a Poisson count
    more, _ = chance_tails(6, 1000.0, 2, 1000.0)

    fisher = fisher_exact([[6, 994], [2, 998]], alternative="greater").pvalue
    assert more == pytest.approx(fisher, rel=0.02)
    assert not np.isnan(more)


@pytest.mark.parametrize("n", [1, 2, 7, 40])
def test_many_chances_are_adjusted_as_scipy_does(n):
    chances = np.round(np.random.default_rng(n).uniform(size=n) ** 3, 2)  # with ties

    np.testing.assert_allclose(false_discovery(chances), false_discovery_control(chances))


def test_tails_over_strata_are_those_of_scipys_binomials():
    strata = [
        Stratum(events=events, exposure=exposure, others=others, rest=rest)
        for events, exposure, others, rest in (
            (3, 20.0, 30, 120.0),
            (0, 5.0, 400, 90.0),
            (9, 60.0, 3, 10.0),
        )
    ]
    chances = np.ones(1)
    for one in strata:
        n = one.events + one.others
        share = one.exposure / (one.exposure + one.rest)
        chances = np.convolve(chances, binom.pmf(np.arange(n + 1), n, share))

    found = stratified_tails(strata)

    assert found.more == pytest.approx(chances[12:].sum(), rel=1e-10)
    assert found.less == pytest.approx(chances[:13].sum(), rel=1e-10)
