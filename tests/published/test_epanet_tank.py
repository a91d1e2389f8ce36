"""An independent hydraulic solver simulates a leaking house; the leak must come back from its log.

EPANET (US EPA) through wntr. Its open tank becomes a Boyle tank by a volume curve: water held
against gauge head. The pump is switched from outside, second by second: it starts at the restart
pressure, runs at a speed whose shutoff lies just over the stop pressure, and rests when it has
run a while and the pressure is back. Draws by day hide the leak as they do in a real log. The
tank, the hole and the house are invented.
"""

from dataclasses import dataclass
from datetime import UTC

import numpy as np
import pytest
import wntr
from wntr.epanet.toolkit import ENepanet

from analysis.measure.measure import measure_week
from analysis.physics.pump import WATER_KPA_PER_M, affinity, flow_from_curve_lpm, no_flow_hz
from analysis.physics.tank import ATMOSPHERE_KPA, orifice_lpm
from ingest.installed_base import Pump, Site
from ingest.samples import CHANNELS, PumpSamples
from ingest.weeks import Week, week_bounds

STOP_KPA = 414.0
RESTART_KPA = 370.0
SHUTOFF_OVER_STOP_KPA = 4.0
MIN_RUN_S = 25
NOISE_KPA = 0.7
ROUNDING_KPA = 0.69  # 0.1 psi
HOLE_COEFFICIENT = 0.62
DAY_S = 86_400
CURVE_LPM = np.array([0.0, 40.0, 80.0])
CURVE_M = np.array([62.0, 52.0, 25.0])
SPEED = np.sqrt((STOP_KPA + SHUTOFF_OVER_STOP_KPA) / (CURVE_M[0] * WATER_KPA_PER_M))

pytestmark = pytest.mark.slow

EN_BASEDEMAND, EN_DEMAND, EN_PRESSURE = 1, 9, 11  # codes of the EPANET toolkit
EN_FLOW, EN_SETTING = 8, 12


@dataclass(frozen=True)
class House:
    """What EPANET showed, second by second."""

    tank_l: float
    precharge_kpa: float
    hole_mm: float
    pressure_kpa: np.ndarray
    runs: np.ndarray  # whether the pump ran
    outflow_lpm: np.ndarray  # through the hole and the taps

    @property
    def night(self):
        hour = np.arange(self.runs.size) % DAY_S / 3600
        return (hour >= 1.0) & (hour < 5.0)

    @property
    def leak_lpm(self):
        """Mean flow through the hole with the pump stopped and nobody awake."""
        return float(self.outflow_lpm[self.night & ~self.runs].mean())

    def logged_pressure_kpa(self, interval_s, seed):
        sampled = self.pressure_kpa[::interval_s]
        noise = np.random.default_rng(seed).normal(0, NOISE_KPA, sampled.size)
        return np.round((sampled + noise) / ROUNDING_KPA) * ROUNDING_KPA


def write_network(path, tank_l, precharge_kpa, hole_mm):
    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.accuracy = 1e-5
    network.options.hydraulic.unbalanced = "CONTINUE"  # a second's tie of two states is no stop
    network.options.hydraulic.unbalanced_value = 10
    network.options.time.duration = 14 * DAY_S
    network.options.time.hydraulic_timestep = 1
    network.options.time.report_timestep = DAY_S
    network.options.time.pattern_timestep = DAY_S
    network.add_reservoir("well", base_head=0.0)
    network.add_junction("house", base_demand=0.0, elevation=0.0)
    network.add_curve("curve", "HEAD", list(zip(CURVE_LPM / 60_000, CURVE_M, strict=True)))
    network.add_pump("pump", "well", "house", pump_type="HEAD", pump_parameter="curve")
    level_m = np.linspace(precharge_kpa, STOP_KPA + 200, 400) / WATER_KPA_PER_M
    gas_share = (precharge_kpa + ATMOSPHERE_KPA) / (level_m * WATER_KPA_PER_M + ATMOSPHERE_KPA)
    water_m3 = tank_l / 1000 * (1 - gas_share)
    network.add_curve("boyle", "VOLUME", list(zip(level_m, water_m3, strict=True)))
    network.add_tank(
        "tank",
        init_level=RESTART_KPA / WATER_KPA_PER_M,
        min_level=level_m[0] + 0.01,
        max_level=level_m[-2],
        vol_curve="boyle",
    )
    network.add_pipe("branch", "house", "tank", length=1.0, diameter=0.1)
    area_m2 = np.pi / 4 * (hole_mm / 1000) ** 2
    network.get_node("house").emitter_coefficient = (
        HOLE_COEFFICIENT * area_m2 * np.sqrt(2 * 9.80665)
    )
    wntr.network.write_inpfile(network, str(path / "house.inp"), units="LPS")


