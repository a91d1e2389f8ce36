"""Weak delivery: demand first, then volts, direction of turning, and the pump."""

from dataclasses import replace
from datetime import timedelta

import pytest

from analysis.case import CurrentDrift
from analysis.detectors.weak_delivery import NEEDS, judge
from analysis.drift import current_drift
from analysis.findings import NotAssessed
from analysis.no_flow import NoFlowDrift
from analysis.records import OpMapBin
from ingest.installed_base import CurvePoint
from ingest.weeks import Week

SETTING_KPA = 413.7
DAY = {"weak_s": 1_800.0, "at_setting_share": 0.7, "settled_s": 5_400.0}
NEVER = {"weak_s": 60_000.0, "at_setting_share": 0.0, "settled_s": 60_000.0}


def short(**more):
    """A week short of the setting for half an hour a day, at the current usual at 60 Hz."""
    return {
        "weak_s": 12_600.0,
        "n_weak_spells": 14,
        "weak_longest_s": 1_500.0,
        "weak_pressure_pct": 82.0,
        "weak_hz": 60.0,
        "weak_current_a": 6.7,  # 5.2 A at 53 Hz by the affinity laws: 6.66 A at 60 Hz
        "weak_quiet_s": 0.0,
        "weak_voltage_v": 228.0,
        "weak_low_volts_share": 0.0,
        "at_max_s": 15_000.0,
        **more,
    }


def never(**more):
    """A week that never reaches the setting, night included."""
    values = {"weak_s": 420_000.0, "at_setting_share": 0.0, "weak_quiet_s": 70_000.0}
    return short(**{**values, "weak_current_a": 5.0, "run_share": 0.7, **more})


def creep(first_hz, last_hz, shape="creep"):
    return NoFlowDrift(
        n_weeks=6,
        hz_per_week=(last_hz - first_hz) / 5,
        low_hz_per_week=(last_hz - first_hz) / 6,
        high_hz_per_week=(last_hz - first_hz) / 4,
        first_hz=first_hz,
        last_hz=last_hz,
        shape=shape,
        step_at=None,
        suction_from="registered",
        boost_kpa=SETTING_KPA,
    )


def with_drift(case, drift):
    return replace(case, no_flow_drift=drift)


def only(verdict):
    (judged,) = verdict
    return judged


def test_a_healthy_week_is_clear(make_case):
    assert judge(make_case()) == ()


def test_short_only_at_high_demand_with_healthy_speed_and_current_is_no_fault(make_case):
    case = make_case(week=short(), every_day=DAY, past=[{"weak_s": 0.0}] * 4)

    assert judge(case) == ()


def test_undersized_from_the_start_is_no_fault(make_case):
    case = make_case(week=short(), every_day=DAY, past=[short()] * 4, past_every_day=DAY)

    assert judge(case) == ()


def test_one_day_of_hydrant_is_no_fault(make_case):
    case = make_case(week=short(weak_current_a=5.0), each_day=[DAY], past=4)

    assert judge(case) == ()


# -- wrong rotation


def test_never_at_its_setting_from_the_first_record_may_turn_backward(make_case):
    found = only(judge(make_case(week=never(), every_day=NEVER)))

    assert (found.cause, found.consequence) == ("wrong_rotation", 4)
    assert found.measures["short_of_setting_s"] == 420_000.0
    assert found.measures["pressure_pct_setting"] == 82.0
    assert "day or night" in found.summary


def test_from_one_day_to_the_next_makes_it_surer_and_says_since_when(make_case):
    case = make_case(
        week=never(at_setting_share=0.3),
        each_day=[{}, {}, *[NEVER] * 5],
        past=3,
    )

    found = only(judge(case))

    assert found.cause == "wrong_rotation"
    assert found.since_at == case.week.from_at + timedelta(days=2)
    assert found.confidence > only(judge(make_case(week=never(), every_day=NEVER))).confidence


