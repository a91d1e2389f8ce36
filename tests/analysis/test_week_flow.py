"""Flow of a week: the meter wins, the curve estimates with a band, and what neither tells."""

from datetime import datetime

import numpy as np
import pytest

from analysis.flow import own_curve
from analysis.no_flow import LOGGED, NoFlow
from analysis.physics.pump import WATER_KPA_PER_M
from analysis.records import OpMapBin
from analysis.week_flow import CURVE, METER, week_flow
from ingest.installed_base import CurvePoint, Pump
from ingest.weeks import Week

PSI = 6.894757
LAST = Week(2026, 47)
PUMP = {"suction_kpa": 0.0}
# shut-off of 100 psi: f0 at 60 psi is 46.476 Hz by the affinity laws
SHUTOFF_M = 100 * PSI / WATER_KPA_PER_M
POINTS = tuple(
    CurvePoint(pump_model="PM-A", flow_lpm=float(q), head_m=SHUTOFF_M * (1 - 0.3 * (q / 80) ** 2))
    for q in range(0, 130, 10)
)


def speed_hz(flow_lpm, boost_psi=60.0, share=1.0):
    """Speed that gives a flow at a boost on that curve, worked by hand from its square law."""
    return 60.0 * np.sqrt((boost_psi / 100.0 / share) + 0.3 * (flow_lpm / 80) ** 2 / 1.0)


