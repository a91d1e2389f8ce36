"""The quiet window and what it shows."""

import numpy as np
import pytest

WEEK_S = 7 * 86400.0
HOUR_S = 3600.0


def clock_hour(t_s):
    return (t_s % 86400.0) / HOUR_S


def home(t_s, busy=(6.0, 23.0)):
    """A home: ten minutes of running in every twenty of its busy hours, else stopped."""
    is_busy = (clock_hour(t_s) >= busy[0]) & (clock_hour(t_s) < busy[1])
    return np.where(is_busy & (t_s % 1200 < 600), 48.0, 0.0)


def test_the_window_lies_where_nobody_draws(measure):
    t_s = np.arange(0.0, WEEK_S, 30.0)

    week = measure(t_s, frequency_hz=home(t_s), pressure_kpa=400.0).week

    assert week.quiet_from_hour == 2  # 23:00 to 06:00 is quiet; nearest 02:00 is taken
    assert week.n_nights == 7
    assert week.quiet_n_starts == 0


def test_a_site_that_irrigates_at_night_is_quiet_by_day(measure):
    t_s = np.arange(0.0, WEEK_S, 30.0)
    hz = home(t_s, busy=(6.0, 9.0))
    hz = np.where((clock_hour(t_s) >= 22) | (clock_hour(t_s) < 6), 55.0, hz)

    week = measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week

    assert week.quiet_from_hour in (9, 19)
    assert week.quiet_run_share == 0.0


def test_the_window_is_local_time(measure):
    t_s = np.arange(0.0, WEEK_S, 30.0)

    week = measure(t_s, timezone="Asia/Kathmandu", frequency_hz=home(t_s), pressure_kpa=400.0).week

    assert week.quiet_from_hour == 2


def test_a_night_half_seen_is_no_night(measure):
    t_s = np.arange(0.0, WEEK_S, 30.0)
    t_s = t_s[(t_s > 86400) | (t_s < 3.5 * HOUR_S)]  # Monday's log ends at 03:30

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=400.0)

    assert record.week.n_nights == 6
    assert record.days[0].night_observed_share == pytest.approx(0.5, abs=0.01)


def test_pressure_that_keeps_all_night_is_flat(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    psi = np.round(60 + np.random.default_rng(1).normal(0, 0.05, t_s.size), 1)

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=psi * 6.894757)

    assert record.week.quiet_flat_share == 1.0
    assert record.days[2].night_flat_s == 3 * HOUR_S


def test_falls_between_runs_that_a_slow_log_missed_are_not_flat(measure):
    # a leak of 34 kPa in 5 min, refilled between two samples: means of 5 min are all alike
    t_s = np.arange(0.0, WEEK_S, 60.0)
    p_kpa = 414 - 34 * (t_s % 300) / 300

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=p_kpa)

    assert record.days[2].night_flat_s == 0.0
    assert record.week.quiet_flat_share == 0.0


def test_a_slow_sink_is_not_flat(measure):
    # 5 psi in three hours: each five minutes sink by little more than the resolution
    t_s = np.arange(0.0, WEEK_S, 10.0)
    sunk = np.clip(clock_hour(t_s) - 2.0, 0.0, 3.0) * 5 / 3
    psi = np.round(60 - sunk + np.random.default_rng(1).normal(0, 0.05, t_s.size), 1)

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=psi * 6.894757)

    assert record.week.quiet_flat_share < 0.2
    assert record.days[2].night_flat_s < HOUR_S


