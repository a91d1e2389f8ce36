import pytest

from analysis.case import Neighbours
from analysis.detectors.supply_evidence import gather, wire_loop_ohm
from analysis.detectors.undervoltage import judge
from analysis.findings import NotAssessed
from ingest.weeks import week_bounds

FOOT_M = 0.3048
AWG_14_MM2, AWG_12_MM2 = 2.0809, 3.3088  # ASTM B258

EVENINGS_LOW = {
    "idle_v_by_hour": [231.0] * 17 + [203.0] * 5 + [231.0] * 2,
    "idle_v_p05": 203.0,
    "running_v_p05": 200.0,
    "undervoltage_s": 80_000.0,
    "undervoltage_episodes": 30,
    "below_95_run_share": 0.25,
}
DAY_UNDER_90 = {"undervoltage_s": 12_000.0, "below_95_run_s": 1_500.0, "voltage_min_v": 199.0}

OWN_LOAD = {
    "own_drop_v": 25.0,
    "own_drop_night_v": 25.0,
    "own_drop_evening_v": 25.2,
    "pair_supply_a": 14.0,
    "running_v_median": 207.0,
    "running_v_p05": 203.0,
    "loop_resistance_ohm": 1.8,
    "loop_resistance_low_ohm": 1.5,
    "loop_resistance_high_ohm": 2.1,
    "undervoltage_s": 9_000.0,
    "undervoltage_run_s": 9_000.0,
    "undervoltage_episodes": 150,
    "below_95_run_share": 0.9,
}
DAY_OWN_LOAD = {"undervoltage_s": 1_300.0, "below_95_run_s": 4_800.0, "voltage_min_v": 201.0}


def only(verdict):
    (judged,) = verdict
    return judged


def test_a_healthy_supply_is_clear(make_case):
    assert judge(make_case(past=5)) == ()


def test_volts_low_at_rest_in_the_evening_are_the_source(make_case):
    found = only(judge(make_case(week=EVENINGS_LOW, every_day=DAY_UNDER_90)))

    assert (found.cause, found.consequence) == ("supply_source", 3)
    assert found.measures["idle_part_v"] == pytest.approx(27.0)
    assert found.measures["own_part_v"] == pytest.approx(2.4)


def test_volts_that_fall_only_with_the_own_load_are_the_wiring(make_case):
    found = only(judge(make_case(week=OWN_LOAD, every_day=DAY_OWN_LOAD)))

    assert (found.cause, found.consequence) == ("supply_wiring", 3)
    assert found.measures["own_part_v"] == pytest.approx(25.0)


@pytest.mark.parametrize(
    "name", ["voltage_min_pct", "undervoltage_s", "no_load_v", "loop_resistance_ohm"]
)
def test_the_measures_of_the_contract_are_there(make_case, name):
    found = only(judge(make_case(week=OWN_LOAD, every_day=DAY_OWN_LOAD)))

    assert found.measures[name] is not None


def test_the_bigger_of_two_parts_is_named_and_both_are_told(make_case):
    both = OWN_LOAD | {"idle_v_p05": 218.0, "idle_v_by_hour": [220.0] * 24}

    found = only(judge(make_case(week=both, every_day=DAY_OWN_LOAD)))

    assert found.cause == "supply_wiring"
    assert "Idle part 12.0 V below 230 V, own-load part 25 V" in found.grounds


def test_without_volts_at_rest_no_cause_is_guessed(make_case):
    never_rests = EVENINGS_LOW | {
        "idle_v_median": None,
        "idle_v_p05": None,
        "idle_v_p95": None,
        "idle_v_by_hour": None,
        "own_drop_v": None,
        "n_voltage_pairs": 0,
    }

    found = only(
        judge(make_case(week=never_rests, every_day=DAY_UNDER_90 | {"idle_v_median": None}))
    )

    assert found.cause == ""


