"""What channels look like themselves: standing still, impossible, against each other."""

import numpy as np
import pytest

from analysis.limits import STILL_RESTLESS_SHARE
from ingest.samples import CHANNELS

PUMP = {
    "pressure_setting_kpa": 400.0,
    "supply_volts": 230.0,
    "service_factor_amps": 8.0,
    "rated_amps": 7.0,
}
DAY_S = 86_400.0
PSI_KPA = 6.894757
SPEED = (44.0, 52.0)


def plant(interval_s=10.0, *, days=2):
    """Runs of 200 s every 900 s, at two speeds in turn; pressure falls to 380 kPa between."""
    rng = np.random.default_rng(5)
    t_s = np.arange(0.0, days * DAY_S, interval_s)
    since_s = t_s % 900
    on = since_s < 200
    speed_hz = np.where((t_s // 900) % 2 == 0, *SPEED)
    noise = rng.normal(0, 0.3, t_s.size)
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, speed_hz, 0.0),
        "pressure_kpa": np.where(on, 400.0, 400.0 - (since_s - 200) / 35) + noise,
        "current_a": np.where(on, 6.0 + noise, 0.0),
        "voltage_v": 232.0 - 4.0 * on + noise,
    }


def of(week, name, channel):
    return getattr(week, f"channel_{name}")[CHANNELS.index(channel)]


def resting(steps, step_kpa=10.0):
    """Two days at rest, pressure in steps of a coarse sensor."""
    none = np.zeros(steps.size)
    return {
        "t_s": 10.0 * np.arange(steps.size),
        "frequency_hz": none,
        "pressure_kpa": step_kpa * np.round(steps),
        "current_a": none,
        "voltage_v": none + 232.0,
    }


def freeze(made, channel, from_s, to_s, value):
    made[channel] = np.where((made["t_s"] >= from_s) & (made["t_s"] < to_s), value, made[channel])
    return made


def test_a_live_log_has_no_unchanged_stretch_but_the_rest_of_speed_and_current(measure):
    week = measure(**plant(), register=PUMP).week

    assert of(week, "still_s", "pressure_kpa") is None
    assert of(week, "still_s", "voltage_v") is None
    assert of(week, "still_edges", "current_a") == 0
    assert of(week, "odd_samples", "pressure_kpa") == 0.0
    assert of(week, "still_s", "flow_lpm") is None


def test_a_frozen_reading_comes_back_with_what_it_outlasted(measure):
    made = freeze(plant(), "pressure_kpa", 9_000.0, 18_000.0, 310.0)

    week = measure(**made, register=PUMP).week

    assert of(week, "still_value", "pressure_kpa") == 310.0
    assert of(week, "still_from_s", "pressure_kpa") == pytest.approx(9_000.0)
    assert of(week, "still_s", "pressure_kpa") == pytest.approx(9_000.0)
    assert of(week, "still_edges", "pressure_kpa") == pytest.approx(20, abs=1)  # ten runs
    assert of(week, "still_range_hz", "pressure_kpa") == pytest.approx(SPEED[1] - SPEED[0])
    assert of(week, "still_run_share", "pressure_kpa") == pytest.approx(200 / 900, abs=0.01)


def test_a_stretch_away_from_the_setting_tells_more_than_a_coarse_hold_at_it(measure):
    made = freeze(plant(), "pressure_kpa", 9_000.0, 90_000.0, 400.0)
    made = freeze(made, "pressure_kpa", 100_000.0, 102_000.0, 310.0)

    week = measure(**made, register=PUMP).week

    assert of(week, "still_value", "pressure_kpa") == 310.0


def test_the_last_samples_of_a_ramp_equal_to_a_rest_are_no_change_of_speed(measure):
    made = freeze(plant(days=1), "pressure_kpa", 9_180.0, 9_900.0, 358.5)
    made["frequency_hz"][made["t_s"] == 9_190.0] = 34.0

    assert of(measure(**made, register=PUMP).week, "still_range_hz", "pressure_kpa") == 0.0


def test_under_ten_minutes_unchanged_is_nothing(measure):
    made = freeze(plant(1.0, days=1), "pressure_kpa", 9_000.0, 9_500.0, 310.0)

    assert of(measure(**made, register=PUMP).week, "still_s", "pressure_kpa") is None