def opened(path):
    epanet = ENepanet(version=2.2)
    epanet.ENopen(*(str(path / f"house.{end}") for end in ("inp", "rpt", "bin")))
    epanet.ENopenH()
    epanet.ENinitH(0)
    return epanet


def simulate(path, *, tank_l, precharge_kpa, hole_mm, days, draws_lpm):
    """Run the house with a pump that starts and stops by its pressure."""
    write_network(path, tank_l, precharge_kpa, hole_mm)
    epanet = opened(path)
    pump = epanet.ENgetlinkindex("pump")
    house, tank = epanet.ENgetnodeindex("house"), epanet.ENgetnodeindex("tank")
    pressure_kpa, outflow_lpm = np.empty(days * DAY_S), np.empty(days * DAY_S)
    runs = np.empty(days * DAY_S, dtype=bool)
    ran_s = 1
    for second in range(days * DAY_S):
        epanet.ENsetlinkvalue(pump, EN_SETTING, SPEED if ran_s else 0.0)
        epanet.ENsetnodevalue(house, EN_BASEDEMAND, draws_lpm[second] / 60)
        assert epanet.ENrunH() == second
        pressure_kpa[second] = epanet.ENgetnodevalue(tank, EN_PRESSURE) * WATER_KPA_PER_M
        outflow_lpm[second] = epanet.ENgetnodevalue(house, EN_DEMAND) * 60
        runs[second] = ran_s > 0
        is_low = pressure_kpa[second] < (STOP_KPA if ran_s else RESTART_KPA)
        ran_s = ran_s + 1 if is_low or 0 < ran_s < MIN_RUN_S else 0
        assert epanet.ENnextH() == 1
    epanet.ENcloseH()
    epanet.ENclose()
    return House(tank_l, precharge_kpa, hole_mm, pressure_kpa, runs, outflow_lpm)


def draws_by_day(days, seed=47):
    """Taps of 4 to 20 L/min for one to five minutes, from 06:00 to 22:00."""
    rng = np.random.default_rng(seed)
    draws_lpm = np.zeros(days * DAY_S)
    for day in range(days):
        for start_s in rng.integers(6 * 3600, 22 * 3600, 60) + day * DAY_S:
            draws_lpm[start_s : start_s + rng.integers(60, 300)] = rng.uniform(4, 20)
    return draws_lpm


DAYS = 4


@pytest.fixture(scope="module")
def small_tank(tmp_path_factory):
    return simulate(
        tmp_path_factory.mktemp("small"),
        tank_l=17.0,
        precharge_kpa=290.0,
        hole_mm=0.6,
        days=DAYS,
        draws_lpm=draws_by_day(DAYS),
    )


@pytest.fixture(scope="module")
def large_tank(tmp_path_factory):
    return simulate(
        tmp_path_factory.mktemp("large"),
        tank_l=80.0,
        precharge_kpa=260.0,
        hole_mm=1.0,
        days=DAYS,
        draws_lpm=draws_by_day(DAYS),
    )


@pytest.fixture(scope="module")
def tight_house(tmp_path_factory):
    return simulate(
        tmp_path_factory.mktemp("tight"),
        tank_l=80.0,
        precharge_kpa=260.0,
        hole_mm=0.0,
        days=DAYS,
        draws_lpm=draws_by_day(DAYS),
    )


def record_of(house, interval_s):
    """The project's own record of the week that begins with the simulated days."""
    week = Week(2026, 47)
    from_s = int(week_bounds(week, "UTC")[0].replace(tzinfo=UTC).timestamp())
    pressure_kpa = house.logged_pressure_kpa(interval_s, seed=interval_s).astype(np.float32)
    runs = house.runs[::interval_s]
    at_s = from_s + interval_s * np.arange(runs.size, dtype=np.int64)
    channels = {name: np.full(runs.size, np.nan, dtype=np.float32) for name in CHANNELS}
    channels |= {
        "pressure_kpa": pressure_kpa,
        "frequency_hz": np.where(runs, 60.0 * SPEED, 0.0).astype(np.float32),
        "current_a": np.where(runs, 6.0, 0.0).astype(np.float32),
    }
    samples = PumpSamples(pump_id="P-1", ts_us=at_s * 1_000_000, **channels)
    pump = Pump(
        pump_id="P-1",
        site_id="S-1",
        pressure_setting_kpa=STOP_KPA,
        tank_l=house.tank_l,
        precharge_kpa=house.precharge_kpa,
    )
    return measure_week(samples, pump, Site(site_id="S-1"), week)


