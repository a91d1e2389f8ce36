import numpy as np
import pytest

from sample_data.control import simulate
from sample_data.plant import (
    GAL,
    PIPE_L_PER_KPA,
    PSI,
    Motor,
    PumpCurve,
    Tank,
    input_current_a,
    input_power_factor,
    orifice_lpm,
    pressure_of_stored_kpa,
    terminal_volts,
)
from sample_data.rig import Controller, Rig, Segment
from sample_data.supply import wire_loop_ohm


def steady_rig() -> Rig:
    control = Controller(
        set_kpa=60 * PSI,
        band_kpa=5 * PSI,
        boost_kpa=0.0,
        min_hz=30,
        max_hz=60,
        ramp_s=2.0,
        no_flow_s=8.0,
        sleep_lpm=2.0,
    )
    return Rig(PumpCurve(720, 80), 0.0, 2.2, 5.0, control)


def stops_of(table: np.ndarray) -> np.ndarray:
    runs = table[:, 11] > 0
    starts = np.flatnonzero(runs[1:] & ~runs[:-1]) + 1
    ends = np.flatnonzero(~runs[1:] & runs[:-1]) + 1
    starts = starts[starts > ends[0]]
    return table[starts, 0] - table[ends[: len(starts)], 0]


def test_the_tank_gives_the_drawdown_of_a_published_example():
    # The Driller, Feb. 2006: 85 gal, pre-charge 28 psi, 30/50 psi, air 14.7 psi -> 25.1 gal
    tank = Tank(85 * GAL, 28 * PSI, pipe_l_per_kpa=0.0)

    got_gal = tank.drawdown_l(50 * PSI, 30 * PSI) / GAL

    assert got_gal == pytest.approx(25.1, abs=0.05)  # printed to 0.1 gal


def test_a_tank_charged_above_the_restart_is_empty_before_it():
    # gas law by hand: 45 psi charge, stop at 60 psi: all water is V (1 - 59.7/74.7)
    tank = Tank(100.0, 45 * PSI, pipe_l_per_kpa=0.0)

    assert tank.drawdown_l(60 * PSI, 40 * PSI) == pytest.approx(100 * (1 - 59.7 / 74.7), abs=0.05)
    assert tank.drawdown_l(44 * PSI, 40 * PSI) == 0.0


@pytest.mark.parametrize("gas_share", [1.0, 0.2, 0.04])
@pytest.mark.parametrize("psi", [0.0, 20.0, 41.0, 43.0, 60.0])
def test_pressure_follows_back_from_the_water_stored(psi, gas_share):
    tank = Tank(4.5 * GAL, 42 * PSI, gas_share)

    back = pressure_of_stored_kpa(
        tank.stored_l(psi * PSI), tank.volume_l, tank.gas, PIPE_L_PER_KPA
    )

    assert float(back) == pytest.approx(psi * PSI, abs=1e-6)


def test_a_tank_without_gas_gives_little_water_per_kpa():
    whole, dead = Tank(4.5 * GAL, 42 * PSI), Tank(4.5 * GAL, 42 * PSI, 0.04)

    ratio = whole.l_per_kpa(60 * PSI) / dead.l_per_kpa(60 * PSI)

    assert 10 < ratio < 50  # common practice, no source: 5 to 50 times with some trapped gas


def test_speed_from_60_to_45_hz_scales_head_and_flow_by_the_affinity_laws():
    # affinity laws, any pump text: 0.75 of the speed -> 0.75 of the flow, 0.5625 of the head
    curve = PumpCurve(700, 80)

    full, slow = curve.boost_kpa(40.0, 60.0), curve.boost_kpa(30.0, 45.0)

    assert float(slow / full) == pytest.approx(0.5625, abs=1e-6)


def test_shaft_torque_scales_with_the_square_of_speed():
    # power ~ n^3, so torque ~ n^2
    curve = PumpCurve(700, 80)

    ratio = curve.torque_share(30.0, 45.0) / curve.torque_share(40.0, 60.0)

    assert float(ratio) == pytest.approx(0.5625, abs=1e-6)


def test_least_speed_for_a_boost_without_flow_matches_the_worked_value():
    # affinity laws by hand: shutoff 100 psi at 60 Hz, hold 60 psi -> 60 sqrt(0.6) = 46.476 Hz
    curve = PumpCurve(100 * PSI, 80)

    assert curve.speed_hz(0.0, 60 * PSI) == pytest.approx(46.476, abs=5e-4)


def test_no_flow_stays_within_the_shutoff_head():
    curve = PumpCurve(700, 80)

    assert curve.flow_lpm(800.0, 60.0) == 0.0
    assert curve.boost_kpa(curve.flow_lpm(400.0, 60.0), 60.0) == pytest.approx(400.0)


def test_a_sixteenth_inch_hole_leaks_what_utilities_print():
    # utility leak tables: 1/16 in at 60 psi, "over 800 gal a day"
    gal_per_day = orifice_lpm(25.4 / 16, 60 * PSI) * 1440 / GAL

    assert gal_per_day == pytest.approx(806.4, rel=0.01)


