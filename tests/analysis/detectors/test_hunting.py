from datetime import timedelta

import pytest

from analysis.detectors.hunting import judge
from analysis.findings import NotAssessed

PSI_KPA = 6.894757
FAST_LOG = {"log_interval_s": 1.0, "run_interval_s": 1.0}
HUNTS = FAST_LOG | {
    "hunting_s": 12_000.0,
    "hunting_n_swings": 1_200,
    "hunting_n_spells": 260,
    "hunting_swing_kpa": 5 * PSI_KPA,
    "hunting_swing_hz": 3.1,
    "hunting_period_s": 9.8,
    "hunting_lag_s": 1.6,
}
EACH_DAY = {"hunting_s": 1_714.0}


def only(verdict):
    (judged,) = verdict
    return judged


def hunting(make_case, *, week=None, every_day=None, **more):
    return judge(make_case(week=HUNTS | (week or {}), every_day=every_day or EACH_DAY, **more))


def test_a_steady_control_in_a_fast_log_is_clear(make_case):
    assert judge(make_case(week=FAST_LOG)) == ()


@pytest.mark.parametrize(("ramp", "cause"), [("fast", "ramp_too_fast"), ("slow", ""), (None, "")])
def test_the_ramp_is_named_only_where_the_register_says_fast(make_case, ramp, cause):
    found = only(hunting(make_case, pump={"ramp": ramp}))

    assert (found.cause, found.consequence) == (cause, 2)


def test_the_measures_of_the_contract_are_there(make_case):
    found = only(hunting(make_case))

    assert found.measures["swing_kpa"] == pytest.approx(5 * PSI_KPA, abs=0.001)
    assert found.measures["period_s"] == pytest.approx(9.8)


def test_the_sentence_tells_swing_period_and_share_in_the_sites_units(make_case):
    found = only(hunting(make_case, pump={"ramp": "fast"}))

    # 12 000 s of 37 800 s of running
    assert found.summary == (
        "Pressure and speed of pump P-01 swing together by 5 psi and 3.1 Hz every 9.8 s, in 32 %"
        " of its running on 7 of 7 days; the ramp is set fast."
    )


def test_it_is_surer_the_more_of_the_running_swings(make_case):
    little = only(hunting(make_case, week={"hunting_s": 2_000.0}))
    much = only(hunting(make_case))

    assert much.confidence > little.confidence


@pytest.mark.parametrize(
    ("week", "every_day"),
    [
        ({"hunting_s": 100.0}, EACH_DAY),
        ({"hunting_n_spells": 2}, EACH_DAY),
        ({"hunting_s": 900.0}, EACH_DAY),  # 2.4 % of running: an appliance's pulse
    ],
    ids=["seconds", "two spells", "hardly any of the running"],
)
def test_a_few_swings_are_no_hunting(make_case, week, every_day):
    assert hunting(make_case, week=week, every_day=every_day) == ()


def test_swings_of_one_day_are_no_hunting(make_case):
    case = make_case(week=HUNTS, each_day=[{"hunting_s": 12_000.0}, *[{"hunting_s": 0.0}] * 6])

    assert judge(case) == ()


def test_flow_that_swings_with_it_is_a_draw_that_pulses(make_case):
    # through a fixed opening flow goes with the root of pressure (Torricelli): 8 % of pressure
    # make 4 % of flow
    steady = {"has_flow": True, "hunting_flow_lpm": 30.0, "hunting_swing_lpm": 1.4}

    assert only(hunting(make_case, week=steady)).confidence > 0.8
    assert hunting(make_case, week=steady | {"hunting_swing_lpm": 9.0}) == ()


@pytest.mark.parametrize("interval_s", [10.0, 30.0, 60.0])
def test_a_log_too_slow_to_show_a_swing_is_not_assessed(make_case, interval_s):
    slow = {
        "log_interval_s": interval_s,
        "run_interval_s": interval_s,
        "hunting_s": None,
    }

    verdict = judge(make_case(week=slow))

    assert isinstance(verdict, NotAssessed)
    assert verdict.reason.startswith(
        f"this log has one sample every {interval_s:.0f} s; hunting needs one every 2 s or faster"
    )


def test_a_log_of_five_seconds_can_find_slow_swings_but_not_rule_out_fast_ones(make_case):
    pace = {"log_interval_s": 5.0, "run_interval_s": 5.0}

    clear = judge(make_case(week=pace))
    found = hunting(make_case, week=pace | {"hunting_period_s": 24.0})

    assert isinstance(clear, NotAssessed)
    assert "ruling out hunting needs one every 2 s" in clear.reason
    assert only(found).measures["period_s"] == 24.0


def test_a_logger_that_slows_down_at_rest_is_judged_by_its_pace_while_running(make_case):
    assert judge(make_case(week={"log_interval_s": 60.0, "run_interval_s": 1.0})) == ()


def test_swings_faster_than_the_log_are_told_and_not_cleared(make_case):
    verdict = judge(make_case(week=FAST_LOG | {"fast_swing_s": 4_000.0}))

    assert isinstance(verdict, NotAssessed)
    assert "swing faster" in verdict.reason


def test_runs_too_short_to_show_five_swings_clear_nothing(make_case):
    verdict = judge(make_case(week=FAST_LOG | {"long_run_s": 200.0}))

    assert isinstance(verdict, NotAssessed)
    assert "long enough to show five swings" in verdict.reason


def test_a_pump_that_did_not_run_is_not_assessed(make_case):
    verdict = judge(
        make_case(week={"log_interval_s": 1.0, "run_interval_s": None, "hunting_s": None})
    )

    assert verdict == NotAssessed(reason="no settled running with pressure and speed this week")


def test_it_reaches_back_over_the_weeks_that_swung(make_case):
    case = make_case(week=HUNTS, every_day=EACH_DAY, past=2, past_every_day=EACH_DAY)

    found = only(judge(case))

    assert found.since_at == case.past_days[0].from_at
    assert found.until_at <= case.week.last_at + timedelta(0)
