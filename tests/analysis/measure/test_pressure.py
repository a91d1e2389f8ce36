"""Pressure, speed and the operating map."""

import numpy as np
import pytest

from analysis.measure.op_map import BIN_HZ, BIN_PCT

REGISTER = {"pressure_setting_kpa": 400.0, "max_hz": 60.0, "min_hz": 30.0}


def plant(interval_s, length_s=86400.0):
    t_s = np.arange(0.0, length_s, interval_s)
    phase_s = t_s % 600
    on = phase_s >= 300
    return {
        "t_s": t_s,
        "frequency_hz": np.where(on, np.where(phase_s >= 570, 46.0, 52.0), 0.0),
        "pressure_kpa": np.where(on, 400.0, 400.0 - phase_s * 0.1),
        "current_a": np.where(on, 6.0, 0.0),
    }


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0])
def test_the_no_flow_speed_is_that_before_a_stop(measure, interval_s):
    week = measure(**plant(interval_s), register=REGISTER).week

    assert week.f0_hz == pytest.approx(46.0)
    assert week.f0_spread_hz == 0.0


def test_the_ramp_down_does_not_lower_the_no_flow_speed(measure):
    made = plant(1.0)
    phase_s = made["t_s"] % 600
    made["frequency_hz"] = np.where(phase_s >= 597, (600 - phase_s) * 10, made["frequency_hz"])

    assert measure(**made, register=REGISTER).week.f0_hz == pytest.approx(46.0)


def test_held_stop_and_restart_pressures(measure):
    week = measure(**plant(5.0), register=REGISTER).week

    assert week.held_pressure_kpa == pytest.approx(400.0, abs=0.5)
    assert week.stop_pressure_kpa == pytest.approx(400.0)
    assert week.restart_pressure_kpa == pytest.approx(370.5)
    assert week.overshoot_kpa == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("at_s", [595.0, 5.0])
def test_pressure_shooting_over_around_a_stop_is_seen_on_either_side(measure, at_s):
    made = plant(5.0)
    made["pressure_kpa"] = np.where(made["t_s"] % 600 == at_s, 430.0, made["pressure_kpa"])

    assert measure(**made, register=REGISTER).week.overshoot_kpa == pytest.approx(30.0, abs=0.5)


@pytest.mark.parametrize(("dip_s", "dips"), [(5, 0), (8, 24)])
def test_a_dip_is_short_of_the_setting_for_over_five_seconds(measure, dip_s, dips):
    made = plant(1.0)
    at_s = made["t_s"] % 3600
    made["pressure_kpa"] = np.where(
        (at_s >= 400) & (at_s < 400 + dip_s), 350.0, made["pressure_kpa"]
    )

    assert measure(**made, register=REGISTER).week.dips_per_day == pytest.approx(dips)


def test_a_dip_within_a_tenth_of_the_setting_is_none(measure):
    made = plant(1.0)
    at_s = made["t_s"] % 3600
    made["pressure_kpa"] = np.where((at_s >= 400) & (at_s < 420), 361.0, made["pressure_kpa"])

    assert measure(**made, register=REGISTER).week.dips_per_day == 0.0


def test_a_slow_log_cannot_tell_dips(measure):
    assert measure(**plant(60.0), register=REGISTER).week.dips_per_day is None


def test_the_map_bins_settled_running_and_adds_up(measure):
    made = plant(5.0)
    made["voltage_v"] = 230.0

    record = measure(**made, register=REGISTER)

    cells = {(b.frequency_bin_hz, b.pressure_bin_pct): b for b in record.op_map}
    assert set(cells) == {(46.0, 100.0), (52.0, 100.0)}
    assert cells[46.0, 100.0].n == 144 * 6
    assert cells[46.0, 100.0].held_s == 144 * 30.0
    assert cells[52.0, 100.0].held_s == 144 * 260.0
    assert cells[52.0, 100.0].current_mean_a == pytest.approx(6.0)
    assert cells[52.0, 100.0].current_sd_a == pytest.approx(0.0, abs=1e-5)
    assert cells[52.0, 100.0].voltage_mean_v == pytest.approx(230.0)
    assert cells[52.0, 100.0].flow_mean_lpm is None


def test_each_cell_has_the_mean_and_spread_numpy_gives(measure):
    rng = np.random.default_rng(1)
    made = plant(5.0)
    on = made["frequency_hz"] > 0
    made["frequency_hz"] = np.where(on, rng.uniform(44, 56, on.size), 0.0).astype(np.float32)
    made["pressure_kpa"] = rng.uniform(380, 420, on.size).astype(np.float32)
    made["current_a"] = np.where(on, rng.uniform(5, 7, on.size), 0.0)
    made["current_a"][rng.random(on.size) < 0.1] = np.nan

    record = measure(**made, register=REGISTER)

    settled = on & (made["t_s"] % 600 >= 310)
    for cell in record.op_map:
        mine = (
            settled
            & (made["frequency_hz"] // BIN_HZ * BIN_HZ == cell.frequency_bin_hz)
            & (made["pressure_kpa"] / 4.0 // BIN_PCT * BIN_PCT == cell.pressure_bin_pct)
        )
        assert cell.n == mine.sum()
        assert cell.current_mean_a == pytest.approx(np.nanmean(made["current_a"][mine]), rel=1e-5)
        assert cell.current_sd_a == pytest.approx(np.nanstd(made["current_a"][mine]), rel=1e-3)


def test_without_a_setting_the_map_is_of_the_held_pressure(measure):
    record = measure(**plant(5.0))

    assert {b.pressure_bin_pct for b in record.op_map} <= {95.0, 100.0}