# ANSI C84.1 Range A on a 240 V service is 228 V and up; Range B 220 V and up.
@pytest.mark.parametrize(
    ("running_v", "share", "is_found"),
    [(229.0, 0.0, False), (222.0, 0.4, True), (222.0, 0.08, False)],
)
def test_running_under_range_a_counts_from_a_tenth_of_the_time(
    make_case, running_v, share, is_found
):
    case = make_case(
        pump={"supply_volts": 240.0},
        week={
            "idle_v_median": 236.0,
            "idle_v_p05": 233.0,
            "idle_v_p95": 238.0,
            "idle_v_by_hour": [236.0] * 24,
            "running_v_p05": running_v,
            "below_95_run_share": share,
        },
        every_day={"idle_v_median": 236.0, "below_95_run_s": 5_400.0 * share},
    )

    verdict = judge(case)

    assert bool(verdict) is is_found
    assert all(found.consequence == 2 for found in verdict)


SHORT = {"running_v_p05": 215.0, "below_95_run_share": 0.3}  # 93.5 % of 230 V: opens
HOVERS = {"running_v_p05": 217.0, "below_95_run_share": 0.3}  # 94.3 %: opens nothing
CLEAR = {"running_v_p05": 218.0, "below_95_run_share": 0.3}  # 94.8 %, a tenth inside: closes
UNSEEN = CLEAR | {"share_missing": 0.9}


@pytest.mark.parametrize(
    ("past", "now", "is_found"),
    [
        ((HOVERS, HOVERS), HOVERS, False),
        ((SHORT,), HOVERS, True),
        ((SHORT, HOVERS, HOVERS), HOVERS, True),
        ((SHORT,), CLEAR, False),
        ((SHORT, CLEAR), HOVERS, True),
        ((SHORT, CLEAR, CLEAR), HOVERS, False),
        ((SHORT, UNSEEN, UNSEEN), HOVERS, True),
    ],
    ids=[
        "was never short",
        "short last week",
        "hovers ever since",
        "clear this week",
        "one clear week between",
        "two clear weeks close",
        "weeks hardly seen close nothing",
    ],
)
def test_volts_that_hover_at_the_limit_that_found_them_stay_found(make_case, past, now, is_found):
    low = {"below_95_run_s": 1_600.0}

    verdict = judge(make_case(week=now, every_day=low, past=past, past_every_day=low))

    assert bool(verdict) is is_found


# NEMA MG 1-12.44: a 230 V motor runs at rated load down to 207.0 V, 90 %.
@pytest.mark.parametrize(("seconds", "is_found"), [(50.0, False), (200.0, True)])
def test_ninety_percent_counts_from_a_minute_a_day_on_two_days(make_case, seconds, is_found):
    low = {"undervoltage_s": seconds, "voltage_min_v": 205.0}
    case = make_case(
        week={
            "running_v_p05": 207.0,
            "undervoltage_s": 2 * seconds,
            "undervoltage_episodes": 2,
        },
        each_day=[low, {}, {}, low],
    )

    assert bool(judge(case)) is is_found


def test_brief_starting_sags_are_no_undervoltage(make_case):
    case = make_case(
        week={"undervoltage_s": 700.0, "undervoltage_episodes": 350, "below_85_s": 300.0},
        every_day={"undervoltage_s": 100.0, "voltage_min_v": 190.0},
    )

    assert judge(case) == ()


def test_under_85_percent_on_several_days_is_damage_within_days(make_case):
    deep = EVENINGS_LOW | {"idle_v_p05": 194.0, "running_v_p05": 192.0, "below_85_s": 20_000.0}

    found = only(judge(make_case(week=deep, every_day=DAY_UNDER_90 | {"voltage_min_v": 189.0})))

    assert found.consequence == 4