def test_the_day_it_began_on_counts_from_its_first_hour(make_case):
    partly = {"weak_s": 9_000.0, "at_setting_share": 0.4, "settled_s": 15_000.0}
    case = make_case(week=never(at_setting_share=0.3), each_day=[{}, partly, *[NEVER] * 5], past=3)

    found = only(judge(case))

    assert found.cause == "wrong_rotation"
    assert found.since_at == case.week.from_at + timedelta(days=1)


def test_a_single_phase_motor_cannot_turn_backward(make_case):
    case = make_case(week=never(), every_day=NEVER, pump={"motor_phases": 1})

    assert only(judge(case)).cause == "worn_or_blocked"


def test_an_unknown_number_of_phases_is_said(make_case):
    case = make_case(week=never(), every_day=NEVER, pump={"motor_phases": None})

    found = only(judge(case))

    assert found.cause == "wrong_rotation"
    assert "if the motor is three-phase" in found.summary


def test_a_pump_that_got_there_slowly_does_not_turn_backward(make_case):
    worse = {"weak_s": 20_000.0, "at_setting_share": 0.4, "settled_s": 30_000.0}
    case = make_case(
        week=never(at_setting_share=0.1),
        each_day=[worse, worse, *[NEVER] * 5],
        past=3,
        past_every_day=worse,
    )

    assert only(judge(case)).cause == "worn_or_blocked"


@pytest.mark.parametrize(
    ("usual_share", "before_share", "cause"),
    [
        (0.72, 0.74, "wrong_rotation"),
        (0.95, 0.94, "wrong_rotation"),
        (0.95, 0.7, "worn_or_blocked"),
        (0.3, 0.3, "worn_or_blocked"),
    ],
)
def test_at_once_is_from_days_as_good_as_the_pumps_own(
    make_case, usual_share, before_share, cause
):
    # hard draws leave this one short of its setting for a part of each day, none of them long
    usual = {"weak_s": 0.0, "settled_s": 5_400.0}
    case = make_case(
        week=never(at_setting_share=0.2),
        each_day=[*[usual | {"at_setting_share": before_share}] * 2, *[NEVER] * 5],
        past=3,
        past_every_day=usual | {"at_setting_share": usual_share},
    )

    assert only(judge(case)).cause == cause


def test_never_at_its_setting_at_full_current_is_water_that_leaves(make_case):
    found = only(judge(make_case(week=never(weak_current_a=7.3), every_day=NEVER)))

    assert found.cause == ""


def test_a_setting_beyond_the_published_curve_is_told_as_a_setting(make_case):
    # shutoff 35 m x 9.789 kPa/m = 343 kPa at 60 Hz, under the 414 kPa asked of it
    curve = (
        CurvePoint(pump_model="PM-A", flow_lpm=0.0, head_m=35.0),
        CurvePoint(pump_model="PM-A", flow_lpm=60.0, head_m=20.0),
    )

    assert judge(make_case(week=never(), every_day=NEVER, curve=curve)) == ()


# -- low voltage


def test_short_only_while_the_volts_are_low_is_the_supply(make_case):
    case = make_case(
        week=short(weak_low_volts_share=0.95, weak_voltage_v=198.0, same_held_voltage_v=228.0),
        every_day=DAY,
    )

    found = only(judge(case))

    assert found.cause == "low_voltage"
    assert "198 V" in found.summary


def test_low_volts_at_which_the_same_speed_holds_do_not_explain_it(make_case):
    case = make_case(
        week=short(weak_low_volts_share=0.95, weak_voltage_v=204.0, same_held_voltage_v=205.0),
        every_day=DAY,
    )

    assert judge(case) == ()


# -- worn or blocked


def test_no_flow_speed_that_creeps_up_makes_a_shortage_the_pumps_own(make_case):
    case = make_case(week=short(f0_hz=47.0), every_day=DAY, past=5)

    found = only(judge(with_drift(case, creep(44.0, 47.0))))

    assert (found.cause, found.consequence) == ("worn_or_blocked", 3)
    # affinity laws, any pump text-book: 1 - (44/47)^2 = 12.4 % of head at like speed
    assert found.measures["head_lost_pct"] == pytest.approx(12.4, abs=0.05)
    assert "44 Hz to 47 Hz" in found.summary


