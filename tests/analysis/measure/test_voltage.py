"""Supply volts and the pump's own drop."""

import numpy as np
import pytest

WEEK_S = 7 * 86400.0
CYCLE_S = 600.0


def is_on(t_s):
    return t_s % CYCLE_S >= 400.0


def plant(t_s, volts, **more):
    return {
        "t_s": t_s,
        "frequency_hz": np.where(is_on(t_s), 48.0, 0.0),
        "pressure_kpa": 400.0,
        "current_a": np.where(is_on(t_s), 6.0, 0.0),
        "voltage_v": volts,
        **more,
    }


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0, 30.0, 60.0])
def test_loop_resistance_and_no_load_volts_follow_ohms_law(measure, interval_s):
    # Ohm's law: 238.0, 235.9, 233.8, 231.7 V at 0, 4, 8, 12 A is 0.525 ohm from 238.0 V no load
    t_s = np.arange(0.0, 2 * 86400.0, interval_s)
    run = (t_s // CYCLE_S).astype(int) % 3
    supply_a = np.where(is_on(t_s), np.array([4.0, 8.0, 12.0])[run], 0.0)
    volts = np.where(is_on(t_s), np.array([235.9, 233.8, 231.7])[run], 238.0)

    week = measure(**plant(t_s, volts, input_current_a=supply_a)).week

    assert week.loop_resistance_ohm == pytest.approx(0.525, abs=0.001)  # printed to 0.001
    assert week.idle_v_median == pytest.approx(238.0, abs=0.01)
    assert week.supply_current_is_logged
    assert week.loop_resistance_low_ohm <= 0.525 <= week.loop_resistance_high_ohm


def test_the_drop_is_the_pumps_own_while_the_supply_wanders(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    supply_v = (
        230
        + 8 * np.sin(2 * np.pi * t_s / 86400)
        + np.random.default_rng(1).normal(0, 0.3, t_s.size)
    )

    week = measure(**plant(t_s, supply_v - 5.0 * is_on(t_s))).week

    assert week.own_drop_v == pytest.approx(5.0, abs=0.1)
    assert week.own_drop_night_v == pytest.approx(5.0, abs=0.3)
    assert week.own_drop_evening_v == pytest.approx(5.0, abs=0.3)
    assert week.n_voltage_pairs == 1008


def test_a_supply_current_that_is_estimated_carries_its_wide_band(measure):
    # power balance, derived: 9.6 A of motor current at 60 of 60 Hz and 230 V takes 19.79 A of a
    # single-phase supply at power factor 0.70 and efficiency 0.96; over 0.5 ohm that is 9.895 V
    t_s = np.arange(0.0, 86400.0, 10.0)
    made = plant(t_s, np.where(is_on(t_s), 230.0, 239.895))
    made["frequency_hz"] = np.where(is_on(t_s), 60.0, 0.0)
    made["current_a"] = np.where(is_on(t_s), 9.6, 0.0)

    week = measure(**made, register={"motor_volts": 230.0, "motor_phases": 3}).week

    assert week.supply_current_is_logged is False
    assert week.pair_supply_a == pytest.approx(19.79, abs=0.01)
    assert week.loop_resistance_ohm == pytest.approx(0.5, abs=0.001)
    assert week.loop_resistance_low_ohm < 0.45
    assert week.loop_resistance_high_ohm > 0.55
    assert week.apparent_resistance_ohm == pytest.approx(9.895 / 9.6, abs=0.001)


@pytest.mark.parametrize("share", [0.33, 0.45, 0.55])
def test_runs_at_several_loads_tell_the_loop_without_an_assumed_magnetising_share(measure, share):
    # power balance, derived: a motor of 8 A rated whose parts stand at right angles, leakage as in
    # the assumed power factor (0.80 at a share of 0.45), through 1.2 ohm; per run 2 to 7 A working
    t_s = np.arange(0.0, 3 * 86400.0, 10.0)
    working_a = np.interp(np.sin(np.floor(t_s / 600.0)), (-1, 1), (2.0, 7.0))
    motor_a = np.hypot(working_a, share * 8.0)
    output_w = 3**0.5 * 230.0 * 0.8 * working_a * 0.80 / (1 - 0.45**2) ** 0.5  # 48 of 60 Hz
    supply_a = output_w / 0.96 / (228.0 * 0.70)
    made = plant(t_s, np.where(is_on(t_s), 228.0, 228.0 + 1.2 * supply_a))
    made["frequency_hz"] = np.where(is_on(t_s), 48.0, 0.0)
    made["current_a"] = np.where(is_on(t_s), motor_a, 0.0)

    week = measure(
        **made, register={"motor_volts": 230.0, "motor_phases": 3, "rated_amps": 8.0}
    ).week

    assert week.magnetising_share == pytest.approx(share, abs=0.01)
    assert week.loop_resistance_ohm == pytest.approx(1.2, rel=0.01)


def test_without_motor_volts_there_is_a_drop_and_no_resistance(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)

    week = measure(**plant(t_s, np.where(is_on(t_s), 230.0, 236.0))).week

    assert week.own_drop_v == pytest.approx(6.0)
    assert week.loop_resistance_ohm is None
    assert week.supply_current_is_logged is None


def test_a_steady_input_current_at_rest_is_taken_off(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)
    supply_a = np.where(is_on(t_s), 8.4, 0.4)

    week = measure(**plant(t_s, np.where(is_on(t_s), 234.0, 238.0), input_current_a=supply_a)).week

    assert week.loop_resistance_ohm == pytest.approx(0.5)


def test_a_start_after_a_gap_makes_no_pair(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)
    seen = t_s[(t_s % CYCLE_S < 200) | (t_s % CYCLE_S >= 400)]  # nothing just before a start

    assert measure(**plant(seen, np.where(is_on(seen), 230.0, 236.0))).week.n_voltage_pairs == 0


def test_undervoltage_is_weighed_by_held_time(measure):
    # awake (running, low volts) at 1 s for 60 s of every 600 s, asleep at 60 s
    cycle = np.concatenate((np.arange(60.0), np.arange(60.0, 600.0, 60.0)))
    t_s = np.concatenate([cycle + 600.0 * n for n in range(1008)])
    low = t_s % 600 < 60

    week = measure(
        t_s,
        frequency_hz=np.where(low, 45.0, 0.0),
        pressure_kpa=400.0,
        voltage_v=np.where(low, 200.0, 231.0),
        register={"supply_volts": 230.0},
    ).week

    assert week.undervoltage_s == pytest.approx(1008 * 60.0)
    assert week.undervoltage_run_s == pytest.approx(1008 * 60.0)
    assert week.undervoltage_idle_s == 0.0
    assert week.undervoltage_episodes == 1008
    assert week.n_undervoltage_days == 7
    assert week.below_95_run_share == 1.0


@pytest.mark.parametrize(("volts", "low_s"), [(207.0, 0.0), (206.9, 86400.0)])
def test_ninety_percent_itself_is_not_low(measure, volts, low_s):
    # NEMA MG 1-12.44: 230 V and 10 % is 207.0 V
    t_s = np.arange(0.0, 86400.0, 10.0)

    week = measure(**plant(t_s, volts), register={"supply_volts": 230.0}).week

    assert week.undervoltage_s == pytest.approx(low_s)


def test_readings_of_nothing_are_no_undervoltage(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)
    volts = np.full(t_s.size, 231.0)
    volts[100:130] = 0.0
    volts[200:210] = 3276.7
    volts[300:310] = -1.0

    week = measure(**plant(t_s, volts), register={"supply_volts": 230.0}).week

    assert week.undervoltage_s == 0.0
    assert week.voltage_min_v == 231.0
    assert week.overvoltage_s == 0.0
    assert week.interruption_s == 400.0


def test_a_blank_reading_does_not_part_a_spell(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)
    volts = np.full(t_s.size, 231.0)
    volts[100:110] = 200.0
    volts[105] = np.nan
    volts[200:210] = 200.0

    week = measure(**plant(t_s, volts), register={"supply_volts": 230.0}).week

    assert week.undervoltage_episodes == 2
    assert week.undervoltage_s == 190.0


def test_a_gap_parts_a_spell(measure):
    t_s = np.concatenate((np.arange(0.0, 3600.0, 10.0), np.arange(7200.0, 10800.0, 10.0)))

    week = measure(**plant(t_s, 200.0), register={"supply_volts": 230.0}).week

    assert week.undervoltage_episodes == 2


def test_the_motors_own_volts_count_only_near_full_speed(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)
    made = plant(t_s, 205.0)
    made["frequency_hz"] = np.where(is_on(t_s), np.where(t_s < 43200, 60.0, 45.0), 0.0)

    week = measure(**made, register={"motor_volts": 230.0, "supply_volts": 208.0}).week

    assert week.motor_undervoltage_s == pytest.approx(43200 / 3, abs=10)
    assert week.undervoltage_s == 0.0


def test_idle_volts_have_their_daily_shape(measure):
    t_s = np.arange(0.0, WEEK_S, 30.0)
    hour = (t_s % 86400) // 3600
    volts = np.where((hour >= 17) & (hour < 21), 215.0, 232.0) - 5.0 * is_on(t_s)

    week = measure(**plant(t_s, volts)).week

    assert week.idle_v_by_hour == [215.0 if 17 <= h < 21 else 232.0 for h in range(24)]
    assert week.running_v_median == 227.0


def test_without_supply_volts_nothing_is_a_share_of_them(measure):
    t_s = np.arange(0.0, 86400.0, 10.0)

    week = measure(**plant(t_s, 200.0)).week

    assert week.voltage_min_v == 200.0
    assert week.voltage_min_pct is None
    assert week.undervoltage_s is None
    assert week.n_undervoltage_days is None
