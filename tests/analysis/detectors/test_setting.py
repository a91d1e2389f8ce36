import pytest

from analysis.detectors import setting, setting_speed
from analysis.detectors.setting import judge, unassessed
from analysis.detectors.setting_rules import RULES
from analysis.detectors.setting_site import full_speed_supply_a
from analysis.findings import CAUSES, Kind, NotAssessed
from ingest.installed_base import CurvePoint

PSI_KPA, FOOT_M, GAL_L = 6.894757, 0.3048, 3.785412


def rules_broken(verdict):
    return [(found.cause, found.measures["rule"]) for found in verdict]


def broken(make_case, **case):
    return rules_broken(judge(make_case(**case)))


def test_a_sound_register_breaks_no_rule(make_case):
    assert judge(make_case(past=3)) == ()


def test_every_rule_names_a_cause_of_the_contract():
    assert {rule.cause for rule in RULES} <= set(CAUSES[Kind.SETTING])


def test_a_finding_tells_rule_setting_and_what_is_expected(make_case):
    (found,) = judge(make_case(pump={"overload_setting_amps": 9.8, "service_factor_amps": 8.6}))

    assert found.measures["rule"] == "overload_above_sfa"
    assert found.measures["setting"] == 9.8
    assert found.measures["expected"] == "8.6 A or the next lower setting"


# common practice, no source: the setting is the service-factor amps or the next lower one
@pytest.mark.parametrize(
    ("setting_a", "consequence"), [(9.0, None), (9.5, None), (9.6, None), (10.0, 2), (11.2, 4)]
)
def test_overload_over_service_factor_amps(make_case, setting_a, consequence):
    verdict = judge(
        make_case(
            pump={
                "overload_setting_amps": setting_a,
                "service_factor_amps": 9.6,
                "rated_amps": 8.4,
            }
        )
    )

    assert [found.consequence for found in verdict] == ([consequence] if consequence else [])


# NEC 430.32(A)(1): at most 125 % of nameplate full-load amps, 12.5 A for 10 A
@pytest.mark.parametrize(("setting_a", "is_broken"), [(12.5, False), (12.6, True), (11.5, False)])
def test_overload_over_rated_amps_where_service_factor_amps_are_blank(
    make_case, setting_a, is_broken
):
    pump = {
        "overload_setting_amps": setting_a,
        "service_factor_amps": None,
        "rated_amps": 10.0,
        "supply_wire_m": 5.0,
    }

    assert broken(make_case, pump=pump) == (
        [("overload_setting_amps", "overload_above_sfa")] if is_broken else []
    )


def test_an_overload_that_normal_use_trips_points_at_the_load_first(make_case):
    (found,) = judge(make_case(pump={"overload_setting_amps": 5.3}))

    assert found.measures["rule"] == "overload_too_low"
    assert "check the load first" in found.summary


def test_an_overload_near_a_motor_that_has_no_room_is_left_to_the_load(make_case):
    case = {"pump": {"overload_setting_amps": 6.8}, "week": {"current_p95_a": 6.7}}

    assert broken(make_case, **case) == []


# rated 6.0 A: a well motor may have no service factor on a drive
@pytest.mark.parametrize(
    ("suction", "p95_a", "is_broken"),
    [("well", 6.2, True), ("tank", 6.2, False), ("well", 6.1, False), ("tank", 6.4, True)],
)
def test_running_in_the_service_factor(make_case, suction, p95_a, is_broken):
    case = {
        "pump": {"suction": suction, "service_factor_amps": 7.5},
        "week": {"current_p95_a": p95_a, "over_rated_s": 4_000.0},
    }

    assert (("rated_amps", "sf_on_drive") in broken(make_case, **case)) is is_broken


def test_service_factor_amps_below_rated_amps_cannot_be(make_case):
    pump = {"service_factor_amps": 5.4, "rated_amps": 6.0, "overload_setting_amps": 5.4}

    assert ("service_factor_amps", "nameplate") in broken(
        make_case, pump=pump, week={"current_p95_a": 4.0}
    )


# common practice, no source: 30 Hz from well, lift or tank or with suction over 20 psi below the
# set pressure; 10 Hz within 20 psi, exactly 20 included
@pytest.mark.parametrize(
    ("suction", "suction_psi", "hz"),
    [
        ("well", None, 30),
        ("lift", None, 30),
        ("flooded", 35, 30),
        ("flooded", 40, 10),
        ("flooded", 45, 10),
    ],
)
def test_expected_least_speed_by_suction(make_case, suction, suction_psi, hz):
    suction_kpa = None if suction_psi is None else suction_psi * PSI_KPA
    case = make_case(pump={"suction": suction, "suction_kpa": suction_kpa})

    assert setting_speed.expected_min_hz(case).value == hz


