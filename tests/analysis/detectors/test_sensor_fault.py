"""Sensor faults, and the still readings that are none."""

from dataclasses import replace
from datetime import datetime

import pytest

from analysis.detectors.sensor_evidence import pressure_is_bad
from analysis.detectors.sensor_fault import judge
from analysis.no_flow import NoFlowDrift
from analysis.root_cause import held_back
from ingest.left_out import LeftOutValues
from ingest.samples import CHANNELS

PSI_KPA = 6.894757
SET_KPA = 60 * PSI_KPA
STILL = {
    "s": 7_200.0,
    "value": 0.0,
    "from_s": 200_000.0,
    "edges": 0.0,
    "range_hz": 0.0,
    "run_share": 0.5,
}


def still(channel, restless=0.3, **change):
    """An unchanged stretch of one channel."""
    at = CHANNELS.index(channel)
    lists = {f"channel_still_{name}": value for name, value in (STILL | change).items()}
    lists["channel_restless_share"] = restless
    return {n: [v if i == at else None for i in range(len(CHANNELS))] for n, v in lists.items()}


def odd(channel, value, n=20.0, length_s=200.0, run_share=0.3):
    at = CHANNELS.index(channel)
    lists = {"samples": n, "value": value, "s": length_s, "run_share": run_share}
    lists |= {"from_s": 9e4, "to_s": 1e5}
    return {
        f"channel_odd_{name}": [v if i == at else None for i in range(len(CHANNELS))]
        for name, v in lists.items()
    }


def gone(amps, **week):
    return {
        "n_gone": 1,
        "gone_from_s": [200_000.0],
        "gone_s": [7_200.0],
        "gone_samples": [1_440.0],
        "gone_hz": [60.0],
        "gone_current_a": [amps],
        "gone_kpa": [0.0],
        "gone_kpa_range": [0.0],
        "gone_current_cv": [0.05],
        "gone_after_start_s": [None],
        "held_after_gone_s": 0.0,
        "frequency_max_hz": 60.0,
        **week,
    }


def found_in(make_case, **week):
    verdict = judge(make_case(week=week))
    return None if verdict == () else verdict[0]


def test_a_healthy_week_is_clear(make_case):
    assert judge(make_case()) == ()


# -- stuck


def test_pressure_unchanged_through_starts_and_stops_is_stuck(make_case):
    found = found_in(make_case, **still("pressure_kpa", value=310.0, edges=40.0, range_hz=9.0))

    assert (found.cause, found.consequence) == ("stuck", 3)
    assert found.measures["channel"] == "pressure_kpa"
    assert found.measures["value"] == 310.0
    assert "45 psi" in found.summary
    assert "40 starts and stops" in found.summary


def test_pressure_unchanged_while_speed_moves_is_stuck(make_case):
    found = found_in(make_case, **still("pressure_kpa", value=310.0, range_hz=9.0))

    assert found.cause == "stuck"


def test_flat_at_rest_is_normal(make_case):
    rest = still("pressure_kpa", value=385.0, s=30_000.0, run_share=0.0, restless=0.01)

    assert found_in(make_case, **rest) is None


def test_a_coarse_sensor_that_shows_what_the_control_holds_is_normal(make_case):
    hold = still("pressure_kpa", value=SET_KPA, s=20_000.0, edges=8.0, range_hz=12.0)

    assert found_in(make_case, pressure_step_kpa=PSI_KPA, **hold) is None


@pytest.mark.parametrize(("interval_s", "is_found"), [(5.0, True), (60.0, False)])
def test_at_the_setting_only_many_starts_count_and_more_in_a_slow_log(
    make_case, interval_s, is_found
):
    hold = still("pressure_kpa", value=SET_KPA, s=90_000.0, edges=60.0, restless=0.01)

    assert (found_in(make_case, log_interval_s=interval_s, **hold) is not None) == is_found


def test_stuck_low_drives_the_pump_to_full_speed_and_may_burst_something(make_case):
    # 4.6 A at 60 Hz: over the 3.4 A of no flow at 44 Hz, so water is in it (affinity laws)
    low = still("pressure_kpa", value=0.0, range_hz=15.0, run_share=1.0)
    found = found_in(make_case, **low, **gone(4.9))

    assert (found.cause, found.consequence) == ("stuck", 5)
    assert "full speed" in found.summary


def test_a_dry_pump_that_is_retried_at_a_flat_zero_is_no_stuck_sensor(make_case):
    dry = still("pressure_kpa", value=0.0, edges=30.0, range_hz=15.0, run_share=0.2)

    assert found_in(make_case, **dry, **gone(3.1)) is None


