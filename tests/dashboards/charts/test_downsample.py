import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from dashboards.charts.downsample import thin

values = arrays(
    np.float32,
    st.integers(1, 400),
    elements=st.floats(-1000, 1000, width=32),
)


def test_a_dip_of_one_sample_in_a_week_is_kept():
    x_ms = np.arange(120_960) * 5000.0
    volts = np.full(x_ms.size, 232.0, dtype=np.float32)
    volts[77_777] = 181.5

    thinned = thin(x_ms, volts, 500)

    assert thinned.y.size <= 2000
    at = int(np.flatnonzero(thinned.y == np.float32(181.5))[0])
    assert thinned.x_ms[at] == x_ms[77_777]


@given(values, st.integers(1, 50))
@settings(max_examples=200, deadline=None)
def test_every_bucket_keeps_its_least_and_greatest_value_in_order(y, n_buckets):
    x_ms = np.arange(y.size) * 1000.0

    thinned = thin(x_ms, y, n_buckets)

    size = -(-y.size // n_buckets)
    kept = dict(zip(thinned.x_ms.tolist(), thinned.y.tolist(), strict=True))
    for first in range(0, y.size, size):
        bucket = y[first : first + size]
        seen = [kept[x] for x in x_ms[first : first + size].tolist() if x in kept]
        assert min(seen) == bucket.min()
        assert max(seen) == bucket.max()
    assert (np.diff(thinned.x_ms) > 0).all()
    assert all(y[int(x // 1000)] == value for x, value in kept.items())


def test_a_silence_breaks_the_line_and_its_edges_stay():
    x_ms = np.array([0.0, 1e3, 2e3, 500e3, 501e3])
    y = np.array([1, 2, 3, 4, 5], dtype=np.float32)

    thinned = thin(x_ms, y, 100, gap_ms=60e3)

    assert np.array_equal(thinned.y, np.array([1, 2, 3, np.nan, 4, 5]), equal_nan=True)


def test_a_clock_that_steps_back_breaks_the_line():
    x_ms = np.array([0.0, 1e3, 2e3, 0.5e3, 1.5e3])

    thinned = thin(x_ms, np.ones(5, dtype=np.float32), 100)

    assert np.isnan(thinned.y).tolist() == [False, False, False, True, False, False]


def test_samples_without_a_value_are_left_out_and_do_not_hide_an_extreme():
    y = np.full(1000, np.nan, dtype=np.float32)
    y[100:200] = 5.0
    y[150] = 1.0

    thinned = thin(np.arange(1000.0), y, 10)

    assert np.nanmin(thinned.y) == 1.0


@pytest.mark.parametrize("fill", [[], [np.nan, np.nan]])
def test_a_channel_without_values_gives_no_points(fill):
    y = np.array(fill, dtype=np.float32)

    thinned = thin(np.arange(float(y.size)), y, 10)

    assert thinned.x_ms.size == thinned.y.size == 0


def test_a_log_full_of_holes_stays_small():
    x_ms = np.cumsum(np.full(50_000, 100e3))

    thinned = thin(x_ms, np.zeros(50_000, dtype=np.float32), 200, gap_ms=60e3)

    assert thinned.y.size <= 4 * 200 + 3 * 200