@pytest.mark.parametrize(("min_hz", "is_broken"), [(20.0, True), (29.0, True), (30.0, False)])
def test_a_well_motor_that_may_turn_too_slowly(make_case, min_hz, is_broken):
    pump = {"suction": "well", "suction_kpa": None, "min_hz": min_hz}

    assert (("min_hz", "min_hz_low") in broken(make_case, pump=pump)) is is_broken


# shutoff 100 psi at 60 Hz: 60 psi from 20 psi suction is held at 37.947 Hz with no flow, from
# none at 46.476 Hz (affinity laws)
SHUTOFF_100_PSI = (
    CurvePoint(pump_model="PM-A", flow_lpm=0.0, head_m=100 * 0.70429),  # 2.3108 ft a psi, 20 C
    CurvePoint(pump_model="PM-A", flow_lpm=80.0, head_m=40.0),
)


@pytest.mark.parametrize(("suction_psi", "hz"), [(0, 46.476), (20, 37.947)])
def test_no_flow_speed_from_the_curve_is_the_published_one(make_case, suction_psi, hz):
    case = make_case(pump={"suction_kpa": suction_psi * PSI_KPA}, curve=SHUTOFF_100_PSI)

    assert setting_speed.curve_no_flow_hz(case, 60.0) == pytest.approx(hz, abs=0.01)


@pytest.mark.parametrize(("min_hz", "is_broken"), [(40.0, True), (37.0, False)])
def test_a_least_speed_that_makes_the_set_pressure_without_flow(make_case, min_hz, is_broken):
    case = {
        "pump": {"suction": "flooded", "suction_kpa": 20 * PSI_KPA, "min_hz": min_hz},
        "curve": SHUTOFF_100_PSI,
        "week": {"f0_hz": min_hz, "frequency_p05_hz": min_hz},
    }

    assert (("min_hz", "min_hz_high") in broken(make_case, **case)) is is_broken


def test_a_pump_pinned_at_least_speed_over_its_pressure_needs_no_curve(make_case):
    pinned = {
        "f0_hz": 40.1,
        "frequency_p05_hz": 40.0,
        "held_pressure_kpa": 64 * PSI_KPA,
        "stop_pressure_kpa": 64 * PSI_KPA,
    }

    assert broken(make_case, pump={"min_hz": 40.0}, week=pinned) == [("min_hz", "min_hz_high")]
    assert broken(make_case, pump={"min_hz": 40.0}, week=pinned | {"f0_hz": 44.0}) != [
        ("min_hz", "min_hz_high")
    ]


def test_samples_of_ramps_below_least_speed_do_not_show_a_pump_pinned_there(make_case):
    ramps = {
        "f0_hz": None,
        "frequency_p05_hz": 17.0,
        "held_pressure_kpa": 64 * PSI_KPA,
        "stop_pressure_kpa": 64 * PSI_KPA,
    }

    assert broken(make_case, pump={"min_hz": 30.0}, week=ramps) == []


# affinity laws: 66 Hz takes 1.331 times the power of 60 Hz, 63 Hz 1.158 times
@pytest.mark.parametrize(
    ("max_hz", "p95_a", "is_broken"),
    [(66.0, 6.0, True), (66.0, 5.0, False), (60.0, 6.2, False)],
)
def test_top_speed_that_would_overload_the_motor(make_case, max_hz, p95_a, is_broken):
    case = {
        "pump": {"max_hz": max_hz},
        "week": {"current_p95_a": p95_a, "frequency_p95_hz": 60.0},
    }

    assert broken(make_case, **case) == ([("max_hz", "max_hz_high")] if is_broken else [])


def test_power_at_66_hz_is_told_as_a_third_more(make_case):
    case = make_case(pump={"max_hz": 66.0}, week={"current_p95_a": 6.0, "frequency_p95_hz": 60.0})

    (found,) = judge(case)

    assert "takes 33 % more power" in found.summary


SHORT_RUNS = {"run_s_median": 20.0, "starts_per_day": 250.0, "stop_s_median": 60.0}


