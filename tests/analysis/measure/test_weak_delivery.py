"""Spells short of the setting at top speed, built in and found again."""

import numpy as np
import pytest

PUMP = {"pressure_setting_kpa": 400.0, "supply_volts": 230.0, "motor_volts": 230.0}
DAY_S = 86_400.0


def plant(interval_s=10.0, *, days=7):
    """Runs of 10 min every hour at 48 Hz, holding 400 kPa, 229 V."""
    t_s = np.arange(0.0, days * DAY_S, interval_s)
    on = t_s % 3600 < 600
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 48.0, 0.0),
        "pressure_kpa": np.where(on, 400.0, 395.0),
        "current_a": np.where(on, 5.0, 0.0),
        "voltage_v": np.full(t_s.size, 229.0),
    }


def fall_short(made, rows, *, kpa=320.0, hz=60.0, volts=229.0):
    made["frequency_hz"] = np.where(rows, hz, made["frequency_hz"])
    made["pressure_kpa"] = np.where(rows, kpa, made["pressure_kpa"])
    made["voltage_v"] = np.where(rows, volts, made["voltage_v"])
    return made


def at(made, from_s, length_s):
    """Once a day, so long from a second of the day."""
    second = made["t_s"] % DAY_S
    return (second >= from_s) & (second < from_s + length_s)


def test_a_pump_that_holds_its_setting_is_never_weak(measure):
    record = measure(**plant(), register=PUMP)

    assert record.week.weak_s == 0.0
    assert {day.weak_s for day in record.days} == {0.0}
    assert {day.at_setting_share for day in record.days} == {1.0}


@pytest.mark.parametrize("interval_s", [1.0, 10.0, 30.0])
def test_five_minutes_a_day_come_back_with_their_size(measure, interval_s):
    made = plant(interval_s)
    record = measure(**fall_short(made, at(made, 36_120.0, 300.0)), register=PUMP)

    week = record.week
    assert week.weak_s == pytest.approx(7 * 300.0, abs=7 * interval_s)
    assert week.n_weak_spells == 7
    assert week.weak_pressure_pct == pytest.approx(80.0)
    assert week.weak_hz == 60.0
    assert [day.weak_s for day in record.days] == [pytest.approx(300.0, abs=interval_s)] * 7


def test_spells_of_a_minute_are_left_out(measure):
    made = plant()

    week = measure(**fall_short(made, at(made, 36_120.0, 60.0)), register=PUMP).week

    assert week.weak_s == 0.0


def test_filling_a_line_after_a_start_is_left_out_unless_it_lasts(measure):
    filling, lasting = plant(), plant()
    from_start = measure(**fall_short(filling, at(filling, 36_000.0, 240.0)), register=PUMP).week
    longer = measure(**fall_short(lasting, at(lasting, 36_000.0, 600.0)), register=PUMP).week

    assert from_start.weak_s == 0.0
    assert longer.weak_s > 0.0


def test_a_speed_that_something_else_holds_back_counts_as_well(measure):
    made = plant()
    made["current_a"] = made["current_a"] * (1 + 0.1 * np.sin(made["t_s"]))  # no current ceiling
    made = fall_short(made, at(made, 36_120.0, 300.0), hz=50.0, volts=180.0)

    week = measure(**made, register=PUMP).week

    assert week.weak_s == pytest.approx(7 * 300.0, abs=70.0)
    assert week.weak_hz == 50.0


def test_a_current_ceiling_is_told_as_such_and_not_here(measure):
    made = plant()
    made = fall_short(made, at(made, 36_120.0, 300.0), hz=50.0)

    week = measure(**made, register=PUMP).week

    assert week.ceiling_a == 5.0
    assert week.weak_s == 0.0


def test_volts_are_told_apart_while_short_and_while_held(measure):
    made = plant()
    made = fall_short(made, at(made, 36_120.0, 300.0), volts=195.0)
    made = fall_short(made, at(made, 50_520.0, 300.0), kpa=400.0, volts=228.0)

    week = measure(**made, register=PUMP).week

    assert week.weak_low_volts_share == pytest.approx(1.0)
    assert week.weak_voltage_v == pytest.approx(195.0)
    assert week.same_held_voltage_v == pytest.approx(228.0)
    assert week.same_held_s == pytest.approx(7 * 300.0, abs=70.0)


def test_the_quiet_hours_part_is_told(measure):
    made = plant()
    night = at(made, 3600.0, 6 * 3600.0)
    made["frequency_hz"] = np.where(night, 0.0, made["frequency_hz"])
    hourly = (made["t_s"] % 3600 >= 1800) & (made["t_s"] % 3600 < 2160)
    made = fall_short(made, night & hourly)

    week = measure(**made, register=PUMP).week

    assert 0.0 < week.weak_quiet_s <= week.weak_s


def test_a_pump_that_never_reaches_it_has_a_share_of_nothing(measure):
    made = plant()

    record = measure(**fall_short(made, made["frequency_hz"] > 0), register=PUMP)

    assert record.week.at_setting_share == 0.0
    assert {day.at_setting_share for day in record.days} == {0.0}
