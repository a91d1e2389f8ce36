"""Flow without a meter against an independent hydraulic solver on a looped network.

EPANET (US EPA) through wntr: a pump at relative speeds feeds a loop of pipes with two taps. A
curve of more than three points is joined by straight lines there as here. The network is
invented.
"""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pytest
import wntr

from analysis.flow import own_curve
from analysis.no_flow import REGISTERED, UNKNOWN, NoFlow
from analysis.physics.pump import WATER_KPA_PER_M
from ingest.installed_base import CurvePoint, Pump

FLOW_LPM = np.array([0.0, 20.0, 40.0, 60.0, 80.0, 100.0])
HEAD_M = np.array([62.0, 60.5, 56.5, 50.0, 40.5, 28.0])
CURVE = tuple(
    CurvePoint(pump_model="PM", flow_lpm=q, head_m=h)
    for q, h in zip(FLOW_LPM, HEAD_M, strict=True)
)
PUMP = Pump(pump_id="P-1", site_id="S-1", suction="flooded", suction_kpa=0.0)

pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Seen:
    """What a controller would log, and what it would not."""

    frequency_hz: float
    pressure_kpa: float
    flow_lpm: float


def run(path, speed, taps_lpm, *, head_share=1.0, water_level_m=0.0):
    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.accuracy = 1e-6
    network.options.time.duration = 0
    network.add_reservoir("well", base_head=water_level_m)
    for name, tap in zip(("station", "east", "west"), (0.0, *taps_lpm), strict=True):
        network.add_junction(name, base_demand=tap / 60_000, elevation=0.0)
    points = zip(FLOW_LPM / 60_000, head_share * HEAD_M, strict=True)
    network.add_curve("curve", "HEAD", list(points))
    network.add_pump("pump", "well", "station", "HEAD", "curve", speed=speed)
    for one, other in (("station", "east"), ("east", "west"), ("west", "station")):
        network.add_pipe(f"{one}-{other}", one, other, length=40.0, diameter=0.03)
    found = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(path / "loop"))
    return Seen(
        frequency_hz=60.0 * speed,
        pressure_kpa=float(found.node["pressure"]["station"].iloc[0]) * WATER_KPA_PER_M,
        flow_lpm=float(found.link["flowrate"]["pump"].iloc[0]) * 60_000,
    )


def no_flow(seen, *, suction_from=REGISTERED):
    return NoFlow(
        week="2026-W47",
        from_at=datetime(2026, 11, 16),
        f0_hz=seen.frequency_hz,
        pressure_kpa=seen.pressure_kpa,
        suction_kpa=0.0,
        suction_from=suction_from,
    )


@pytest.mark.parametrize(
    ("speed", "taps_lpm"),
    [(0.75, (8.0, 12.0)), (0.85, (20.0, 10.0)), (0.95, (25.0, 40.0)), (1.0, (30.0, 50.0))],
)
def test_flow_is_read_from_speed_and_pressure(tmp_path, speed, taps_lpm):
    seen = run(tmp_path, speed, taps_lpm)
    assert seen.flow_lpm == pytest.approx(sum(taps_lpm), rel=1e-3)

    got = own_curve(CURVE, PUMP, None).flow(seen.frequency_hz, seen.pressure_kpa)

    assert got.lpm == pytest.approx(seen.flow_lpm, rel=0.01)
    assert got.low_lpm < seen.flow_lpm < got.high_lpm


@pytest.mark.parametrize("head_share", [0.95, 0.88, 0.8])
def test_a_worn_pump_is_carried_to_its_own_no_flow_speed(tmp_path, head_share):
    shut = run(tmp_path, 0.85, (0.0, 0.0), head_share=head_share)
    seen = run(tmp_path, 0.95, (20.0, 25.0), head_share=head_share)

    published = own_curve(CURVE, PUMP, None).flow(seen.frequency_hz, seen.pressure_kpa)
    got = own_curve(CURVE, PUMP, no_flow(shut)).flow(seen.frequency_hz, seen.pressure_kpa)

    assert got.lpm == pytest.approx(seen.flow_lpm, rel=0.01)
    assert abs(got.lpm - seen.flow_lpm) < abs(published.lpm - seen.flow_lpm)
    assert got.low_lpm < seen.flow_lpm < got.high_lpm


def test_wear_widens_the_band(tmp_path):
    shares = (1.0, 0.9, 0.8)
    widths = []
    for share in shares:
        shut = run(tmp_path, 0.85, (0.0, 0.0), head_share=share)
        seen = run(tmp_path, 0.95, (20.0, 25.0), head_share=share)
        band = own_curve(CURVE, PUMP, no_flow(shut)).flow(seen.frequency_hz, seen.pressure_kpa)
        widths.append(float(band.high_lpm - band.low_lpm))

    assert widths == sorted(widths)
    assert widths[-1] > 1.5 * widths[0]


def test_a_wells_unknown_lift_comes_from_the_no_flow_speed(tmp_path):
    shut = run(tmp_path, 0.92, (0.0, 0.0), water_level_m=-15.0)
    seen = run(tmp_path, 1.0, (20.0, 25.0), water_level_m=-15.0)
    well = Pump(pump_id="P-1", site_id="S-1", suction="well")

    curve = own_curve(CURVE, well, no_flow(shut, suction_from=UNKNOWN))
    got = curve.flow(seen.frequency_hz, seen.pressure_kpa)

    assert curve.added_kpa == pytest.approx(15.0 * WATER_KPA_PER_M, rel=0.01)
    assert got.lpm == pytest.approx(seen.flow_lpm, rel=0.01)


def test_the_band_is_wide_near_shut_off(tmp_path):
    near, far = run(tmp_path, 0.85, (1.0, 1.0)), run(tmp_path, 0.95, (30.0, 30.0))
    curve = own_curve(CURVE, PUMP, None)

    small = curve.flow(near.frequency_hz, near.pressure_kpa)
    large = curve.flow(far.frequency_hz, far.pressure_kpa)

    assert small.low_lpm == 0.0
    assert small.high_lpm > 5 * near.flow_lpm  # no way to size a small leak
    assert (large.high_lpm - large.low_lpm) < 0.5 * far.flow_lpm


@pytest.mark.parametrize("off_kpa", [-13.7, 13.7])
def test_a_sensor_2_psi_off_stays_within_the_band(tmp_path, off_kpa):
    seen = run(tmp_path, 0.95, (25.0, 40.0))

    got = own_curve(CURVE, PUMP, None).flow(seen.frequency_hz, seen.pressure_kpa + off_kpa)

    assert got.low_lpm <= seen.flow_lpm <= got.high_lpm
