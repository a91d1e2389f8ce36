"""The magnetising part of a motor's current against made motors whose parts are known."""

import numpy as np
import pytest

from analysis.physics.electrical import MAGNETISING_SHARE, MOTOR_POWER_FACTOR
from analysis.physics.working_current import magnetising_part_a, rated_power_factor


def runs(magnetising_a, working_a, frequency_hz, per_unit=0.05):
    """Drops that go with speed and working current; the two parts at right angles."""
    power = np.multiply(frequency_hz, working_a)
    return {
        "drop_v": per_unit * power,
        "supply_v": np.full(power.size, 230.0),
        "frequency_hz": np.broadcast_to(frequency_hz, power.shape),
        "motor_a": np.hypot(magnetising_a, working_a),
    }


@pytest.mark.parametrize("magnetising_a", [0.0, 2.0, 3.6])
def test_the_magnetising_part_of_a_made_motor_comes_back(magnetising_a):
    made = runs(magnetising_a, np.linspace(2.5, 6.0, 30), np.linspace(42.0, 56.0, 30))

    assert magnetising_part_a(**made) == pytest.approx(magnetising_a, abs=0.001)


def test_a_supply_that_moved_during_a_few_pairs_hardly_changes_it():
    made = runs(3.0, np.linspace(2.5, 6.0, 31), 50.0)
    made["drop_v"][::10] += 8.0

    assert magnetising_part_a(**made) == pytest.approx(3.0, rel=0.1)


def test_loads_that_are_all_alike_tell_nothing():
    assert magnetising_part_a(**runs(3.0, np.linspace(5.0, 5.2, 40), 50.0)) is None


def test_a_dead_current_channel_tells_nothing():
    made = runs(3.0, np.linspace(2.5, 6.0, 40), 50.0) | {"motor_a": np.zeros(40)}

    assert magnetising_part_a(**made) is None


def test_fourteen_runs_tell_nothing():
    assert magnetising_part_a(**runs(3.0, np.linspace(2.5, 6.0, 14), 50.0)) is None


def test_a_drop_that_falls_as_the_load_grows_is_not_the_pumps_own():
    made = runs(3.0, np.linspace(2.5, 6.0, 40), 50.0)
    made["drop_v"] = made["drop_v"][::-1]

    assert magnetising_part_a(**made) is None


def test_a_motor_that_magnetises_with_less_has_the_better_power_factor():
    # by hand: 0.80 belongs to a share of 0.45, whose working part is sqrt(1 - 0.2025) = 0.8930;
    # a share of 0.30 leaves 0.9539 of working part
    assert rated_power_factor(MAGNETISING_SHARE.value) == pytest.approx(MOTOR_POWER_FACTOR.value)
    assert rated_power_factor(0.30) == pytest.approx(0.80 * 0.9539 / 0.8930, abs=1e-4)
