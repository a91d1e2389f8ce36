from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from analysis.detectors.data_gap import judge, judge_silence, nights_missing
from ingest.left_out import LeftOutValues
from ingest.weeks import week_bounds

HOUR_S, DAY_S = 3600.0, 86_400.0


@pytest.fixture
def bounds(case_factory):
    return week_bounds(case_factory.REPORT_WEEK, "America/New_York")


def only(verdict):
    (judged,) = verdict
    return judged


def silent_for(bounds, seconds):
    _, to_at = bounds
    return {
        "gap_s": seconds,
        "n_gaps": 1,
        "silent_s": seconds,
        "longest_gap_s": seconds,
        "longest_gap_from_at": to_at - timedelta(seconds=seconds),
        "last_at": to_at - timedelta(seconds=seconds),
        "share_missing": seconds / (7 * DAY_S),
    }


def holes(bounds, n, seconds):
    from_at, _ = bounds
    return {
        "gap_s": n * seconds,
        "n_gaps": n,
        "longest_gap_s": seconds,
        "longest_gap_from_at": from_at + timedelta(days=2),
        "share_missing": n * seconds / (7 * DAY_S),
    }


def test_a_whole_week_of_samples_is_clear(make_case):
    assert judge(make_case(past=1)) == ()


@pytest.mark.parametrize(
    ("n", "hours", "is_found"), [(1, 5, False), (3, 3, False), (2, 8, True), (1, 14, True)]
)
def test_half_a_day_of_silence_in_all_is_a_gap(make_case, bounds, n, hours, is_found):
    verdict = judge(make_case(past=1, week=holes(bounds, n, hours * HOUR_S)))

    assert bool(verdict) is is_found


@pytest.mark.parametrize(("n", "minutes", "is_asked"), [(1_200, 8, True), (10, 120, False)])
def test_many_short_silences_ask_whether_the_log_writes_only_changes(
    make_case, bounds, n, minutes, is_asked
):
    found = only(judge(make_case(past=1, week=holes(bounds, n, minutes * 60.0))))

    assert ('values = "on_change"' in found.alternatives[0]) is is_asked
    assert ("only when a value changes?" in found.summary) is is_asked


def test_a_log_that_ends_some_hours_early_is_only_late(make_case, bounds):
    assert judge(make_case(past=1, week=silent_for(bounds, 18 * HOUR_S))) == ()


def test_silence_of_two_days_at_the_end_is_told_with_its_start(make_case, bounds):
    found = only(judge(make_case(past=1, week=silent_for(bounds, 2 * DAY_S))))

    assert (found.consequence, found.cause) == (1, "")
    assert found.since_at == bounds[1] - timedelta(days=2)
    assert "silent since Sat 21 Nov, 2 days" in found.summary
    assert found.measures["gap_s"] == 2 * DAY_S
    assert found.measures["share_missing"] == pytest.approx(2 / 7, abs=1e-4)


def test_it_rises_with_days(make_case, bounds):
    found = only(judge(make_case(past=1, week=silent_for(bounds, 4 * DAY_S))))

    assert found.consequence == 2


def test_silence_after_falling_volts_weighs_more_and_says_so(make_case, bounds):
    low = {"undervoltage_s": 900.0}
    gone = {"observed_s": 0.0}

    found = only(
        judge(
            make_case(
                past=1,
                week=silent_for(bounds, 2 * DAY_S),
                each_day=[{}, {}, {}, {}, low, gone, gone],
            )
        )
    )

    assert found.consequence == 2
    assert any("Volts were low on the last day heard" in text for text in found.grounds)


def test_nights_without_a_quiet_window_are_named(make_case):
    case = make_case(
        each_day=[{}, {"night_observed_share": 0.5}, {}, {"night_observed_share": 0.0}]
    )

    assert nights_missing(case) == ("2026-11-17", "2026-11-19")


def test_silence_before_the_first_sample_ever_is_no_gap(make_case, bounds):
    from_at, _ = bounds
    late_start = holes(bounds, 1, 3 * DAY_S) | {
        "first_at": from_at + timedelta(days=3),
        "longest_gap_from_at": from_at,
    }

    assert judge(make_case(week=late_start)) == ()
    assert judge(make_case(past=1, week=late_start)) != ()


def test_a_week_without_a_sample_counts_from_the_last_one_heard(make_case, bounds):
    case = make_case()
    from_at, to_at = bounds[1], bounds[1] + timedelta(days=7)

    found = judge_silence(case.site, case.pump, case.week, from_at, to_at)

    assert found.since_at == case.week.last_at
    assert found.measures["share_missing"] == 1.0
    assert found.consequence == 2


def values_left_out(n_values):
    at = datetime(2026, 11, 18)
    return LeftOutValues(
        week="2026-W47",
        channel="pressure_kpa",
        n_values=n_values,
        value=45_184.8,
        n_of_value=n_values,
        first_at=at,
        last_at=at,
    )


def test_rows_that_came_and_were_left_out_are_no_silence(make_case, bounds):
    case, left_out = make_case(past=1, week=silent_for(bounds, 2 * DAY_S)), values_left_out(17_280)

    found = only(judge(replace(case, left_out=(left_out,))))
    silent = judge_silence(case.site, case.pump, case.past[-1], *bounds, [left_out])

    told = "17280 rows came with a pressure that no pump can show"
    assert told in found.grounds
    assert told in silent.summary
    assert "heard" not in silent.summary
    assert not any("rows came" in ground for ground in only(judge(case)).grounds)


def test_scattered_losses_date_from_the_first_day_that_lacks_much(make_case, bounds):
    losses = holes(bounds, 40, 1.5 * HOUR_S) | {"longest_gap_s": 5 * HOUR_S}
    days = [{"observed_s": DAY_S - 60.0}, *[{"observed_s": 14 * HOUR_S}] * 6]

    judged = only(judge(make_case(past=1, week=losses, each_day=days)))

    assert judged.since_at == bounds[0] + timedelta(days=1)


def test_one_long_silence_dates_from_its_beginning(make_case, bounds):
    judged = only(judge(make_case(past=1, week=holes(bounds, 1, 40 * HOUR_S))))

    assert judged.since_at == bounds[0] + timedelta(days=2)