def test_a_line_that_was_drained_stands_at_zero_and_is_no_stuck_sensor(make_case):
    drained = still("pressure_kpa", value=0.0, s=300_000.0, run_share=0.0, restless=0.3)

    assert found_in(make_case, **drained) is None


def test_a_reading_that_lost_its_flicker_for_half_a_day_is_frozen(make_case):
    found = found_in(make_case, **still("pressure_kpa", value=392.0, s=50_000.0, run_share=0.0))

    assert found.cause == "stuck"
    assert found.confidence < 0.7


@pytest.mark.parametrize(
    ("psi", "at_max_share", "consequence"),
    [
        (54, 1.0, 5),
        (54, 0.1, 3),  # something else holds the speed down, or it is no running of this stretch
        (59, 1.0, 3),  # what a control holds: it may be a large draw
    ],
)
def test_a_pressure_frozen_just_short_of_its_setting_runs_the_pump_at_top_speed(
    make_case, psi, at_max_share, consequence
):
    length_s = 250_000.0
    stands = still("pressure_kpa", value=psi * PSI_KPA, s=length_s, run_share=1.0)
    speed = {"frequency_max_hz": 60.0, "at_max_s": at_max_share * length_s}
    found = found_in(make_case, held_pressure_kpa=psi * PSI_KPA, **stands, **speed)

    assert found.consequence == consequence
    assert ("full speed" in found.summary) == (consequence == 5)
    assert not any("burst" in told for told in found.alternatives)


@pytest.mark.parametrize(
    ("starts_a_day", "hours", "consequence"),
    [
        (12, 53, 4),
        (12, 20, 3),  # no whole day: a night and a morning may pass without a draw
        (0, 53, 3),  # a house in which nothing starts for days
    ],
)
def test_a_pressure_frozen_at_rest_lets_nothing_start_where_a_start_was_due(
    make_case, starts_a_day, hours, consequence
):
    stands = still("pressure_kpa", value=392.0, s=3600.0 * hours, edges=1.0, run_share=0.0)
    days = [{"n_starts": starts_a_day}] * 2 + [{"n_starts": 0}] * 5

    (found,) = judge(make_case(week=stands, each_day=days))

    assert found.consequence == consequence


NO_STARTS = {"n_starts": 0}
RESTS = {"n_starts": 0, "run_s": 0.0, "pressure_step_kpa": None} | still(
    "pressure_kpa", restless=0.003, value=54 * PSI_KPA, s=604_790.0, from_s=5.0, run_share=0.0
)


def test_a_pressure_that_stands_all_week_where_starts_were_due_is_not_known_to_be_right(make_case):
    verdict = judge(make_case(week=RESTS, every_day=NO_STARTS, past=3))

    assert "no start for 7 days" in verdict.reason
    assert "54 psi" in verdict.reason


@pytest.mark.parametrize(
    "change",
    [
        {"past": 0},  # nothing tells what is usual
        {"past": 3, "past_every_day": NO_STARTS},  # not used before either
        {"past": 3, "week": RESTS | {"pressure_step_kpa": 1.0}},  # it moved: the sensor is alive
        {"past": 3, "week": RESTS | still("pressure_kpa", s=604_790.0, from_s=5.0, run_share=0.0)},
    ],
    ids=["new", "never used", "moved", "drained"],
)
def test_a_rest_that_is_usual_or_shows_a_moving_or_an_empty_line_is_clear(make_case, change):
    assert judge(make_case(**({"week": RESTS, "every_day": NO_STARTS} | change))) == ()


def test_days_without_a_start_that_go_on_do_not_make_a_start_less_due(make_case):
    case = make_case(week=RESTS, every_day=NO_STARTS, past=4)
    days = enumerate(case.past_days)
    before = [replace(day, n_starts=0) if at >= 16 else day for at, day in days]
    longer = replace(case, past_days=tuple(before))

    assert "no start for 19 days" in judge(longer).reason

    mostly_still = [replace(day, n_starts=0) if at >= 9 else day for at, day in enumerate(before)]
    assert judge(replace(case, past_days=tuple(mostly_still))) == ()


def test_a_suction_frozen_all_week_is_known_by_the_weeks_before(make_case):
    frozen = still("suction_kpa", restless=None, value=70.0, s=604_800.0, edges=600.0)
    before = {"channel_restless_share": [None, None, None, None, 0.2, None, None, None]}

    assert judge(make_case(week=frozen)) == ()
    (found,) = judge(make_case(week=frozen, past=[before]))
    assert (found.cause, found.measures["channel"]) == ("stuck", "suction_kpa")


