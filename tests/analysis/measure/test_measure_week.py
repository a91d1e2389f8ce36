"""The whole record of a week."""

from dataclasses import fields
from datetime import date, datetime

import numpy as np
import pytest

from analysis.measure.measure import measure_week
from analysis.records import OpMapBin, PumpDay, PumpWeek
from ingest.installed_base import Pump, Site
from ingest.weeks import Week

WEEK_S = 7 * 86400.0
REGISTER = {
    "supply_volts": 230.0,
    "motor_volts": 230.0,
    "rated_amps": 7.0,
    "service_factor_amps": 8.0,
    "overload_setting_amps": 8.0,
    "pressure_setting_kpa": 400.0,
    "tank_l": 17.0,
    "precharge_kpa": 280.0,
}


def full_week():
    rng = np.random.default_rng(11)
    t_s = np.arange(0.0, WEEK_S, 10.0)
    on = t_s % 900 < 200
    noise = rng.normal(0, 1, t_s.size)
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 48.0, 0.0),
        "pressure_kpa": np.where(on, 400.0, 400.0 - (t_s % 900 - 200) * 0.03) + 0.2 * noise,
        "current_a": np.where(on, 6.0 + 0.1 * noise, 0.0),
        "voltage_v": 232.0 - 4.0 * on + 0.2 * noise,
        "suction_kpa": 100.0 + noise,
        "flow_lpm": np.where(on, 10.0, 0.1),
        "drive_temp_c": 40.0 + noise,
        "input_current_a": np.where(on, 8.0, 0.2),
    }


def rows(record):
    return (record.week, *record.days, *record.op_map)


def test_a_full_log_and_register_leave_no_measure_blank_but_those_not_there(measure):
    week = measure(**full_week(), register=REGISTER).week

    blank = {f.name for f in fields(PumpWeek) if getattr(week, f.name) is None}
    too_slow = {f.name for f in fields(PumpWeek) if f.name.startswith("hunting_")}
    too_slow |= {"long_run_s", "fast_swing_s"}  # hunting cannot be read from a sample in 10 s
    too_slow.add("drive_temp_cool_c")  # never stopped for long
    too_slow |= {name for name in blank if name.startswith(("weak_", "same_held_"))}  # never was
    assert blank - too_slow == {
        "longest_gap_from_at",
        "knee_pressure_kpa",
        "ceiling_a",
        "held_after_gone_s",
        "magnetising_share",  # the supply current is logged
    }


def test_every_value_is_plain_python_for_the_store(measure):
    plain = (str, float, int, bool, datetime, date, list, type(None))

    for row in rows(measure(**full_week(), register=REGISTER)):
        for f in fields(row):
            value = getattr(row, f.name)
            assert type(value) in plain, f.name
            items = value if isinstance(value, list) else []
            assert all(type(item) in plain for item in items), f.name


def test_whole_numbers_and_fractions_are_of_the_type_declared(measure):
    for row in rows(measure(**full_week(), register=REGISTER)):
        for f in fields(row):
            value = getattr(row, f.name)
            if value is not None and f.type in (float, "float", float | None):
                assert type(value) is float, f.name
            if value is not None and f.type in (int, int | None):
                assert type(value) is int, f.name


def test_no_measure_is_nan_or_infinite(measure):
    for row in rows(measure(**full_week(), register=REGISTER)):
        for f in fields(row):
            value = getattr(row, f.name)
            if isinstance(value, float):
                assert np.isfinite(value), f.name


def test_the_same_samples_give_the_same_record(measure):
    assert measure(**full_week(), register=REGISTER) == measure(**full_week(), register=REGISTER)


@pytest.mark.parametrize(
    "channel",
    ["pressure_kpa", "current_a", "voltage_v", "suction_kpa", "flow_lpm", "drive_temp_c"],
)
def test_a_channel_that_carries_nothing_leaves_its_measures_blank_and_no_others(measure, channel):
    made = full_week()
    full = measure(**made, register=REGISTER).week
    del made[channel]

    week = measure(**made, register=REGISTER).week

    assert (week.n_starts, week.run_s, week.observed_s) == (
        full.n_starts,
        full.run_s,
        full.observed_s,
    )
    expected_blank = {
        "pressure_kpa": ("held_pressure_kpa", "fall_p50_kpa_per_min", "pressure_max_kpa"),
        "current_a": ("current_p95_a", "over_limit_s", "thermal_max_pct", "clip_s"),
        "voltage_v": ("voltage_min_v", "undervoltage_s", "own_drop_v", "loop_resistance_ohm"),
        "suction_kpa": ("suction_rise_kpa",),
        "flow_lpm": ("quiet_flow_floor_lpm", "flow_p50_lpm"),
        "drive_temp_c": ("drive_temp_max_c",),
    }[channel]
    assert all(getattr(week, name) is None for name in expected_blank)


