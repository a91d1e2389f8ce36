"""No-flow speed over weeks: suction is taken out, steps and creeps are told apart."""

import numpy as np
import pytest

from analysis.no_flow import CREEP, LOGGED, STEADY, STEP, no_flow_drift, no_flow_of, what_moved
from analysis.records import OpMapBin
from ingest.installed_base import Pump
from ingest.weeks import Week, week_bounds

PSI = 6.894757
FIRST = Week(2026, 40)
WELL = Pump(pump_id="P-01", site_id="S-01", suction="well")


def week_of(factory, n, f0_hz, **change):
    return factory.healthy_week(FIRST.plus(n), f0_hz=f0_hz, **change)


def bins_of(n, suction_kpa):
    return (
        OpMapBin(
            pump_id="P-01", week=str(FIRST.plus(n)), frequency_bin_hz=44.0, pressure_bin_pct=100.0,
            n=500, held_s=5000.0, frequency_mean_hz=45.0, pressure_mean_kpa=414.0,
            suction_mean_kpa=suction_kpa,
        ),
    )  # fmt: skip


def drift_of(factory, speeds_hz, *, suctions_kpa=None, pump=None, **change):
    weeks = [week_of(factory, n, hz, **change) for n, hz in enumerate(speeds_hz)]
    bins = [] if suctions_kpa is None else [bins_of(n, s) for n, s in enumerate(suctions_kpa)]
    return no_flow_drift(weeks, factory.healthy_pump(**(pump or {})), bins)


def test_a_falling_street_pressure_that_is_logged_is_no_drift(case_factory):
    # affinity laws: 100 psi shutoff holds 60 psi from 0 suction at 46.476 Hz, from 20 at 37.947
    suctions_kpa = [20 * PSI, 15 * PSI, 10 * PSI, 5 * PSI, 0.0]
    speeds_hz = [60 * np.sqrt((60 * PSI - s) / (100 * PSI)) for s in suctions_kpa]
    assert (speeds_hz[0], speeds_hz[-1]) == pytest.approx((37.947, 46.476), abs=5e-4)

    got = drift_of(case_factory, speeds_hz, suctions_kpa=suctions_kpa)

    assert got.shape == STEADY
    assert got.total_hz == pytest.approx(0.0, abs=1e-6)
    assert got.suction_from == LOGGED


def test_the_same_speeds_without_a_suction_log_creep_and_name_the_water(case_factory):
    speeds_hz = [37.947, 40.25, 42.43, 44.5, 46.476]

    got = drift_of(case_factory, speeds_hz, pump={"suction_kpa": None, "suction": "well"})

    assert got.shape == CREEP
    assert got.rises
    assert any("Water level lower" in text for text in what_moved(got, WELL, "us"))


def test_wear_creeps_and_its_size_is_given_as_lost_pressure(case_factory):
    # 10 % less shutoff boost by the affinity laws: f0 up by 1/sqrt(0.9)
    lost = np.linspace(0.0, 0.10, 8)

    got = drift_of(case_factory, 44.0 / np.sqrt(1 - lost))

    assert got.shape == CREEP
    assert got.shutoff_change_pct == pytest.approx(-10.0, abs=0.5)
    assert got.low_hz_per_week > 0.0


def test_a_sensor_that_shifts_by_5_psi_is_a_step_of_that_pressure(case_factory):
    # the loop holds the reading; a sensor 5 psi low makes the true pressure 65 psi
    shifted_hz = 44.0 * np.sqrt(65.0 / 60.0)

    got = drift_of(case_factory, [44.0, 44.1, 43.9, 44.0, shifted_hz, shifted_hz + 0.1])

    assert got.shape == STEP
    assert got.step_at == week_bounds(FIRST.plus(4), "America/New_York")[0]
    assert got.equivalent_kpa / PSI == pytest.approx(5.0, abs=0.4)
    assert "sensor that reads 5 psi low" in " ".join(what_moved(got, WELL, "us"))


def test_a_changed_setting_is_carried_to_the_same_boost(case_factory):
    weeks = [
        week_of(case_factory, n, 44.0 * np.sqrt(psi / 60.0), stop_pressure_kpa=psi * PSI)
        for n, psi in enumerate([60.0, 60.0, 50.0, 50.0, 50.0])
    ]

    got = no_flow_drift(weeks, case_factory.healthy_pump(), [])

    assert got.shape == STEADY
    assert got.last_hz == pytest.approx(44.0 * np.sqrt(50.0 / 60.0), abs=0.01)


def test_weekly_scatter_is_steady(case_factory):
    got = drift_of(case_factory, [44.0, 44.3, 43.8, 44.1, 43.9, 44.2])

    assert got.shape == STEADY
    assert what_moved(got, WELL, "us") == ()


def test_two_weeks_tell_no_drift(case_factory):
    assert drift_of(case_factory, [44.0, 47.0]) is None


@pytest.mark.parametrize(
    "change",
    [{"f0_hz": None}, {"n_starts": 4}, {"f0_spread_hz": 3.0}, {"is_averaged": True}],
)
def test_a_week_whose_stops_tell_no_speed_is_left_out(case_factory, change):
    week = case_factory.healthy_week(**change)

    assert no_flow_of(week, case_factory.healthy_pump(), ()) is None
