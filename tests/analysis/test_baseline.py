"""Where a pump's past begins anew: visits, settings, another pump; never a fault."""

from datetime import date

import pytest

from analysis.baseline import INSTALLED, PRESSURE, REPLACED, VISIT, baseline_of
from ingest.installed_base import Register, Visit
from ingest.weeks import Week, week_bounds

PSI = 6.894757
FIRST = Week(2026, 40)
ZONE = "America/New_York"


def baseline(factory, changes, *, pump=None, visits=()):
    site, own = factory.healthy_site(), factory.healthy_pump(**(pump or {}))
    register = Register(sites={site.site_id: site}, pumps={own.pump_id: own}, visits=tuple(visits))
    weeks = [factory.healthy_week(FIRST.plus(n), **change) for n, change in enumerate(changes)]
    return baseline_of(register, own, weeks)


def start_of(n):
    return week_bounds(FIRST.plus(n), ZONE)[0]


def held(psi, **change):
    return {"held_pressure_kpa": psi * PSI, "stop_pressure_kpa": psi * PSI,
            "restart_pressure_kpa": (psi - 5) * PSI} | change  # fmt: skip


def test_an_old_installation_cuts_nothing(case_factory):
    got = baseline(case_factory, [{}] * 6)

    assert (got.why, got.cuts_past, got.text(ZONE)) == (INSTALLED, False, "")


def test_without_any_record_the_whole_past_counts(case_factory):
    got = baseline(case_factory, [{}] * 6, pump={"installed_on": None})

    assert (got.since_at, got.cuts_past) == (None, False)


def test_a_visit_that_fixed_something_begins_a_new_past_and_says_so(case_factory):
    visit = Visit(visited_on=date(2026, 10, 20), site_id="S-01", outcome="fixed")

    got = baseline(case_factory, [{}] * 6, visits=[visit])

    assert (got.why, got.cuts_past) == (VISIT, True)
    assert got.text(ZONE) == "Compared since Tue 20 Oct: a visit that fixed something"


def test_a_visit_that_found_nothing_begins_none(case_factory):
    visit = Visit(visited_on=date(2026, 10, 20), site_id="S-01", outcome="not_found")

    assert not baseline(case_factory, [{}] * 6, visits=[visit]).cuts_past


@pytest.mark.parametrize("at", [1, 3, 5])
def test_a_changed_pressure_setting_begins_a_new_past(case_factory, at):
    got = baseline(case_factory, [held(60.0)] * at + [held(52.0)] * (6 - at))

    assert (got.since_at, got.why) == (start_of(at), PRESSURE)
    assert "settings step" in got.text(ZONE)


def test_the_last_of_two_changes_counts(case_factory):
    got = baseline(case_factory, [held(60.0)] * 3 + [held(52.0)] * 3 + [held(65.0)] * 3)

    assert got.since_at == start_of(6)


def test_a_pump_that_falls_short_of_its_setting_has_changed_no_setting(case_factory):
    short = held(50.0, short_of_setting_s=20_000.0)

    assert not baseline(case_factory, [held(60.0)] * 3 + [short] * 3).cuts_past


def test_a_held_pressure_that_its_stops_do_not_follow_is_no_setting(case_factory):
    odd = held(60.0, held_pressure_kpa=55 * PSI)

    assert not baseline(case_factory, [held(60.0)] * 3 + [odd] * 3).cuts_past


def test_a_restart_that_a_faster_log_sees_lower_begins_no_new_past(case_factory):
    # what a log sees of the restart moves with its interval and with a leak
    lower = {"restart_pressure_kpa": 50 * PSI, "log_interval_s": 20.0}

    assert not baseline(case_factory, [{"log_interval_s": 60.0}] * 3 + [lower] * 3).cuts_past


def test_another_pump_end_is_seen_in_speed_and_current_at_once(case_factory):
    new = {"f0_hz": 40.0, "current_p50_a": 5.2}

    got = baseline(case_factory, [{}] * 3 + [new] * 3)

    assert (got.since_at, got.why) == (start_of(3), REPLACED)


@pytest.mark.parametrize(
    "worse",
    [
        {"f0_hz": 48.0, "current_p50_a": 4.0},  # worn or blocked at once
        {"f0_hz": 40.0},  # more street pressure
        {"current_p50_a": 5.6},  # rising load
        {"starts_per_day": 400.0, "fall_p90_kpa_per_min": 90.0, "stop_s_median": 8.0},
        {"idle_v_median": 205.0, "running_v_median": 198.0},
    ],
)
def test_what_a_fault_does_begins_no_new_past(case_factory, worse):
    assert not baseline(case_factory, [{}] * 3 + [worse] * 3).cuts_past


def test_weekly_scatter_begins_no_new_past(case_factory):
    weeks = [held(60.0 + wobble) for wobble in (0.0, 0.6, -0.5, 0.3, -0.6, 0.4)]

    assert not baseline(case_factory, weeks).cuts_past
