"""Spells at speed with the pressure gone, built in and found again."""

import numpy as np
import pytest

PUMP = {"pressure_setting_kpa": 400.0, "rated_amps": 7.0}
DAY_S = 86_400.0


def plant(interval_s, *, length_s=DAY_S):
    """Runs of 120 s every 600 s at 46 Hz and 5 A, 400 kPa at the stop."""
    t_s = np.arange(0.0, length_s, interval_s)
    on = t_s % 600 < 120
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 46.0, 0.0),
        "pressure_kpa": np.where(on, 400.0, 400.0 - (t_s % 600 - 120) * 0.05),
        "current_a": np.where(on, 5.0, 0.0),
    }


def lose_suction(made, from_s, to_s, *, hz=60.0, amps=3.0, kpa=60.0):
    dry = (made["t_s"] >= from_s) & (made["t_s"] < to_s)
    made["frequency_hz"] = np.where(dry, hz, made["frequency_hz"])
    made["pressure_kpa"] = np.where(dry, kpa, made["pressure_kpa"])
    made["current_a"] = np.where(dry, amps, made["current_a"])
    return made


def test_healthy_runs_show_none_and_tell_what_the_pump_takes(measure):
    week = measure(**plant(5.0), register=PUMP).week

    assert (week.n_gone, week.gone_s, week.held_after_gone_s) == (0, [], None)
    assert week.no_flow_hz == pytest.approx(46.0)
    assert week.no_flow_current_a == pytest.approx(5.0)
    assert (week.top_held_hz, week.top_held_current_a) == (46.0, 5.0)
    assert week.at_setting_share == 1.0


def test_samples_of_the_ramp_down_do_not_lower_the_no_flow_speed(measure):
    # one stop in three is logged on its way from 46 Hz down, its current already falling
    made = plant(10.0)
    is_ramp = (made["t_s"] % 600 == 110) & (made["t_s"] // 600 % 3 == 0)
    made["frequency_hz"][is_ramp] = 34.0
    made["current_a"][is_ramp] = 4.0

    week = measure(**made, register=PUMP).week

    assert week.no_flow_hz == pytest.approx(46.0)
    assert week.no_flow_current_a == pytest.approx(5.0)
    assert (week.f0_hz, week.f0_spread_hz) == (pytest.approx(46.0), 0.0)


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0])
def test_fifteen_seconds_come_back_at_each_interval_that_can_show_them(measure, interval_s):
    made = lose_suction(plant(interval_s), 6030.0, 6045.0)

    week = measure(**made, register=PUMP).week

    assert week.n_gone == 1
    assert week.gone_from_s == [pytest.approx(6030.0)]
    assert week.gone_s[0] == pytest.approx(15.0, abs=interval_s)
    assert week.gone_hz == [60.0]
    assert week.gone_current_a == [3.0]
    assert week.gone_kpa == [60.0]
    assert week.gone_after_start_s == [pytest.approx(30.0)]


def test_eight_seconds_are_no_spell(measure):
    week = measure(**lose_suction(plant(1.0), 6030.0, 6038.0), register=PUMP).week

    assert week.n_gone == 0


def test_a_single_sample_counts_only_where_the_log_is_that_slow(measure):
    slow = measure(**lose_suction(plant(10.0), 6030.0, 6040.0), register=PUMP).week
    fast = measure(**lose_suction(plant(5.0), 6030.0, 6035.0), register=PUMP).week

    assert (slow.n_gone, slow.gone_samples) == (1, [1.0])
    assert fast.n_gone == 0


def test_low_pressure_below_the_no_flow_speed_is_not_at_speed(measure):
    made = lose_suction(plant(5.0), 6030.0, 6090.0, hz=38.0)

    assert measure(**made, register=PUMP).week.n_gone == 0


def test_a_ramp_that_lifts_a_line_from_zero_within_ten_seconds_is_no_spell(measure):
    made = plant(1.0)
    after_s = made["t_s"] - 6000.0
    ramp = (after_s >= 0) & (after_s < 10)
    made["pressure_kpa"] = np.where(ramp, 40.0 * after_s, made["pressure_kpa"])
    made["frequency_hz"] = np.where(ramp, 60.0, made["frequency_hz"])

    assert measure(**made, register=PUMP).week.n_gone == 0


@pytest.mark.parametrize(("amps", "is_gone"), [(4.4, True), (5.3, False)])
def test_a_tank_that_still_holds_pressure_hides_no_dry_pump(measure, amps, is_gone):
    # 60 Hz is over 1.2 times the 46 Hz of no flow, where it takes 5 A: with water in it, it takes
    # more (affinity laws)
    made = lose_suction(plant(10.0), 6030.0, 6045.0, amps=amps, kpa=310.0)

    week = measure(**made, register=PUMP).week

    assert week.n_gone == int(is_gone)


