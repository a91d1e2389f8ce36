import dataclasses

import pytest

from analysis.detectors import short_cycling
from analysis.detectors.cycle_facts import start_limits
from analysis.detectors.own_past import own_past
from analysis.findings import NotAssessed
from analysis.limits import MIN_RUN_S, STARTS_PER_DAY
from ingest.installed_base import Pump

HP_KW = 0.7456999
PSI_KPA = 6.894757

IN_USE = [0.0] * 6 + [1.0] * 16 + [0.0] * 2
ROUND_THE_CLOCK = [1.0] * 24


def cycling(per_day, *, hours=IN_USE, **change):
    """A week of so many starts a day, spread over the hours given; runs show no flow."""
    per_hour = per_day / sum(hours)
    stops = {name: value for name, value in change.items() if name.startswith("stop_s_")}
    idle = {f"idle_{name}": value for name, value in stops.items() if name != "stop_s_cv"}
    return {
        "starts_per_day": float(per_day),
        "n_starts": 7 * per_day,
        "starts_by_hour": [share * per_hour for share in hours],
        "starts_per_hour_peak": round(1.5 * per_hour),
        "run_s_median": 25.0,
        **idle,
    } | change


def daily(per_day, **change):
    return {"n_starts": per_day, "starts_per_hour_peak": round(1.5 * per_day / 16)} | change


TANK_GONE = cycling(
    910, stop_s_median=6.0, stop_s_p10=3.0, stop_s_cv=0.7, fall_p90_kpa_per_min=400.0
)
STEADY_LEAK = cycling(
    550,
    hours=ROUND_THE_CLOCK,
    stop_s_median=130.0,
    stop_s_p10=118.0,
    stop_s_cv=0.1,
    quiet_n_starts=7 * 69,
    quiet_restart_s_median=155.0,
    quiet_restart_cv=0.08,
    quiet_flat_share=0.0,
    quiet_fall_p50_kpa_per_min=15.0,
)
LEAKING_NIGHT = {
    "night_n_starts": 60,
    "night_n_falls": 60,
    "night_fall_p50_kpa_per_min": 15.0,
    "night_flat_s": 0.0,
}
TRICKLE = cycling(
    480, stop_s_median=70.0, stop_s_p10=40.0, stop_s_cv=0.9, fall_p90_kpa_per_min=66.0
)


def test_a_healthy_week_is_clear(make_case):
    assert short_cycling.judge(make_case(past=3)) == ()


def test_a_tank_without_charge_is_told_by_its_falls_and_flat_nights(make_case):
    case = make_case(week=TANK_GONE, every_day=daily(910), past=3)

    (found,) = short_cycling.judge(case)

    assert found.cause == "tank_charge_lost"
    assert found.consequence == 4  # over three times the table's 300 a day
    assert found.confidence > 0.8
    assert "910 starts a day" in found.summary
    assert "was 54" in found.summary
    assert found.measures["starts_per_day"] == 910.0


def test_the_registered_tank_alone_shows_lost_charge_when_there_is_no_past(make_case):
    # 4.4 gal, 42 psi, 60 to 55 psi holds 0.91 L (gas law); 6 s would take a draw of 9 L/min
    (found,) = short_cycling.judge(make_case(week=TANK_GONE, every_day=daily(910)))

    assert found.cause == "tank_charge_lost"


@pytest.mark.parametrize(
    ("week", "per_day", "past", "cause"),
    [
        (TANK_GONE, 910, 3, "tank_charge_lost"),
        (STEADY_LEAK, 550, 3, "leak"),
        (STEADY_LEAK, 550, 0, "leak"),
        (TRICKLE, 480, 0, "low_demand"),
    ],
)
def test_causes_are_told_apart(make_case, week, per_day, past, cause):
    night = LEAKING_NIGHT if week is STEADY_LEAK else {}
    case = make_case(week=week, every_day=daily(per_day, **night), past=past)

    (found,) = short_cycling.judge(case)

    assert found.cause == cause


def test_a_trickle_since_ever_is_low_demand(make_case):
    case = make_case(
        week=TRICKLE, every_day=daily(480), past=[TRICKLE] * 3, past_every_day=daily(480)
    )

    (found,) = short_cycling.judge(case)

    assert found.cause == "low_demand"
    assert "small steady use" in found.summary