def test_dips_that_end_in_silence_weigh_more(make_case):
    quiet = {"observed_s": 0.0, "undervoltage_s": None, "below_95_run_s": None}
    last_seen = [{}, {}, DAY_OWN_LOAD, DAY_OWN_LOAD, quiet, quiet, quiet]
    case = make_case(week=OWN_LOAD | {"silent_s": 3 * 86_400.0}, each_day=last_seen)

    assert only(judge(case)).consequence == 4


def test_one_low_day_counts_only_where_no_second_could_be_seen(make_case):
    week = EVENINGS_LOW | {"undervoltage_s": 12_000.0, "below_95_run_share": 0.05}
    week |= {"idle_v_by_hour": [231.0] * 24}
    long_ago = make_case(week=week, each_day=[{}, {}, DAY_UNDER_90])
    last_day = make_case(week=week, each_day=[*([{}] * 6), DAY_UNDER_90])

    assert judge(long_ago) == ()
    assert (
        only(judge(last_day)).confidence
        < only(judge(make_case(week=week, every_day=DAY_UNDER_90))).confidence
    )


LAST_EVENING = {
    "voltage_min_v": 189.0,
    "undervoltage_s": 1_510.0,
    "undervoltage_idle_s": 1_390.0,
    "undervoltage_run_s": 120.0,
    "undervoltage_episodes": 2,
}


def test_one_bad_evening_is_told_by_its_own_volts_not_by_the_usual_ones(make_case):
    # the usual volts at rest are within 1 V of 230, less than the own load takes
    evening = {"undervoltage_s": 1_510.0, "voltage_min_v": 189.0, "below_95_run_s": 120.0}

    found = only(judge(make_case(week=LAST_EVENING, each_day=[*([{}] * 6), evening])))

    assert found.cause == "supply_source"
    assert found.summary == (
        "Supply falls short at times: under 90 % for 25 min on 1 day, since Sun 22 Nov,"
        " to 189 V, 82 % of 230 V; at rest it is usually 232 V."
    )


def test_low_time_of_which_most_is_running_stays_with_the_bigger_part(make_case):
    own = {"undervoltage_idle_s": 100.0, "undervoltage_run_s": 8_900.0}

    assert only(judge(make_case(week=OWN_LOAD | own, every_day=DAY_OWN_LOAD))).cause == (
        "supply_wiring"
    )


def test_a_generator_night_after_an_outage_is_no_undervoltage(make_case, case_factory):
    from_at, _ = week_bounds(case_factory.REPORT_WEEK, "America/New_York")
    night = {"undervoltage_s": 4_000.0, "below_95_run_s": 900.0}
    outage = {
        "n_gaps": 1,
        "longest_gap_s": 600.0,
        "longest_gap_from_at": from_at.replace(hour=23),
    }
    week = EVENINGS_LOW | {"idle_v_by_hour": [231.0] * 24, "below_95_run_share": 0.12}

    assert judge(make_case(week=week | outage, each_day=[night, night])) == ()
    assert judge(make_case(week=week, each_day=[night, night])) != ()


def test_the_same_generator_volts_every_night_are_a_fault(make_case):
    verdict = judge(
        make_case(week=EVENINGS_LOW | {"overvoltage_s": 900.0}, every_day=DAY_UNDER_90)
    )

    assert verdict != ()


def test_a_208_volt_site_steady_at_204_volts_is_clear(make_case):
    case = make_case(
        pump={"supply_volts": 208.0, "motor_volts": 208.0},
        week={
            "idle_v_median": 204.0,
            "idle_v_p05": 203.0,
            "idle_v_p95": 205.0,
            "idle_v_by_hour": [204.0] * 24,
            "running_v_median": 202.0,
            "running_v_p05": 201.0,
        },
        every_day={"idle_v_median": 204.0, "voltage_min_v": 200.0},
    )

    assert judge(case) == ()


def test_a_meter_that_reads_two_percent_low_at_rest_too_is_clear(make_case):
    case = make_case(
        week={
            "idle_v_median": 227.4,
            "idle_v_p05": 224.4,
            "running_v_p05": 222.5,
            "idle_v_by_hour": [227.4] * 24,
        },
        every_day={"idle_v_median": 227.4},
    )

    assert judge(case) == ()


