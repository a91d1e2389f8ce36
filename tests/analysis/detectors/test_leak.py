import pytest

from analysis.detectors import leak
from analysis.detectors.leak_size import scale_text
from analysis.findings import NotAssessed
from analysis.limits import LEAK_MIN_LPM
from analysis.records import OpMapBin
from ingest.installed_base import CurvePoint

GAL_L = 3.785412

# 0.10 L/min out of 4.4 gal at 42 psi from 60 to 55 psi: 0.907 L in 9.07 min (gas law, worked
# out by hand from V Ppre (1/P2 - 1/P1)), 34.5 kPa in that time
SLOPE, LPM, RESTART_S = 3.8, 0.10, 564.0

NIGHT = {
    "night_n_starts": 18,
    "night_run_s": 360.0,
    "night_restart_s_median": RESTART_S,
    "night_restart_cv": 0.05,
    "night_n_falls": 19,
    "night_fall_floor_kpa_per_min": 0.95 * SLOPE,
    "night_fall_p50_kpa_per_min": SLOPE,
    "night_flat_s": 0.0,
    "night_leak_lpm": LPM,
}
WEEK = {
    "quiet_n_starts": 126,
    "quiet_restart_s_median": RESTART_S,
    "quiet_restart_cv": 0.05,
    "quiet_n_falls": 133,
    "quiet_fall_p10_kpa_per_min": 0.95 * SLOPE,
    "quiet_fall_p50_kpa_per_min": SLOPE,
    "quiet_fall_p90_kpa_per_min": 1.05 * SLOPE,
    "quiet_fall_cv": 0.05,
    "quiet_flat_share": 0.0,
    "fall_first_over_last": 1.1,
}
HOLDS = {}
DRAWN = NIGHT | {"night_restart_cv": 0.8, "night_n_falls": 9, "night_flat_s": 3600.0}
IRRIGATED = {
    "night_n_starts": 1,
    "night_run_s": 7200.0,
    "night_n_falls": 0,
    "night_fall_floor_kpa_per_min": None,
    "night_fall_p50_kpa_per_min": None,
    "night_flat_s": 0.0,
    "night_leak_lpm": None,
}
RUNS = {
    "night_n_starts": 0,
    "night_run_s": 10_800.0,
    "night_n_falls": 0,
    "night_fall_floor_kpa_per_min": None,
    "night_fall_p50_kpa_per_min": None,
    "night_flat_s": 0.0,
    "night_leak_lpm": None,
    "night_never_stopped": True,
    "night_floor_hz": 45.5,
}


def test_a_house_that_holds_flat_at_night_is_clear(make_case):
    assert leak.judge(make_case(past=2)) == ()


def test_a_steady_leak_is_found_with_litres_and_a_band(make_case):
    (found,) = leak.judge(make_case(week=WEEK, every_day=NIGHT))

    assert found.cause == "downstream"
    assert found.confidence >= 0.85
    assert found.measures["leak_lpm"] == pytest.approx(LPM)
    assert found.measures["leak_l_per_day"] == pytest.approx(144.0)  # 0.1 L/min x 1440
    assert found.measures["leak_low_lpm"] < LPM < found.measures["leak_high_lpm"]
    assert found.measures["n_nights_leaking"] == 7
    assert "7 of 7 nights" in found.summary
    assert "before sending a truck" in found.summary


def test_a_fall_within_the_sensors_resolution_over_the_night_is_not_told(make_case):
    # 0.003 kPa/min over three hours are 0.54 kPa, under 0.1 psi
    nights = NIGHT | {"night_leak_lpm": None, "night_fall_p50_kpa_per_min": 0.003}
    week = WEEK | {"stored_kpa_per_l": None, "quiet_fall_p50_kpa_per_min": 0.003}

    (found,) = leak.judge(make_case(week=week, pump={"tank_l": None}, every_day=nights))

    assert "an hour" not in found.summary
    assert found.summary.startswith("The pump restarts every 9.4 min")


def test_without_a_tank_the_slope_is_told_and_no_litres(make_case):
    night = NIGHT | {"night_leak_lpm": None}
    case = make_case(
        week=WEEK | {"stored_kpa_per_l": None}, every_day=night, pump={"tank_l": None}
    )

    (found,) = leak.judge(case)

    assert found.measures["leak_lpm"] is None
    assert found.measures["leak_l_per_day"] is None
    assert "33 psi an hour" in found.summary  # 3.8 kPa/min
    assert "gpm" not in found.summary
    assert any("not in the register" in text for text in found.alternatives)


