"""Drift of current over weeks: a built-in slope comes back, what is not drift stays out."""

from time import perf_counter

import numpy as np
import pytest

from analysis.drift import current_drift
from analysis.records import OpMapBin
from analysis.slopes import theil_sen
from ingest.weeks import Week

FIRST_WEEK = Week(2026, 30)


def op_bin(
    week_number,
    *,
    frequency_bin_hz=50.0,
    pressure_bin_pct=95.0,
    current_a=6.0,
    frequency_mean_hz=None,
    n=500,
    held_s=5000.0,
):
    mean_hz = frequency_bin_hz + 1.0 if frequency_mean_hz is None else frequency_mean_hz
    return OpMapBin(
        pump_id="P-1",
        week=str(FIRST_WEEK.plus(week_number)),
        frequency_bin_hz=frequency_bin_hz,
        pressure_bin_pct=pressure_bin_pct,
        n=n,
        held_s=held_s,
        frequency_mean_hz=mean_hz,
        pressure_mean_kpa=400.0,
        current_mean_a=current_a,
    )


def fleet_of_bins(weeks, pct_per_week, *, seed=47, noise=0.003, missing=0.3, wander_hz=0.4):
    """Weeks of op_map bins whose current goes with the square of speed, and drifts."""
    rng = np.random.default_rng(seed)
    maps = []
    for week in weeks:
        bins = []
        for low_hz in np.arange(44.0, 60.0, 2.0):
            for low_pct in (90.0, 95.0, 100.0):
                if rng.random() < missing:
                    continue
                mean_hz = low_hz + 1.0 + rng.uniform(-wander_hz, wander_hz)
                level_a = 6.0 * (mean_hz / 60.0) ** 2 * (low_pct / 100.0)
                bins.append(
                    op_bin(
                        week,
                        frequency_bin_hz=low_hz,
                        pressure_bin_pct=low_pct,
                        frequency_mean_hz=mean_hz,
                        current_a=level_a
                        * (1 + pct_per_week / 100 * week)
                        * np.exp(rng.normal(0, noise)),
                        held_s=rng.uniform(400, 40_000),
                    )
                )
        maps.append(tuple(bins))
    return maps


def test_theil_sen_matches_the_published_example():
    # Sen 1968, as a scientific library's test-suite and an R package note give it: slope 4,
    # 93 % limits 26/7 and 35/8
    x = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
    y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])

    got = theil_sen(x, y, 0.93)

    assert got == pytest.approx((4.0, 26 / 7, 35 / 8), abs=5e-7)


@pytest.mark.parametrize("pct_per_week", [-0.8, 0.5, 1.0])
def test_a_built_in_drift_comes_back_within_its_interval(pct_per_week):
    got = current_drift(fleet_of_bins(range(8), pct_per_week))

    # the level a percent refers to is the middle of the eight weeks
    expected = pct_per_week / (1 + 3.5 * pct_per_week / 100)
    assert got.pct_per_week == pytest.approx(expected, abs=0.1)
    assert got.low_pct_per_week <= expected <= got.high_pct_per_week
    assert got.low_pct_per_week * got.high_pct_per_week > 0
    assert got.n_weeks == 8


def test_exact_growth_of_one_bin_by_hand():
    # 10.0, 10.1, 10.2 ... A: 0.1 A a week on a middle level of 10.2 A
    maps = [(op_bin(week, current_a=10.0 + 0.1 * week),) for week in range(5)]

    got = current_drift(maps)

    assert got.pct_per_week == pytest.approx(0.1 / 10.2 * 100, rel=2e-3)
    assert got.total_pct == pytest.approx(4 * got.pct_per_week)
    assert (got.n_weeks, got.n_bins) == (5, 1)


def test_the_interval_covers_nothing_in_about_95_of_100_healthy_pumps():
    drifts = [current_drift(fleet_of_bins(range(8), 0.0, seed=seed)) for seed in range(200)]

    covered = sum(d.low_pct_per_week <= 0 <= d.high_pct_per_week for d in drifts)

    # binomial(200, 0.95): under 180 comes about once in a thousand
    assert covered >= 180


def test_bins_that_come_and_go_do_not_bend_the_slope():
    # the slow half of the map is seen in the first weeks only, the fast half in the last
    maps = fleet_of_bins(range(8), 1.0, missing=0.0, noise=0.0, wander_hz=0.0)
    part = [
        tuple(
            b
            for b in week
            if (b.frequency_bin_hz < 52 and i < 5) or (b.frequency_bin_hz >= 52 and i >= 3)
        )
        for i, week in enumerate(maps)
    ]

    got = current_drift(part)

    assert got.pct_per_week == pytest.approx(1.0 / 1.035, abs=0.02)


def test_a_speed_that_wanders_inside_its_bins_is_no_drift():
    # the mean frequency climbs 0.15 Hz a week inside every bin, which alone would be 0.6 % a week
    maps = [
        tuple(
            op_bin(
                week,
                frequency_bin_hz=low_hz,
                frequency_mean_hz=low_hz + 0.4 + 0.15 * week,
                current_a=6.0 * ((low_hz + 0.4 + 0.15 * week) / 60.0) ** 2,
            )
            for low_hz in np.arange(44.0, 60.0, 2.0)
        )
        for week in range(8)
    ]

    got = current_drift(maps)

    assert abs(got.pct_per_week) < 0.02