@pytest.mark.parametrize(("registered_v", "seen_v"), [(230.0, 118.0), (115.0, 231.0)])
def test_a_supply_mixed_up_in_the_register_is_held_back(make_case, registered_v, seen_v):
    case = make_case(
        pump={"supply_volts": registered_v},
        week={"idle_v_median": seen_v, "idle_v_p05": seen_v - 1, "idle_v_p95": seen_v + 1},
    )

    verdict = judge(case)

    assert isinstance(verdict, NotAssessed)
    assert verdict.reason.startswith("register and log contradict: supply_volts is")


def test_a_steady_208_volts_on_a_registered_240_is_the_register(make_case):
    case = make_case(
        pump={"supply_volts": 240.0},
        week={"idle_v_median": 208.0, "idle_v_p05": 206.0, "idle_v_p95": 210.0},
    )

    assert isinstance(judge(case), NotAssessed)


def test_a_supply_that_was_right_in_earlier_weeks_has_sagged_since(make_case):
    week = EVENINGS_LOW | {
        "idle_v_median": 200.0,
        "idle_v_p05": 198.0,
        "idle_v_p95": 202.0,
        "idle_v_by_hour": [200.0] * 24,
    }

    found = only(judge(make_case(week=week, every_day=DAY_UNDER_90, past=2)))

    assert found.cause == "supply_source"


def growing(*ohms):
    return [
        {"loop_resistance_ohm": ohm, "own_drop_v": ohm * 12, "pair_supply_a": 12.0} for ohm in ohms
    ]


def test_a_drop_that_grows_over_weeks_is_a_heating_joint(make_case):
    now = {
        "loop_resistance_ohm": 0.8,
        "loop_resistance_low_ohm": 0.65,
        "own_drop_v": 9.6,
        "pair_supply_a": 12.0,
    }

    found = only(judge(make_case(week=now, past=growing(0.40, 0.45, 0.55, 0.68))))

    assert (found.cause, found.consequence) == ("supply_wiring", 5)
    assert found.measures["own_part_before_v"] == pytest.approx(0.40 * 12)
    assert "a joint may be heating" in found.summary


LIGHT_DRAW = {"pair_supply_a": 1.6, "current_p95_a": 1.2, "frequency_p95_hz": 46.0}
LARGE_PUMP = {"pair_supply_a": 3.8, "supply_current_is_logged": True, "input_current_p95_a": 8.0}
HEAVY_LATER = LIGHT_DRAW | {"supply_current_is_logged": True, "input_current_p95_a": 9.0}


# NBSIR 76-1011 (1976): a connection that glows makes 5 W at 0.8 A, 35 W at 15 A
@pytest.mark.parametrize(
    ("draw", "ohm", "is_found"),
    [
        ({"pair_supply_a": 3.3}, 1.5, True),
        (LIGHT_DRAW, 2.0, False),
        (HEAVY_LATER, 2.0, True),
        (LARGE_PUMP, 0.66, True),
        ({"pair_supply_a": 12.0}, 0.16, False),
    ],
    ids=[
        "14 W, though 2 % of the volts",
        "5 W at most",
        "light at starts, over 100 W later",
        "under 1 % of the volts at starts, 2 % and 37 W later",
        "20 W, but under 1 % of the volts at any draw",
    ],
)
def test_a_growing_joint_counts_by_its_heat(make_case, draw, ohm, is_found):
    def week(share):
        drop_v = share * ohm * draw["pair_supply_a"]
        return {**draw, "loop_resistance_ohm": share * ohm, "own_drop_v": drop_v}

    verdict = judge(make_case(week=week(1.0), past=[week(n) for n in (0.12, 0.14, 0.4, 0.7)]))

    assert bool(verdict) is is_found
    assert all((found.cause, found.consequence) == ("supply_wiring", 5) for found in verdict)


