"""The site's clock over a week."""

from datetime import date

import numpy as np
import pytest

from analysis.measure.local_clock import local_clock
from ingest.weeks import Week


@pytest.mark.parametrize(
    ("week", "hours"),
    [
        (Week(2026, 10), 167),  # clocks go forward on 8 March 2026 in New York
        (Week(2026, 44), 169),  # and back on 1 November 2026
        (Week(2026, 47), 168),
    ],
)
def test_a_week_has_as_many_hours_as_its_clocks_show(week, hours):
    clock = local_clock(week, "America/New_York")

    assert clock.length_s == hours * 3600.0
    assert clock.hour.size == hours
    assert np.allclose(np.diff(clock.hour_edges_s), 3600.0)


def test_the_hour_that_repeats_in_autumn_is_there_twice():
    clock = local_clock(Week(2026, 44), "America/New_York")

    assert np.bincount(clock.hour, minlength=24).tolist() == [7, 8] + [7] * 22


def test_the_hour_that_spring_skips_is_missing():
    clock = local_clock(Week(2026, 10), "America/New_York")

    assert np.bincount(clock.hour, minlength=24).tolist() == [7, 7, 6] + [7] * 21


@pytest.mark.parametrize("timezone", ["Asia/Kolkata", "Asia/Kathmandu", "Australia/Adelaide"])
def test_hours_of_zones_off_the_full_hour_begin_on_their_own_clock(timezone):
    clock = local_clock(Week(2026, 47), timezone)

    assert clock.hour.tolist() == list(range(24)) * 7


def test_days_are_the_local_ones():
    clock = local_clock(Week(2026, 44), "America/New_York")

    assert clock.dates[0] == date(2026, 10, 26)
    assert np.diff(clock.day_edges_s).tolist() == [86400.0] * 6 + [90000.0]


def test_a_window_follows_the_wall_clock_over_the_change():
    windows_s = local_clock(Week(2026, 44), "America/New_York").windows_s(0, 3)

    assert np.diff(windows_s, axis=1).ravel().tolist() == [10800.0] * 6 + [14400.0]


def test_a_window_over_midnight_belongs_to_the_day_it_begins():
    windows_s = local_clock(Week(2026, 47), "UTC").windows_s(23, 3)

    assert windows_s[0].tolist() == [23 * 3600.0, 26 * 3600.0]
    assert windows_s[-1, 1] > local_clock(Week(2026, 47), "UTC").length_s