@pytest.mark.parametrize(
    ("value", "restless", "is_found"),
    [
        (0.69, 0.12, True),  # 0.1 psi: a suction like any other
        (0.69, 0.0, False),  # coarse: tipped between two whole steps, then stood on one
        (0.0, 0.12, False),  # the end of a scale that shows no vacuum
    ],
)
def test_a_suction_near_zero_is_frozen_where_it_moved_by_more_than_its_rounding(
    make_case, value, restless, is_found
):
    stands = still("suction_kpa", restless=None, value=value, s=345_600.0, edges=220.0)
    before = {"channel_restless_share": [None, None, None, None, restless, None, None, None]}

    assert bool(judge(make_case(week=stands, past=[before]))) is is_found


def test_a_suction_in_whole_psi_that_never_moves_is_no_fault(make_case):
    stands = still("suction_kpa", restless=0.0, value=3 * PSI_KPA, s=604_800.0, edges=600.0)

    assert judge(make_case(week=stands, past=3)) == ()


def test_one_restless_week_of_many_is_not_the_usual_flicker(make_case):
    stands = still("pressure_kpa", restless=None, value=392.0, s=500_000.0, run_share=0.0)
    calm, restless = ({"channel_restless_share": [share, *[None] * 7]} for share in (0.0, 0.2))

    assert judge(make_case(week=stands, past=[calm, restless, calm])) == ()
    assert judge(make_case(week=stands, past=[restless, calm, restless])) != ()


def test_a_vacant_house_whose_sensor_never_flickers_is_not_frozen(make_case):
    calm = still("pressure_kpa", value=392.0, s=500_000.0, run_share=0.0, restless=0.01)

    assert found_in(make_case, **calm) is None


def test_a_logger_that_repeats_a_row_is_no_sensor_fault(make_case):
    parts = [
        still(channel, value=value, s=50_000.0, run_share=0.0)
        for channel, value in (("pressure_kpa", 392.0), ("voltage_v", 231.2), ("suction_kpa", 40))
    ]
    week = {
        name: [
            next((v for v in values if v is not None), None) for values in zip(*lists, strict=True)
        ]
        for name, lists in ((n, [p[n] for p in parts]) for n in parts[0])
    }

    assert found_in(make_case, **week) is None


def test_current_unchanged_through_starts_is_stuck_and_held_against_the_log_only(make_case):
    found = found_in(make_case, **still("current_a", value=4.2, edges=30.0))

    assert (found.cause, found.consequence) == ("stuck", 2)


def test_no_current_while_the_pump_holds_its_pressure_is_the_sensor(make_case):
    found = found_in(make_case, no_current_run_share=1.0)

    assert (found.cause, found.measures["channel"]) == ("stuck", "current_a")
    assert found.measures["value"] == 0.0


def test_no_current_and_no_pressure_is_not_the_current_sensor(make_case):
    assert found_in(make_case, no_current_run_share=1.0, at_setting_share=0.0) is None


def test_volts_that_stand_at_the_nominal_figure_are_calculated(make_case):
    found = found_in(make_case, **still("voltage_v", value=230.0, s=600_000.0, edges=700.0))

    assert (found.cause, found.consequence) == ("stuck", 2)
    assert "calculated rather than measured" in found.summary


def test_volts_flat_for_a_quiet_night_are_normal(make_case):
    assert found_in(make_case, **still("voltage_v", value=231.0, s=30_000.0, restless=0.0)) is None


# -- out of range


def left_out(n_values, n_of_value, channel="pressure_kpa", value=6553.5 * PSI_KPA):
    return (
        LeftOutValues(
            week="2026-W47",
            channel=channel,
            n_values=n_values,
            value=value,
            n_of_value=n_of_value,
            first_at=datetime(2026, 11, 18),
            last_at=datetime(2026, 11, 21),
        ),
    )


@pytest.mark.parametrize(
    ("share_of_log", "share_of_value", "is_found"),
    [
        (0.02, 1.0, True),
        (0.02, 0.1, True),  # different ones, among far more that are plausible
        (3.0, 1.0, True),  # hardly ever a reading any more
        (3.0, 0.1, False),  # a column in another unit
    ],
)
def test_values_that_loading_left_out_are_out_of_range(
    make_case, share_of_log, share_of_value, is_found
):
    n_values = int(share_of_log * make_case().week.n_samples)

    verdict = judge(make_case(left_out=left_out(n_values, int(share_of_value * n_values))))

    assert [found.cause for found in verdict] == ["out_of_range"] * is_found
    assert all(found.since_at == datetime(2026, 11, 18) for found in verdict)
    # it comes and goes over weeks: the week's first is not said to be where it began
    assert all(f"in {n_values} samples of the week" in found.summary for found in verdict)
    assert not any("since" in found.summary for found in verdict)