@pytest.mark.parametrize(
    ("channel", "value", "is_odd"),
    [
        ("pressure_kpa", 999 * PSI_KPA / 2, True),  # over three times the setting
        ("pressure_kpa", -1 * PSI_KPA, True),  # a mark below zero, in psi
        ("pressure_kpa", -90.0, True),  # a vacuum at the outlet
        ("pressure_kpa", 550.0, False),  # what warm water in a heater can reach
        ("pressure_kpa", 0.0, False),
        ("current_a", 999.0, True),
        ("current_a", 20.0, False),  # two and a half times the limit: a start
        ("voltage_v", 999.0, True),
        ("voltage_v", 253.0, False),
        ("frequency_hz", 327.67, True),
    ],
)
def test_readings_that_cannot_be_are_counted(measure, channel, value, is_odd):
    made = freeze(plant(), channel, 10_000.0, 10_050.0, value)

    week = measure(**made, register=PUMP).week

    assert of(week, "odd_samples", channel) == (5.0 if is_odd else 0.0)
    if is_odd:
        assert of(week, "odd_value", channel) == pytest.approx(value, rel=1e-5)
        assert of(week, "odd_from_s", channel) == pytest.approx(10_000.0)


def test_minus_one_psi_is_a_reading_where_the_line_was_drained(measure):
    made = freeze(plant(), "pressure_kpa", 10_000.0, 20_000.0, 5.0)
    made = freeze(made, "pressure_kpa", 12_000.0, 13_000.0, -1 * PSI_KPA)

    assert of(measure(**made, register=PUMP).week, "odd_samples", "pressure_kpa") == 0.0


def test_it_is_told_whether_odd_readings_come_while_it_runs(measure):
    resting, running = plant(), plant()
    rest = measure(**freeze(resting, "pressure_kpa", 9_300.0, 9_800.0, -55.0), register=PUMP)
    run = measure(**freeze(running, "pressure_kpa", 9_000.0, 9_800.0, -55.0), register=PUMP)

    assert of(rest.week, "odd_run_share", "pressure_kpa") == 0.0
    assert of(run.week, "odd_run_share", "pressure_kpa") == pytest.approx(0.25)


def test_a_live_channel_is_restless_at_rest(measure):
    week = measure(**plant(), register=PUMP).week

    assert of(week, "restless_share", "voltage_v") == pytest.approx(1 / 3, abs=0.02)  # white noise


@pytest.mark.parametrize(
    ("noise_steps", "level_steps", "is_restless"),
    [
        (0.1, 31.5, False),  # tips over the edge between two steps at every other sample
        (0.1, 31.0, False),  # stands still all along
        (0.7, 31.5, True),  # wider than a step: restless wherever the level stands
        (0.7, 31.0, True),
    ],
)
def test_a_coarse_reading_that_tips_over_one_edge_is_not_restless(
    measure, noise_steps, level_steps, is_restless
):
    made = resting(level_steps + np.random.default_rng(3).normal(0, noise_steps, 17_280))

    share = of(measure(**made, register=PUMP).week, "restless_share", "pressure_kpa")

    assert ((share or 0.0) > STILL_RESTLESS_SHARE.value) is is_restless


def test_a_reading_that_falls_all_day_is_not_restless(measure):
    week = measure(**resting(40.0 - np.arange(17_280) / 3), register=PUMP).week

    assert of(week, "restless_share", "pressure_kpa") == 0.0


def test_no_volts_at_rest_is_an_outage_and_no_odd_reading(measure):
    resting, running = plant(), plant()
    rest = measure(**freeze(resting, "voltage_v", 9_300.0, 9_800.0, 0.0), register=PUMP).week
    run = measure(**freeze(running, "voltage_v", 9_010.0, 9_190.0, 0.0), register=PUMP).week

    assert of(rest, "odd_samples", "voltage_v") == 0.0
    assert of(run, "odd_s", "voltage_v") == pytest.approx(180.0)


def test_a_reading_that_falls_out_and_is_back_is_counted(measure):
    made = plant()
    for from_s in (10_400.0, 20_300.0, 30_200.0):
        made = freeze(made, "pressure_kpa", from_s, from_s + 10.0, 0.0)

    assert measure(**made, register=PUMP).week.n_pressure_dropouts == 3


def test_a_real_draw_that_a_run_refills_is_no_dropout(measure):
    made = plant()
    made = freeze(made, "pressure_kpa", 9_880.0, 9_910.0, 100.0)

    assert measure(**made, register=PUMP).week.n_pressure_dropouts == 0


def test_a_slow_log_cannot_tell_dropouts(measure):
    assert measure(**plant(60.0), register=PUMP).week.n_pressure_dropouts is None


def test_channels_are_held_against_each_other(measure):
    made = plant()
    made["suction_kpa"] = made["pressure_kpa"] + 50.0

    week = measure(**made, register=PUMP).week

    assert week.suction_over_pressure_share == 1.0
    assert week.rest_below_suction_kpa == pytest.approx(50.0, abs=0.1)
    assert week.current_at_rest_a == 0.0
    assert week.no_current_run_share == 0.0


def test_a_motor_that_runs_without_current_is_told(measure):
    made = plant()
    made["current_a"] = np.zeros(made["t_s"].size)

    assert measure(**made, register=PUMP).week.no_current_run_share == 1.0
