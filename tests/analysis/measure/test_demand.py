"""When water is drawn: run share by hour of the week, draws put together, clocks that change."""

import numpy as np
import pytest

from analysis.measure.demand import demand_measures
from ingest.weeks import Week

DAY_S = 86_400
H = 3600


def week_of_runs(make_trace, runs, *, interval_s=10, timezone="UTC", length_s=7 * DAY_S, **more):
    t_s = np.arange(0, length_s, interval_s, dtype=np.float64)
    frequency_hz = np.zeros(t_s.size)
    for from_s, to_s in runs:
        frequency_hz[(t_s >= from_s) & (t_s < to_s)] = 48.0
    return make_trace(
        t_s,
        timezone=timezone,
        frequency_hz=frequency_hz,
        pressure_kpa=400.0,
        current_a=4.0,
        **more,
    )


def test_run_share_is_told_for_each_hour_of_the_week(make_trace):
    runs = [(2 * H, 3 * H), (DAY_S + 5 * H, DAY_S + 5.5 * H)]

    got = demand_measures(week_of_runs(make_trace, runs))["run_share_by_week_hour"]

    assert len(got) == 168
    assert (got[2], got[24 + 5]) == (1.0, 0.5)
    assert sum(got) == pytest.approx(1.5)


def test_hours_without_samples_are_blank(make_trace):
    got = demand_measures(week_of_runs(make_trace, [], length_s=DAY_S))["run_share_by_week_hour"]

    assert got[:24] == [0.0] * 24
    assert got[25:] == [None] * 143


def test_a_trickle_that_makes_the_pump_cycle_is_one_draw(make_trace):
    cycles = [(2 * H + 200 * n, 2 * H + 200 * n + 40) for n in range(18)]

    got = demand_measures(week_of_runs(make_trace, cycles))

    assert got["draw_from_min"] == [120.0]
    assert got["draw_min"] == [pytest.approx((17 * 200 + 40) / 60, abs=0.01)]
    assert got["draw_run_share"] == [pytest.approx(18 * 40 / (17 * 200 + 40), abs=0.001)]


def test_short_use_by_day_and_a_toilet_by_night_do_not_stand_out(make_trace):
    runs = [(12 * H, 12.5 * H), (2 * H, 2 * H + 120)]

    assert demand_measures(week_of_runs(make_trace, runs))["draw_min"] == []


def test_of_many_draws_the_longest_are_kept_in_order_of_time(make_trace):
    runs = [
        (day * DAY_S + (2 + n) * H, day * DAY_S + (2 + n) * H + 1000 + 60 * n)
        for day in range(7)
        for n in (0, 1, 2, 3)
    ] + [
        (day * DAY_S + h * H, day * DAY_S + (h + 1) * H + 300)
        for day in range(7)
        for h in (8, 12, 16)
    ]

    got = demand_measures(week_of_runs(make_trace, runs))

    assert len(got["draw_from_min"]) == 40
    assert got["draw_from_min"] == sorted(got["draw_from_min"])
    assert min(got["draw_min"]) > 1000 / 60


def test_draws_are_told_on_the_local_clock_when_clocks_go_back(make_trace):
    # New York, Sunday 1 November 2026: 02:00 comes an hour later than elsewhen
    week = Week(2026, 44)
    runs = [(5 * DAY_S + 2 * H, 5 * DAY_S + 3 * H), (6 * DAY_S + 3 * H, 6 * DAY_S + 4 * H)]

    got = demand_measures(
        week_of_runs(make_trace, runs, timezone="America/New_York", week=week, length_s=169 * H)
    )

    assert got["draw_from_min"] == [5 * 1440 + 120.0, 6 * 1440 + 120.0]
    assert len(got["run_share_by_week_hour"]) == 168
    assert got["run_share_by_week_hour"][6 * 24 + 2] == 1.0


def test_a_pump_that_never_ran_drew_nothing(make_trace):
    got = demand_measures(week_of_runs(make_trace, []))

    assert got["draw_from_min"] == got["draw_min"] == got["draw_run_share"] == []