def test_a_little_flow_that_never_stops_is_no_drift():
    # two weeks that mostly ran at no flow, then three with a leak: half a hertz more, 9 % more
    # current, which the slope of the larger flows of the bin above would not explain
    mostly = [(45.0, 2.03), (45.0, 2.03), (45.5, 2.22), (45.5, 2.22), (45.5, 2.22)]
    maps = [
        (
            op_bin(week, frequency_bin_hz=44.0, frequency_mean_hz=hz, current_a=amps),
            op_bin(week, frequency_bin_hz=46.0, frequency_mean_hz=46.7, current_a=2.51),
            op_bin(week, frequency_bin_hz=50.0, frequency_mean_hz=50.5, current_a=3.27),
        )
        for week, (hz, amps) in enumerate(mostly)
    ]

    got = current_drift(maps)

    assert (got.n_weeks, got.pct_per_week) == (5, pytest.approx(0.0, abs=0.02))


def test_a_few_wild_bins_do_not_lead_the_slope():
    maps = fleet_of_bins(range(10), 0.5)
    wild = [
        tuple(
            op_bin(
                week,
                frequency_bin_hz=b.frequency_bin_hz,
                pressure_bin_pct=b.pressure_bin_pct,
                frequency_mean_hz=b.frequency_mean_hz,
                current_a=b.current_mean_a * (1.4 if i == 0 and week >= 8 else 1.0),
                held_s=b.held_s,
            )
            for i, b in enumerate(bins)
        )
        for week, bins in enumerate(maps)
    ]

    assert current_drift(wild).pct_per_week == pytest.approx(
        current_drift(maps).pct_per_week, abs=0.1
    )


def test_weeks_that_are_missing_count_in_the_slope():
    got = current_drift([(op_bin(week, current_a=10.0 * 1.01**week),) for week in (0, 1, 5, 6, 9)])

    assert got.n_weeks == 5
    assert got.total_pct == pytest.approx(9 * got.pct_per_week)
    assert got.pct_per_week == pytest.approx(1.0, abs=0.05)


def test_a_fragment_of_a_week_does_not_count_as_a_whole_one():
    # a log that begins on a Sunday evening: ten minutes of one bin that hardly shows the rise
    def bins(week, held_s):
        quiet = op_bin(week, current_a=6.0 * 1.004**week, frequency_bin_hz=44.0, held_s=held_s)
        hard = op_bin(week, current_a=9.0 * 1.03**week, frequency_bin_hz=58.0, held_s=held_s)
        return (quiet, hard)

    whole = [bins(week, 20_000.0) for week in range(1, 6)]

    got = current_drift([bins(0, 600.0)[:1], *whole])

    assert got == current_drift(whole)
    assert got.low_pct_per_week > 0.0


@pytest.mark.parametrize(("held_s", "n_weeks"), [(3599.0, 5), (3600.0, 6)])
def test_an_hour_is_enough_beside_weeks_that_ran_for_days(held_s, n_weeks):
    long = [(op_bin(week, held_s=200_000.0),) for week in range(5)]

    assert current_drift([*long, (op_bin(5, held_s=held_s),)]).n_weeks == n_weeks


@pytest.mark.parametrize(("held_s", "n_weeks"), [(499.0, 5), (500.0, 6)])
def test_of_a_pump_that_hardly_runs_a_quarter_of_its_usual_week_is_enough(held_s, n_weeks):
    short = [(op_bin(week, held_s=2000.0),) for week in range(5)]

    assert current_drift([*short, (op_bin(5, held_s=held_s),)]).n_weeks == n_weeks


def test_the_turn_of_the_year_is_one_week():
    # 2026 has 53 ISO weeks
    number = 53 - FIRST_WEEK.number
    got = current_drift([(op_bin(w, current_a=10.0),) for w in range(number - 2, number + 3)])

    assert got.n_weeks == 5
    assert got.pct_per_week == 0.0


def test_three_weeks_give_a_slope_with_a_wide_interval():
    got = current_drift(fleet_of_bins(range(3), 0.8))
    longer = current_drift(fleet_of_bins(range(8), 0.8))

    width = got.high_pct_per_week - got.low_pct_per_week
    assert got.n_weeks == 3
    assert got.low_pct_per_week <= got.pct_per_week <= got.high_pct_per_week
    assert width > 3 * (longer.high_pct_per_week - longer.low_pct_per_week)


def test_two_weeks_are_not_compared():
    assert current_drift(fleet_of_bins(range(2), 0.8)) is None


def test_weeks_that_share_no_bin_are_not_compared():
    maps = [(op_bin(week, frequency_bin_hz=44.0 + 2 * week),) for week in range(6)]

    assert current_drift(maps) is None


@pytest.mark.parametrize(
    "lack", [{"n": 9}, {"held_s": 299.0}, {"current_a": None}, {"current_a": 0.0}]
)
def test_bins_with_too_little_behind_them_are_left_out(lack):
    thin = [(op_bin(week, **lack),) for week in range(6)]
    beside = [(op_bin(week, frequency_bin_hz=54.0),) for week in range(6)]

    assert current_drift(thin) is None
    got = current_drift([a + b for a, b in zip(thin, beside, strict=True)])
    assert (got.n_weeks, got.n_bins) == (6, 1)


def test_no_weeks_and_empty_weeks_are_not_compared():
    assert current_drift([]) is None
    assert current_drift([(), (), ()]) is None


def test_half_a_year_of_weeks_takes_milliseconds():
    maps = fleet_of_bins(range(26), 0.3, missing=0.0)
    current_drift(maps)  # imports

    took_s = []
    for _ in range(5):
        started_s = perf_counter()
        current_drift(maps)
        took_s.append(perf_counter() - started_s)

    assert min(took_s) < 0.02  # about 1.5 ms on a quiet machine