def test_a_hold_between_two_draws_is_seen(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    draws = ((clock_hour(t_s) >= 2.5) & (clock_hour(t_s) < 2.6)).astype(float)
    hz = np.where(draws > 0, 48.0, home(t_s))

    record = measure(t_s, frequency_hz=hz, pressure_kpa=np.where(draws > 0, 380.0, 400.0))

    assert record.days[2].night_flat_s == pytest.approx(2.3 * HOUR_S, abs=600)
    assert record.week.quiet_flat_share > 0.9


def test_a_hold_between_small_fills_is_seen(measure):
    # a fill every 13 min takes 14 kPa and the fifth ends the stop: as steep in the mean as a leak
    # of 1.1 kPa/min, which cannot keep pressure for ten minutes
    t_s = np.arange(0.0, WEEK_S, 10.0)
    n_taken = t_s // 780.0 % 5
    is_refill = t_s % 3900.0 < 40.0

    def flat_s(p_kpa):
        hz = np.where(is_refill, 48.0, home(t_s))
        logged_kpa = np.round(p_kpa + np.random.default_rng(1).normal(0, 0.1, t_s.size), 1)
        return measure(t_s, frequency_hz=hz, pressure_kpa=logged_kpa).days[2].night_flat_s

    assert flat_s(414.0 - 14.0 * n_taken) == 600.0
    assert flat_s(414.0 - 1.1 * (t_s % 3900.0) / 60.0) == 0.0


@pytest.mark.parametrize(("interval_s", "is_seen"), [(60.0, True), (300.0, False)])
def test_a_few_samples_alike_are_no_hold(measure, interval_s, is_seen):
    # stops of 20 min: four samples where one comes every 5 min
    t_s = np.arange(0.0, WEEK_S, interval_s)
    hz = np.where(t_s % 1500.0 < 300.0, 48.0, 0.0)

    record = measure(t_s, frequency_hz=hz, pressure_kpa=400.0)

    assert (record.days[2].night_flat_s > 0.0) is is_seen


def test_water_that_warms_and_rises_counts_as_holding(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=400 + 3 * clock_hour(t_s))

    assert record.week.quiet_flat_share == 1.0


def test_a_pump_that_never_stops_shows_its_floor(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    rng = np.random.default_rng(1)
    hz = np.where(home(t_s) > 0, 52.0, 47.0) + rng.normal(0, 0.2, t_s.size)

    record = measure(t_s, frequency_hz=hz, pressure_kpa=400.0)

    assert record.week.quiet_never_stopped_nights == 7
    assert record.week.quiet_floor_hz == pytest.approx(47.0, abs=0.5)
    assert all(day.night_never_stopped for day in record.days)


def test_one_stop_in_the_night_and_it_did_stop(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    is_off = (clock_hour(t_s) >= 3.0) & (clock_hour(t_s) < 3.05)
    hz = np.where(is_off, 0.0, np.where(home(t_s) > 0, 52.0, 47.0))

    assert measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week.quiet_never_stopped_nights == 0


def test_the_flow_floor_is_the_least_quarter_of_an_hour(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    flow = np.where(clock_hour(t_s) % 1 < 0.5, 0.4, 6.0)

    record = measure(t_s, frequency_hz=home(t_s), pressure_kpa=400.0, flow_lpm=flow)

    assert record.week.quiet_flow_floor_lpm == pytest.approx(0.4)


def test_restarts_are_timed_inside_one_night_only(measure, leaking_tank):
    week = measure(**leaking_tank(leak_lpm=0.1, interval_s=5.0)).week

    # 0.90691 L at 0.1 L/min is 9.069 min, and 25 s of running
    assert week.quiet_restart_s_median == pytest.approx(0.90691 / 0.1 * 60 + 25, abs=5)
    assert week.quiet_restart_cv < 0.02


@pytest.mark.parametrize("interval_s", [30.0, 60.0])
def test_runs_a_slow_log_misses_still_count_as_restarts(measure, leaking_tank, interval_s):
    week = measure(**leaking_tank(leak_lpm=0.05, interval_s=interval_s)).week

    assert week.quiet_n_unseen_runs > 0
    assert week.quiet_restart_s_median == pytest.approx(18.138 * 60 + 25, abs=interval_s)


def test_a_fast_log_misses_no_runs(measure, leaking_tank):
    assert measure(**leaking_tank(leak_lpm=0.05, interval_s=5.0)).week.n_unseen_runs == 0