def test_a_new_shortage_with_little_current_is_a_blocked_pump(make_case):
    case = make_case(week=short(weak_current_a=5.6), every_day=DAY, past=[{"weak_s": 0.0}] * 4)

    found = only(judge(case))

    assert found.cause == "worn_or_blocked"
    assert found.measures["current_pct_expected"] == pytest.approx(84.1, abs=0.1)


def test_in_a_slow_log_the_slowest_stops_tell_the_creep(make_case):
    hz = [44.1, 46.3, 47.8, 49.9]
    case = make_case(
        week=short(no_flow_hz=53.0), every_day=DAY, past=[{"no_flow_hz": at} for at in hz]
    )

    found = only(judge(case))

    assert found.cause == "worn_or_blocked"
    assert found.measures["f0_rise_hz"] == pytest.approx(8.6, abs=0.5)  # by eye: 44 to 53 Hz


@pytest.mark.parametrize(
    ("middle_hz", "is_found"),
    [([46.0, 47.0, 48.0, 49.5, 51.0], True), ([46.0, 46.2, 46.4, 46.6, 46.8], False)],
    ids=["the middle rises too", "stops only scatter less"],
)
def test_a_creep_far_alone_must_show_in_the_middle_of_the_stops(make_case, middle_hz, is_found):
    slowest_hz = [41.0, 42.0, 43.5, 44.5, 46.0]
    weeks = [
        {"weak_s": 0.0, "no_flow_hz": slowest, "f0_hz": middle}
        for slowest, middle in zip(slowest_hz, middle_hz, strict=True)
    ]

    found = judge(make_case(week=weeks[-1], past=weeks[:-1]))

    assert [item.cause for item in found] == (["worn_or_blocked"] if is_found else [])


def test_a_blocked_suction_shows_in_the_current_at_like_speed(make_case):
    falling = CurrentDrift(
        pct_per_week=-2.0,
        low_pct_per_week=-2.8,
        high_pct_per_week=-1.1,
        total_pct=-8.0,
        n_weeks=5,
        n_bins=20,
    )
    weeks = [{"weak_s": 0.0}, {"weak_s": 9_000.0}, {"weak_s": 12_000.0}]
    steady = make_case(week=short(), every_day=DAY, past=weeks)
    case = make_case(week=short(), every_day=DAY, past=weeks, drift=falling)

    assert judge(steady) == ()
    assert only(judge(case)).cause == "worn_or_blocked"
    assert "8 % less" in only(judge(case)).summary


def op_bin(week, hz, current_a):
    return OpMapBin(
        pump_id="P-1",
        week=str(Week(2026, 47).plus(week)),
        frequency_bin_hz=hz,
        pressure_bin_pct=85.0,
        n=500,
        held_s=20_000.0,
        frequency_mean_hz=hz + 0.5,
        pressure_mean_kpa=360.0,
        current_mean_a=current_a,
    )


@pytest.mark.parametrize(("top_fall_pct", "is_found"), [(2.0, True), (0.1, False)])
def test_it_shows_where_the_pump_gives_most_and_nowhere_else(make_case, top_fall_pct, is_found):
    # slow running at hardly any flow stays as it was, and makes most of the hours
    op_map = tuple(
        (
            *(op_bin(week, hz, 4.0) for hz in (44.0, 46.0, 48.0, 50.0)),
            op_bin(week, 60.0, 6.7 * (1 - top_fall_pct / 100) ** (week + 5)),
        )
        for week in range(-5, 1)
    )
    case = make_case(
        week=short(),
        every_day=DAY,
        past=[{"weak_s": 9_000.0}] * 5,
        op_map=op_map,
        drift=current_drift(op_map),
    )

    found = judge(case)

    assert [item.cause for item in found] == (["worn_or_blocked"] if is_found else [])
    assert all("10 % less" in item.summary for item in found)  # 2 % a week over five weeks


