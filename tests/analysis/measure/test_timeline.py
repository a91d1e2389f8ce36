"""Held time and gaps."""

import numpy as np
import pytest

from analysis.measure.local_clock import local_clock
from analysis.measure.timeline import covered_s, gap_limit_s, timeline
from ingest.weeks import Week

CLOCK = local_clock(Week(2026, 47), "UTC")
WEEK_S = 7 * 86400.0
FROM_US = np.datetime64(CLOCK.from_at, "us").astype(np.int64)


def laid_out(t_s):
    return timeline(FROM_US + np.round(np.asarray(t_s) * 1e6).astype(np.int64), CLOCK)


def test_a_sample_holds_until_the_next_one():
    time = laid_out([0.0, 10.0, 20.0, 35.0, 45.0])

    assert time.held_s[:4].tolist() == [10.0, 10.0, 15.0, 10.0]


def test_a_sample_before_a_gap_holds_for_one_usual_interval():
    time = laid_out([0.0, 10.0, 20.0, 30.0, 1030.0, 1040.0, 1050.0])

    assert time.held_s[3] == 10.0
    assert time.is_gap.tolist() == [False, False, False, True, False, False]
    assert time.piece_first.tolist() == [0, 4]


@pytest.mark.parametrize(("silence_s", "is_gap"), [(60.0, False), (60.5, True)])
def test_a_silence_is_a_gap_only_above_a_minute_in_a_fast_log(silence_s, is_gap):
    t_s = np.concatenate((np.arange(0.0, 100.0, 5.0), 95.0 + silence_s + np.arange(0, 100.0, 5.0)))

    assert laid_out(t_s).is_gap.any() == is_gap


@pytest.mark.parametrize(("silence_s", "is_gap"), [(300.0, False), (301.0, True)])
def test_a_slow_log_may_miss_four_samples(silence_s, is_gap):
    t_s = np.concatenate(
        (np.arange(0.0, 3600.0, 60.0), 3540.0 + silence_s + np.arange(0, 3600.0, 60.0))
    )

    assert laid_out(t_s).is_gap.any() == is_gap


def test_the_last_sample_of_the_week_holds_to_its_end():
    t_s = np.arange(0.0, WEEK_S, 60.0)

    assert laid_out(t_s).held_s.sum() == WEEK_S


def test_a_log_that_ends_early_holds_one_interval_past_its_last_sample():
    assert laid_out(np.arange(0.0, 3600.0, 10.0)).held_s.sum() == 3600.0


def test_a_logger_that_slows_down_while_the_pump_sleeps_has_no_gaps():
    # an hour: 10 min at 1 s, 50 min at about 62 s, over and over
    hour = np.concatenate((np.arange(0.0, 600.0), np.arange(600.0, 3600.0, 62.0)))
    t_s = np.concatenate([hour + 3600.0 * n for n in range(24)])

    time = laid_out(t_s)

    assert time.interval_s == 1.0
    assert not time.is_gap.any()


def test_long_silences_of_no_one_length_stay_gaps():
    rng = np.random.default_rng(5)
    step_s = np.where(rng.random(2000) < 0.05, rng.uniform(70, 900, 2000), 1.0)

    assert gap_limit_s(step_s, 1.0) == 60.0


def test_a_single_sample_counts_as_a_log_as_slow_as_the_week():
    time = laid_out([5.0])

    assert time.interval_s == WEEK_S
    assert time.held_s.size == 1


def test_spans_are_shared_out_between_edges():
    got_s = covered_s(
        np.array([10.0, 30.0]), np.array([20.0, 50.0]), np.array([0.0, 15.0, 35.0, 60.0])
    )

    assert got_s.tolist() == [5.0, 10.0, 15.0]


def test_no_spans_cover_nothing():
    assert covered_s(np.empty(0), np.empty(0), np.array([0.0, 1.0])).tolist() == [0.0]