def test_a_drop_that_grows_with_the_load_alone_is_no_joint(make_case):
    # twice the current through 1.3 times the ohms: most of the new drop is the current's
    now = {"loop_resistance_ohm": 0.52, "own_drop_v": 0.52 * 12, "pair_supply_a": 12.0}
    past = [
        {"loop_resistance_ohm": ohm, "own_drop_v": ohm * 6, "pair_supply_a": 6.0}
        for ohm in (0.40, 0.41, 0.40, 0.41)
    ]

    assert judge(make_case(week=now, past=past)) == ()


@pytest.mark.parametrize(
    "past",
    [growing(0.30, 0.31, 0.29, 0.32), growing(0.45, 0.30, 0.38, 0.28), growing(0.3)],
    ids=["steady", "wandering", "too few weeks"],
)
def test_a_drop_that_does_not_grow_steadily_is_no_joint(make_case, past):
    now = {"loop_resistance_ohm": 0.33, "own_drop_v": 4.0, "pair_supply_a": 12.0}

    assert judge(make_case(week=now, past=past)) == ()


def test_a_week_of_few_starts_is_no_beginning_of_a_growth(make_case):
    first_hours = {"loop_resistance_ohm": 0.30, "own_drop_v": 3.6, "n_voltage_pairs": 20}
    now = {"loop_resistance_ohm": 1.2, "own_drop_v": 14.4, "pair_supply_a": 12.0}
    case = make_case(week=now, past=[first_hours, *growing(0.40, 0.40, 0.41, 0.7)])

    found = only(judge(case))

    assert found.since_at == case.past[4].from_at
    assert found.measures["own_part_before_v"] == pytest.approx(0.40 * 12)


def test_ohms_known_in_another_way_are_no_growth(make_case):
    # the same loop: weeks whose runs told the motor's magnetising share, then one that assumes it
    past = [week | {"magnetising_share": 0.3} for week in growing(0.40, 0.41, 0.40, 0.42)]
    now = {"loop_resistance_ohm": 0.62, "loop_resistance_low_ohm": 0.4, "own_drop_v": 7.6}

    assert judge(make_case(week=now, past=past)) == ()


def test_copper_warmed_by_a_season_is_no_growth(make_case):
    # IEC 60028: 0.00393 /K, so 40 K warmer copper has 1.16 times the resistance
    now = {"loop_resistance_ohm": 0.60 * 1.157, "own_drop_v": 0.60 * 1.157 * 11}

    assert judge(make_case(week=now, past=growing(0.60, 0.62, 0.65, 0.67))) == ()


def test_expected_loop_resistance_is_that_of_the_published_table(make_case):
    # NEC Chapter 9 Table 8: 14 AWG stranded 3.14 ohm/kft at 75 C; 150 ft there and back 0.942 ohm
    case = make_case(pump={"supply_wire_mm2": AWG_14_MM2, "supply_wire_m": 150 * FOOT_M})

    assert wire_loop_ohm(case) == pytest.approx(0.942, abs=0.005)


def test_drop_of_the_recorded_wire_is_that_of_the_worked_example(make_case):
    # 12 A, 150 ft, 14 AWG stranded: 11.304 V (NEC Chapter 9 Table 8)
    case = make_case(
        pump={"supply_wire_mm2": AWG_14_MM2, "supply_wire_m": 150 * FOOT_M},
        week={"pair_supply_a": 12.0},
    )

    assert gather(case, 230.0).wire_drop_v == pytest.approx(11.304, abs=0.06)


