"""Falls: slopes and what they mean in litres, against leaks built into a Boyle tank."""

import numpy as np
import pytest

from analysis.measure.falls import (
    Points,
    StopRanges,
    fall_points,
    fit_falls,
    steepest_falls,
    stop_ranges,
    unseen_runs,
)

PSI_KPA = 6.894757
GAL_L = 3.785412
TANK = {"tank_l": 4.4 * GAL_L, "precharge_kpa": 42 * PSI_KPA, "pressure_setting_kpa": 60 * PSI_KPA}


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0])
@pytest.mark.parametrize("leak_lpm", [0.02, 0.05, 0.3, 1.0])
def test_a_known_leak_comes_back_within_five_percent(measure, leaking_tank, leak_lpm, interval_s):
    made = leaking_tank(
        leak_lpm=leak_lpm, interval_s=interval_s, noise_psi=0.1, step_psi=0.1, length_s=3 * 86400
    )

    week = measure(**made, register=TANK).week

    assert week.quiet_n_falls > 10
    assert week.quiet_leak_lpm_p50 == pytest.approx(leak_lpm, rel=0.05)


@pytest.mark.parametrize("interval_s", [30.0, 60.0])
@pytest.mark.parametrize("leak_lpm", [0.02, 0.05])
def test_a_small_leak_comes_back_from_a_slow_log(measure, leaking_tank, leak_lpm, interval_s):
    made = leaking_tank(leak_lpm=leak_lpm, interval_s=interval_s, noise_psi=0.1, step_psi=0.1)

    week = measure(**made, register=TANK).week

    assert week.quiet_leak_lpm_p50 == pytest.approx(leak_lpm, rel=0.05)


def test_a_slow_log_with_few_samples_a_stop_still_gives_a_slope(measure, leaking_tank):
    # stops of 3 min hold three samples at 60 s: the ends' difference, rounded to 0.1 psi
    made = leaking_tank(leak_lpm=0.3, interval_s=60.0, step_psi=0.1)

    week = measure(**made, register=TANK).week

    assert week.quiet_leak_lpm_p50 == pytest.approx(0.3, rel=0.10)


def test_water_between_two_pressures_is_the_published_drawdown(measure, leaking_tank):
    # Boyle's law as in The Driller, Feb. 2006, at 4.4 gal, 42 psi pre-charge, 60 to 55 psi:
    # 0.90691 L; 0.05 L/min then takes 18.138 min to restart the pump (derived)
    made = leaking_tank(leak_lpm=0.05, interval_s=1.0, length_s=2 * 86400)

    week = measure(**made, register=TANK).week

    assert (week.quiet_restart_s_median - 25.0) / 60 == pytest.approx(18.138, abs=1 / 60)
    assert week.stop_s_median / 60 == pytest.approx(18.138, abs=1 / 60)


def test_the_tank_is_as_stiff_as_its_compliance_says(measure, leaking_tank):
    # 20 gal, pre-charge 38 psi, at 60 psi: C = 0.10370 L/kPa (Boyle's law differentiated)
    made = leaking_tank(
        leak_lpm=0.3,
        interval_s=1.0,
        tank_gal=20.0,
        precharge_psi=38.0,
        refill_s=600.0,
        length_s=86400,
    )

    week = measure(**made, register={"tank_l": 20 * GAL_L, "precharge_kpa": 38 * PSI_KPA}).week

    assert 1 / week.stored_kpa_per_l == pytest.approx(0.10370, rel=0.002)


def test_without_a_tank_in_the_register_there_are_slopes_and_no_litres(measure, leaking_tank):
    week = measure(**leaking_tank(leak_lpm=0.05, interval_s=10.0)).week

    assert week.quiet_leak_lpm_p50 is None
    assert week.stored_kpa_per_l is None
    # 5 psi in 18.138 min
    assert week.quiet_fall_p50_kpa_per_min == pytest.approx(5 * PSI_KPA / 18.138, rel=0.02)