def test_a_draw_at_the_edge_of_no_flow_on_a_good_tank_is_low_demand_without_any_past(make_case):
    # 4.4 gal, 42 psi, 60 to 55 psi holds 0.91 L (gas law): 40 s at 1.36 L/min, which drives take
    # for no flow; a tank that lost its charge would be gone in seconds at any tap
    edge = cycling(
        230, stop_s_median=40.0, stop_s_p10=36.0, stop_s_cv=0.05, fall_p90_kpa_per_min=60.0
    )

    (found,) = short_cycling.judge(make_case(week=edge, every_day=daily(230)))

    assert found.cause == "low_demand"


SHORT_STOPS = cycling(
    95, stop_s_median=180.0, stop_s_p10=5.0, stop_s_cv=1.4, fall_p90_kpa_per_min=6.0
)


def test_stops_that_end_at_once_tell_a_partly_lost_charge_without_any_past(make_case):
    # 4.4 gal, 42 psi, 60 to 55 psi holds 0.91 L (gas law): gone in 5 s only at 10.9 L/min
    (found,) = short_cycling.judge(make_case(week=SHORT_STOPS, every_day=daily(95)))

    assert found.cause == "tank_charge_lost"
    assert found.consequence == 3
    assert any("sooner than the registered tank" in text for text in found.grounds)


@pytest.mark.parametrize(
    ("week", "per_day", "pump"),
    [
        (SHORT_STOPS | {"idle_stop_s_p10": 12.0}, 95, {}),  # 4.5 L/min: a tap opened in time
        (SHORT_STOPS, 50, {}),  # a handful of short stops a day is someone at a tap
        (SHORT_STOPS, 95, {"tank_l": 2.0}),  # a small tank, as registered
        (SHORT_STOPS | {"idle_stop_s_p10": None}, 95, {}),  # the next runs feed a large draw
    ],
    ids=["longer stops", "few starts", "small tank", "large draws"],
)
def test_short_stops_that_the_tank_explains_stay_silent(make_case, week, per_day, pump):
    case = make_case(week=week, every_day=daily(per_day), pump=pump)

    assert short_cycling.judge(case) == ()


def test_short_stops_of_a_busy_site_are_no_lost_charge_where_the_next_run_feeds_a_draw(make_case):
    # 0.91 L (gas law) in a median of 10 s needs 5.4 L/min: no trickle, but one tap after the other
    busy = cycling(400, stop_s_median=10.0, stop_s_p10=5.0, stop_s_cv=0.9)
    draws = {"idle_stop_s_median": None, "idle_stop_s_p10": None}

    (trickles,) = short_cycling.judge(make_case(week=busy, every_day=daily(400)))
    (feeds,) = short_cycling.judge(make_case(week=busy | draws, every_day=daily(400)))

    assert trickles.cause == "tank_charge_lost"
    assert feeds.cause != "tank_charge_lost"


def test_a_leak_is_no_cause_where_the_nights_are_clear_of_one(make_case):
    # restarts round the clock at one interval; but at night stretches hold flat between draws
    draws = LEAKING_NIGHT | {"night_flat_s": 3600.0}

    (leaks,) = short_cycling.judge(
        make_case(week=STEADY_LEAK, every_day=daily(550, **LEAKING_NIGHT))
    )
    (holds,) = short_cycling.judge(make_case(week=STEADY_LEAK, every_day=daily(550, **draws)))

    assert leaks.cause == "leak"
    assert holds.cause != "leak"


def test_the_stub_of_a_week_is_no_past_to_compare_with(make_case):
    stub = {"observed_s": 70_000.0, "refill_over_f0_hz": 12.0, "fall_p50_kpa_per_min": 5.0}
    whole = stub | {"observed_s": 604_800.0}
    week = {"refill_over_f0_hz": 0.8}

    assert own_past(make_case(week=week, past=[stub])).refill_over_f0_hz is None
    assert own_past(make_case(week=week, past=[whole])).refill_over_f0_hz == 12.0


def test_a_dead_tank_beside_a_leak_is_still_the_tank(make_case):
    # a leak restarts it all night at one interval; one stop in ten is over in 5 s, which on the
    # registered 0.91 L (gas law) takes 10.9 L/min, and draws empty the tank four times as fast
    both = STEADY_LEAK | {"idle_stop_s_median": 35.0, "idle_stop_s_p10": 5.0}
    night = LEAKING_NIGHT | {"draw_fall_kpa_per_min": 240.0}
    past = {"draw_fall_kpa_per_min": 60.0}
    case = make_case(week=both, every_day=daily(550, **night), past=3, past_every_day=past)

    (found,) = short_cycling.judge(case)

    assert found.cause == "tank_charge_lost"