@pytest.mark.parametrize(
    ("ohm", "drop_v", "is_found"),
    [(0.85, 10.0, True), (0.42, 10.0, False), (0.85, 4.0, False)],
    ids=["far over the wire and a drop that matters", "as the wire", "hardly any drop"],
)
def test_a_bad_joint_is_found_while_volts_still_hold(make_case, ohm, drop_v, is_found):
    case = make_case(
        pump={"supply_wire_mm2": AWG_12_MM2, "supply_wire_m": 100 * FOOT_M},
        week={
            "own_drop_v": drop_v,
            "pair_supply_a": drop_v / ohm,
            "loop_resistance_ohm": ohm,
            "loop_resistance_low_ohm": ohm * 0.85,
        },
    )

    verdict = judge(case)

    assert bool(verdict) is is_found
    assert all(found.cause == "supply_wiring" for found in verdict)


def test_neighbours_that_sag_too_make_the_source_surer(make_case):
    def sure(**neighbours):
        near = Neighbours(same_site_pumps=0, same_site_pumps_low=0, **neighbours)
        case = make_case(week=EVENINGS_LOW, every_day=DAY_UNDER_90, neighbours=near)
        return only(judge(case)).confidence

    assert sure(n_sites=6, n_sites_low=4) > sure(n_sites=6, n_sites_low=0)


def test_since_when_reaches_back_over_low_weeks(make_case, case_factory):
    first_at, _ = week_bounds(case_factory.REPORT_WEEK.plus(-2), "America/New_York")

    found = only(
        judge(
            make_case(
                week=EVENINGS_LOW, every_day=DAY_UNDER_90, past=2, past_every_day=DAY_UNDER_90
            )
        )
    )

    assert found.since_at == first_at


LOW_FROM_WEDNESDAY = [{}, {}, *[DAY_OWN_LOAD] * 5]


def test_a_joint_that_went_in_one_step_counts_from_its_first_low_day(make_case):
    # the resistance of a week before the step wanders up a little, as medians do
    past = growing(0.33, 0.35)

    case = make_case(week=OWN_LOAD, each_day=LOW_FROM_WEDNESDAY, past=past)
    found = only(judge(case))

    assert found.since_at == case.days[2].from_at
    assert "since Wed" in found.summary


def test_a_joint_that_grew_before_volts_were_low_counts_from_the_week_it_clearly_had(make_case):
    case = make_case(
        week=OWN_LOAD, each_day=LOW_FROM_WEDNESDAY, past=growing(0.33, 0.35, 0.6, 1.1)
    )

    assert only(judge(case)).since_at == case.past[2].from_at


def test_the_motors_need_is_judged_at_full_speed_on_its_own_volts(make_case):
    # NEMA MG 1-12.44: 207 V is 90 % of a 230 V motor, but 94 % of a 220 V supply
    short = {"running_v_p05": 207.0, "motor_undervoltage_s": 3_000.0, "below_95_run_share": 0.05}
    week = short | {
        "idle_v_median": 216.0,
        "idle_v_p05": 214.0,
        "idle_v_p95": 218.0,
        "idle_v_by_hour": [216.0] * 24,
        "own_drop_v": 8.0,
    }
    day = {"below_95_run_s": 400.0, "idle_v_median": 216.0}

    on_220 = judge(make_case(pump={"supply_volts": 220.0}, week=week, every_day=day))
    on_208 = judge(make_case(pump={"supply_volts": 208.0}, week=week, every_day=day))

    assert only(on_220).consequence == 3
    assert on_208 == ()  # a motor that does not fit its supply is a setting, not a sag


def test_a_few_low_evenings_count_though_no_hour_is_usually_low(make_case):
    # ANSI C84.1 Range A ends at 218.5 V on 230 V; here 213 V on three evenings of seven
    evening = {"below_95_run_s": 600.0, "voltage_min_v": 211.0}
    case = make_case(
        week={"idle_v_p05": 213.0, "running_v_p05": 219.0, "below_95_run_share": 0.05},
        each_day=[evening, {}, evening, {}, evening],
    )

    found = only(judge(case))

    assert (found.cause, found.consequence) == ("supply_source", 2)