def test_blank_pressures_do_not_bias_the_slope(measure, leaking_tank):
    made = leaking_tank(leak_lpm=0.05, interval_s=5.0)
    blank = np.random.default_rng(3).random(made["t_s"].size) < 0.3
    made["pressure_kpa"] = np.where(blank, np.nan, made["pressure_kpa"])

    week = measure(**made, register=TANK).week

    assert week.quiet_leak_lpm_p50 == pytest.approx(0.05, rel=0.05)


def test_a_fall_that_ends_below_the_precharge_has_no_litres(measure, leaking_tank):
    made = leaking_tank(leak_lpm=0.05, interval_s=10.0)
    made["register"] = {**TANK, "precharge_kpa": 61 * PSI_KPA}

    week = measure(**made).week

    assert week.n_falls > 100
    assert week.quiet_leak_lpm_p50 is None


def test_a_flat_stop_of_a_few_seconds_tells_nothing(make_trace):
    rng = np.random.default_rng(0)
    t_s = np.arange(0.0, 36000.0)
    is_off = t_s % 60 < 20
    psi = np.round(60 + rng.normal(0, 0.05, t_s.size), 1)

    week = make_trace(t_s, pressure_kpa=psi * PSI_KPA, frequency_hz=np.where(is_off, 0.0, 45.0))
    found = fit_falls(
        fall_points(week, stop_ranges(week, unseen_runs(week))), week.pressure_step_kpa
    )

    assert found.from_s.size == 0


def test_a_long_flat_stop_has_a_slope_of_nothing(make_trace):
    t_s = np.arange(0.0, 36000.0, 5.0)
    is_off = t_s % 1800 < 1500

    week = make_trace(t_s, pressure_kpa=413.7, frequency_hz=np.where(is_off, 0.0, 45.0))
    found = fit_falls(fall_points(week, stop_ranges(week, unseen_runs(week))), 0.69)

    assert found.from_s.size == 20
    assert found.slope_kpa_per_min == pytest.approx(0.0, abs=1e-6)