def test_one_value_left_out_may_be_a_fault_of_the_line(make_case):
    assert judge(make_case(left_out=left_out(1, 1))) == ()


def test_what_was_loaded_of_a_channel_with_values_left_out_can_be_believed(make_case):
    case = make_case(left_out=left_out(400, 400))

    found = judge(case)

    assert [one.measures["channel"] for one in found] == ["pressure_kpa"]
    assert pressure_is_bad(case) is None
    assert held_back(found) == {}


@pytest.mark.parametrize(
    ("channel", "value"),
    [
        ("pressure_kpa", -6.895),
        ("pressure_kpa", 3276.7),
        ("current_a", 999.0),
        ("drive_temp_c", 150.0),
        ("flow_lpm", 65535.0),
    ],
)
def test_impossible_readings_are_out_of_range(make_case, channel, value):
    found = found_in(make_case, **odd(channel, value))

    assert found.cause == "out_of_range"
    assert (found.measures["channel"], found.measures["value"]) == (channel, value)


def test_a_mark_that_stands_through_starts_is_out_of_range_and_not_stuck(make_case):
    week = odd("pressure_kpa", -6.895, n=400.0) | still("pressure_kpa", value=-6.895, edges=4.0)

    assert found_in(make_case, **week).cause == "out_of_range"


def test_a_single_impossible_sample_is_line_noise(make_case):
    assert found_in(make_case, **odd("pressure_kpa", 3276.7, n=1.0)) is None


def test_a_drives_ride_through_of_an_outage_is_no_odd_reading(make_case):
    assert found_in(make_case, **odd("voltage_v", 0.0, n=3.0, length_s=3.0)) is None


def test_dropouts_are_out_of_range(make_case):
    assert found_in(make_case, n_pressure_dropouts=12).cause == "out_of_range"


def test_suction_above_discharge_while_running_may_be_swapped(make_case):
    found = found_in(make_case, suction_over_pressure_share=0.98)

    assert found.measures["channel"] == "suction_kpa"
    assert "swapped" in found.summary


# -- offset


def step(first_hz, last_hz, suction_from="logged"):
    return NoFlowDrift(
        n_weeks=6,
        hz_per_week=0.3,
        low_hz_per_week=0.1,
        high_hz_per_week=0.5,
        first_hz=first_hz,
        last_hz=last_hz,
        shape="step",
        step_at=None,
        suction_from=suction_from,
        boost_kpa=SET_KPA,
    )


def test_current_at_a_known_zero_is_an_offset(make_case):
    found = found_in(make_case, current_at_rest_a=0.9)

    assert (found.cause, found.measures["value"]) == ("offset", 0.9)


def test_a_vacuum_in_an_empty_line_is_the_sensors_zero(make_case):
    found = found_in(make_case, **odd("pressure_kpa", -57.9, n=500.0, run_share=0.0))

    assert (found.cause, found.measures["value"]) == ("offset", -57.9)


def test_discharge_below_suction_at_rest_is_an_offset(make_case):
    found = found_in(make_case, rest_below_suction_kpa=35.0)

    assert (found.cause, found.measures["value"]) == ("offset", -35.0)


def test_a_step_of_the_no_flow_speed_at_like_suction_may_be_the_sensor(make_case):
    case = make_case(past=5, week={"no_flow_hz": 41.0})

    (found,) = judge(replace(case, no_flow_drift=step(44.0, 41.0)))

    assert found.cause == "offset"
    # affinity laws, any pump text-book: (41/44)^2 - 1 = -13.2 % of the boost of 414 kPa
    assert found.measures["value"] == pytest.approx(0.132 * SET_KPA, abs=0.5)
    assert found.confidence <= 0.5


def test_a_step_made_by_stops_short_of_the_setting_proves_nothing(make_case):
    case = make_case(past=5, week={"no_flow_hz": 44.0})

    assert judge(replace(case, no_flow_drift=step(44.0, 60.0))) == ()


def test_where_the_level_is_not_known_a_step_proves_nothing(make_case):
    case = make_case(past=5, pump={"suction": "well"})

    assert judge(replace(case, no_flow_drift=step(44.0, 41.0, "unknown"))) == ()


def test_the_gravest_channel_makes_the_finding_and_names_the_others(make_case):
    found = found_in(
        make_case, **odd("pressure_kpa", 3276.7), **still("current_a", value=4.2, edges=30.0)
    )

    assert found.measures["channel"] == "pressure_kpa"
    assert found.measures["channels"] == ["pressure_kpa", "current_a"]
