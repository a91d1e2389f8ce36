"""Swings of speed and pressure, with scipy.signal as the reference for known waves."""

import numpy as np
import pytest
from scipy import signal

DAY_S = 86400.0
RUN_S, CYCLE_S = 200.0, 900.0
REGISTER = {"pressure_setting_kpa": 400.0, "min_hz": 30.0, "max_hz": 60.0}


def plant(interval_s, speed_hz, pressure_kpa, *, days=2.0, noise=True, **more):
    """Runs of 200 s every 15 min; ``speed_hz`` and ``pressure_kpa`` are functions of time."""
    t_s = np.arange(0.0, days * DAY_S, interval_s)
    on = t_s % CYCLE_S < RUN_S
    rng = np.random.default_rng(3)
    scatter = rng.normal(0.0, 1.0, (2, t_s.size)) * noise
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, 48.0 + speed_hz(t_s) + 0.05 * scatter[0], 0.0),
        "pressure_kpa": np.where(on, 400.0 + pressure_kpa(t_s), 390.0) + 0.5 * scatter[1],
        "current_a": np.where(on, 6.0, 0.0),
    } | {name: np.where(on, of(t_s), 0.0) for name, of in more.items()}


def sine(size, period_s, lag_s=0.0):
    return lambda t_s: size * np.sin(2 * np.pi * (t_s - lag_s) / period_s)


def still(t_s):
    return np.zeros_like(t_s)


@pytest.mark.parametrize(
    ("interval_s", "period_s"), [(0.5, 2.5), (1.0, 6.0), (1.0, 29.0), (2.0, 10.0), (5.0, 24.0)]
)
def test_period_swing_and_lag_of_a_known_wave_come_back(measure, interval_s, period_s):
    lag_s = 0.15 * period_s
    made = plant(interval_s, sine(1.2, period_s), sine(20.0, period_s, lag_s), days=1.0)

    week = measure(**made, register=REGISTER).week

    # scipy.signal.periodogram of one run as the reference for the period; the wave as made
    run = made["pressure_kpa"][: int(RUN_S / interval_s)]
    hz, power = signal.periodogram(run, 1 / interval_s, nfft=65536, detrend="constant")
    assert week.hunting_period_s == pytest.approx(1 / hz[np.argmax(power)], rel=0.03)
    assert week.hunting_swing_kpa == pytest.approx(40.0, rel=0.05)
    assert week.hunting_swing_hz == pytest.approx(2.4, rel=0.05)
    assert week.hunting_lag_s == pytest.approx(lag_s, abs=0.03 * period_s)
    assert week.hunting_n_spells == 96  # runs of one day


def test_the_lag_of_a_first_order_plant_is_that_of_its_bode_plot(measure):
    # scipy.signal.bode: 1 / (tau s + 1) with tau 2 s, driven at a period of 12 s
    tau_s, period_s = 2.0, 12.0
    plant_of = signal.TransferFunction([18.0], [tau_s, 1.0])
    _, gain_db, phase_deg = signal.bode(plant_of, w=[2 * np.pi / period_s])
    size_kpa, lag_s = 1.5 * 10 ** (gain_db[0] / 20), -phase_deg[0] / 360 * period_s
    t_s = np.arange(0.0, 60.0, 0.01)
    _, answer, _ = signal.lsim(plant_of, 1.5 * np.sin(2 * np.pi * t_s / period_s), t_s)
    assert np.abs(answer[3000:]).max() == pytest.approx(size_kpa, rel=0.01)

    week = measure(
        **plant(1.0, sine(1.5, period_s), sine(size_kpa, period_s, lag_s), days=1.0),
        register=REGISTER,
    ).week

    assert week.hunting_lag_s == pytest.approx(lag_s, abs=0.1)
    assert week.hunting_swing_kpa == pytest.approx(2 * size_kpa, rel=0.03)


def test_days_share_the_time_in_swings(measure):
    record = measure(
        **plant(1.0, sine(1.2, 8.0), sine(20.0, 8.0, 1.0), days=3.0), register=REGISTER
    )

    of_days = [day.hunting_s for day in record.days]
    assert len(of_days) == 3
    assert sum(of_days) == pytest.approx(record.week.hunting_s)
    # 190 s of each run are settled, of which whole stretches of five swings (40 s) count
    assert of_days[0] == pytest.approx(96 * 160.0, rel=0.02)


@pytest.mark.parametrize(
    ("speed", "pressure"),
    [
        (still, sine(24.0, 8.0)),  # air in the sensor line or noise: speed stands still
        (sine(1.2, 8.0), still),  # speed follows a draw, pressure is held
        (sine(1.2, 8.0), sine(6.0, 8.0, 1.0)),  # 1.5 % of the setting
        (sine(1.2, 8.0), sine(-20.0, 8.0)),  # pressure falls as speed rises: a draw that pulses
        (sine(1.2, 60.0), sine(20.0, 60.0, 5.0)),  # slower than a loop hunts
        (lambda t_s: 2.0 * np.exp(-(t_s % CYCLE_S) / 60.0) * np.sin(t_s), still),
    ],
    ids=["still speed", "held pressure", "small", "opposite", "slow", "settling"],
)
def test_what_is_no_hunting_is_not_counted(measure, speed, pressure):
    week = measure(**plant(1.0, speed, pressure), register=REGISTER).week

    assert week.hunting_s == 0.0
    assert week.hunting_swing_kpa is None


