"""The spell that shows a pump without pressure."""

from datetime import timedelta

import numpy as np
import pytest

from analysis.findings import Kind
from dashboards.charts.at_speed import pressure_short, ran_dry
from dashboards.charts.evidence import evidence


@pytest.fixture
def dry_scene(world):
    """Two minutes at 60 Hz and 5 psi, three days into the week."""
    samples = world.samples()
    second = np.arange(samples.ts_us.size) * 5
    dry = (second >= 3 * 86_400) & (second < 3 * 86_400 + 120)
    changed = {
        "frequency_hz": np.where(dry, 60.0, samples.frequency_hz),
        "pressure_kpa": np.where(dry, 5 * world.PSI_KPA, samples.pressure_kpa),
        "current_a": np.where(dry, 2.4, samples.current_a),
    }
    return world.scene(of_samples=world.samples(**changed))


@pytest.fixture
def dry_finding(world):
    began = world.CASES.healthy_week().from_at + timedelta(days=3)
    measures = {"longest_dry_at": began.isoformat(), "dry_s_longest": 120.0}
    return world.finding(Kind.DRY_RUNNING, "suction_lost", measures=measures)


def test_a_dry_spell_is_drawn_with_pressure_speed_and_current(dry_scene, dry_finding):
    (chart,) = evidence(dry_scene, dry_finding)

    names = {trace["name"] for trace in chart.figure["data"]}
    assert names == {"Pressure", "Speed", "Motor current"}


def test_the_view_keeps_five_minutes_on_either_side_of_a_short_spell(dry_scene, dry_finding):
    from_ms, to_ms = ran_dry(dry_scene, dry_finding).figure["layout"]["xaxis"]["range"]

    assert (to_ms - from_ms) / 1000 == pytest.approx(120 + 2 * 300, abs=10)


def test_the_dry_spell_is_shown_and_not_the_longer_refill_after_it(world, dry_finding):
    samples = world.samples()
    second = np.arange(samples.ts_us.size) * 5
    refill = (second >= 4 * 86_400) & (second < 4 * 86_400 + 900)
    scene = world.scene(
        of_samples=world.samples(
            frequency_hz=np.where(refill, 60.0, samples.frequency_hz),
            pressure_kpa=np.where(refill, 5 * world.PSI_KPA, samples.pressure_kpa),
        )
    )

    shown_ms = ran_dry(scene, dry_finding).figure["layout"]["xaxis"]["range"]

    other_ms = ran_dry(world.scene(), dry_finding).figure["layout"]["xaxis"]["range"]
    assert shown_ms == other_ms


def test_a_finding_without_the_instant_has_no_chart(world, dry_scene):
    assert ran_dry(dry_scene, world.finding(Kind.DRY_RUNNING, "suction_lost")) is None


def test_a_week_without_a_shortage_has_no_chart_of_one(world):
    assert pressure_short(world.scene()) is None


def test_a_shortage_at_low_volts_is_shown_beside_the_volts(world, dry_scene):
    charts = evidence(dry_scene, world.finding(Kind.WEAK_DELIVERY, "low_voltage"))

    assert len(charts) == 2


def test_a_sensor_fault_shows_in_the_weeks_own_rows(world, dry_scene):
    assert evidence(dry_scene, world.finding(Kind.SENSOR_FAULT, "stuck")) == []