def stand_short(made, from_s, to_s, kpa):
    """At full speed and no-flow current, at pressures given beside each sample's seconds."""
    here = (made["t_s"] >= from_s) & (made["t_s"] < to_s)
    made["frequency_hz"][here] = 60.0
    made["current_a"][here] = 4.9
    made["pressure_kpa"][here] = kpa(made["t_s"][here] - from_s)
    return made


def test_a_pressure_that_stands_short_and_comes_back_after_draws_is_the_pumps_own(measure):
    # 290 of 400 kPa is all it makes; a draw every ten minutes takes 30 kPa for half a minute
    made = stand_short(
        plant(10.0), 6000.0, 30_000.0, lambda s: np.where(s % 600 < 30, 260.0, 290.0)
    )

    assert measure(**made, register=PUMP).week.n_gone == 0


@pytest.mark.parametrize("from_kpa", [290.0, 350.0, 390.0])
def test_draws_of_which_each_goes_lower_are_no_dry_pump_where_pressure_comes_back(
    measure, from_kpa
):
    # from the pressure it starts at down to the 290 of 400 kPa it makes; each draw takes 1.5 kPa
    # more than the one before
    def kpa(s):
        stands = np.maximum(from_kpa - 10.0 * (s // 600), 290.0)
        return np.where(s % 600 < 300, stands, stands - 15.0 - 1.5 * (s // 600))

    made = stand_short(plant(10.0), 6000.0, 29_900.0, kpa)

    assert measure(**made, register=PUMP).week.n_gone == 0


def test_a_pump_that_gives_a_little_after_its_start_and_then_nothing_is_dry(measure):
    made = stand_short(
        plant(10.0), 6000.0, 6600.0, lambda s: np.where(s < 60, 330.0 + 0.5 * s, 378.0 - 0.3 * s)
    )

    week = measure(**made, register=PUMP).week

    assert week.n_gone == 1


def test_a_tank_emptied_by_draws_with_pauses_between_is_a_dry_pump_still(measure):
    made = stand_short(plant(10.0), 6030.0, 9030.0, lambda s: 350.0 - 20.0 * (s // 600))

    week = measure(**made, register=PUMP).week

    assert week.n_gone == 1
    assert week.gone_s[0] == pytest.approx(3000.0, abs=20.0)


def test_after_water_came_back_a_second_dry_spell_of_the_run_is_seen(measure):
    made = stand_short(
        plant(10.0),
        6030.0,
        6330.0,
        lambda s: np.select([s < 60, s < 240], [400.0 - 2 * s, 400.0], 400.0 - 2 * (s - 180)),
    )

    assert measure(**made, register=PUMP).week.n_gone == 2


def test_air_that_lets_the_pressure_jump_for_moments_does_not_part_a_spell(measure):
    made = lose_suction(plant(1.0), 6030.0, 6090.0)
    jump = (made["t_s"] >= 6050) & (made["t_s"] < 6055)
    made["pressure_kpa"] = np.where(jump, 380.0, made["pressure_kpa"])

    week = measure(**made, register=PUMP).week

    assert week.n_gone == 1
    assert week.gone_s == [pytest.approx(55.0)]


def test_a_gap_parts_spells_and_their_start_is_then_unknown(measure):
    made = lose_suction(plant(5.0), 6030.0, 6600.0)
    keep = (made["t_s"] < 6100) | (made["t_s"] >= 6300)

    week = measure(**{k: v[keep] for k, v in made.items()}, register=PUMP).week

    assert week.n_gone == 2
    assert week.gone_after_start_s == [pytest.approx(30.0), None]


def test_time_held_after_the_last_spell_tells_a_recovery(measure):
    back = measure(**lose_suction(plant(5.0), 6030.0, 6090.0), register=PUMP).week
    never = measure(**lose_suction(plant(5.0), 6030.0, DAY_S), register=PUMP).week

    assert back.held_after_gone_s > 3600
    assert never.held_after_gone_s == 0.0


def test_no_current_in_the_log_is_kept_as_unknown(measure):
    made = lose_suction(plant(5.0), 6030.0, 6090.0)
    del made["current_a"]

    week = measure(**made, register=PUMP).week

    assert week.gone_current_a == [None]
    assert week.no_flow_current_a is None


def test_the_longest_fifty_spells_are_kept_in_order_of_time(measure):
    made = plant(5.0)
    for n in range(60):
        made = lose_suction(made, n * 600 + 30, n * 600 + (90 if n >= 10 else 50))

    week = measure(**made, register=PUMP).week

    assert week.n_gone == 50
    assert week.gone_from_s == sorted(week.gone_from_s)
    assert min(week.gone_s) == pytest.approx(60.0)


def test_without_any_pressure_to_hold_nothing_is_said(measure):
    made = plant(5.0)
    made["pressure_kpa"] = np.full(made["t_s"].size, np.nan)

    assert measure(**made, register={}).week.n_gone is None
