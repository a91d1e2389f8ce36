"""Starts, runs and stops of a week."""

import numpy as np
import pytest

from ingest.weeks import Week

WEEK_S = 7 * 86400.0


def cycling(t_s, on_s, off_s):
    return np.where(t_s % (on_s + off_s) < on_s, 45.0, 0.0)


@pytest.mark.parametrize("interval_s", [10.0, 30.0, 60.0])
def test_counted_starts_are_a_lower_bound_and_run_share_is_not_biased(measure, interval_s):
    # 15 s on, 30 s off: 80 starts an hour, a third of the time running. The offset of 0.37 s per
    # sample keeps the log from locking to the cycle.
    t_s = np.arange(0.0, WEEK_S, interval_s + 0.37)

    week = measure(t_s, frequency_hz=cycling(t_s, 15.0, 30.0), pressure_kpa=400.0).week

    assert week.starts_per_day <= 80 * 24
    assert week.run_share == pytest.approx(1 / 3, abs=0.01)


def test_a_log_fast_enough_counts_every_start(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)

    week = measure(t_s, frequency_hz=cycling(t_s + 20, 15.0, 30.0), pressure_kpa=400.0).week

    assert week.starts_per_day == pytest.approx(80 * 24, rel=0.001)
    assert week.starts_per_hour_peak == 80


def test_flips_tell_how_often_neighbours_differ(measure):
    t_s = np.arange(0.0, WEEK_S, 60.0)

    assert measure(t_s, frequency_hz=np.arange(t_s.size) % 2 * 45.0).week.flip_share == 1.0
    assert measure(t_s, frequency_hz=45.0).week.flip_share == 0.0


def test_lengths_are_those_of_whole_runs_and_stops(measure):
    t_s = np.arange(0.0, 86400.0, 5.0)

    week = measure(t_s, frequency_hz=cycling(t_s, 100.0, 500.0), pressure_kpa=400.0).week

    assert (week.run_s_median, week.stop_s_median) == (100.0, 500.0)
    assert week.stop_s_cv == 0.0
    assert week.n_starts == 143  # 144 cycles, the first of which was already running


def test_stops_that_a_large_draw_ends_do_not_count_as_idle_ones(measure):
    # 100 s on, 50 s off; each run ends at the no-flow speed, 45 Hz, after 30 s at the speed given
    t_s = np.arange(0.0, 86400.0, 5.0)
    runs = cycling(t_s, 100.0, 50.0)

    def idle_stop_s(speed_hz):
        is_early = (runs > 0.0) & (t_s % 150.0 < 30.0)
        hz = np.where(is_early, speed_hz, runs)
        week = measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week
        assert week.f0_hz == 45.0
        return week.idle_stop_s_median, week.idle_stop_s_p10, week.refill_over_f0_hz

    assert idle_stop_s(45.0) == (50.0, 50.0, 0.0)
    assert idle_stop_s(52.0) == (None, None, 7.0)
    assert idle_stop_s(np.where(t_s % 750.0 < 150.0, 45.0, 52.0)) == (None, 50.0, 7.0)  # 1 in 5


@pytest.mark.parametrize(
    ("interval_s", "idle_s", "refill_hz"), [(5.0, 5.0, -1.0), (15.0, None, 0.0)]
)
def test_a_stop_is_no_idle_one_where_a_slow_log_does_not_show_the_next_run(
    measure, interval_s, idle_s, refill_hz
):
    # one sample of stop, then two of a run: a log of 15 s may have them in the ramp up and
    # the ramp down, with a large draw between; an hour at the no-flow speed, 45 Hz, once a day
    t_s = np.arange(0.0, WEEK_S, interval_s)
    at = (t_s / interval_s).astype(int) % 3
    hz = np.where(t_s % 86400.0 < 3600.0, 45.0, np.choose(at, (0.0, 44.0, 40.0)))

    week = measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week

    assert week.f0_hz == 45.0
    assert week.stop_s_median == interval_s
    assert (week.idle_stop_s_median, week.idle_stop_s_p10) == (idle_s, idle_s)
    assert week.refill_over_f0_hz == refill_hz


@pytest.mark.parametrize(("week", "hours"), [(Week(2026, 10), 167), (Week(2026, 44), 169)])
def test_hours_add_up_in_weeks_in_which_the_clocks_change(measure, week, hours):
    t_s = np.arange(0.0, hours * 3600.0, 30.0)

    record = measure(
        t_s,
        timezone="America/New_York",
        week=week,
        frequency_hz=cycling(t_s, 600.0, 1200.0),
        pressure_kpa=400.0,
    )

    got = record.week
    assert got.observed_s == hours * 3600.0
    assert got.gap_s == 0.0
    assert got.run_s == pytest.approx(hours * 1200.0)
    assert [day.observed_s for day in record.days] == [86400.0] * 6 + [(hours - 144) * 3600.0]
    assert sum(day.run_s for day in record.days) == pytest.approx(got.run_s)
    assert sum(day.n_starts for day in record.days) == got.n_starts
    assert got.run_share_by_hour == pytest.approx([1 / 3] * 24)
    assert got.starts_by_hour == pytest.approx([2.0] * 24, abs=0.2)