def test_a_draw_that_opens_and_shuts_makes_uneven_steps_and_no_hunting(measure):
    # a valve open 3 s of every 15: speed jumps up, pressure dips and recovers at each edge
    def speed(t_s):
        return np.where(t_s % 15.0 < 3.0, 4.0, 0.0)

    def pressure(t_s):
        return -25.0 * np.exp(-(t_s % 15.0) / 1.0)

    week = measure(**plant(1.0, speed, pressure), register=REGISTER).week

    assert week.hunting_s == 0.0


def test_cycling_at_the_sleep_threshold_is_no_hunting(measure):
    t_s = np.arange(0.0, DAY_S)
    on = t_s % 20.0 < 12.0

    week = measure(
        t_s,
        frequency_hz=np.where(on, 42.0, 0.0),
        pressure_kpa=np.where(on, 405.0, 380.0),
        register=REGISTER,
    ).week

    assert week.hunting_s in (None, 0.0)


def test_a_hand_over_between_two_pumps_is_one_swing(measure):
    def speed(t_s):
        return -6.0 * np.clip((t_s % CYCLE_S - 90.0) / 10.0, 0.0, 1.0)

    def pressure(t_s):
        return 30.0 * np.exp(-(((t_s % CYCLE_S - 95.0) / 4.0) ** 2))

    week = measure(**plant(1.0, speed, pressure), register=REGISTER).week

    assert week.hunting_s == 0.0


def test_four_swings_are_too_few(measure):
    def only(size):
        wave = sine(size, 10.0)
        return lambda t_s: np.where(np.abs(t_s % CYCLE_S - 100.0) < 20.0, wave(t_s), 0.0)

    assert measure(**plant(1.0, only(1.2), only(20.0)), register=REGISTER).week.hunting_s == 0.0


def test_swings_too_fast_for_the_log_are_told_as_such(measure):
    made = plant(2.0, sine(1.2, 5.0), sine(20.0, 5.0, 0.5))

    week = measure(**made, register=REGISTER).week

    assert week.hunting_s == 0.0
    assert week.fast_swing_s > 3600.0


def test_a_log_slower_than_a_quarter_of_thirty_seconds_shows_nothing(measure):
    week = measure(**plant(10.0, sine(1.2, 24.0), sine(20.0, 24.0, 2.0)), register=REGISTER).week

    assert week.hunting_s is None
    assert week.run_interval_s == 10.0


def test_a_logger_that_slows_down_at_rest_is_judged_by_its_pace_while_running(measure):
    made = plant(1.0, sine(1.2, 8.0), sine(20.0, 8.0, 1.0))
    keep = (made["frequency_hz"] > 0) | (made["t_s"] % 60.0 == 0.0)

    week = measure(**{k: v[keep] for k, v in made.items()}, register=REGISTER).week

    assert week.run_interval_s == 1.0
    assert week.hunting_s > 0.0


def test_the_same_pump_hunts_at_every_pace_that_can_show_it(measure):
    found = {}
    for interval_s in (1.0, 2.0, 5.0, 10.0, 30.0, 60.0):
        made = plant(interval_s, sine(1.2, 22.0), sine(20.0, 22.0, 2.0))
        week = measure(**made, register=REGISTER).week
        found[interval_s] = None if week.hunting_s is None else week.hunting_s > 3600.0

    assert found == {1.0: True, 2.0: True, 5.0: True, 10.0: None, 30.0: None, 60.0: None}


def test_blanks_in_either_channel_do_not_hide_it(measure):
    made = plant(1.0, sine(1.2, 8.0), sine(20.0, 8.0, 1.0))
    holes = np.random.default_rng(1).random((2, made["t_s"].size)) < 0.05
    for channel, hole in zip(("frequency_hz", "pressure_kpa"), holes, strict=True):
        made[channel] = np.where(hole, np.nan, made[channel])

    week = measure(**made, register=REGISTER).week

    assert week.hunting_period_s == pytest.approx(8.0, rel=0.02)


def test_logged_flow_tells_how_far_it_swings(measure):
    made = plant(
        1.0, sine(1.2, 8.0), sine(20.0, 8.0, 1.0), flow_lpm=lambda t: 30.0 + sine(6.0, 8.0)(t)
    )

    week = measure(**made, register=REGISTER).week

    assert week.hunting_swing_lpm == pytest.approx(12.0, rel=0.05)
    assert week.hunting_flow_lpm == pytest.approx(30.0, rel=0.02)
