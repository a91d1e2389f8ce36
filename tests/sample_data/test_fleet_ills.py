"""What the invented ills do to a pump set, against hand reckoning and published formulas."""

from math import log

import numpy as np
import pytest

from sample_data.build import build_pump
from sample_data.control import simulate
from sample_data.demand import make_calendar
from sample_data.ills import Well
from sample_data.phases import COLUMNS
from sample_data.plant import GAL, PSI, PumpCurve, Tank, flux_share
from sample_data.protection import Overload
from sample_data.rig import Controller, Rig, Segment
from sample_data.sampling import record
from sample_data.scenarios import SCENARIOS
from sample_data.slow_states import joined, lagged, well_states
from sample_data.supply import source_volts

CALENDAR = make_calendar("2026-W47", 6, "America/Denver")
SET_KPA = 60 * PSI


def rig(**more: float) -> Rig:
    control = Controller(SET_KPA, 5 * PSI, 0.0, 30, 60, 2.0, 8.0, 2.0, **more)
    return Rig(PumpCurve(720, 80), 0.0, 2.2, 5.0, control)


def segment(from_s: float, to_s: float, lpm: float, **more: object) -> Segment:
    return Segment(from_s, to_s, lpm, Tank(14 * GAL, 42 * PSI), True, 0.0, 0.0, 1.0, **more)


def phases(rig: Rig, *segments: Segment) -> dict[str, np.ndarray]:
    table = simulate(rig, segments, np.random.default_rng(1))
    return {name: table.column(name) for name in COLUMNS}


def logged(name: str, seed: int = 5) -> tuple[object, dict[str, np.ndarray]]:
    """The last week of a scenario's log."""
    scenario = next(s for s in SCENARIOS if s.name == name)
    rng = np.random.default_rng(seed)
    pump, _ = build_pump(scenario, ("P-1", "S-1"), CALENDAR, rng)
    hours = CALENDAR.local_hour(np.arange(0.0, CALENDAR.length_s + 60, 60.0))
    volts = source_volts(rng, hours, pump.supply_volts, 1.015, tuple(pump.sags))
    log = record(pump, volts, np.random.SeedSequence(seed), np.random.SeedSequence(seed + 1))
    last = log["at_s"] >= CALENDAR.at(7)
    return pump, {key: values[last] for key, values in log.items()}


def test_an_overload_trips_from_cold_when_the_replica_says():
    # IEC 60255-149 formula by hand: tau 1800 s, k 1.05 Ib 10 A, 15 A from cold -> 1212.02 s
    guard = Overload(1.05 * 10, 1800.0)

    assert guard.trips_after_s(15.0) == pytest.approx(1212.02, abs=0.005)


def test_an_overload_trips_sooner_when_the_motor_is_warm():
    # the same from the heat of 10 A -> 154.004 s
    guard = Overload(1.05 * 10, 1800.0)
    guard.pass_time(10.0, 1e6)

    assert guard.trips_after_s(15.0) == pytest.approx(154.004, abs=0.0005)


def test_an_overload_never_trips_at_its_setting():
    assert Overload(10.0, 300.0).trips_after_s(10.0) == np.inf


def test_a_pump_over_its_setting_trips_and_tries_again_after_a_fixed_wait():
    held = rig(overload_a=0.9 * rig().current_a(60.0, 55.0), overload_tau_s=300.0)

    table = phases(held, segment(0, 7200, 60.0))

    begins = table["from_s"][(table["code"] == 11) & (np.roll(table["code"], 1) == 0)]
    assert len(begins) >= 2
    assert (np.diff(begins) > 900).all()


def test_a_well_settles_where_flow_and_yield_balance():
    # first order by hand: 60 L/min at 0.1 m per L/min settles at 6 m, 63.2 % after one tau
    edges = np.array([0.0, 1500.0, 1e6, 2e6])

    is_dry, lift = well_states(edges, np.full(4, 60.0), Well(0.0, 0.1, 1500.0, 7.0))

    assert not is_dry.any()
    assert lift[1] / 9.79 == pytest.approx(6 * (1 - np.exp(-1)), rel=1e-6)
    assert lift[2] / 9.79 == pytest.approx(6.0, rel=1e-6)