def test_pressures_in_a_wrong_unit_give_no_litres(make_case):
    (found,) = leak.judge(make_case(week=WEEK | {"held_pressure_kpa": 60.0}, every_day=NIGHT))

    assert found.measures["leak_lpm"] is None


@pytest.mark.parametrize(
    "each_day",
    [
        [IRRIGATED, HOLDS, IRRIGATED, HOLDS, IRRIGATED, HOLDS, HOLDS],
        [RUNS, HOLDS, RUNS, HOLDS, RUNS, HOLDS, HOLDS],  # irrigation all through the window
        [HOLDS, HOLDS, HOLDS, NIGHT, HOLDS, HOLDS, HOLDS],  # softener, every fourth night
        [DRAWN] * 7,  # draws, but a flat hour every night
        [NIGHT, NIGHT, HOLDS, HOLDS, HOLDS, HOLDS, NIGHT],  # weekend use
    ],
)
def test_nights_that_hold_flat_disprove_a_leak(make_case, each_day):
    week = {"quiet_fall_cv": 0.8, "quiet_restart_cv": 0.9, "fall_first_over_last": 0.6}

    assert leak.judge(make_case(week=week, each_day=each_day)) == ()


def test_a_leak_beside_night_irrigation_is_found_at_its_own_size(make_case):
    watered = NIGHT | {"night_fall_p50_kpa_per_min": 6.0, "night_leak_lpm": 0.2}
    each_day = [watered, NIGHT, IRRIGATED, NIGHT, watered, NIGHT, NIGHT]

    (found,) = leak.judge(make_case(week=WEEK, each_day=each_day))

    assert found.measures["leak_lpm"] == pytest.approx(LPM)
    assert found.measures["n_nights_leaking"] == 6


def test_a_leak_that_begins_in_the_week_is_told_from_its_first_night(make_case):
    each_day = [HOLDS, HOLDS, HOLDS, NIGHT, NIGHT, NIGHT, NIGHT]

    (found,) = leak.judge(make_case(week=WEEK, each_day=each_day, past=2))

    assert "since Thu 19 Nov" in found.summary
    assert any("held flat at night" in text for text in found.grounds)


def test_two_nights_are_not_yet_a_leak(make_case):
    each_day = [HOLDS] * 5 + [NIGHT] * 2

    assert leak.judge(make_case(week=WEEK, each_day=each_day)) == ()


def test_a_fall_slower_than_the_least_leak_is_clear(make_case):
    # 0.015 L/min, under the stated 0.02: 40.9 kPa/L x 0.015
    night = {
        "night_fall_floor_kpa_per_min": 0.6,
        "night_fall_p50_kpa_per_min": 0.61,
        "night_flat_s": 0.0,
        "night_leak_lpm": 0.015,
    }

    assert LEAK_MIN_LPM.value == 0.02
    assert leak.judge(make_case(every_day=night)) == ()


def test_a_coarse_gauge_that_cannot_show_the_fall_in_15_minutes_disproves_nothing(make_case):
    # 1 psi steps hide 0.45 kPa/min for a quarter of an hour; over the night it is plain
    week = WEEK | {
        "pressure_step_kpa": 6.895,
        "stored_kpa_per_l": 9.0,
        "quiet_restart_s_median": None,
        "quiet_restart_cv": None,
    }
    night = {
        "night_fall_floor_kpa_per_min": 0.44,
        "night_fall_p50_kpa_per_min": 0.45,
        "night_flat_s": 1200.0,
        "night_leak_lpm": 0.05,
    }

    (found,) = leak.judge(make_case(week=week, every_day=night, pump={"tank_l": 76.0}))

    assert found.measures["leak_lpm"] == pytest.approx(0.05)


def test_uneven_use_all_night_is_not_called_a_leak(make_case):
    slopes = [4.0, 30.0, 11.0, 55.0, 7.0, 90.0, 21.0]
    each_day = [NIGHT | {"night_fall_p50_kpa_per_min": s, "night_restart_cv": 0.9} for s in slopes]
    week = WEEK | {"quiet_restart_cv": 0.9, "quiet_fall_cv": 0.9}

    verdict = leak.judge(make_case(week=week, each_day=each_day))

    assert isinstance(verdict, NotAssessed)


