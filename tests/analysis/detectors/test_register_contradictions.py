"""Where a log can show that the registered pressure is wrong, and where it cannot."""

import pytest

from analysis.detectors.register_contradictions import pressure_contradiction

PSI_KPA = 6.894757


@pytest.mark.parametrize(
    ("log_interval_s", "is_found"), [(10.0, True), (20.0, True), (60.0, False)]
)
def test_a_held_pressure_needs_runs_of_three_samples(make_case, log_interval_s, is_found):
    week = {
        "log_interval_s": log_interval_s,
        "run_s_median": 60.0,
        "run_s": 40_000.0,
        "held_pressure_kpa": 48 * PSI_KPA,
        "stop_pressure_kpa": 49 * PSI_KPA,
        "restart_pressure_kpa": 43 * PSI_KPA,
        "at_max_s": 0.0,
    }

    found = pressure_contradiction(make_case(week=week))

    assert (found is not None) is is_found