@pytest.mark.parametrize(
    ("pump", "week", "is_broken"),
    [
        ({"ramp": "fast"}, SHORT_RUNS, True),
        ({"ramp": "slow"}, SHORT_RUNS, False),
        ({"ramp": "fast"}, {}, False),
        ({"ramp": "fast", "tank_l": 44 * GAL_L}, SHORT_RUNS, False),
        ({"ramp": "fast"}, SHORT_RUNS | {"flow_p50_lpm": 30.0}, False),
        ({"ramp": "fast"}, SHORT_RUNS | {"stop_s_median": 4.0}, False),
        ({"ramp": "fast"}, SHORT_RUNS | {"log_interval_s": 60.0}, False),
    ],
    ids=["hurts", "slow", "no harm", "big tank", "real demand", "dead tank", "slow log"],
)
def test_a_fast_ramp_on_little_use(make_case, pump, week, is_broken):
    assert broken(make_case, pump=pump, week=week) == (
        [("ramp", "ramp_fast")] if is_broken else []
    )


def test_starts_that_rose_since_are_not_the_ramps(make_case):
    assert broken(make_case, pump={"ramp": "fast"}, week=SHORT_RUNS, past=3) == []


@pytest.mark.parametrize(
    ("week", "is_broken"),
    [
        ({"dips_per_day": 5.0}, True),
        ({"dips_per_day": 2.0}, False),
        ({"dips_per_day": 5.0, "at_max_s": 20_000.0}, False),
        ({"dips_per_day": 5.0, "ceiling_a": 6.9}, False),
        ({"dips_per_day": 5.0, "log_interval_s": 20.0}, False),
        ({"dips_per_day": 5.0, "n_gone": 20}, False),
    ],
    ids=["dips", "few", "cannot do more", "held by its current", "slow log", "ran dry"],
)
def test_a_slow_ramp_that_lets_pressure_dip(make_case, week, is_broken):
    assert broken(make_case, week=week) == ([("ramp", "ramp_slow")] if is_broken else [])


# common practice, no source: about 70 % of the set pressure on a drive, 42 psi for 60 psi
@pytest.mark.parametrize(
    ("psi", "is_broken"), [(42, False), (31, False), (29, True), (50, False), (52, True)]
)
def test_pre_charge_against_the_set_pressure(make_case, psi, is_broken):
    case = {"pump": {"precharge_kpa": psi * PSI_KPA}}

    assert (("precharge", "precharge") in broken(make_case, **case)) is is_broken


def test_a_pre_charge_at_the_restart_pressure_empties_the_tank_first(make_case):
    case = {
        "pump": {"precharge_kpa": 48 * PSI_KPA},
        "week": {"restart_pressure_kpa": 47 * PSI_KPA},
    }

    assert broken(make_case, **case) == [("precharge", "precharge")]


# Boyle, 4.4 gal at 42 psi from 60 to 55 psi: 0.2396 gal; ten seconds at 0.5 gpm are 0.083 gal
@pytest.mark.parametrize(("gallons", "is_broken"), [(4.4, False), (2.0, False), (1.0, True)])
def test_a_tank_too_small_for_a_trickle(make_case, gallons, is_broken):
    assert (
        ("tank", "tank_small") in broken(make_case, pump={"tank_l": gallons * GAL_L})
    ) is is_broken


# submersible motor literature: over 379 V and 50 ft; common practice: 50 ft no check, 51 ft check
@pytest.mark.parametrize(
    ("volts", "feet", "has_filter", "is_broken"),
    [
        (460.0, 50, False, False),
        (460.0, 51, False, True),
        (460.0, 200, True, False),
        (460.0, 200, None, False),
        (230.0, 200, False, False),
        (230.0, 301, False, True),
    ],
)
def test_a_long_motor_lead_without_a_filter(make_case, volts, feet, has_filter, is_broken):
    pump = {
        "motor_volts": volts,
        "supply_volts": volts,
        "motor_lead_m": feet * FOOT_M,
        "output_filter": has_filter,
    }
    quiet = {"idle_v_median": None, "running_v_median": None}

    assert (
        ("output_filter", "lead_filter") in broken(make_case, pump=pump, week=quiet)
    ) is is_broken


# NEMA MG 1-12.44 and C84.1: a 230 V motor on 208 V has 90.4 %, on 240 V 104.3 %
@pytest.mark.parametrize(
    ("supply_v", "motor_v", "is_broken"),
    [(208.0, 230.0, True), (240.0, 230.0, False), (480.0, 460.0, False), (230.0, 208.0, True)],
)
def test_motor_volts_against_supply_volts(make_case, supply_v, motor_v, is_broken):
    case = {
        "pump": {"supply_volts": supply_v, "motor_volts": motor_v},
        "week": {"idle_v_median": supply_v, "idle_v_p05": supply_v, "idle_v_p95": supply_v},
    }

    assert (("supply_volts", "supply_vs_motor") in broken(make_case, **case)) is is_broken


