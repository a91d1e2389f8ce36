"""The spell that shows a pump without pressure."""

import numpy as np
import pytest

from analysis.findings import Kind
from dashboards.charts.at_speed import pressure_gone, pressure_short
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


def test_a_dry_spell_is_drawn_with_pressure_speed_and_current(world, dry_scene):
    (chart,) = evidence(dry_scene, world.finding(Kind.DRY_RUNNING, "suction_lost"))

    names = {trace["name"] for trace in chart.figure["data"]}
    assert names == {"Pressure", "Speed", "Motor current"}


def test_the_view_keeps_five_minutes_on_either_side_of_a_short_spell(dry_scene):
    from_ms, to_ms = pressure_gone(dry_scene).figure["layout"]["xaxis"]["range"]

    assert (to_ms - from_ms) / 1000 == pytest.approx(120 + 2 * 300, abs=10)


def test_a_week_without_such_a_spell_has_no_chart(world):
    scene = world.scene()

    assert pressure_gone(scene) is None
    assert pressure_short(scene) is None


def test_a_spell_in_which_the_tank_kept_some_pressure_is_shown_too(world):
    samples = world.samples()
    second = np.arange(samples.ts_us.size) * 5
    dry = (second >= 86_400) & (second < 86_400 + 30)
    scene = world.scene(
        of_samples=world.samples(
            frequency_hz=np.where(dry, 60.0, samples.frequency_hz),
            pressure_kpa=np.where(dry, 45 * world.PSI_KPA, samples.pressure_kpa),
        )
    )

    assert pressure_gone(scene) is not None


def test_a_shortage_at_low_volts_is_shown_beside_the_volts(world, dry_scene):
    charts = evidence(dry_scene, world.finding(Kind.WEAK_DELIVERY, "low_voltage"))

    assert len(charts) == 2


def test_a_sensor_fault_shows_in_the_weeks_own_rows(world, dry_scene):
    assert evidence(dry_scene, world.finding(Kind.SENSOR_FAULT, "stuck")) == []
