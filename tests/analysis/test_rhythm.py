"""A site's rhythm: demand with a calendar is named, use and leaks are not taken for it."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from analysis.rhythm import autocorrelation, rhythm_of
from ingest.weeks import Week

LAST = Week(2026, 47)
FIRST_DAY = LAST.plus(-5).monday
DAY_MIN = 1440


def rhythm(factory, draws, *, n_weeks=6, shares=None, days=None):
    """``draws``: (day from the first Monday, from_h, length_h) or with a run share."""
    weeks = []
    for n in range(n_weeks):
        mine = sorted(d for d in draws if n == d[0] // 7)
        weeks.append(
            factory.healthy_week(
                LAST.plus(n + 1 - n_weeks),
                run_share_by_week_hour=[0.05] * 168 if shares is None else shares[n],
                draw_from_min=[d[0] % 7 * DAY_MIN + d[1] * 60 for d in mine],
                draw_min=[d[2] * 60 for d in mine],
                draw_run_share=[d[3] if len(d) > 3 else 0.9 for d in mine],
            )
        )
    days = factory.healthy_days(LAST) if days is None else days
    return rhythm_of(weeks[-1], days, weeks[:-1], ())


def test_every_fourth_night_at_two_looks_like_a_softener(case_factory):
    got = rhythm(case_factory, [(day, 2.08, 1.08) for day in range(1, 42, 4)])

    assert got.texts == ("draws 02:05-03:10 every 4th night: looks like a softener",)


def test_equal_blocks_on_fixed_weekdays_look_like_irrigation(case_factory):
    draws = [(day, 2.0, 1.8) for day in range(42) if day % 7 in (0, 2, 4)]

    got = rhythm(case_factory, draws)

    assert got.texts == ("draws 02:00-03:48 on Mon, Wed, Fri: looks like irrigation",)


def test_a_gap_or_a_rainy_night_does_not_break_a_calendar(case_factory):
    draws = [(day, 2.0, 1.8) for day in range(42) if day % 7 in (0, 2, 4) and day not in (9, 23)]

    assert "irrigation" in rhythm(case_factory, draws).texts[0]


def test_the_same_draw_every_night_is_a_timer_of_every_night(case_factory):
    got = rhythm(case_factory, [(day, 1.0, 0.5) for day in range(42)])

    assert got.texts == ("draws 01:00-01:30 every night: looks like a timer or a filter",)


def test_one_long_run_looks_like_a_fill(case_factory):
    got = rhythm(case_factory, [(38, 20.0, 9.0, 1.0)])

    assert "20:00-05:00 once" in got.texts[0]
    assert "pool or tank" in got.texts[0]
    assert not got.demands[0].is_scheduled


def test_odd_frosty_nights_look_like_a_waterer_but_keep_no_calendar(case_factory):
    got = rhythm(case_factory, [(day, 18.5, 13.5, 0.4) for day in (31, 32, 36, 38, 39)])

    assert "waterer or a frost drip" in got.texts[0]
    assert not got.demands[0].is_scheduled


def test_random_use_has_no_calendar(case_factory):
    rng = np.random.default_rng(47)
    draws = [(day, rng.uniform(5, 22), rng.uniform(1, 3)) for day in range(42) for _ in range(2)]

    got = rhythm(case_factory, draws)

    assert [d.text for d in got.demands if d.is_scheduled] == []


def test_three_draws_that_happen_to_lie_eight_days_apart_have_no_calendar(case_factory):
    got = rhythm(case_factory, [(20, 5.2, 1.0), (28, 5.2, 1.0), (36, 5.2, 1.0)])

    assert got.demands == ()


def test_people_who_are_home_most_evenings_have_no_calendar(case_factory):
    rng = np.random.default_rng(47)
    draws = [(day, rng.uniform(18.2, 18.8), 1.2) for day in range(42) if rng.random() < 0.9]

    assert [d for d in rhythm(case_factory, draws).demands if d.is_scheduled] == []


def test_a_pump_that_never_stops_has_no_calendar(case_factory):
    got = rhythm(case_factory, [(7 * n, 0.0, 168.0, 1.0) for n in range(6)])

    assert [d for d in got.demands if d.looks_like == "a pool or tank being filled"] == []
    assert got.scheduled_min(LAST.monday, 2) == 0.0


def test_a_leak_that_restarts_all_week_is_no_demand(case_factory):
    got = rhythm(case_factory, [(7 * n, 0.0, 150.0, 0.2) for n in range(3, 6)])

    assert got.scheduled_min(LAST.monday + timedelta(days=2), 2) == 0.0


def test_demand_of_earlier_weeks_only_is_not_told(case_factory):
    assert rhythm(case_factory, [(day, 2.0, 1.0) for day in range(0, 28, 4)]).demands == ()


def test_the_minutes_a_calendar_takes_of_a_night_are_told(case_factory):
    got = rhythm(case_factory, [(day, 2.0, 1.5) for day in range(42) if day % 7 in (0, 3)])

    assert got.scheduled_min(LAST.monday, 1) == pytest.approx(90.0)
    assert got.scheduled_min(LAST.monday, 3) == pytest.approx(30.0)
    assert got.scheduled_min(LAST.monday + timedelta(days=1), 1) == 0.0


def test_a_draw_over_midnight_counts_for_the_night_it_reaches(case_factory):
    got = rhythm(case_factory, [(day, 23.0, 3.0) for day in range(42) if day % 7 in (0, 3)])

    assert got.scheduled_min(LAST.monday + timedelta(days=1), 0) == pytest.approx(120.0)


def test_days_without_use_are_named_and_nobodys_absence_is_not(case_factory):
    days = case_factory.healthy_days(LAST, each_day=[{}] * 4 + [{"run_s": 0.0}] * 3)

    got = rhythm(case_factory, [], days=days)

    assert got.idle_dates == (date(2026, 11, 20), date(2026, 11, 21), date(2026, 11, 22))
    assert got.texts == ("hardly ran on Fri, Sat, Sun",)


def test_the_quietest_hours_come_from_all_weeks(case_factory):
    day = [0.2] * 24
    day[3:6] = [0.0, 0.01, 0.0]

    assert rhythm(case_factory, [], shares=[day * 7] * 6).quiet_from_hour == 3


def test_a_weekly_calendar_shows_at_168_hours_and_not_at_24(case_factory):
    rng = np.random.default_rng(47)
    week = rng.uniform(0.0, 1.0, 168)
    shares = [(week + rng.normal(0, 0.05, 168)).clip(0).tolist() for _ in range(6)]

    got = rhythm(case_factory, [], shares=shares).correlation

    assert got[168] > 0.9
    assert abs(got[24]) < 0.3


@pytest.mark.parametrize("lag", [24, 48, 168])
def test_autocorrelation_agrees_with_pandas(lag):
    # second opinion: pandas' Series.autocorr, which leaves out pairs with a blank too
    rng = np.random.default_rng(47)
    values = np.sin(np.arange(1008) * 2 * np.pi / 24) + rng.normal(0, 0.5, 1008)
    values[100:160] = np.nan

    assert autocorrelation(values, lag) == pytest.approx(pd.Series(values).autocorr(lag), rel=1e-9)


def test_too_few_hours_or_no_variation_give_no_correlation():
    assert autocorrelation(np.zeros(500), 24) is None
    assert autocorrelation(np.arange(60.0), 24) is None
    assert autocorrelation(np.arange(20.0), 24) is None


def test_weeks_measured_before_draws_were_known_are_blank(case_factory):
    blank = ("run_share_by_week_hour", "draw_from_min", "draw_min", "draw_run_share")
    week = case_factory.healthy_week(**dict.fromkeys(blank))

    got = rhythm_of(week, case_factory.healthy_days(), (), ())

    assert got.demands == ()
    assert got.correlation == {24: None, 48: None, 168: None}