def test_without_tank_past_or_quiet_hold_no_cause_is_named_but_both_are_told(make_case):
    blind = {
        "quiet_flat_share": None,
        "quiet_n_starts": 0,
        "n_nights": 0,
        "stop_s_cv": 0.45,
        "stop_s_median": 20.0,
        "starts_by_hour": [25.0] * 16 + [6.0] * 8,
    }
    case = make_case(
        week=cycling(450) | blind,
        every_day=daily(450, night_observed_share=0.0),
        pump={"tank_l": None},
    )

    (found,) = short_cycling.judge(case)

    told = " ".join(found.alternatives)
    assert found.cause == ""
    assert "pre-charge" in told
    assert "house valve" in told


def test_a_slow_log_says_at_least(make_case):
    slow = TANK_GONE | {"flip_share": 0.4, "log_interval_s": 30.0}

    (found,) = short_cycling.judge(make_case(week=slow, every_day=daily(910), past=3))

    assert "at least 910 starts" in found.summary
    assert found.measures["starts_are_at_least"] is True


def test_a_minute_log_that_could_hide_cycles_is_not_called_clear(make_case):
    verdict = short_cycling.judge(make_case(week={"log_interval_s": 60.0}))

    assert isinstance(verdict, NotAssessed)
    assert "can hide between samples" in verdict.reason


def test_a_minute_log_of_a_pump_that_hardly_starts_is_clear(make_case):
    # a 10 s run is met by one sample in six: 4 counted are at most about 24 an hour, 96 a day
    idle = {"log_interval_s": 60.0, "starts_per_day": 16.0, "starts_per_hour_peak": 4}

    assert short_cycling.judge(make_case(week=idle)) == ()


def test_a_minute_log_in_which_starts_repeat_evenly_is_not_called_clear(make_case):
    # a 65 s cycle sampled every 60 s shows one of 60 * 65 / 5 s = 13 min: 6 min on, 7 min off
    alias = {
        "log_interval_s": 60.0,
        "starts_per_day": 42.0,
        "starts_per_hour_peak": 5,
        "run_share": 0.17,
        "run_s_median": 360.0,
        "stop_s_median": 420.0,
        "stop_s_cv": 0.0,
    }

    verdict = short_cycling.judge(make_case(week=alias))

    assert isinstance(verdict, NotAssessed)
    assert "one and the same interval" in verdict.reason
    assert short_cycling.judge(make_case(week=alias | {"stop_s_cv": 0.9})) == ()


def test_averaged_logs_cannot_count_starts(make_case):
    verdict = short_cycling.judge(make_case(week=TANK_GONE | {"is_averaged": True}))

    assert isinstance(verdict, NotAssessed)


def test_one_logged_day_is_too_little(make_case):
    each_day = [daily(910)] + [daily(0, observed_s=0.0)] * 6

    verdict = short_cycling.judge(make_case(week=TANK_GONE, each_day=each_day))

    assert isinstance(verdict, NotAssessed)


def test_one_day_of_testing_stays_silent(make_case):
    each_day = [{}, {}, daily(700)]

    assert short_cycling.judge(make_case(each_day=each_day, past=3)) == ()


def test_just_inside_the_daily_limit_stays_silent(make_case):
    busy = cycling(290, run_s_median=75.0, stop_s_median=180.0, starts_per_hour_peak=28)

    verdict = short_cycling.judge(make_case(week=busy, every_day=daily(290)))

    assert verdict == ()


def test_guests_that_double_the_starts_stay_silent(make_case):
    case = make_case(week=cycling(130, run_s_median=90.0), every_day=daily(130), past=3)

    assert short_cycling.judge(case) == ()


def test_a_filter_that_trickles_a_night_stays_silent(make_case):
    # 0.1 gpm on a good 4.5 gal tank: about 23 starts an hour (common practice, worked by hand)
    week = cycling(140, starts_per_hour_peak=23, stop_s_median=140.0)

    assert short_cycling.judge(make_case(week=week, every_day=daily(140))) == ()


def test_fewer_starts_than_the_limit_are_found_when_tank_and_past_agree(make_case):
    week = cycling(120, stop_s_median=200.0, fall_p90_kpa_per_min=210.0)

    (found,) = short_cycling.judge(make_case(week=week, every_day=daily(120), past=3))

    assert found.cause == "tank_charge_lost"
    assert found.measures["is_over_fixed_limit"] is False


def test_since_is_the_first_local_day_of_the_spell(make_case):
    each_day = [{}] * 3 + [daily(910)] * 4

    (found,) = short_cycling.judge(make_case(week=TANK_GONE, each_day=each_day, past=3))

    assert "since Thu 19 Nov" in found.summary