def test_supply_amps_are_those_of_a_power_balance_not_the_motors(make_case):
    # power balance: 230 V, 9.6 A, pf 0.8 three-phase is 3059.5 W; from 230 V single phase at
    # pf 0.70 and 96 % that takes 19.79 A
    case = make_case(pump={"rated_amps": 9.6, "service_factor_amps": 11.0})

    amps, low_share, _ = full_speed_supply_a(case)

    assert amps == pytest.approx(19.79, abs=0.01)
    assert low_share < 1


@pytest.mark.parametrize(("feet", "is_broken"), [(80, False), (400, True)])
def test_a_conductor_that_loses_too_much_at_full_speed(make_case, feet, is_broken):
    # 12 AWG stranded 1.98 ohm/kft (NEC Chapter 9 Table 8) at 12.4 A: 1.7 % over 80 ft of 230 V,
    # 8.5 % over 400 ft; a branch circuit is advised 3 % (NEC 210.19 informational note)
    case = {
        "pump": {"supply_wire_m": feet * FOOT_M},
        "week": {"loop_resistance_high_ohm": None},
    }

    assert broken(make_case, **case) == ([("supply_wire", "wire_drop")] if is_broken else [])


# 14 AWG stranded 3.14 ohm/kft at 75 C (NEC Chapter 9 Table 8): 240 ft and back is 1.51 ohm, 1.24
# at 20 C (IEC 60028). Power balance of 6 A rated: 12.4 A, 10.0 A at the low end of its band, so
# 1.4 ohm lose at least 6 % of 230 V; 60 ft lose a quarter
@pytest.mark.parametrize(
    ("feet", "measured_ohm", "is_broken"),
    [(240, 1.4, True), (240, 1.0, False), (60, 0.35, False), (240, None, True)],
    ids=["a cool wire", "less than it has in frost", "adequate", "not measured"],
)
@pytest.mark.parametrize("rated_a", [6.0, None])
def test_a_thin_wire_is_judged_at_full_speed_also_where_the_log_stays_below(
    make_case, feet, measured_ohm, is_broken, rated_a
):
    case = {
        "pump": {
            "supply_wire_mm2": 2.08,
            "supply_wire_m": feet * FOOT_M,
            "rated_amps": rated_a,
            "service_factor_amps": 6.9,
        },
        "week": {"frequency_p95_hz": 50.0, "loop_resistance_high_ohm": measured_ohm},
    }

    assert (("supply_wire", "wire_drop") in broken(make_case, **case)) is is_broken


@pytest.mark.parametrize(
    ("top_hz", "is_said"), [(50.0, True), (60.0, False)], ids=["below full speed", "at it"]
)
def test_a_loss_at_a_load_that_was_not_reached_is_told_as_such(make_case, top_hz, is_said):
    case = make_case(
        pump={"supply_wire_m": 400 * FOOT_M},
        week={"loop_resistance_high_ohm": None, "frequency_p95_hz": top_hz},
    )

    (found,) = judge(case)

    assert ("which this week did not reach" in found.summary) is is_said
    assert ("would lose" in found.summary) is is_said


def test_supply_amps_logged_below_full_speed_are_the_least_at_full_speed(make_case):
    week = {"frequency_p95_hz": 50.0, "input_current_p95_a": 11.0}
    case = make_case(pump={"rated_amps": 6.0}, week=week)

    amps, low_share, _ = full_speed_supply_a(case)

    assert amps * low_share == pytest.approx(11.0)


def test_a_wire_that_measures_less_than_recorded_is_not_called_thin(make_case):
    case = {
        "pump": {"supply_wire_m": 400 * FOOT_M},
        "week": {"loop_resistance_high_ohm": 0.36},
    }

    assert broken(make_case, **case) == []


AT_THE_TOP = {"f0_hz": 58.5, "frequency_p05_hz": 58.4, "frequency_p95_hz": 60.0}


@pytest.mark.parametrize(
    ("case", "is_broken"),
    [
        ({"week": AT_THE_TOP}, True),
        ({"week": AT_THE_TOP | {"frequency_p05_hz": 50.0}}, False),
        ({"week": AT_THE_TOP, "past": [{"f0_hz": 55.0}] * 4}, False),
        ({"week": AT_THE_TOP, "curve": SHUTOFF_100_PSI}, False),
    ],
    ids=["no reserve", "stops out of high flow", "worn since", "the curve has reserve"],
)
def test_a_set_pressure_beyond_the_pump(make_case, case, is_broken):
    assert broken(make_case, **case) == (
        [("pressure_setting", "set_beyond_pump")] if is_broken else []
    )


