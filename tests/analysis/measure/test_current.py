"""Motor current of settled running."""

import numpy as np
import pytest

PUMP = {
    "service_factor_amps": 8.0,
    "rated_amps": 7.0,
    "overload_setting_amps": 9.0,
    "pressure_setting_kpa": 400.0,
}
CYCLE_S = 600.0


def plant(interval_s, running_a, *, length_s=86400.0, **more):
    t_s = np.arange(0.0, length_s, interval_s)
    on = t_s % CYCLE_S >= 300.0
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 50.0, 0.0),
        "pressure_kpa": 400.0,
        "current_a": np.where(on, running_a, 0.0),
        **more,
    }


def test_the_first_ten_seconds_of_a_run_do_not_count(measure):
    made = plant(1.0, 6.0)
    since_start_s = made["t_s"] % CYCLE_S - 300.0
    made["current_a"] = np.where(
        (since_start_s >= 0) & (since_start_s < 10), 30.0, made["current_a"]
    )

    week = measure(**made, register=PUMP).week

    assert week.current_max_a == 6.0
    assert week.over_limit_s == 0.0


def test_the_first_sample_of_a_run_never_counts_in_a_slow_log(measure):
    made = plant(60.0, 6.0)
    made["current_a"] = np.where(made["t_s"] % CYCLE_S == 300.0, 2.0, made["current_a"])

    assert measure(**made, register=PUMP).week.current_p50_a == 6.0


def test_time_over_each_limit_is_held_time(measure):
    made = plant(10.0, 7.5, length_s=2 * 86400.0)
    made["current_a"] = np.where(
        (made["t_s"] >= 86400) & (made["current_a"] > 0), 8.5, made["current_a"]
    )

    record = measure(**made, register=PUMP)

    a_day_s = 144 * 290.0  # 144 runs of 300 s less their first 10 s
    assert record.week.over_rated_s == 2 * a_day_s
    assert record.week.over_limit_s == a_day_s
    assert record.week.over_setting_s == 0.0
    assert [day.over_limit_s for day in record.days] == [0.0, a_day_s]
    assert [day.current_p95_a for day in record.days] == [7.5, 8.5]


def test_a_limit_the_register_lacks_is_not_judged(measure):
    week = measure(**plant(10.0, 7.5)).week

    assert week.over_limit_s is None
    assert week.thermal_max_pct is None


def test_current_held_at_a_ceiling_is_found(measure):
    rng = np.random.default_rng(1)
    made = plant(5.0, 6.0)
    on = made["frequency_hz"] > 0
    held_back = on & (made["t_s"] % 3600 >= 2400)  # the last two of six runs an hour
    made["current_a"] = np.where(held_back, 8.0, made["current_a"]) + on * rng.normal(
        0, 0.05, on.size
    )
    made["frequency_hz"] = np.where(held_back, 54.0, made["frequency_hz"])
    made["pressure_kpa"] = np.where(held_back, 330.0, 400.0)

    record = measure(**made, register=PUMP)

    assert record.week.ceiling_a == pytest.approx(8.0, abs=0.05)
    assert record.week.clip_s == pytest.approx(24 * 2 * 290.0, rel=0.01)
    assert record.week.short_of_setting_s == pytest.approx(24 * 2 * 290.0, rel=0.01)
    assert record.days[0].clip_s == record.week.clip_s


@pytest.mark.parametrize(
    ("stopped_kpa", "is_ceiling"), [(0.0, False), (330.0, True)], ids=["empty line", "large draw"]
)
def test_filling_an_empty_line_is_no_ceiling(measure, stopped_kpa, is_ceiling):
    made = plant(5.0, 6.0)
    since_start_s = made["t_s"] % CYCLE_S - 300.0
    on = since_start_s >= 0.0
    held_back = on & (since_start_s < 100.0)
    made["current_a"] = np.where(held_back, 6.5, made["current_a"])
    made["pressure_kpa"] = np.where(held_back, 330.0, np.where(on, 400.0, stopped_kpa))

    week = measure(**made, register=PUMP).week

    assert (week.ceiling_a is not None) is is_ceiling


def test_full_speed_and_short_of_the_setting_is_no_ceiling(measure):
    made = plant(5.0, 8.0, pressure_kpa=330.0)
    made["frequency_hz"] = np.where(made["frequency_hz"] > 0, 60.0, 0.0)

    week = measure(**made, register=PUMP).week

    assert week.ceiling_a is None
    assert week.clip_s == 0.0
    assert week.short_of_setting_s == 144 * 290.0
    assert week.at_max_s == 144 * 300.0


def test_two_samples_of_a_slow_log_that_agree_are_no_ceiling(measure):
    made = plant(30.0, 6.0)
    made["pressure_kpa"] = np.where(np.isin(made["t_s"], [3420.0, 3450.0]), 330.0, 400.0)

    assert measure(**made, register=PUMP).week.ceiling_a is None


def test_current_that_scatters_while_short_is_no_ceiling(measure):
    made = plant(5.0, 6.0, pressure_kpa=330.0)
    scatter_a = np.random.default_rng(1).uniform(3.0, 8.0, made["t_s"].size)
    made["current_a"] = np.where(made["frequency_hz"] > 0, scatter_a, 0.0)

    assert measure(**made, register=PUMP).week.ceiling_a is None


def test_the_thermal_state_is_that_of_the_replica(measure):
    # IEC 60255-149, cold, constant current: H = (I / (k Ib))**2 (1 - exp(-t / tau)); tau 355 s is
    # the replica that trips at six times the setting in 10 s; 290 to 300 s of 8 A on 9 A
    made = plant(5.0, 8.0, length_s=600.0)

    week = measure(**made, register=PUMP).week

    expected_pct = 100 * (8 / 9) ** 2 * (1 - np.exp(-300 / 355))
    assert week.thermal_max_pct == pytest.approx(expected_pct, rel=0.01)
    assert week.thermal_max_at == week.from_at.replace(minute=10)


def test_blank_currents_do_not_bias_the_level(measure):
    made = plant(5.0, 6.0)
    holes = np.random.default_rng(1).random(made["t_s"].size) < 0.3
    made["current_a"] = np.where(holes, np.nan, made["current_a"])

    week = measure(**made, register=PUMP).week

    assert (week.current_p50_a, week.current_p95_a) == (6.0, 6.0)