def test_too_few_nights_are_not_assessed(make_case):
    each_day = [{"night_observed_share": 0.3}] * 4 + [NIGHT] * 3

    verdict = leak.judge(make_case(week=WEEK, each_day=each_day))

    assert verdict == NotAssessed(reason="night data on 3 of 7 nights; this needs 4")


def test_stops_too_short_for_the_log_are_not_assessed(make_case):
    night = NIGHT | {
        "night_n_falls": 0,
        "night_fall_floor_kpa_per_min": None,
        "night_fall_p50_kpa_per_min": None,
        "night_restart_s_median": 180.0,  # three samples: may be an alias
        "night_leak_lpm": None,
    }

    verdict = leak.judge(make_case(week=WEEK | {"log_interval_s": 60.0}, every_day=night))

    assert isinstance(verdict, NotAssessed)
    assert "one sample every 60 s" in verdict.reason


def test_a_pump_that_never_stops_just_above_no_flow_leaks_downstream(make_case):
    (found,) = leak.judge(make_case(every_day=RUNS, past=2))

    assert found.cause == "downstream"
    assert found.consequence == 3
    assert "never stops" in found.summary


@pytest.mark.parametrize("holds_before", [0, 4])
def test_a_pump_at_top_speed_all_night_tells_nothing_of_a_leak(make_case, holds_before):
    at_top = RUNS | {"night_floor_hz": 59.8}

    verdict = leak.judge(
        make_case(each_day=[HOLDS] * holds_before + [at_top] * (7 - holds_before))
    )

    assert isinstance(verdict, NotAssessed)
    assert "top speed" in verdict.reason


def test_a_flow_meter_sizes_a_leak_that_never_lets_the_pump_stop(make_case):
    night = RUNS | {"night_flow_floor_lpm": 4.2}

    (found,) = leak.judge(make_case(week={"has_flow": True}, every_day=night, past=2))

    assert found.measures["leak_lpm"] == pytest.approx(4.2)


