"""Runs and stops against a plain-Python reading of the same rules."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure.local_clock import local_clock
from analysis.measure.segments import range_rows, segments, states
from analysis.measure.timeline import timeline
from ingest.weeks import Week

CLOCK = local_clock(Week(2026, 47), "UTC")
FROM_US = np.datetime64(CLOCK.from_at, "us").astype(np.int64)
WEEK_S = 7 * 86400


@dataclass
class Piece:
    state: str
    from_s: float
    to_s: float
    began: bool
    ended: bool = False


def oracle(t_s, frequency_hz):
    """Walk through the samples one by one, as the rules are worded."""
    steps = [b - a for a, b in pairwise(t_s)]
    usual = float(np.median(steps)) if steps else float(WEEK_S)
    limit = max(60.0, 5.0 * usual)
    pieces = []
    last_known = None
    for i, (at, hz) in enumerate(zip(t_s, frequency_hz, strict=True)):
        if hz is not None:
            last_known = (at, "run" if hz > 1.0 else "stop")
        known = last_known is not None and at - last_known[0] <= limit
        state = last_known[1] if known else "unknown"
        after_gap = i > 0 and steps[i - 1] > limit
        if not pieces or after_gap or pieces[-1].state != state:
            both_known = bool(pieces) and "unknown" not in (state, pieces[-1].state)
            seen = both_known and not after_gap
            if pieces and seen:
                pieces[-1].ended = True
            pieces.append(Piece(state, at, at, began=seen))
        next_at = t_s[i + 1] if i + 1 < len(t_s) else WEEK_S
        silence = next_at - at
        pieces[-1].to_s = at + (silence if silence <= limit else min(usual, limit, silence))
    return pieces


weeks = st.lists(
    st.tuples(
        st.one_of(
            st.sampled_from([1, 5, 10, 30, 60]),
            st.integers(1, 70),
            st.sampled_from([61, 300, 301, 2000]),
        ),
        st.sampled_from([0.0, 0.0, 0.5, 1.0, 1.5, 30.0, 45.0, 45.0, None]),
    ),
    min_size=1,
    max_size=19,  # too few long steps to count as a second usual interval
)


@settings(max_examples=400, deadline=None)
@given(weeks)
def test_runs_stops_cuts_and_lengths_are_those_of_the_rules(steps):
    t_s = np.cumsum([step for step, _ in steps]).astype(float)
    frequency_hz = [hz for _, hz in steps]
    as_logged = np.array([np.nan if hz is None else hz for hz in frequency_hz], dtype=np.float32)

    time = timeline(FROM_US + (t_s * 1e6).astype(np.int64), CLOCK)
    got = segments(states(as_logged, time), time)

    expected = oracle(t_s.tolist(), frequency_hz)
    names = np.array(["stop", "run", "unknown"])
    assert names[got.state].tolist() == [p.state for p in expected]
    assert np.allclose(got.from_s, [p.from_s for p in expected], atol=1e-6)
    assert np.allclose(got.to_s, [p.to_s for p in expected], atol=1e-6)
    assert got.is_whole.tolist() == [p.began and p.ended for p in expected]
    assert got.is_start.tolist() == [p.began and p.state == "run" for p in expected]
    assert got.is_stop.tolist() == [p.began and p.state == "stop" for p in expected]


@settings(max_examples=200, deadline=None)
@given(weeks)
def test_every_row_lies_in_one_segment_and_held_time_adds_up(steps):
    t_s = np.cumsum([step for step, _ in steps]).astype(float)
    as_logged = np.array([np.nan if hz is None else hz for _, hz in steps], dtype=np.float32)

    time = timeline(FROM_US + (t_s * 1e6).astype(np.int64), CLOCK)
    got = segments(states(as_logged, time), time)

    assert got.first[0] == 0
    assert got.end[-1] == t_s.size
    assert (got.first[1:] == got.end[:-1]).all()
    assert np.isclose(got.duration_s.sum(), time.held_s.sum())


def cut(t_s, frequency_hz):
    time = timeline(FROM_US + (np.asarray(t_s) * 1e6).astype(np.int64), CLOCK)
    return segments(states(np.asarray(frequency_hz, dtype=np.float32), time), time)


def test_a_run_already_going_when_the_log_begins_is_no_start():
    got = cut(np.arange(0, 60, 10), [45, 45, 0, 0, 45, 0])

    assert got.is_start.tolist() == [False, False, True, False]
    assert got.is_whole.tolist() == [False, True, True, False]


def test_a_run_first_seen_after_a_gap_is_no_start():
    got = cut([0, 10, 20, 30, 500, 510, 520], [0, 0, 0, 0, 45, 45, 0])

    assert not got.is_start.any()
    assert not got.is_whole.any()


def test_a_blank_frequency_inside_a_run_does_not_cut_it():
    got = cut(np.arange(0, 70, 10), [0, 45, np.nan, 45, np.nan, 45, 0])

    assert got.state.tolist() == [0, 1, 0]
    assert got.duration_s[1] == 50.0


def test_a_long_blank_leaves_the_state_unknown_and_counts_no_start_after_it():
    frequency_hz = [0.0] * 3 + [np.nan] * 20 + [45.0] * 3
    got = cut(np.arange(0, 260, 10), frequency_hz)

    assert got.state.tolist() == [0, 2, 1]
    assert not got.is_start.any()


def test_row_ranges_are_listed_one_after_the_other():
    rows = range_rows(np.array([2, 5, 5]), np.array([4, 5, 8]))

    assert rows.tolist() == [2, 3, 5, 6, 7]