def test_weeks_that_were_short_as_well_do_not_teach_what_to_expect(make_case):
    # held 5.2 A at 53 Hz before: 6.66 A at 60 Hz by the affinity laws, not the 5 A of backward
    case = make_case(
        week=never(top_held_hz=None, top_held_current_a=None),
        every_day=NEVER,
        past=[{}, {"weak_s": 130_000.0}],
    )

    found = only(judge(case))

    assert found.cause == "wrong_rotation"
    assert found.measures["current_pct_expected"] == pytest.approx(75.1, abs=0.1)


def test_wear_that_does_not_show_in_the_pressure_yet_is_mild(make_case):
    found = only(judge(with_drift(make_case(past=5), creep(44.0, 48.0))))

    assert (found.cause, found.consequence) == ("worn_or_blocked", 2)
    assert "pressure still holds" in found.summary


@pytest.mark.parametrize(
    "drift", [creep(44.0, 46.5), creep(44.0, 48.0, "step"), creep(46.0, 44.0)]
)
def test_small_sudden_or_falling_changes_of_speed_alone_are_no_wear(make_case, drift):
    assert judge(with_drift(make_case(past=5), drift)) == ()


# -- roots that come first


def gone(amps, kpa_share, length_s, **week):
    return {
        "n_gone": 1,
        "gone_from_s": [500_000.0],
        "gone_s": [length_s],
        "gone_samples": [length_s / 5],
        "gone_hz": [60.0],
        "gone_current_a": [amps],
        "gone_kpa": [kpa_share * SETTING_KPA],
        "gone_kpa_range": [20.0],
        "gone_current_cv": [0.02],
        "gone_after_start_s": [40.0],
        "held_after_gone_s": 0.0,
        **week,
    }


def test_an_open_motor_circuit_has_its_own_words_and_leaves_no_water(make_case):
    case = make_case(week=gone(0.02, 0.1, 3_000.0))

    found = only(judge(case))

    assert (found.cause, found.consequence) == ("", 5)
    assert "motor circuit is open" in found.summary


def test_a_dip_without_current_in_a_pump_that_holds_again_is_the_current_sensor(make_case):
    assert judge(make_case(week=gone(0.0, 0.85, 60.0, held_after_gone_s=9_000.0))) == ()


def test_pressure_gone_for_good_at_full_current_is_phoned_today(make_case):
    found = only(judge(make_case(week=gone(7.2, 0.1, 104_000.0))))

    assert (found.cause, found.consequence) == ("", 5)
    assert "burst" in found.summary


def test_a_burst_that_was_closed_within_the_week_is_over(make_case):
    assert judge(make_case(week=gone(7.2, 0.1, 20_000.0, held_after_gone_s=9_000.0))) == ()


def test_time_that_it_ran_dry_is_not_weakness(make_case):
    dry = gone(3.0, 0.1, 12_500.0)

    assert judge(make_case(week={**never(weak_s=12_600.0), **dry}, every_day=NEVER)) == ()


def test_a_bad_pressure_reading_holds_it_back(make_case):
    bad = [None] * 8
    case = make_case(
        week=never(
            channel_odd_samples=[50.0, *bad[1:]],
            channel_odd_value=[-90.0, *bad[1:]],
            channel_odd_s=[500.0, *bad[1:]],
        ),
        every_day=NEVER,
    )

    verdict = judge(case)

    assert isinstance(verdict, NotAssessed)
    assert "pressure reading" in verdict.reason


def test_a_register_that_contradicts_the_log_holds_it_back(make_case):
    case = make_case(
        week=short(
            held_pressure_kpa=340.0,
            stop_pressure_kpa=340.0,
            restart_pressure_kpa=310.0,
            at_max_s=0.0,
            weak_s=0.0,
        )
    )

    assert isinstance(judge(case), NotAssessed)


def test_the_interval_it_needs_is_stated():
    assert NEEDS.interval_max_s == 60.0