def test_starts_are_rates_of_the_hours_seen(measure):
    # seen from 06:00 to 12:00 each day only
    t_s = np.concatenate([np.arange(6 * 3600.0, 12 * 3600.0, 30.0) + 86400 * d for d in range(7)])

    week = measure(t_s, frequency_hz=cycling(t_s + 900.0, 600.0, 1200.0), pressure_kpa=400.0).week

    assert week.starts_per_day == pytest.approx(48, abs=2)
    assert week.run_share_by_hour[3] is None
    assert week.run_share_by_hour[8] == pytest.approx(1 / 3)
    assert week.n_gaps == 8
    assert week.share_missing == pytest.approx(0.75)


def test_run_share_weighs_time_and_not_rows(measure):
    # awake (running) at 1 s for 60 s, asleep at 60 s for 540 s
    cycle = np.concatenate((np.arange(60.0), np.arange(60.0, 600.0, 60.0)))
    t_s = np.concatenate([cycle + 600.0 * n for n in range(144)])

    week = measure(t_s, frequency_hz=np.where(t_s % 600 < 60, 45.0, 0.0), pressure_kpa=400.0).week

    assert week.run_share == pytest.approx(0.1, rel=0.002)
    assert week.n_gaps == 1  # the rest of the week


@pytest.mark.parametrize("interval_s", [10.0, 60.0])
def test_averages_are_told_from_instants(measure, interval_s):
    fine_s = np.arange(0.0, 2 * 86400.0, 1.0)
    fine_hz = cycling(fine_s, 147.0, 314.0)
    t_s = np.arange(0.0, 2 * 86400.0, interval_s)

    instants = measure(t_s, frequency_hz=fine_hz[:: int(interval_s)], pressure_kpa=400.0).week
    averages = measure(
        t_s, frequency_hz=fine_hz.reshape(-1, int(interval_s)).mean(axis=1), pressure_kpa=400.0
    ).week

    assert not instants.is_averaged
    assert averages.is_averaged
    assert averages.run_share == pytest.approx(fine_hz.mean() / 45.0, rel=0.01)


def written_on_change(t_s, hz, every_s=10.0):
    """Rows of each change of speed, and every so often one more."""
    is_row = np.append(True, hz[1:] != hz[:-1]) | (t_s % every_s == 0)
    return t_s[is_row], hz[is_row]


def test_ramps_of_a_log_of_changes_are_not_taken_for_averages(measure):
    fine_s = np.arange(0.0, 2 * 86400.0, 1.0)
    ramped_hz = np.interp(fine_s % 300, [0, 3, 100, 104, 300], [0, 45, 45, 0, 0])
    t_s, hz = written_on_change(fine_s, ramped_hz)
    averaged_hz = np.repeat(cycling(fine_s, 147.0, 314.0).reshape(-1, 10).mean(axis=1), 10)

    assert not measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week.is_averaged
    t_s, hz = written_on_change(fine_s, averaged_hz)
    assert measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week.is_averaged


@pytest.mark.parametrize(("n_met", "is_averaged"), [(6, False), (14, True)])
def test_few_ramps_met_by_chance_are_not_taken_for_averages(measure, n_met, is_averaged):
    hz = np.zeros(60_480)
    edges = []
    for run in range(7):
        first = 4_000 + 8_000 * run
        hz[first : first + 60] = 45.0
        edges += [first - 1, first + 60]
    hz[edges[:n_met]] = 12.0  # on its way up or down

    week = measure(10.0 * np.arange(hz.size), frequency_hz=hz, pressure_kpa=400.0).week

    assert week.is_averaged is is_averaged


def test_ramps_of_a_fast_log_are_not_taken_for_averages(measure):
    t_s = np.arange(0.0, 86400.0, 1.0)
    hz = np.interp(t_s % 300, [0, 3, 100, 103, 300], [0, 45, 45, 0, 0])  # 3 s up, 3 s down

    assert not measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week.is_averaged


def test_days_with_many_more_starts_than_usual_are_counted(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    hz = np.where(t_s < 86400, cycling(t_s, 30.0, 60.0), cycling(t_s, 300.0, 600.0))

    assert measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week.n_days_cycling == 1


def test_blank_frequencies_do_not_bias_counts_or_share(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    hz = cycling(t_s, 300.0, 600.0)
    blank = np.random.default_rng(1).random(t_s.size) < 0.1

    full = measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week
    holed = measure(t_s, frequency_hz=np.where(blank, np.nan, hz), pressure_kpa=400.0).week

    assert holed.n_starts == full.n_starts
    assert holed.run_share == pytest.approx(full.run_share, abs=0.001)
    assert holed.state_unknown_s == 0.0 or holed.state_unknown_s <= 10.0


def test_half_a_week_without_frequency_is_unknown_and_not_stopped(measure):
    t_s = np.arange(0.0, WEEK_S, 10.0)
    hz = np.where(t_s < WEEK_S / 2, cycling(t_s, 300.0, 600.0), np.nan)

    week = measure(t_s, frequency_hz=hz, pressure_kpa=400.0).week

    assert week.state_unknown_s == pytest.approx(WEEK_S / 2, rel=0.001)
    assert week.run_share == pytest.approx(1 / 3, abs=0.001)