def test_a_well_drawn_to_its_intake_runs_dry_and_comes_back_after_rest():
    # intake at 3 m of 6 m: reached after tau ln 2 = 1040 s; back at 70 % after tau ln(1/0.7) = 535
    edges = np.arange(0.0, 3000.0, 10.0)

    is_dry, _ = well_states(edges, np.full(len(edges), 60.0), Well(0.0, 0.1, 1500.0, 3.0))

    first = int(np.argmax(is_dry))
    assert edges[first] == pytest.approx(1500 * log(2), abs=20)
    back = first + int(np.argmin(is_dry[first:]))
    assert edges[back] - edges[first] == pytest.approx(1500 * log(1 / 0.7), abs=20)


def test_a_dry_pump_turns_at_top_speed_with_little_torque_until_its_guard_stops_it():
    table = phases(
        rig(dry_trip_s=20.0, dry_wait_s=1800.0),
        segment(0, 600, 30.0),
        segment(600, 8000, 30.0, is_dry=True),
    )

    dry = (table["torque"] < 0.5) & (table["runs"] > 0)
    tripped = (table["code"] == 21) & (np.roll(table["code"], 1) == 0)
    assert (table["frequency_hz"][dry] == 60).all()
    assert np.diff(table["from_s"][tripped]) == pytest.approx(1820, abs=2)  # wait, ramp, dry run


def test_a_pump_that_cannot_reach_its_setting_does_not_sleep():
    weak = PumpCurve(720, 80).worn(0.4, 1.0, 1.0)

    table = phases(rig(), segment(0, 600, 20.0), segment(600, 7200, 0.0, curve=weak))

    assert table["runs"][-1] == 1
    assert table["pressure_kpa"][-1] == pytest.approx(0.4 * 720)  # shut-off head left


def test_a_worn_end_keeps_the_loss_with_flow_of_the_published_one():
    new = PumpCurve(720, 80)

    worn = new.worn(0.8, 1.0, 0.95)

    assert worn.bend == pytest.approx(new.bend)
    assert float(worn.boost_kpa(0.0, 60.0)) == pytest.approx(0.8 * 720)


def test_a_reading_stuck_low_runs_the_pump_against_its_relief_valve():
    table = phases(rig(), segment(0, 600, 0.0, is_full=True))

    assert table["frequency_hz"][-1] == 60
    assert table["pressure_kpa"][-1] == pytest.approx(SET_KPA + 170)
    assert table["flow_lpm"][-1] > 0


def test_a_shifted_sensor_shifts_the_true_pressure_the_other_way():
    table = phases(rig(), segment(0, 600, 20.0, offset_kpa=-60.0))

    assert table["pressure_kpa"][-1] == pytest.approx(SET_KPA + 60.0)


@pytest.mark.parametrize(
    ("volts", "speed", "flux"), [(230.0, 1.0, 1.0), (184.0, 1.0, 0.84), (184.0, 0.75, 1.0)]
)
def test_low_volts_take_flux_at_top_speed_only(volts, speed, flux):
    # V/Hz by hand: 1.05 x 184 / 230 = 0.84 at full speed; at 45 Hz the motor needs 75 % of volts
    assert float(flux_share(volts, 230.0, speed)) == pytest.approx(flux)


def test_heat_lags_by_its_time_constant():
    at_s = np.arange(0.0, 481.0, 60.0)

    warm = lagged(at_s, np.where(at_s > 0, 10.0, 0.0))

    assert warm[-1] == pytest.approx(10 * (1 - np.exp(-1)), rel=1e-9)


def test_spans_that_touch_are_one():
    assert joined([(5.0, 8.0), (0.0, 2.0), (7.0, 9.0)]) == [(0.0, 2.0), (5.0, 9.0)]


def test_a_dry_run_of_15_s_shows_in_one_or_two_samples_of_10_s():
    _, log = logged("one dry run of 15 s in a log of 10 s")

    usual = np.median(log["current"][(log["frequency"] > 40) & (log["frequency"] < 55)])
    dry = (log["frequency"] > 57) & (log["current"] < 1.15 * usual)
    assert 1 <= dry.sum() <= 3


def test_a_hydrant_takes_the_pressure_but_not_the_current():
    pump, log = logged("hydrant open for half an hour")

    gone = (log["pressure"] < 0.5 * pump.set_kpa) & (log["frequency"] > 55)
    usual = log["current"][(log["frequency"] > 5) & ~gone]
    assert gone.sum() > 60
    assert np.median(log["current"][gone]) > np.percentile(usual, 90)


def test_reversed_rotation_never_reaches_the_setting():
    pump, log = logged("wrong rotation since the motor was changed")

    assert log["frequency"].min() > 0.98 * pump.max_hz
    assert log["pressure"].max() < 0.75 * pump.set_kpa


