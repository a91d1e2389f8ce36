"""Thermal replica, unbalance and starts against published figures."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.physics.motor import (
    allowed_starts_per_hour,
    class_tau_s,
    least_rest_s,
    submersible_starts_per_day,
    thermal_state,
    trip_time_s,
    unbalance_pct,
)

REPLICA = (1800.0, 1.05, 10.0)  # tau_s, k, setting_a of the examples


def test_trip_times_from_cold():
    # IEC 60255-149, derived: tau 1800 s, k 1.05, Ib 10 A at 15, 12 and 60 A
    got_s = trip_time_s([15, 12, 60], *REPLICA)

    assert got_s == pytest.approx([1212.02, 2611.50, 55.9867], abs=0.005)


def test_trip_times_after_running_at_the_basic_current():
    # IEC 60255-149, derived: the same, hot after 10 A
    got_s = trip_time_s([15, 12, 60], *REPLICA, prior_a=10)

    assert got_s == pytest.approx([154.004, 477.377, 5.27916], abs=0.0005)


def test_trip_times_of_the_second_example():
    # IEC 60255-149, derived: tau 600 s, k 1, Ib 1, I 2 -> 172.609 s cold, 67.9972 s after 0.8
    got_s = trip_time_s(2.0, 600.0, 1.0, 1.0, [0.0, 0.8])

    assert got_s == pytest.approx([172.609, 67.9972], abs=0.0005)


def test_a_current_at_or_below_k_times_the_setting_never_trips():
    got_s = trip_time_s([10.5, 8.0], *REPLICA)

    assert np.isinf(got_s).all()


def test_a_motor_already_past_its_limit_trips_at_once():
    assert trip_time_s(15.0, *REPLICA, prior_a=11.0) == 0.0


def test_trip_time_keeps_shape_and_nan():
    got_s = trip_time_s(np.array([[15.0, np.nan]]), *REPLICA, prior_a=[[0.0], [np.nan]])

    assert got_s.shape == (2, 2)
    assert np.isnan(got_s).tolist() == [[False, True], [True, True]]


def test_thermal_state_of_one_step():
    # IEC 60255-149, derived: H = 0, 15 A for 600 s -> 0.578508
    got = thermal_state([0.0, 600.0], [15.0, 15.0], *REPLICA)

    assert got == pytest.approx([0.0, 0.578508], abs=5e-7)


def test_thermal_state_reaches_the_trip_at_the_trip_time():
    # IEC 60255-149: 172.609 s cold; 67.9972 s with the state of a long run at 0.8
    cold = thermal_state([0.0, 172.609], [2.0, 2.0], 600.0, 1.0, 1.0)
    hot = thermal_state([0.0, 67.9972], [2.0, 2.0], 600.0, 1.0, 1.0, start_state=0.8**2)

    assert cold[1] == pytest.approx(1.0, abs=1e-5)
    assert hot[1] == pytest.approx(1.0, abs=1e-5)


def test_a_steady_current_settles_at_its_square():
    # by hand: at k times the setting for ever the state is 1
    ts_s = np.arange(0.0, 40 * 1800.0, 60.0)

    assert thermal_state(ts_s, np.full(ts_s.size, 10.5), *REPLICA)[-1] == pytest.approx(1.0)


@given(
    steps_s=st.lists(st.floats(0.05, 5e5), min_size=1, max_size=40),
    seed=st.integers(0, 2**16),
    tau_s=st.floats(20.0, 5000.0),
)
def test_thermal_state_equals_the_step_by_step_replica(steps_s, seed, tau_s):
    ts_s = np.concatenate(([0.0], np.cumsum(steps_s)))
    current_a = np.random.default_rng(seed).uniform(0.0, 20.0, ts_s.size)
    expected = [0.3]
    for i, step_s in enumerate(np.diff(ts_s)):
        target = (current_a[i] / 10.5) ** 2
        expected.append(target + (expected[-1] - target) * np.exp(-step_s / tau_s))

    got = thermal_state(ts_s, current_a, tau_s, 1.05, 10.0, start_state=0.3)

    assert got == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_more_samples_of_the_same_current_change_nothing():
    rng = np.random.default_rng(5)
    coarse_s = np.arange(0.0, 86400.0, 300.0)
    current_a = rng.uniform(0, 16, coarse_s.size)
    fine_s = np.arange(0.0, 86400.0, 5.0)

    coarse = thermal_state(coarse_s, current_a, *REPLICA)
    fine = thermal_state(fine_s, np.repeat(current_a, 60), *REPLICA)

    assert fine[::60] == pytest.approx(coarse)


def test_a_silence_counts_as_a_stop_after_the_longest_hold():
    # by hand: 60 s at 15 A, then 940 s of cooling by exp(-940 / 1800)
    heated = thermal_state([0.0, 60.0], [15.0, 15.0], *REPLICA)[1]

    got = thermal_state([0.0, 1000.0], [15.0, 15.0], *REPLICA, longest_hold_s=60.0)

    assert got[1] == pytest.approx(heated * np.exp(-940 / 1800))


def test_an_unknown_current_counts_as_the_last_known():
    ts_s = [0.0, 60.0, 120.0, 180.0]

    got = thermal_state(ts_s, [np.nan, 15.0, np.nan, 15.0], *REPLICA)

    assert np.isnan(got[0])
    assert got[1:] == pytest.approx(thermal_state(ts_s[1:], [15.0] * 3, *REPLICA))


def test_no_known_current_is_no_state():
    got = thermal_state([0.0, 1.0], [np.nan, np.nan], *REPLICA)

    assert got.shape == (2,)
    assert np.isnan(got).all()
    assert thermal_state([], [], *REPLICA).shape == (0,)


def test_time_constants_of_trip_classes():
    # IEC 60947-4-1 Table 2 at 7.2 times the setting, classes 10, 20, 30; NEMA class 10 at 6
    # times; derived through IEC 60255-149 with k = 1
    iec_s = class_tau_s([10, 20, 30], 7.2)

    assert iec_s == pytest.approx([513.38, 1026.77, 1540.15], abs=0.005)
    assert class_tau_s(10, 6) == pytest.approx(354.98, abs=0.005)
    assert trip_time_s(7.2, iec_s, 1.0, 1.0) == pytest.approx([10, 20, 30])


def test_time_constant_at_the_setting_itself_is_unknown():
    assert np.isnan(class_tau_s([10, np.nan], [1.0, 7.2])).all()


@pytest.mark.parametrize(
    ("volts", "expected_pct", "printed_to"),
    [
        ((462, 463, 455), 1.0870, 0.00005),
        ((460, 467, 450), 1.9608, 0.00005),
        ((203, 210, 212), 2.560, 0.0005),  # a page prints 2.5, cut off
    ],
)
def test_voltage_unbalance_of_published_examples(volts, expected_pct, printed_to):
    # NEMA MG 1-12.45 and 14.36: largest deviation from the mean over the mean
    assert unbalance_pct(*volts) == pytest.approx(expected_pct, abs=printed_to)


def test_unbalance_of_equal_or_unknown_volts():
    got_pct = unbalance_pct([230, 230, 0], [230, np.nan, 0], [230, 230, 0])

    assert got_pct[0] == 0.0
    assert np.isnan(got_pct[1:]).all()


def test_starts_per_hour_with_the_load_s_inertia():
    # NEMA MG 10 Table 2-3, printed example: 25 hp, 4 poles, 50 lb ft2 -> 2.44 starts an hour
    assert allowed_starts_per_hour(25, 4, 50) == pytest.approx(2.44, abs=0.005)


def test_starts_per_hour_and_rest_of_listed_motors():
    # NEMA MG 10 Table 2-3: 1, 3 and 10 hp
    assert allowed_starts_per_hour([1, 3, 10], 2).tolist() == [15, 9.9, 6.2]
    assert allowed_starts_per_hour([1, 3, 10], 4).tolist() == [30, 19.8, 12.5]
    assert least_rest_s([1, 3, 10], 2).tolist() == [75, 80, 92]
    assert least_rest_s([1, 3, 10], 4).tolist() == [38, 40, 46]


def test_a_motor_between_two_sizes_counts_as_the_larger():
    assert allowed_starts_per_hour(4, 2) == 8.1  # as 5 hp


def test_a_light_load_leaves_the_table_s_starts():
    assert allowed_starts_per_hour(25, 4, [0.0, 1.0]).tolist() == [8.8, 8.8]


def test_motors_outside_the_table_are_unknown():
    assert np.isnan(allowed_starts_per_hour([0.5, 30, np.nan], 2)).all()
    assert np.isnan(allowed_starts_per_hour([5, 10], 6)).all()
    assert np.isnan(allowed_starts_per_hour(5, 2, [-1.0, np.nan])).all()
    assert np.isnan(least_rest_s(26, 4))


def test_submersible_starts_of_the_trade_table():
    # generic trade table: to 3/4 hp 300; 1 to 5.5 hp 100 or 300; 7.5 to 30 hp 50 or 100; 40 hp up
    # 100 (three phases only)
    hp = [0.5, 0.75, 1, 5.5, 7.5, 30, 40]

    single = submersible_starts_per_day(hp, 1)
    assert single[:6].tolist() == [300, 300, 100, 100, 50, 50]
    assert np.isnan(single[6])
    assert submersible_starts_per_day(hp, 3).tolist() == [300, 300, 300, 300, 100, 100, 100]


def test_submersible_starts_spread_over_a_day():
    # derived: 100 in 24 h is 4.1667 an hour, 300 is 12.5
    assert submersible_starts_per_day(5, 1) / 24 == pytest.approx(4.1667, abs=0.00005)
    assert submersible_starts_per_day(5, 3) / 24 == pytest.approx(12.5)


def test_a_soft_start_allows_more_starts_of_middling_three_phase_motors():
    # generic trade table: up to 200 with a soft start or drive
    assert submersible_starts_per_day([10, 40], 3, is_soft_started=True).tolist() == [200, 100]
    assert submersible_starts_per_day(10, 1, is_soft_started=True) == 50


def test_submersible_motors_outside_the_table_are_unknown():
    assert np.isnan(submersible_starts_per_day([0, -1, np.nan], 3)).all()
    assert np.isnan(submersible_starts_per_day(5, 2))
