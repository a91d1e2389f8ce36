import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma, poisson

from analysis.reliability.shrinkage import GammaPrior, fit_prior, shrunk

# George, Makov and Smith 1993 (the "Pumps" example of open Bayesian packages): failures of ten
# power-plant pumps and their thousands of hours
FAILURES = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
HOURS = [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48]


def test_ten_pumps_rates_come_out_as_the_published_model_has_them():
    middle, low, high = shrunk(fit_prior(FAILURES, HOURS), FAILURES, HOURS)

    # the example's printed posterior means; they also carry the prior's own uncertainty, which
    # moves the two pumps with one failure most
    published = [
        0.0597, 0.0998, 0.0890, 0.1162, 0.6037, 0.6089, 0.8943, 0.8843, 1.5624, 1.9879,
    ]  # fmt: skip
    assert middle == pytest.approx(published, rel=0.15)
    assert middle[[0, 3, 5, 9]] == pytest.approx([0.0597, 0.1162, 0.6089, 1.9879], rel=0.025)
    assert np.all((low < middle) & (middle < high))


def test_the_fitted_gamma_makes_the_counts_likelier_than_its_neighbours():
    fitted = fit_prior(FAILURES, HOURS)

    def likelihood(prior: GammaPrior) -> float:  # by integration, without the closed form
        rate = gamma(prior.shape, scale=prior.mean / prior.shape)

        def chance(k: int, e: float) -> float:
            return quad(lambda x: poisson.pmf(k, x * e) * rate.pdf(x), 0, 20, limit=200)[0]

        return sum(np.log(chance(k, e)) for k, e in zip(FAILURES, HOURS, strict=True))

    best = likelihood(fitted)
    for by in (0.9, 1.1):
        assert best > likelihood(GammaPrior(shape=fitted.shape * by, mean=fitted.mean))
        assert best > likelihood(GammaPrior(shape=fitted.shape, mean=fitted.mean * by))


def test_a_small_group_is_drawn_in_further_than_a_large_one():
    events = [2, 200, 30, 25, 35, 28]
    exposure = [5.0, 500.0, 300.0, 250.0, 340.0, 290.0]

    middle, _, _ = shrunk(fit_prior(events, exposure), events, exposure)

    plain = np.array(events) / np.array(exposure)
    assert plain[0] == plain[1] == 0.4
    assert middle[0] < middle[1] < 0.4


def test_groups_that_do_not_differ_all_get_the_rate_of_all():
    middle, _, _ = shrunk(fit_prior([10, 11, 9, 10], [100.0] * 4), [10, 11, 9, 10], [100.0] * 4)

    assert middle == pytest.approx(0.1, rel=0.01)


@pytest.mark.parametrize(("events", "exposure"), [([3, 4], [10.0, 10.0]), ([0, 0, 0], [1.0] * 3)])
def test_too_few_groups_or_no_event_leave_no_prior(events, exposure):
    assert fit_prior(events, exposure) is None