def test_a_knee_above_restart_is_told_as_precharge_too_high(make_case):
    knee = {"knee_share": 0.6, "knee_pressure_kpa": 56 * PSI_KPA}

    (found,) = short_cycling.judge(make_case(week=TANK_GONE | knee, every_day=daily(910)))

    assert any("Pre-charge too high" in text and "56 psi" in text for text in found.alternatives)


@pytest.mark.parametrize(
    ("hp", "per_hour"),
    [(1.0, 15), (3.0, 9.9)],  # NEMA MG 10 Table 2-3, 2-pole
)
def test_surface_pumps_are_compared_with_the_published_hourly_starts(hp, per_hour):
    limits = start_limits(Pump(pump_id="P", site_id="S", suction="tank", motor_kw=hp * HP_KW))

    assert f"{per_hour:g} starts an hour" in limits.source


@pytest.mark.parametrize(
    ("hp", "phases", "per_day"),
    [  # submersible motor starts table, trade page: 300 / 100 / 200 behind a drive / 100
        (0.75, 1, 300),
        (2.0, 1, 100),
        (2.0, 3, 300),
        (2.0, None, 300),
        (10.0, 3, 200),
        (40.0, 3, 100),
    ],
)
def test_well_pumps_are_held_to_the_published_daily_starts(hp, phases, per_day):
    pump = Pump(pump_id="P", site_id="S", suction="well", motor_kw=hp * HP_KW, motor_phases=phases)

    assert start_limits(pump).per_day == per_day


def test_an_unknown_motor_gets_the_general_limit():
    assert start_limits(Pump(pump_id="P", site_id="S")).per_day == STARTS_PER_DAY.value == 300


def test_the_least_run_is_a_minute():
    assert MIN_RUN_S.value == 60  # common practice, two trade pages


def test_a_partly_lost_charge_is_told_by_short_stops_against_the_own_past(make_case):
    # short stops of 5 s take 11 L/min out of 0.91 L: no drive sleeps on that
    week = cycling(100, stop_s_median=190.0, stop_s_p10=5.0, stop_s_cv=1.4)

    (found,) = short_cycling.judge(make_case(week=week, every_day=daily(100), past=3))

    assert found.cause == "tank_charge_lost"
    assert found.consequence == 3


@pytest.mark.parametrize("n_slow_days", [7, 11], ids=["a whole week", "set anew within a week"])
def test_days_with_a_slower_log_are_no_measure_where_faster_ones_are_there(make_case, n_slow_days):
    missed = {"log_interval_s": 20.0, "stop_s_p10": 90.0}
    case = make_case(week=TRICKLE, every_day=daily(480), past=[missed, TRICKLE, TRICKLE])
    slow, fast = {"n_starts": 220, "log_interval_s": 20.0}, {"n_starts": 480}
    past_days = tuple(
        dataclasses.replace(day, **(slow if n < n_slow_days else fast))
        for n, day in enumerate(case.past_days)
    )

    (found,) = short_cycling.judge(dataclasses.replace(case, past_days=past_days))

    assert found.cause == "low_demand"
    assert found.measures["starts_per_day_before"] == 480


def test_past_vacancy_is_not_the_habit_a_week_is_compared_with(make_case):
    # three empty weeks, then people again: starts are many times the past, falls as ever
    case = make_case(past=3, past_every_day={"n_starts": 2})

    assert short_cycling.judge(case) == ()


FEW_DRAWS = cycling(
    20,
    run_s_median=40.0,
    stop_s_median=2400.0,
    stop_s_p10=600.0,
    fall_p50_kpa_per_min=1.5,
    fall_p90_kpa_per_min=5.0,
    stop_pressure_kpa=450.0,
    restart_pressure_kpa=380.0,
)
EACH_DRAW = FEW_DRAWS | cycling(50, run_s_median=50.0, stop_s_median=800.0, stop_s_p10=110.0)


def test_a_tank_that_spans_one_draw_is_told_by_pressure_that_stands_until_the_draw(make_case):
    # 1.5 kPa/min over 40 min is nearly all the 70 kPa down to the restart; 0.5 over 13 min is a
    # tenth of it, so the rest goes at once
    week = EACH_DRAW | {"fall_p50_kpa_per_min": 0.5}
    case = make_case(
        week=week, every_day=daily(50), past=[FEW_DRAWS] * 3, past_every_day=daily(20)
    )

    (found,) = short_cycling.judge(case)

    assert found.cause == "tank_charge_lost"