def test_low_volts_hold_speed_and_pressure_back_in_the_evening_only():
    pump, log = logged("too little pressure when the volts are low")

    short = (log["frequency"] > 40) & (log["pressure"] < 0.88 * pump.set_kpa)
    assert short.sum() > 30
    assert np.percentile(log["voltage"][short], 90) < 0.85 * pump.supply_volts


def test_a_loop_that_hunts_swings_pressure_and_speed_at_one_period():
    pump, log = logged("hunting, ramp too fast")
    busy = log["frequency"] > 5
    ends = np.flatnonzero(np.diff(np.append(busy, False).astype(int)))
    starts = np.append(0, ends[:-1] + 1)
    first, last = max(zip(starts, ends, strict=True), key=lambda s: (s[1] - s[0]) * busy[s[1]])
    part = slice(first + 10, last - 10)

    peaks = [
        np.argmax(np.abs(np.fft.rfft(x - x.mean())))
        for x in (log["pressure"][part], log["frequency"][part])
    ]
    period = (last - first - 20) * 2.0 / peaks[0]
    assert period == pytest.approx(pump.hunting[0].period_s, rel=0.15)


def test_air_in_the_sensor_line_swings_pressure_while_speed_stays():
    pump, log = logged("air in the sensor line")
    steady = (log["frequency"] > 5) & (np.abs(np.gradient(log["frequency"])) < 0.2)

    assert log["pressure"][steady].std() > 0.02 * pump.set_kpa


def test_a_drive_that_folds_back_stays_at_its_limit():
    pump, log = logged("fan blocked, the drive slows down to stay cool")

    assert np.percentile(log["temp"], 99.9) == pytest.approx(pump.fold_back_c, abs=1.0)


def test_a_reading_stuck_high_never_moves_and_the_pump_never_starts():
    pump, log = logged("pressure reading stuck high, no start")
    stuck = log["at_s"] >= pump.sensors[0].from_s

    assert np.ptp(log["pressure"][stuck]) == 0
    assert (log["frequency"][log["at_s"] > pump.sensors[0].from_s + 60] == 0).all()


def test_a_drained_pipe_reads_the_offset_of_its_sensor():
    pump, log = logged("controlling sensor reads far too low")
    drained = (log["at_s"] > pump.off[0][1] - 3600) & (log["at_s"] < pump.off[0][1])

    assert np.median(log["pressure"][drained]) == pytest.approx(pump.sensors[0].value, abs=1.0)


def test_dry_run_retries_come_at_fixed_gaps():
    pump, log = logged("prime lost for a day, retries at fixed gaps")
    begins = log["at_s"][(log["code"] == 21) & (np.roll(log["code"], 1) == 0)]

    gaps = np.diff(begins)
    assert len(gaps) > 30
    assert np.ptp(gaps) <= 40  # two samples of 20 s
    assert np.median(gaps) == pytest.approx(pump.dry_wait_s + pump.dry_trip_s, abs=20)


def test_a_latched_trip_lasts_to_the_end_of_the_log():
    _, log = logged("latched on a ground fault, no water")

    latched = np.flatnonzero(log["code"] == 23)
    assert latched[-1] == len(log["code"]) - 1
    assert (np.diff(latched) == 1).all()
    assert log["pressure"][-1] < 10


def test_suction_wanders_with_the_street_until_its_reading_freezes():
    _, log = logged("suction reading frozen")
    scenario = next(s for s in SCENARIOS if s.name == "suction reading frozen")
    sound, _ = build_pump(scenario, ("P-1", "S-1"), CALENDAR, np.random.default_rng(5))
    sound.sensors.clear()
    volts = np.full(round(CALENDAR.length_s / 60) + 1, 233.0)

    told = record(sound, volts, np.random.SeedSequence(5), np.random.SeedSequence(6))["suction"]

    assert np.ptp(log["suction"]) == 0
    assert np.ptp(told) > 4


def test_a_draw_at_the_edge_of_no_flow_starts_the_pump_dozens_of_times_an_hour():
    _, log = logged("draw at the edge of no flow")
    runs = log["frequency"] > 5
    starts = log["at_s"][1:][runs[1:] & ~runs[:-1]]

    in_an_hour = np.searchsorted(starts, starts + 3600) - np.arange(len(starts))
    assert in_an_hour.max() > 30


def test_an_open_motor_circuit_has_speed_without_current():
    _, log = logged("motor isolator left open")

    assert ((log["frequency"] > 55) & (log["current"] == 0)).sum() > 300