def op_bin(week, flow_lpm, *, held_s=4000.0, metered=None, share=1.0, current_a=4.5):
    hz = float(speed_hz(flow_lpm, share=share))
    return OpMapBin(
        pump_id="P-01", week=str(week), frequency_bin_hz=2.0 * (hz // 2), pressure_bin_pct=100.0,
        n=400, held_s=held_s, frequency_mean_hz=hz, pressure_mean_kpa=60 * PSI,
        current_mean_a=current_a, flow_mean_lpm=metered,
    )  # fmt: skip


def no_flow_speeds(factory, n_weeks, f0_hz=46.476):
    return [factory.healthy_week(LAST.plus(n + 1 - n_weeks), f0_hz=f0_hz) for n in range(n_weeks)]


def flow_of(factory, maps, *, curve=POINTS, pump=None, f0_hz=46.476, **change):
    weeks = no_flow_speeds(factory, len(maps), f0_hz)
    week = factory.healthy_week(LAST, **({"f0_hz": f0_hz} | change))
    return week_flow(week, factory.healthy_pump(**(PUMP | (pump or {}))), curve, maps, weeks[:-1])


def test_flow_is_estimated_from_the_curve_and_said_to_be(case_factory):
    maps = [tuple(op_bin(LAST, q) for q in (20.0, 30.0, 40.0))]

    got = flow_of(case_factory, maps)

    middle, low, high = got.median_lpm
    assert got.basis == CURVE
    assert middle == pytest.approx(30.0, rel=0.02)
    assert low < 30.0 < high
    # 37,800 s of running at a mean of 30 L/min
    assert got.volume_l[0] == pytest.approx(37_800 / 60 * 30, rel=0.02)


def test_a_meter_wins_and_has_no_band(case_factory):
    maps = [tuple(op_bin(LAST, q, metered=0.97 * q) for q in (20.0, 30.0, 40.0))]

    got = flow_of(case_factory, maps)

    assert got.basis == METER
    assert got.median_lpm == pytest.approx((29.1, 29.1, 29.1))
    assert got.meter.ratio == pytest.approx(0.97, rel=0.02)
    assert got.meter.text == ""


def test_a_growing_difference_between_meter_and_curve_is_told(case_factory):
    weeks = [LAST.plus(n - 5) for n in range(6)]
    maps = [
        tuple(op_bin(week, q, metered=(1 - 0.04 * n) * q) for q in (20.0, 30.0, 40.0))
        for n, week in enumerate(weeks)
    ]

    got = flow_of(case_factory, maps)

    # first third of six weeks: median of 1.00 and 0.96; last 0.80
    assert got.meter.change_pct == pytest.approx(100 * (0.80 / 0.98 - 1), abs=0.5)
    assert (
        "18 % less against the pump's curve than 5 weeks ago: wear or the meter" in got.meter.text
    )


def test_specific_energy_agrees_with_a_power_balance(case_factory):
    # hydraulic: 60 psi is 0.1149 kWh/m3; 230 V x 4.5 A x sqrt(3) x 0.8 x f/60 over 0.96 and flow
    maps = [(op_bin(LAST, 60.0),)]
    hz = float(speed_hz(60.0))
    watts = np.sqrt(3) * 230.0 * hz / 60.0 * 4.5 * 0.80 / 0.96

    got = flow_of(case_factory, maps)

    value, low, high = got.kwh_per_m3
    assert value == pytest.approx(watts / 1000.0 / (60.0 * 60 / 1000), rel=0.02)
    assert 60 * PSI / 3600 < low < value < high


def test_near_shut_off_no_energy_figure_is_given(case_factory):
    got = flow_of(case_factory, [(op_bin(LAST, 3.0),)])

    assert got.median_lpm[1] == 0.0
    assert got.kwh_per_m3 is None


def test_a_big_leak_that_never_lets_the_pump_stop_is_sized_from_the_nights_floor(case_factory):
    maps = [(op_bin(LAST, 40.0),)]

    got = flow_of(
        case_factory,
        maps,
        quiet_never_stopped_nights=6,
        quiet_floor_hz=float(speed_hz(40.0)),
        f0_hz=None,
    )

    value, low, high = got.quiet_floor_lpm
    assert value == pytest.approx(40.0, rel=0.03)
    assert low < 40.0 < high


def test_a_pump_that_stops_at_night_has_no_floor(case_factory):
    got = flow_of(case_factory, [(op_bin(LAST, 40.0),)], quiet_floor_hz=50.0)

    assert got.quiet_floor_lpm is None


@pytest.mark.parametrize("maps", [[], [()]])
def test_without_running_there_is_no_flow(case_factory, maps):
    assert flow_of(case_factory, maps) is None


def test_without_meter_and_curve_there_is_no_flow(case_factory):
    assert flow_of(case_factory, [(op_bin(LAST, 40.0),)], curve=()) is None


def no_flow(f0_hz, **change):
    values = {
        "week": str(LAST),
        "from_at": datetime(2026, 11, 16),
        "f0_hz": f0_hz,
        "pressure_kpa": 60 * PSI,
        "suction_kpa": 0.0,
        "suction_from": LOGGED,
    }
    return NoFlow(**(values | change))


def pump(**change):
    return Pump(pump_id="P-01", site_id="S-01", **({"suction_kpa": 0.0} | change))


def test_the_share_of_the_curve_is_read_from_the_no_flow_speed():
    # 10 % less shutoff boost: f0 up by 1/sqrt(0.9)
    got = own_curve(POINTS, pump(), no_flow(46.476 / np.sqrt(0.9)))

    assert got.head_share == pytest.approx(0.9, abs=0.001)
    assert got.is_fitted


def test_a_curve_of_another_pump_is_not_used():
    assert own_curve(POINTS, pump(), no_flow(30.0)) is None
    assert own_curve(POINTS, pump(), no_flow(62.0)) is None


def test_a_curve_that_does_not_reach_no_flow_is_not_used():
    assert own_curve(POINTS[1:], pump(), None) is None
    assert own_curve(POINTS[:1], pump(), None) is None


def test_without_suction_and_no_flow_speed_nothing_is_guessed():
    assert own_curve(POINTS, pump(suction_kpa=None), None) is None


def test_a_50_hz_pump_has_a_50_hz_curve():
    assert own_curve(POINTS, pump(max_hz=50.0), None).rated_hz == 50.0
    assert own_curve(POINTS, pump(), None).rated_hz == 60.0


def test_flow_keeps_shape_and_unknowns():
    curve = own_curve(POINTS, pump(), None)

    got = curve.flow([[50.0, np.nan], [0.0, 60.0]], 60 * PSI)

    assert got.lpm.shape == (2, 2)
    assert np.isnan(got.lpm[0, 1])
    assert got.lpm[1, 0] == 0.0
    assert np.isnan(curve.flow(60.0, 5 * PSI).lpm)  # run-out: the curve says nothing
