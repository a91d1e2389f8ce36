"""Expected current: a law built into the bins comes back, odd bins do not lead it."""

from dataclasses import replace
from time import process_time

import numpy as np
import pytest

from analysis.expected_current import fit_expected_current
from analysis.records import OpMapBin
from ingest.installed_base import Pump
from ingest.weeks import Week

FIRST = Week(2026, 40)
PUMP = Pump(pump_id="P-1", site_id="S-1", pressure_setting_kpa=400.0, suction_kpa=0.0)


def law_a(frequency_hz, boost_kpa):
    """Magnetising part, and a torque of f^2 times a falling function of boost/f^2."""
    speed = frequency_hz / 60.0
    return 1.8 + 5.0 * speed**2 - 0.002 * boost_kpa


def op_bin(week, hz, pct, current_a, *, held_s=1200.0, suction_kpa=None):
    return OpMapBin(
        pump_id="P-1",
        week=str(FIRST.plus(week)),
        frequency_bin_hz=2.0 * (hz // 2.0),
        pressure_bin_pct=pct,
        n=200,
        held_s=held_s,
        frequency_mean_hz=hz,
        pressure_mean_kpa=4.0 * (pct + 2.5),
        current_mean_a=current_a,
        suction_mean_kpa=suction_kpa,
    )


def weeks_of(n, *, seed=47, noise=0.005, scale=1.0, suction_swing_kpa=None):
    rng = np.random.default_rng(seed)
    maps = []
    for week in range(n):
        bins = []
        for low_hz in range(42, 58, 2):
            for pct in (90.0, 95.0):
                hz = low_hz + rng.uniform(0.3, 1.7)
                suction = None if suction_swing_kpa is None else rng.uniform(0, suction_swing_kpa)
                boost_kpa = 4.0 * (pct + 2.5) - (suction or 0.0)
                a = scale * law_a(hz, boost_kpa) * (1 + rng.normal(0, noise))
                bins.append(op_bin(week, hz, pct, a, suction_kpa=suction))
        maps.append(tuple(bins))
    return maps


def test_a_law_built_into_the_bins_comes_back():
    got = fit_expected_current(weeks_of(5), PUMP)

    for hz in (43.0, 50.0, 56.0):
        expected_a, low_a, high_a = got.predict(hz, 385.0)
        assert expected_a == pytest.approx(law_a(hz, 385.0), rel=0.01)  # noise of 0.5 % a bin
        assert low_a < law_a(hz, 385.0) < high_a
    assert (got.n_weeks, got.n_bins, got.n_peers) == (5, 80, 0)
    assert not got.includes_week_judged
    assert 0.2 < got.validation_error_pct < 1.2


def test_the_interval_holds_new_bins_about_as_often_as_it_says():
    got = fit_expected_current(weeks_of(6, noise=0.02), PUMP)
    new = [b for week in weeks_of(20, seed=1, noise=0.02) for b in week]
    seen = [(b, got.predict(b.frequency_mean_hz, b.pressure_mean_kpa)) for b in new]

    inside = [p[1] <= b.current_mean_a <= p[2] for b, p in seen if p is not None]

    assert 0.90 <= np.mean(inside) <= 0.99


def test_odd_bins_do_not_lead_the_fit():
    maps = weeks_of(5)
    spoiled = [
        tuple(
            replace(b, current_mean_a=0.5 * b.current_mean_a) if (n + 3 * at) % 8 == 0 else b
            for n, b in enumerate(week)
        )
        for at, week in enumerate(maps)
    ]

    clean, got = fit_expected_current(maps, PUMP), fit_expected_current(spoiled, PUMP)

    for hz in (44.0, 50.0, 55.0):
        assert got.predict(hz, 385.0)[0] == pytest.approx(clean.predict(hz, 385.0)[0], rel=0.02)


def test_nothing_is_said_outside_the_range_that_was_seen():
    got = fit_expected_current(weeks_of(5), PUMP)

    assert got.predict(30.0, 385.0) is None
    assert got.predict(60.0, 385.0) is None
    assert got.predict(50.0, 200.0) is None
    assert got.predict(50.0, 385.0) is not None


def test_a_speed_is_judged_without_its_pressure_and_less_surely_beyond_what_was_seen():
    got = fit_expected_current(weeks_of(5), PUMP)

    inside, beyond = got.at_frequency(50.0), got.at_frequency(60.0)

    assert inside[0] == pytest.approx(law_a(50.0, 380.0), rel=0.02)
    assert beyond[0] == pytest.approx(law_a(60.0, 380.0), rel=0.05)
    assert beyond[2] - beyond[1] > 1.1 * (inside[2] - inside[1])
    assert got.at_frequency(70.0) is None
    assert got.at_frequency(35.0) is None


def test_too_few_bins_are_no_expectation():
    assert fit_expected_current([], PUMP) is None
    assert fit_expected_current([()], PUMP) is None
    assert fit_expected_current([week[:3] for week in weeks_of(3)], PUMP) is None


def test_currents_that_follow_nothing_are_no_expectation():
    rng = np.random.default_rng(47)
    maps = [
        tuple(replace(b, current_mean_a=rng.uniform(1.0, 9.0)) for b in week)
        for week in weeks_of(4)
    ]

    assert fit_expected_current(maps, PUMP) is None


def test_the_week_judged_is_left_out_where_earlier_weeks_suffice():
    maps = weeks_of(4)
    sick = tuple(replace(b, current_mean_a=1.2 * b.current_mean_a) for b in maps[-1])
    name = sick[0].week

    got = fit_expected_current([*maps[:-1], sick], PUMP, name)

    assert not got.includes_week_judged
    off_pct, half_pct = got.residual_pct(sick)
    assert off_pct == pytest.approx(20.0, abs=1.0)
    assert half_pct < 5.0


def test_a_short_history_says_that_the_week_judged_is_part_of_it():
    maps = weeks_of(2)

    got = fit_expected_current(maps, PUMP, maps[-1][0].week)

    assert got.includes_week_judged
    assert got.n_weeks == 2


def test_other_pumps_of_the_model_stand_in_for_a_short_history_at_this_pumps_level():
    own = [weeks_of(1)[0][:8], weeks_of(2)[1]]
    peers = [weeks_of(5, seed=n, scale=scale) for n, scale in ((1, 1.1), (2, 0.9))]

    got = fit_expected_current(own, PUMP, own[-1][0].week, peers)

    assert (got.n_peers, got.includes_week_judged) == (2, False)
    assert got.predict(55.0, 385.0)[0] == pytest.approx(law_a(55.0, 385.0), rel=0.02)


def test_a_swinging_suction_is_taken_out():
    got = fit_expected_current(weeks_of(6, suction_swing_kpa=200.0), PUMP)

    expected_a, _, _ = got.predict(50.0, 385.0, suction_kpa=150.0)
    assert expected_a == pytest.approx(law_a(50.0, 235.0), rel=0.01)


def test_running_with_the_pressure_gone_is_not_learned():
    maps = weeks_of(5)
    dry = [op_bin(n, 59.5, 10.0, 2.0, held_s=50_000.0) for n in range(5)]

    got = fit_expected_current([(*week, d) for week, d in zip(maps, dry, strict=True)], PUMP)

    assert got.n_bins == 80
    assert got.residual_pct(dry) is None


def test_the_same_bins_give_the_same_fit():
    first, second = (fit_expected_current(weeks_of(5), PUMP) for _ in range(2))

    assert first.predict(50.0, 385.0) == second.predict(50.0, 385.0)


def test_the_fit_agrees_with_scikit_learns_own_huber_regressor():
    # Second opinion: the same loss minimised by a general optimiser, on the same points
    from sklearn.linear_model import HuberRegressor
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import FunctionTransformer, StandardScaler

    from analysis.expected_current import _basis

    bins = [b for week in weeks_of(5) for b in week]
    points = np.array([[b.frequency_mean_hz, b.pressure_mean_kpa] for b in bins])
    other = make_pipeline(
        FunctionTransformer(_basis), StandardScaler(), HuberRegressor(alpha=1e-5, max_iter=2000)
    ).fit(points, [b.current_mean_a for b in bins])
    got = fit_expected_current([tuple(bins)], PUMP)

    for hz in (44.0, 50.0, 56.0):
        theirs_a = float(other.predict(np.array([[hz, 385.0]]))[0])
        assert got.predict(hz, 385.0)[0] == pytest.approx(theirs_a, rel=0.005)


def test_a_fit_takes_milliseconds():
    maps = weeks_of(6)
    fit_expected_current(maps, PUMP)  # the import is not timed

    began = process_time()
    for _ in range(5):
        fit_expected_current(maps, PUMP)
    took_s = (process_time() - began) / 5

    assert took_s < 0.05  # some 7 ms on an idle core