@pytest.mark.parametrize("interval_s", [1, 5, 10])
@pytest.mark.parametrize("house", ["small_tank", "large_tank"])
def test_a_leak_comes_back_from_the_log(house, interval_s, request):
    simulated = request.getfixturevalue(house)

    record = record_of(simulated, interval_s)

    assert record.week.quiet_leak_lpm_p50 == pytest.approx(simulated.leak_lpm, rel=0.10)
    nights_lpm = [day.night_leak_lpm for day in record.days if day.night_observed_share > 0.9]
    assert len(nights_lpm) >= DAYS - 1
    assert nights_lpm == pytest.approx([simulated.leak_lpm] * len(nights_lpm), rel=0.10)


@pytest.mark.parametrize("interval_s", [1, 5, 10])
@pytest.mark.parametrize("house", ["small_tank", "large_tank"])
def test_starts_are_counted_as_the_solver_ran_them(house, interval_s, request):
    # runs of 25 s hold two samples at every interval, so none is missed
    simulated = request.getfixturevalue(house)
    n_starts = int(np.count_nonzero(np.diff(simulated.runs.astype(int)) == 1))

    record = record_of(simulated, interval_s)

    assert record.week.n_starts == pytest.approx(n_starts, abs=1)


@pytest.mark.parametrize("interval_s", [1, 5, 10])
def test_a_tight_house_shows_no_leak(tight_house, interval_s):
    record = record_of(tight_house, interval_s)

    assert record.week.quiet_n_starts == 0
    assert (record.week.quiet_leak_lpm_p50 or 0.0) < 0.005


@pytest.mark.parametrize("house", ["small_tank", "large_tank"])
def test_flow_through_the_hole_agrees_with_the_orifice_law(house, request):
    simulated = request.getfixturevalue(house)
    quiet = simulated.night & ~simulated.runs

    got_lpm = orifice_lpm(simulated.hole_mm, simulated.pressure_kpa[quiet], HOLE_COEFFICIENT)

    assert got_lpm == pytest.approx(simulated.outflow_lpm[quiet], rel=0.005)


def pump_at(path, speed, demand_lpm):
    """Boost [kPa] and flow [L/min] of EPANET's pump against a demand, at a relative speed."""
    network = wntr.network.WaterNetworkModel()
    network.add_reservoir("well", base_head=0.0)
    network.add_junction("house", base_demand=demand_lpm / 60_000, elevation=0.0)
    network.add_curve("curve", "HEAD", list(zip(CURVE_LPM / 60_000, CURVE_M, strict=True)))
    network.add_pump("pump", "well", "house", pump_type="HEAD", pump_parameter="curve")
    wntr.network.write_inpfile(network, str(path / "house.inp"), units="LPS")
    epanet = opened(path)
    pump = epanet.ENgetlinkindex("pump")
    epanet.ENsetlinkvalue(pump, EN_SETTING, speed)
    epanet.ENrunH()
    head_m = epanet.ENgetnodevalue(epanet.ENgetnodeindex("house"), EN_PRESSURE)
    flow_lpm = epanet.ENgetlinkvalue(pump, EN_FLOW) * 60
    epanet.ENcloseH()
    epanet.ENclose()
    return head_m * WATER_KPA_PER_M, flow_lpm


@pytest.mark.parametrize("speed", [0.6, 0.75, 1.0])
def test_affinity_laws_agree_with_a_pump_at_relative_speed(tmp_path, speed):
    full_kpa, full_lpm = pump_at(tmp_path, 1.0, 40.0)

    boost_kpa, flow_lpm = pump_at(tmp_path, speed, 40.0 * speed)

    got = affinity(full_lpm, full_kpa, 0.0, 60.0, 60.0 * speed)
    assert got.flow == pytest.approx(flow_lpm, rel=1e-3)
    assert got.head == pytest.approx(boost_kpa, rel=1e-3)


@pytest.mark.parametrize("speed", [0.75, 1.0])
def test_flow_read_from_the_curve_agrees_with_a_pump_at_relative_speed(tmp_path, speed):
    # EPANET draws a power law through the three points, the estimate straight lines: compare at
    # the middle point, where both pass
    boost_kpa, flow_lpm = pump_at(tmp_path, speed, 40.0 * speed)

    got_lpm = flow_from_curve_lpm(CURVE_LPM, CURVE_M, 60.0 * speed, boost_kpa)

    assert got_lpm == pytest.approx(flow_lpm, rel=0.01)


def test_speed_without_flow_agrees_with_a_pump_against_a_closed_house(tmp_path):
    hold_kpa = 400.0
    got_hz = float(no_flow_hz(hold_kpa, CURVE_M[0] * WATER_KPA_PER_M))

    boost_kpa, _ = pump_at(tmp_path, got_hz / 60.0, 0.0)

    assert boost_kpa == pytest.approx(hold_kpa, rel=1e-3)