# shut-off of 107.3 psi: the affinity laws hold 60 psi at 44.87 Hz without flow
CURVE = tuple(
    CurvePoint(pump_model="PM-A", flow_lpm=q, head_m=75.6 * (1 - 0.3 * (q / 80) ** 2))
    for q in (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
)


def running(make_case, floor_hz, **change):
    cell = OpMapBin(
        pump_id="P-01", week="2026-W47", frequency_bin_hz=48.0, pressure_bin_pct=100.0, n=90_000,
        held_s=450_000.0, frequency_mean_hz=floor_hz, pressure_mean_kpa=60 * 6.894757,
        current_mean_a=4.6,
    )  # fmt: skip
    week = {"quiet_never_stopped_nights": 7, "quiet_floor_hz": floor_hz, "f0_hz": 44.87}
    night = RUNS | {"night_floor_hz": floor_hz}
    return make_case(week=week, every_day=night, past=2, curve=CURVE, op_map=((cell,),), **change)


def test_the_pumps_curve_estimates_a_big_leak_that_never_lets_it_stop(make_case):
    # 40 L/min on that curve takes 60 sqrt(60/107.3 + 0.3 (40/80)^2) = 47.8 Hz at 60 psi
    (found,) = leak.judge(running(make_case, 47.8))

    assert found.measures["leak_lpm"] == pytest.approx(40.0, rel=0.05)
    assert found.measures["leak_low_lpm"] < 40.0 < found.measures["leak_high_lpm"]
    assert "estimate" in found.measures["leak_basis"]
    assert "by its curve about 10 gpm" in found.summary
    assert any("2 psi off" in other for other in found.alternatives)


def test_near_shut_off_no_litres_are_read_from_the_curve(make_case):
    (found,) = leak.judge(running(make_case, 44.88))

    assert found.measures["leak_lpm"] is None


def calendar(weekdays=(0, 1, 2, 3, 4, 5, 6)):
    """A timer's three hours from one o'clock on those days of three weeks."""
    return {
        "quiet_from_hour": 1,
        "draw_from_min": [day * 1440 + 60.0 for day in weekdays],
        "draw_min": [180.0] * len(weekdays),
        "draw_run_share": [1.0] * len(weekdays),
    }


def test_nights_filled_by_a_timer_are_in_use_and_no_leak(make_case):
    case = make_case(week=WEEK | calendar(), every_day=NIGHT, past=[calendar()] * 3)

    verdict = leak.judge(case)

    assert isinstance(verdict, NotAssessed)
    assert "draws 01:00-04:00 every night" in verdict.reason
    assert "fill the quiet hours on 7 of 7 nights" in verdict.reason


def test_a_leak_beside_a_timer_is_found_and_the_timer_named(make_case):
    some = calendar((0, 3))

    (found,) = leak.judge(make_case(week=WEEK | some, every_day=NIGHT, past=[some] * 3))

    assert found.measures["n_nights_leaking"] == 5
    assert any("Known demand: draws 01:00-04:00 on Mon, Thu" in text for text in found.grounds)


@pytest.mark.parametrize(
    "change",
    [
        {"week": {"held_pressure_kpa": 440.0}},  # over the 414 set: cannot slow down enough
        {"pump": {"min_hz": 45.2}},
        {"each_day": [RUNS | {"night_floor_hz": hz} for hz in (52, 58, 53, 57, 52, 59, 54)]},
    ],
)
def test_a_pump_kept_running_by_its_settings_or_by_use_is_no_leak(make_case, change):
    case = make_case(**({"every_day": RUNS, "past": 2} | change))

    assert not isinstance(leak.judge(case), tuple)


@pytest.mark.parametrize(
    ("week", "cause"),
    [
        ({}, "downstream"),
        ({"quiet_fall_cv": 0.7, "fall_first_over_last": 2.0}, "check_valve"),
        (
            {
                "has_suction": True,
                "suction_rise_kpa": 5.0,
                "quiet_fall_cv": 0.5,
                "fall_first_over_last": None,
                "quiet_restart_cv": 0.5,
            },
            "check_valve",
        ),
        (
            {  # a well takes back a litre a minute without a rise: no sign of either
                "has_suction": True,
                "suction_rise_kpa": 0.1,
                "quiet_fall_cv": 0.28,
                "fall_first_over_last": None,
                "quiet_restart_cv": None,
            },
            "",
        ),
        (
            {  # even within each stop, so no draws; each at its own pace, so no hole
                "quiet_fall_cv": 0.5,
                "quiet_fall_early_over_late": 0.85,
                "fall_first_over_last": 1.18,
                "quiet_restart_cv": 0.5,
            },
            "check_valve",
        ),
        (
            {"quiet_fall_cv": 0.28, "fall_first_over_last": None, "quiet_restart_cv": None},
            "",
        ),
    ],
)
def test_downstream_and_check_valve_are_told_apart(make_case, week, cause):
    (found,) = leak.judge(make_case(week=WEEK | week, every_day=NIGHT))

    told = " ".join(found.alternatives)
    assert found.cause == cause
    assert "close the house valve and watch the gauge 10 min" in told


SEATS_SOMETIMES = {
    "quiet_fall_cv": 0.9,
    "fall_first_over_last": 1.6,
    "fall_p50_kpa_per_min": 5.0,
    "fall_p90_kpa_per_min": 17.0,
}


FALLS_DIFFER = {
    "quiet_n_falls": 40,
    "quiet_fall_cv": 0.8,
    "quiet_fall_first_over_last": 1.0,
    "quiet_fall_p90_kpa_per_min": 20.0,
    "quiet_flat_share": 0.3,
}


def test_a_staircase_of_draws_is_no_check_valve(make_case):
    # first and last third of a staircase may be as steep as each other; between them it stands
    falls = {"fall_p50_kpa_per_min": 5.0}
    stairs = FALLS_DIFFER | {"quiet_fall_early_over_late": 0.02}
    valve = FALLS_DIFFER | {"quiet_fall_early_over_late": 0.7}

    assert leak.judge(make_case(week=stairs, every_day=falls)) == ()
    (found,) = leak.judge(make_case(week=valve, every_day=falls))

    assert found.cause == "check_valve"


SUCTION_RISES = {"has_suction": True, "suction_rise_kpa": 12.0}


def test_a_check_valve_that_seats_for_the_night_shows_by_a_rising_suction(make_case):
    week = SEATS_SOMETIMES | SUCTION_RISES

    (found,) = leak.judge(make_case(week=week, every_day={"fall_p50_kpa_per_min": 5.0}))

    assert found.cause == "check_valve"
    assert "check valve" in found.summary
    assert "7 of 7 days" in found.summary


def test_days_of_a_check_valve_are_counted_among_days_where_a_night_was_not_seen(make_case):
    falls = {"fall_p50_kpa_per_min": 5.0}
    unseen = [falls, falls, falls | {"night_observed_share": 0.2}]

    (found,) = leak.judge(
        make_case(week=SEATS_SOMETIMES | SUCTION_RISES, every_day=falls, each_day=unseen)
    )

    assert "on 7 of 7 days" in found.summary
    assert found.measures["n_nights_seen"] == 7


def test_gas_that_cools_after_each_stop_is_no_check_valve_where_every_night_holds(make_case):
    case = make_case(week=SEATS_SOMETIMES, every_day={"fall_p50_kpa_per_min": 5.0})

    assert leak.judge(case) == ()


@pytest.mark.parametrize(
    "change",
    [
        {"fall_first_over_last": 0.1},  # flat, then a draw: what use looks like
        {"fall_first_over_last": 1.1, "fall_p90_kpa_per_min": 5.5, "quiet_fall_cv": None},
    ],
)
def test_draws_and_trickles_of_the_day_are_no_check_valve(make_case, change):
    falls_at_night = {"night_n_starts": 4, "night_fall_p50_kpa_per_min": 5.0}
    case = make_case(
        week=SEATS_SOMETIMES | change,
        every_day={"fall_p50_kpa_per_min": 5.0},
        each_day=[falls_at_night] * 3,
    )

    assert leak.judge(case) == ()


def test_a_slow_log_takes_its_size_from_the_nights_whose_refills_it_saw(make_case):
    gentle = NIGHT | {"night_fall_p50_kpa_per_min": 1.0, "night_leak_lpm": 0.027}
    week = WEEK | {"log_interval_s": 60.0}

    (found,) = leak.judge(
        make_case(week=week, each_day=[NIGHT, gentle, NIGHT, gentle] + [NIGHT] * 3)
    )

    assert found.measures["leak_lpm"] == pytest.approx(LPM)


@pytest.mark.parametrize("interval_s", [5.0, 30.0, 60.0])
def test_a_quiet_stretch_disproves_a_leak_in_a_log_of_any_pace(make_case, interval_s):
    night = NIGHT | {"night_flat_s": 1200.0}
    week = WEEK | {"log_interval_s": interval_s}

    assert leak.judge(make_case(week=week, every_day=night)) == ()
    assert leak.judge(make_case(week=week, every_day=NIGHT))


def test_ten_flat_minutes_disprove_a_leak_that_would_show_in_them(make_case):
    # 0.35 kPa hide in five minutes a fall of 0.07 kPa/min, of 0.69 kPa steps one of 0.14
    night = NIGHT | {"night_fall_p50_kpa_per_min": 0.98, "night_flat_s": 600.0}
    fine = make_case(week=WEEK | {"pressure_step_kpa": 0.69}, every_day=night)
    coarse = make_case(week=WEEK | {"pressure_step_kpa": 6.895}, every_day=night)

    assert leak.judge(fine) == ()
    assert leak.judge(coarse) != ()


@pytest.mark.parametrize(
    ("l_per_day", "said"),
    [
        (31.1, "like a dripping tap"),  # EPA WaterSense: 3,000 gal a year
        (80 * GAL_L, "like several dripping taps"),  # EPA WaterSense: 90 gal in one home of ten
        (95 * GAL_L, "more than nine homes in ten lose"),
        (200 * GAL_L, "like a running toilet"),  # EPA WaterSense: 200 gal a day
        (0.52575 * 1440, "like a running toilet"),  # the same in L/min
        (2000.0, "more than a running toilet"),
    ],
)
def test_size_is_put_beside_published_leaks(l_per_day, said):
    assert scale_text(l_per_day) == said


def test_nobody_is_blamed(make_case):
    (found,) = leak.judge(make_case(week=WEEK, every_day=NIGHT))

    assert "customer" not in found.summary.lower()


@pytest.mark.parametrize(("steep", "is_at_most"), [(60.0, False), (300.0, True)])
def test_litres_are_at_most_these_where_draws_say_that_the_tank_holds_less(
    make_case, steep, is_at_most
):
    case = make_case(
        week=WEEK,
        every_day=NIGHT | {"draw_fall_kpa_per_min": steep},
        past=2,
        past_every_day={"draw_fall_kpa_per_min": 60.0},
    )

    (found,) = leak.judge(case)

    assert found.measures["leak_is_upper_bound"] is is_at_most
    assert any("at most" in text for text in found.alternatives) is is_at_most
    assert ("at most" in found.summary) is is_at_most