@pytest.mark.parametrize(
    ("pump", "week", "column"),
    [
        ({"service_factor_amps": 2.8}, {}, "service_factor_amps"),
        (
            {"supply_volts": 115.0, "motor_volts": 115.0},
            {"idle_v_p05": 230.0, "idle_v_p95": 234.0},
            "supply_volts",
        ),
        ({"max_hz": 50.0}, {}, "max_hz"),
        (
            {},
            {
                "held_pressure_kpa": 48 * PSI_KPA,
                "stop_pressure_kpa": 48 * PSI_KPA,
                "restart_pressure_kpa": 43 * PSI_KPA,
            },
            "pressure_setting",
        ),
        (
            {},
            {
                "held_pressure_kpa": 72 * PSI_KPA,
                "stop_pressure_kpa": 72 * PSI_KPA,
                "restart_pressure_kpa": 66 * PSI_KPA,
            },
            "pressure_setting",
        ),
    ],
)
def test_a_figure_the_log_does_not_bear_out(make_case, pump, week, column):
    (found,) = judge(make_case(pump=pump, week=week))

    assert found.cause == column
    assert found.measures["rule"] == "register_vs_log"


@pytest.mark.parametrize(
    "week",
    [
        {
            "held_pressure_kpa": 48 * PSI_KPA,
            "stop_pressure_kpa": 48 * PSI_KPA,
            "restart_pressure_kpa": 43 * PSI_KPA,
            "at_max_s": 20_000.0,
        },
        {"held_pressure_kpa": 48 * PSI_KPA, "stop_pressure_kpa": 60 * PSI_KPA},
        {
            "held_pressure_kpa": 53 * PSI_KPA,
            "stop_pressure_kpa": 53 * PSI_KPA,
            "restart_pressure_kpa": 61 * PSI_KPA,
        },
        {"held_pressure_kpa": 58 * PSI_KPA, "stop_pressure_kpa": 58 * PSI_KPA},
        {
            "held_pressure_kpa": 68 * PSI_KPA,
            "stop_pressure_kpa": 68 * PSI_KPA,
            "restart_pressure_kpa": 52 * PSI_KPA,
        },
    ],
    ids=[
        "cannot do more",
        "stops at its setting",
        "log slower than its cycles",
        "within 5 %",
        "fills the tank above its setting",
    ],
)
def test_a_pressure_that_proves_nothing_against_the_register(make_case, week):
    assert broken(make_case, week=week) == []


def test_a_contradiction_holds_back_the_rules_that_rest_on_it(make_case):
    case = make_case(
        pump={"service_factor_amps": 2.8, "rated_amps": 2.4, "overload_setting_amps": 2.8}
    )

    assert rules_broken(judge(case)) == [("service_factor_amps", "register_vs_log")]
    assert any(
        text == "overload_too_low: held back, service_factor_amps contradicts the log"
        for text in unassessed(case)
    )


def test_what_the_register_lacks_is_listed_not_guessed(make_case):
    case = make_case(pump={"motor_lead_m": None, "tank_l": None, "supply_phases": 3})

    assert unassessed(case) == (
        "tank_small: no tank_l in the register",
        "lead_filter: no motor_lead_m in the register",
    )


def test_a_register_of_blanks_is_not_assessed(make_case):
    blank = dict.fromkeys(
        (
            "motor_volts",
            "rated_amps",
            "service_factor_amps",
            "overload_setting_amps",
            "supply_volts",
            "pressure_setting_kpa",
            "tank_l",
            "precharge_kpa",
            "suction",
            "suction_kpa",
            "ramp",
            "supply_wire_mm2",
            "supply_wire_m",
            "motor_lead_m",
            "output_filter",
        )
    )

    verdict = judge(make_case(pump=blank))

    assert isinstance(verdict, NotAssessed)
    assert "precharge: no precharge_kpa in the register" in verdict.reason


def test_no_rule_proposes_a_higher_overload_setting(make_case):
    for pump in ({"overload_setting_amps": 5.3}, {"overload_setting_amps": 9.9}):
        (found,) = setting.judge(make_case(pump=pump))

        told = f"{found.summary} {found.measures['expected']}".lower()
        assert "raise" not in told
        assert "increase" not in told