def test_the_slope_is_that_of_numpy_on_every_stop(make_trace):
    rng = np.random.default_rng(7)
    t_s = np.cumsum(rng.uniform(1.0, 9.0, 5000))
    is_off = (t_s // 200) % 2 == 0
    p_kpa = 400 - (t_s % 200) * rng.uniform(0.1, 0.2) + rng.normal(0, 0.5, t_s.size)
    week = make_trace(t_s, pressure_kpa=p_kpa, frequency_hz=np.where(is_off, 0.0, 45.0))
    points = fall_points(week, stop_ranges(week, unseen_runs(week)))

    found = fit_falls(points, 0.01)

    ranges = points.ranges
    expected = [
        -60 * np.polyfit(week.time.t_s[a:b], week.samples.pressure_kpa[a:b], 1)[0]
        for a, b in zip(ranges.first, ranges.end, strict=True)
    ]
    assert found.slope_kpa_per_min == pytest.approx(np.array(expected), rel=1e-6)


def test_a_check_valve_that_seats_falls_fastest_at_first(measure):
    t_s = np.arange(0.0, 86400.0, 5.0)
    phase_s = t_s % 1800
    p_kpa = 400 - 30 * (1 - np.exp(-phase_s / 300))

    week = measure(t_s, pressure_kpa=p_kpa, frequency_hz=np.where(phase_s < 1700, 0.0, 45.0)).week

    assert week.fall_first_over_last > 5.0
    assert week.quiet_fall_first_over_last > 5.0
    assert week.quiet_fall_early_over_late > 2.0


def test_a_staircase_of_draws_stands_before_it_falls_on(measure):
    # four draws of 12 kPa in half an hour: the first and the last third fall alike
    t_s = np.arange(0.0, 86400.0, 5.0)
    phase_s = t_s % 1800
    p_kpa = 400 - 12 * sum(np.clip((phase_s - at_s) / 60, 0, 1) for at_s in (100, 300, 1300, 1500))

    week = measure(t_s, pressure_kpa=p_kpa, frequency_hz=np.where(phase_s < 1700, 0.0, 45.0)).week

    assert week.quiet_fall_early_over_late < 0.2


def test_a_steady_leak_falls_alike_first_and_last(measure, leaking_tank):
    # constant flow: slope goes as the square of absolute pressure, (74.7 / 69.7)^2 at most
    week = measure(**leaking_tank(leak_lpm=0.05, interval_s=5.0)).week

    assert 1.0 < week.fall_first_over_last < (74.7 / 69.7) ** 2
    assert week.quiet_fall_early_over_late == pytest.approx(1.0, abs=0.2)


def test_suction_that_rises_while_pressure_falls_is_seen(measure, leaking_tank):
    made = leaking_tank(leak_lpm=0.05, interval_s=10.0)
    off_s = 18.138 * 60 + 25
    made["suction_kpa"] = 100 + 12 * (made["t_s"] % off_s) / off_s

    assert measure(**made).week.suction_rise_kpa == pytest.approx(12.0, rel=0.05)


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_a_precharge_above_the_restart_pressure_shows_as_a_knee(measure, interval_s):
    # pre-charge 56 psi: 145 s from 60 to 56 at 0.1 gpm, then 5 s to 45 (the tank is empty)
    t_s = np.arange(0.0, 86400.0, interval_s)
    phase_s = t_s % 180
    psi = np.interp(phase_s, [0, 145, 150, 155, 180], [60, 56, 45, 60, 60])
    psi += np.random.default_rng(2).normal(0, 0.1, t_s.size)

    week = measure(
        t_s, pressure_kpa=psi * PSI_KPA, frequency_hz=np.where(phase_s < 150, 0.0, 45.0)
    ).week

    assert week.knee_share > 0.9
    assert week.knee_pressure_kpa == pytest.approx(56 * PSI_KPA, abs=1.0 * PSI_KPA)


def test_a_tap_opened_after_a_flat_hold_is_no_knee(measure):
    rng = np.random.default_rng(4)
    t_s = np.arange(0.0, 86400.0, 5.0)
    phase_s = t_s % 900
    opens_s = rng.uniform(300, 700, 97)[(t_s // 900).astype(int)]
    psi = np.where(phase_s < opens_s, 60.0, 60.0 - (phase_s - opens_s) / 4)
    is_off = (psi > 55.0) & (phase_s < 850)
    psi = np.where(is_off, psi, 60.0) + rng.normal(0, 0.05, t_s.size)

    week = measure(t_s, pressure_kpa=psi * PSI_KPA, frequency_hz=np.where(is_off, 0.0, 45.0)).week

    assert not week.knee_share
    assert week.knee_pressure_kpa is None


def test_a_plain_fall_has_no_knee(measure, leaking_tank):
    week = measure(
        **leaking_tank(leak_lpm=0.1, interval_s=5.0, noise_psi=0.1, step_psi=0.1, restart_psi=50.0)
    ).week

    assert week.knee_share == 0.0


def test_the_steepest_fall_of_a_stop_shows_a_draw_however_short():
    # 400 kPa flat, 20 kPa within 5 s, flat again: 240 kPa/min; then a stop that loses 1 kPa in 5 s
    points = Points(
        t_s=np.array([0.0, 5.0, 10.0, 15.0, 0.0, 5.0]),
        pressure_kpa=np.array([400.0, 400.0, 380.0, 380.0, 410.0, 409.0]),
        start=np.array([0, 4]),
        count=np.array([4, 2]),
        from_s=np.array([0.0, 100.0]),
        ranges=StopRanges(np.array([0, 4]), np.array([4, 6]), np.array([True, True])),
    )

    assert steepest_falls(points) == pytest.approx([240.0, 12.0])
