"""Drive temperature: quarter hours under load and at rest, hot time, fold-back."""

import numpy as np
import pytest

DAY_S = 86400.0
REGISTER = {"pressure_setting_kpa": 400.0, "min_hz": 30.0, "max_hz": 60.0}
TAU_S = 600.0


def warm_box(interval_s, *, days=2.0, rise_c=25.0, air_c=20.0, run_s=2 * 3600.0, **more):
    """A drive that runs from 06:00 each day and warms to ``air_c + rise_c`` (Newton's law)."""
    t_s = np.arange(0.0, days * DAY_S, interval_s)
    of_day = t_s % DAY_S - 6 * 3600.0
    on = (of_day >= 0.0) & (of_day < run_s)
    top_c = rise_c * (1 - np.exp(-run_s / TAU_S))
    rise = np.where(on, rise_c * (1 - np.exp(-of_day / TAU_S)), 0.0)
    rise = np.where(of_day >= run_s, top_c * np.exp(-(of_day - run_s) / TAU_S), rise)
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 50.0, 0.0),
        "pressure_kpa": np.where(on, 400.0, 395.0),
        "current_a": np.where(on, 6.0, 0.0),
        "drive_temp_c": air_c + rise,
    } | more


@pytest.mark.parametrize("interval_s", [1.0, 10.0, 60.0, 300.0])
def test_a_day_tells_its_hottest_quarter_under_load_and_its_surroundings(measure, interval_s):
    made = warm_box(interval_s)

    day = measure(**made, register=REGISTER).days[0]

    # Newton's law of cooling: the mean of the last quarter of two hours at a time constant of
    # 600 s is air + rise (1 - tau / 900 (exp(-6300 / tau) - exp(-7200 / tau)))
    share = 1 - TAU_S / 900 * (np.exp(-6300 / TAU_S) - np.exp(-7200 / TAU_S))
    assert day.drive_hot_c == pytest.approx(20.0 + 25.0 * share, abs=0.1)
    assert day.drive_load_a == pytest.approx(6.0)
    assert day.drive_cool_c == pytest.approx(20.0, abs=0.1)


def test_rest_counts_from_half_an_hour_into_a_stop(measure):
    day = measure(**warm_box(60.0), register=REGISTER).days[0]

    # warmest rest: the quarter hour from 1800 s after the stop, again by Newton's law
    mean = TAU_S / 900 * (np.exp(-1800 / TAU_S) - np.exp(-2700 / TAU_S))
    assert day.drive_cool_max_c == pytest.approx(20.0 + 25.0 * mean, abs=0.2)


def test_hot_time_is_that_at_eighty_degrees_and_more(measure):
    t_s = np.arange(0.0, DAY_S, 60.0)
    temp_c = np.where((t_s >= 36000.0) & (t_s < 36000.0 + 1800.0), 80.0, 79.9)

    record = measure(t_s, frequency_hz=0.0, pressure_kpa=400.0, drive_temp_c=temp_c)

    assert record.week.hot_s == pytest.approx(1800.0)
    assert record.days[0].hot_s == pytest.approx(1800.0)


@pytest.mark.parametrize("sentinel", [-60.0, 199.0])
def test_what_no_drive_can_read_is_left_out(measure, sentinel):
    made = warm_box(60.0)
    made["drive_temp_c"][::50] = sentinel

    week = measure(**made, register=REGISTER).week

    assert week.drive_temp_max_c == pytest.approx(45.0, abs=0.1)
    assert week.hot_s == 0.0


def test_a_log_without_drive_temperature_says_so(measure):
    made = warm_box(60.0)
    del made["drive_temp_c"]

    record = measure(**made, register=REGISTER)

    assert not record.week.has_drive_temp
    assert record.week.hot_s is None
    assert record.days[0].drive_hot_c is None


def folding(interval_s=10.0, *, temp_c=78.0, cap_hz=50.0):
    """Four hours at top demand: full speed at first, then held down and short of pressure."""
    t_s = np.arange(0.0, DAY_S, interval_s)
    on = (t_s >= 36000.0) & (t_s < 36000.0 + 4 * 3600.0)
    held = on & (t_s >= 36000.0 + 3600.0)
    return {
        "t_s": t_s,
        "frequency_hz": np.where(held, cap_hz, np.where(on, 58.0, 0.0)),
        "pressure_kpa": np.where(held, 330.0, 400.0),
        "current_a": np.where(on, 6.0, 0.0),
        "drive_temp_c": np.where(on, np.minimum(30.0 + (t_s - 36000.0) / 60.0, temp_c), 30.0),
    }


def test_a_temperature_plateau_with_speed_held_down_is_fold_back(measure):
    assert measure(**folding(), register=REGISTER).week.fold_back_s == pytest.approx(
        3 * 3600.0, rel=0.02
    )


@pytest.mark.parametrize(
    "change",
    [{"temp_c": 55.0}, {"cap_hz": 58.0}],
    ids=["not hot", "as fast as ever"],
)
def test_short_pressure_alone_is_no_fold_back(measure, change):
    assert measure(**folding(**change), register=REGISTER).week.fold_back_s == 0.0


def test_a_hot_house_whose_drive_keeps_its_pressure_never_folds_back(measure):
    made = warm_box(10.0, rise_c=30.0, air_c=48.0)

    assert measure(**made, register=REGISTER).week.fold_back_s == 0.0
