import numpy as np
import pytest

from analysis.reliability.power_law import (
    fit_counts,
    fit_power_law,
    fit_systems,
    misfit,
    nist_fit,
)

# NIST/SEMATECH e-Handbook 8.4.5.2: hours of failures, test stopped at 1500 h
NIST_H = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# MIL-HDBK-189 (1981), appendix C: 27 failures up to 300
HANDBOOK = [
    2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1,
    101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1,
]  # fmt: skip
# Modarres et al., Reliability Engineering and Risk Analysis, example 5.11: times between failures
BETWEEN = [
    104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106, 140, 1, 102, 3, 393,
    96, 232, 89, 61, 37, 293, 7, 165, 87, 99,
]  # fmt: skip
# A reliability wiki's Crow-AMSAA example, watched to the last failure
TO_LAST = [
    2.7, 10.3, 12.5, 30.6, 57.0, 61.3, 80.0, 109.5, 125.0, 128.6, 143.8, 167.9, 229.2, 296.7,
    320.6, 328.2, 366.2, 396.7, 421.1, 438.2, 501.2, 620.0,
]  # fmt: skip
# Crow 1974, three systems watched to 200 (data and result from memory)
THREE = [
    [4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
    [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
    [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8],
]  # fmt: skip


def test_a_watch_to_a_set_age_gives_the_handbooks_fit():
    fitted = fit_power_law(HANDBOOK, 300)

    # MIL-HDBK-189 appendix C prints 0.716, 0.454 and a time between failures of 15.5
    assert fitted.shape == pytest.approx(0.716, abs=5e-4)
    assert fitted.scale == pytest.approx(0.454, abs=5e-4)
    assert fitted.time_between_now == pytest.approx(15.5, abs=0.05)
    assert fitted.shape_unbiased == pytest.approx(0.689808, abs=5e-7)  # (n - 1) / sum, by hand


def test_the_handbooks_events_lie_as_near_to_the_law_as_it_says():
    assert misfit(HANDBOOK, 300) == pytest.approx(0.091, abs=5e-4)  # MIL-HDBK-189 appendix C


def test_the_e_handbooks_case_comes_out_with_its_limits():
    fitted, low, high = nist_fit(NIST_H, 1500, level=0.80)

    # NIST e-Handbook 8.4.5.2: 1 - beta 0.4835, a 0.2913, MTBF 310.234 h, 157.7 to 548.6 h
    assert fitted.shape == pytest.approx(0.483506, abs=5e-7)
    assert fitted.scale == pytest.approx(0.2913, abs=5e-5)
    assert fitted.time_between_now == pytest.approx(310.234, abs=5e-4)
    assert (low, high) == (pytest.approx(157.7139, abs=5e-4), pytest.approx(548.5565, abs=1e-3))


def test_a_watch_to_the_last_event_gives_the_textbooks_fit():
    at = np.cumsum(BETWEEN)

    fitted = fit_power_law(at, at[-1], is_ended_by_event=True)

    # Modarres et al., example 5.11, as an open library prints it
    assert fitted.shape == pytest.approx(1.588, abs=5e-4)
    assert fitted.scale == pytest.approx(3.703e-5, abs=5e-9)


def test_another_watch_to_the_last_event_gives_its_printed_fit():
    fitted = fit_power_law(TO_LAST, 620.0, is_ended_by_event=True)

    assert fitted.shape == pytest.approx(0.6142, abs=5e-5)
    assert fitted.scale == pytest.approx(0.4239, abs=5e-5)
    assert fitted.shape_unbiased == pytest.approx(fitted.shape * 20 / 22)


def test_counts_by_span_give_the_handbooks_grouped_fit():
    fitted = fit_counts([20, 40, 60, 80, 100], [13, 16, 5, 8, 7])

    # MIL-HDBK-189 grouped data: 0.753 and 1.53, time between failures 2.71
    assert fitted.shape == pytest.approx(0.752851, abs=5e-7)
    assert fitted.scale == pytest.approx(1.529306, abs=5e-6)
    assert fitted.time_between_now == pytest.approx(2.710784, abs=5e-6)


def test_three_alike_systems_share_one_law():
    fitted = fit_systems(THREE, [200.0] * 3)

    assert fitted.n == 36
    assert fitted.shape == pytest.approx(0.615, abs=5e-4)  # Crow 1974, from memory
    assert fitted.scale == pytest.approx(0.461, abs=6e-4)


def test_systems_watched_for_unequal_times_get_the_law_they_were_drawn_from():
    rng = np.random.default_rng(47)
    ends = rng.uniform(20.0, 100.0, 400)
    at = []
    for end in ends:
        n = rng.poisson(0.01 * end**1.5)
        at.append(end * rng.uniform(size=n) ** (1 / 1.5))  # given n, ages are so spread

    fitted = fit_systems(at, list(ends))

    assert fitted.shape == pytest.approx(1.5, abs=4 * 1.5 / np.sqrt(fitted.n))  # 4 standard errors
    assert fitted.rate_now == pytest.approx(0.01 * 1.5 * max(ends) ** 0.5, rel=0.15)


def test_one_system_of_several_is_that_systems_own_fit():
    alone = fit_power_law(NIST_H, 1500)

    together = fit_systems([NIST_H], [1500])

    assert together.shape == pytest.approx(alone.shape)
    assert together.scale == pytest.approx(alone.scale)


@pytest.mark.parametrize("at", [[], [5.0], [0.0, 2.0], [2.0, 7.0]])
def test_what_leaves_no_law_is_refused(at: list[float]):
    with pytest.raises(ValueError, match="event"):
        fit_power_law(at, 5.0)


def test_counts_all_in_the_first_span_leave_no_law():
    with pytest.raises(ValueError, match="no power law"):
        fit_counts([1, 2, 3], [0, 0, 0])