def test_a_log_of_blanks_is_measured_and_tells_nothing(measure):
    record = measure(np.arange(0.0, WEEK_S, 60.0))

    assert record.week.n_starts == 0
    assert record.week.is_shut_down is False
    assert record.week.state_unknown_s == WEEK_S
    assert record.op_map == ()


def test_a_winterised_pump_is_shut_down(measure):
    noise = np.abs(np.random.default_rng(1).normal(0, 1, 10080))

    record = measure(
        np.arange(0.0, WEEK_S, 60.0), frequency_hz=0.0, pressure_kpa=noise, current_a=0.0
    )

    assert record.week.is_shut_down
    assert record.week.starts_peak_at is None
    assert len(record.days) == 7


@pytest.mark.parametrize(("hz", "kpa"), [(45.0, 1.0), (0.0, 350.0)])
def test_a_pump_that_ran_or_holds_pressure_is_not_shut_down(measure, hz, kpa):
    made = measure(
        np.arange(0.0, WEEK_S, 60.0),
        frequency_hz=np.where(np.arange(10080) == 5000, hz, 0.0),
        pressure_kpa=kpa,
    )

    assert not made.week.is_shut_down


def test_one_sample_is_enough_to_be_measured(measure):
    record = measure([3600.0], frequency_hz=45.0, pressure_kpa=400.0, current_a=6.0)

    assert record.week.n_samples == 1
    assert len(record.days) == 1


def test_days_without_samples_have_no_record(measure):
    t_s = np.arange(0.0, 86400.0 * 1.5, 60.0)

    record = measure(t_s, frequency_hz=0.0, pressure_kpa=400.0)

    assert [day.local_date for day in record.days] == [date(2026, 11, 16), date(2026, 11, 17)]
    assert record.week.silent_s == pytest.approx(5.5 * 86400, abs=60)
    assert record.week.longest_gap_from_at == record.week.last_at


def test_no_samples_are_refused(make_samples):
    samples = make_samples([])

    with pytest.raises(ValueError, match="no samples in 2026-W47"):
        measure_week(samples, Pump(pump_id="P-1", site_id="S"), Site(site_id="S"), Week(2026, 47))


def test_samples_of_another_week_are_refused(make_samples):
    samples = make_samples([0.0, 60.0])

    with pytest.raises(ValueError, match="samples outside 2026-W48"):
        measure_week(samples, Pump(pump_id="P-1", site_id="S"), Site(site_id="S"), Week(2026, 48))


def test_blank_cells_scattered_over_every_channel_hardly_move_a_measure(measure):
    made = full_week()
    rng = np.random.default_rng(5)
    holed = {
        name: values
        if name == "t_s"
        else np.where(rng.random(made["t_s"].size) < 0.05, np.nan, values)
        for name, values in made.items()
    }

    full = measure(**made, register=REGISTER).week
    week = measure(**holed, register=REGISTER).week

    for name in (
        "run_share",
        "n_starts",
        "stop_s_median",
        "held_pressure_kpa",
        "fall_p50_kpa_per_min",
        "quiet_leak_lpm_p50",
        "idle_v_median",
        "own_drop_v",
        "loop_resistance_ohm",
        "current_p95_a",
        "f0_hz",
    ):
        assert getattr(week, name) == pytest.approx(getattr(full, name), rel=0.02), name


def test_a_channel_as_logged_once_a_minute_beside_one_a_second_agrees(measure):
    # the same pump at 1 s and at 60 s: what the slow log can tell must be the same
    t_s = np.arange(0.0, 2 * 86400.0)
    on = t_s % 3600 < 900
    made = {
        "frequency_hz": np.where(on, 48.0, 0.0),
        "pressure_kpa": np.where(on, 400.0, 400.0 - (t_s % 3600 - 900) * 0.01),
        "voltage_v": np.where(on, 228.0, 233.0),
        "current_a": np.where(on, 6.0, 0.0),
    }

    fast = measure(t_s, **made, register=REGISTER).week
    slow = measure(t_s[::60], **{k: v[::60] for k, v in made.items()}, register=REGISTER).week

    assert slow.n_starts == fast.n_starts
    assert slow.run_share == pytest.approx(fast.run_share, abs=0.002)
    assert slow.fall_p50_kpa_per_min == pytest.approx(fast.fall_p50_kpa_per_min, rel=0.02)
    assert slow.own_drop_v == pytest.approx(fast.own_drop_v, abs=0.01)


def test_rows_of_a_record_belong_to_their_pump_and_week(measure):
    record = measure(**full_week(), register=REGISTER)

    assert {(row.pump_id, row.week) for row in rows(record)} == {("P-1", "2026-W47")}
    assert all(isinstance(day, PumpDay) for day in record.days)
    assert all(isinstance(cell, OpMapBin) for cell in record.op_map)