STANDS = {  # until the last sample before the start, where 70 kPa used to be left
    "fall_p50_kpa_per_min": 0.01,
    "restart_pressure_kpa": 449.9,
    "refill_over_f0_hz": 0.8,
}
SINKS = FEW_DRAWS | {"refill_over_f0_hz": 7.0}


def _few_starts(make_case, week, past=(SINKS,) * 3, **change):
    return make_case(
        week=FEW_DRAWS | {"starts_per_day": 22.0} | week,
        every_day=daily(22, fall_p50_kpa_per_min=week["fall_p50_kpa_per_min"]),
        past=[FEW_DRAWS | of for of in past],
        past_every_day=daily(20, fall_p50_kpa_per_min=1.5),
        **change,
    )


def test_a_tank_that_neither_holds_nor_fills_is_found_however_few_the_starts(make_case):
    (found,) = short_cycling.judge(_few_starts(make_case, STANDS))

    assert found.cause == "tank_charge_lost"
    assert found.consequence == 2
    assert "hardly makes more starts than before (22 starts a day)" in found.summary
    assert any("first draw" in text for text in found.grounds)


def test_a_lost_charge_does_not_become_the_habit_it_is_compared_with(make_case):
    case = _few_starts(make_case, STANDS, past=[SINKS] * 2 + [STANDS] * 3)
    gone_from = case.past[2].week
    past_days = tuple(
        dataclasses.replace(day, fall_p50_kpa_per_min=0.01) if day.week >= gone_from else day
        for day in case.past_days
    )

    (found,) = short_cycling.judge(dataclasses.replace(case, past_days=past_days))

    assert found.cause == "tank_charge_lost"


@pytest.mark.parametrize(
    ("past", "is_told"),
    [
        ([SINKS] * 2 + [STANDS] * 2, True),
        ([SINKS] * 4, False),
        ([SINKS] * 2 + [STANDS, SINKS], False),  # was mended in between
    ],
)
def test_a_lost_charge_is_gone_only_when_pressure_sinks_as_ever_again(make_case, past, is_told):
    # 0.4 kPa/min over an hour go a third of the way of 70 kPa, where 6/7 of it were usual
    week = {"fall_p50_kpa_per_min": 0.4, "stop_s_median": 3600.0, "refill_over_f0_hz": 0.8}

    assert bool(short_cycling.judge(_few_starts(make_case, week, past=past))) is is_told


def test_a_tank_that_holds_no_water_back_is_cleared_only_where_starts_fill_it_as_ever(make_case):
    unknown = short_cycling.judge(_few_starts(make_case, STANDS | {"refill_over_f0_hz": None}))
    fills = short_cycling.judge(_few_starts(make_case, STANDS | {"refill_over_f0_hz": 6.0}))

    assert isinstance(unknown, NotAssessed)
    assert "cannot clear the tank" in unknown.reason
    assert fills == ()


def test_more_small_draws_on_a_good_tank_are_no_finding(make_case):
    week = EACH_DRAW | {"fall_p50_kpa_per_min": 5.0}
    case = make_case(
        week=week, every_day=daily(50), past=[FEW_DRAWS] * 3, past_every_day=daily(20)
    )

    assert short_cycling.judge(case) == ()


def test_starts_and_stops_that_came_and_went_before_are_the_pumps_own_range(make_case):
    lively = cycling(
        70, run_s_median=30.0, stop_s_median=500.0, stop_s_p10=10.0, fall_p90_kpa_per_min=60.0
    )
    calm = cycling(
        36, run_s_median=40.0, stop_s_median=900.0, stop_s_p10=60.0, fall_p90_kpa_per_min=58.0
    )
    case = make_case(week=lively, every_day=daily(70), past=[lively, calm, calm])
    past_days = tuple(
        dataclasses.replace(day, n_starts=72 if n < 7 else 36)
        for n, day in enumerate(case.past_days)
    )

    assert short_cycling.judge(dataclasses.replace(case, past_days=past_days)) == ()


def test_an_office_is_compared_with_its_own_weekdays(make_case):
    case = make_case(week=TRICKLE, every_day=daily(480), past=[TRICKLE] * 3)

    def office(days):
        return tuple(
            dataclasses.replace(day, n_starts=6 if day.local_date.weekday() >= 5 else 480)
            for day in days
        )

    (found,) = short_cycling.judge(
        dataclasses.replace(case, days=office(case.days), past_days=office(case.past_days))
    )

    assert found.measures["starts_per_day_before"] == 480
    assert "was" not in found.summary
    assert found.cause == "low_demand"