def test_supply_amps_are_about_twice_motor_amps_at_full_speed_and_alike_at_half():
    # power balance: 1-phase in, 3-phase motor; about 2.1 at 60 Hz (common practice)
    motor, curve = Motor(230, 60, 0.33 * 9.6, 9.0), PumpCurve(720, 120)
    ratios = []
    for hz, flow in ((60.0, 120.0), (30.0, 10.0)):
        torque = curve.torque_share(flow, hz)
        power = motor.input_kw(torque, hz)
        pf = input_power_factor(power / motor.input_kw(1.0, 60.0))
        ratios.append(float(input_current_a(power, pf, 230, 1) / motor.current_a(torque, hz)))

    assert ratios[0] == pytest.approx(2.1, abs=0.2)
    assert 0.4 < ratios[1] < 1.2


def test_volts_at_the_drive_fall_by_current_times_loop():
    # Ohm's law: 100 ft of 12 AWG copper, 10 A -> about 4 V of 230
    loop = wire_loop_ohm(3.309, 30.48)
    volts = float(terminal_volts(230.0, 1.6, 0.7, loop, 1))
    amps = 1600 / (0.7 * volts)

    assert 230.0 - volts == pytest.approx(amps * loop, rel=1e-9)
    assert loop == pytest.approx(0.335, abs=0.02)  # 1.98 ohm/kft at 75 C is 0.396; cooler here


def test_volts_at_a_stopped_drive_are_nearly_those_of_the_source():
    assert float(terminal_volts(230.0, 0.0, 0.6, 1.0, 1)) == 230.0


@pytest.mark.parametrize("leak_lpm", [0.05, 0.2, 0.8])
def test_a_steady_leak_restarts_the_pump_after_drawdown_over_leak(leak_lpm):
    # Boyle's law: the stop lasts D / q (4.4 gal, 42 psi, 60 to 55 psi: 0.907 L)
    rig, tank = steady_rig(), Tank(4.4 * GAL, 42 * PSI, pipe_l_per_kpa=0.0)
    held = tank.drawdown_l(rig.controller.stop_kpa(tank), 55 * PSI)
    segment = Segment(0.0, 10 * 86400.0, leak_lpm, tank, True, 0.0, 0.0, 1.0)

    table = simulate(rig, [segment], np.random.default_rng(1)).table

    delay_s = 0.5 * rig.controller.ramp_s
    assert held == pytest.approx(0.907, rel=0.03)  # the last turns push in a little more
    assert np.median(stops_of(table)) - delay_s == pytest.approx(held / leak_lpm * 60, rel=0.005)


def test_without_any_draw_the_pump_never_starts():
    segment = Segment(0.0, 30 * 86400.0, 0.0, Tank(76, 290), True, 0.0, 0.0, 1.0)

    table = simulate(steady_rig(), [segment], np.random.default_rng(1)).table

    assert not (table[:, 11] > 0).any()


def test_a_leak_above_the_sleep_flow_keeps_the_pump_running():
    segment = Segment(0.0, 86400.0, 6.0, Tank(76, 290), True, 0.0, 0.0, 1.0)

    table = simulate(steady_rig(), [segment], np.random.default_rng(1)).table

    assert table[-1, 11] == 1.0
    assert len(stops_of(np.vstack([table, table[:1], table[-1:]]))) <= 1


def test_a_check_valve_that_leaks_on_two_stops_of_three_makes_stops_unlike():
    tank = Tank(14 * GAL, 42 * PSI)
    segments = [
        Segment(0.0, 600.0, 5.0, tank, True, 0.0, 0.5, 2 / 3),
        Segment(600.0, 60 * 86400.0, 0.001, tank, True, 0.0, 0.5, 2 / 3),
    ]

    stops = stops_of(simulate(steady_rig(), segments, np.random.default_rng(2)).table)

    usual = tank.drawdown_l(60 * PSI, 55 * PSI) / 0.5 * 60
    assert np.mean(stops < 3 * usual) == pytest.approx(2 / 3, abs=0.12)


def test_a_current_limit_holds_speed_and_pressure_back():
    rig = steady_rig()
    free = rig.duty(75.0, 0.0)
    limit = 0.9 * rig.current_a(free.flow_lpm, free.frequency_hz)
    control = rig.controller
    held = Rig(
        rig.curve,
        rig.suction_kpa,
        rig.magnetising_a,
        rig.load_a,
        Controller(control.set_kpa, control.band_kpa, 0.0, 30, 60, 2.0, 8.0, 2.0, limit_a=limit),
    ).duty(75.0, 0.0)

    assert held.frequency_hz < free.frequency_hz
    assert held.pressure_kpa < free.pressure_kpa
    assert rig.current_a(held.flow_lpm, held.frequency_hz) == pytest.approx(limit, rel=1e-3)
