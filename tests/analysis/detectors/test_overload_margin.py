import pytest

from analysis.case import CurrentDrift
from analysis.detectors.overload_margin import judge
from analysis.expected_current import fit_expected_current
from analysis.findings import NotAssessed
from analysis.records import OpMapBin
from ingest.installed_base import Pump
from ingest.weeks import Week


def drift(pct, low, high, n_weeks=6):
    return CurrentDrift(
        pct_per_week=pct,
        low_pct_per_week=low,
        high_pct_per_week=high,
        total_pct=pct * (n_weeks - 1),
        n_weeks=n_weeks,
        n_bins=12,
    )


STEADY = drift(0.05, -0.15, 0.25)


def only(verdict):
    (judged,) = verdict
    return judged


def at(amps, **change):
    """A week and days whose settled 95th percentile is so many amps (6.9 A service-factor)."""
    return {"week": {"current_p95_a": amps, **change}, "every_day": {"current_p95_a": amps}}


def test_a_quarter_of_margin_is_clear(make_case):
    assert judge(make_case(**at(5.2), drift=STEADY)) == ()


# margin % = (6.9 - p95) / 6.9: 6.25 A leaves 9.4 %, 6.1 A leaves 11.6 %
@pytest.mark.parametrize(
    ("amps", "consequence"), [(6.10, None), (6.25, 2), (6.65, 3)], ids=["11.6 %", "9.4 %", "3.6 %"]
)
def test_margin_under_a_tenth_is_worn_by_degrees(make_case, amps, consequence):
    verdict = judge(make_case(**at(amps), drift=STEADY))

    assert [found.consequence for found in verdict] == ([consequence] if consequence else [])
    assert all(found.cause == "high_load" for found in verdict)


def test_one_heavy_day_is_no_thin_margin(make_case):
    case = make_case(
        week={"current_p95_a": 6.3},
        each_day=[{"current_p95_a": 6.8}, *([{"current_p95_a": 5.2}] * 6)],
    )

    assert judge(case) == ()


def test_over_the_limit_on_several_days_is_damage_within_days(make_case):
    case = make_case(
        week={"current_p95_a": 7.2, "over_limit_s": 9_000.0},
        every_day={"current_p95_a": 7.2, "over_limit_s": 1_300.0},
        drift=STEADY,
    )

    found = only(judge(case))

    assert (found.consequence, found.cause) == (4, "high_load")
    assert found.measures["overload_margin_pct"] == pytest.approx(-4.35, abs=0.01)


def test_scattered_readings_over_the_limit_are_not_over_it(make_case):
    case = make_case(
        week={"current_p95_a": 5.9, "over_limit_s": 150.0},
        every_day={"current_p95_a": 5.9, "over_limit_s": 21.0},
    )

    assert judge(case) == ()


@pytest.mark.parametrize(
    "name", ["current_p95_a", "overload_margin_pct", "over_limit_s", "drift_pct_per_week"]
)
def test_the_measures_of_the_contract_are_there(make_case, name):
    found = only(judge(make_case(**at(6.6), drift=STEADY)))

    assert found.measures[name] is not None


def test_margins_to_rated_amps_and_setting_are_told_too(make_case):
    found = only(
        judge(make_case(**at(6.6), pump={"rated_amps": 6.0, "overload_setting_amps": 6.6}))
    )

    assert found.measures["rated_margin_pct"] == pytest.approx(-10.0)
    assert found.measures["setting_margin_pct"] == pytest.approx(0.0)


# common practice: 0.5 % a week is worth a line, 5 % in 8 weeks a visit
@pytest.mark.parametrize(
    ("seen", "consequence"),
    [
        (drift(0.7, 0.5, 0.9), 2),
        (drift(0.7, 0.5, 0.9, n_weeks=9), 3),
        (drift(0.7, -0.1, 1.5), None),
        (drift(0.4, 0.3, 0.5), None),
        (drift(0.7, 0.5, 0.9, n_weeks=3), None),
        (drift(-0.7, -0.9, -0.5), None),
    ],
    ids=["a line", "a visit", "interval holds zero", "too slow", "too short", "falling"],
)
def test_current_that_rises_like_for_like_counts_only_when_sure(make_case, seen, consequence):
    verdict = judge(make_case(**at(5.2), past=seen.n_weeks - 1, drift=seen))

    assert [found.consequence for found in verdict] == ([consequence] if consequence else [])
    assert all(found.cause == "rising_load" for found in verdict)


def test_a_load_that_ate_its_margin_is_rising(make_case):
    found = only(judge(make_case(**at(6.5), past=5, drift=drift(1.6, 1.2, 2.0))))

    assert found.cause == "rising_load"
    assert "has risen 8 %" in found.summary


def test_a_slow_rise_on_a_load_that_was_always_high_is_high_load(make_case):
    found = only(judge(make_case(**at(6.8), past=5, drift=drift(0.6, 0.3, 0.9))))

    assert found.cause == "high_load"


def test_a_step_against_weeks_that_ran_as_fast_is_rising(make_case):
    before = [{"current_p95_a": 5.7, "frequency_p95_hz": 53.0}] * 3

    found = only(judge(make_case(**at(6.5), past=before)))

    assert found.cause == "rising_load"


def test_a_step_counts_from_its_first_day_not_from_when_margin_was_thin(make_case):
    thin = {"current_p95_a": 6.3}
    case = make_case(
        week={"current_p95_a": 7.4, "frequency_p95_hz": 53.0},
        each_day=[*([thin] * 4), *([{"current_p95_a": 7.4, "over_limit_s": 5_000.0}] * 3)],
        past=[thin | {"frequency_p95_hz": 53.0}] * 3,
        past_every_day=thin,
        drift=drift(3.0, -2.0, 8.0, n_weeks=4),
    )

    found = only(judge(case))

    assert (found.cause, found.since_at) == ("rising_load", case.days[4].from_at)
    assert "as far back as" not in found.summary


def test_more_current_at_more_speed_is_no_rise(make_case):
    before = [{"current_p95_a": 5.7, "frequency_p95_hz": 50.0}] * 3

    found = only(judge(make_case(**at(6.5), past=before)))

    assert found.cause == "high_load"


CLIPPED = {"current_p95_a": 6.2, "ceiling_a": 6.2, "clip_s": 5_000.0}


def test_current_held_at_a_ceiling_short_of_pressure_is_found_with_margin_left(make_case):
    case = make_case(
        pump={"overload_setting_amps": 6.2, "service_factor_amps": 7.4},
        week=CLIPPED,
        every_day={"current_p95_a": 6.2, "clip_s": 700.0},
        drift=STEADY,
    )

    found = only(judge(case))

    assert found.cause == "high_load"
    assert "holds it at 6.2 A by slowing down" in found.summary


def test_a_minute_at_the_ceiling_is_no_clipping(make_case):
    case = make_case(
        pump={"service_factor_amps": 7.4},
        week=CLIPPED | {"clip_s": 90.0},
        every_day={"current_p95_a": 6.2, "clip_s": 13.0},
    )

    assert judge(case) == ()


def test_a_ceiling_far_below_every_registered_limit_is_no_clipping(make_case):
    case = make_case(
        pump={"service_factor_amps": 11.0, "overload_setting_amps": 11.0, "rated_amps": 9.6},
        week=CLIPPED,
        every_day={"current_p95_a": 6.2, "clip_s": 700.0},
    )

    assert judge(case) == ()


def test_a_thermal_state_near_trip_makes_it_urgent(make_case):
    cool = only(judge(make_case(**at(6.6, thermal_max_pct=80.0))))
    hot = only(judge(make_case(**at(6.6, thermal_max_pct=97.0))))

    assert (cool.consequence, hot.consequence) == (3, 4)


@pytest.mark.parametrize(
    "week",
    [
        {"current_p50_a": 11.0, "current_p95_a": 12.0},
        {"current_p50_a": 7.4, "current_p95_a": 10.4},
    ],
)
def test_amps_no_motor_of_that_nameplate_could_carry_are_held_back(make_case, week):
    verdict = judge(make_case(week=week, every_day={"current_p95_a": week["current_p95_a"]}))

    assert isinstance(verdict, NotAssessed)
    assert "service_factor_amps is 6.9 A in the register" in verdict.reason


def test_without_settled_running_it_is_not_assessed(make_case):
    verdict = judge(make_case(week={"current_p95_a": None}))

    assert verdict == NotAssessed(reason="no settled running with motor current this week")


def test_an_averaging_logger_makes_it_less_sure(make_case):
    instants = only(judge(make_case(**at(6.6))))
    means = only(judge(make_case(**at(6.6, is_averaged=True))))

    assert means.confidence < instants.confidence


def test_weeks_too_few_to_compare_are_said(make_case):
    found = only(judge(make_case(**at(6.6))))

    assert any("It may be rising" in text for text in found.alternatives)


def test_it_never_proposes_a_higher_setting(make_case):
    found = only(judge(make_case(**at(7.2, over_limit_s=9_000.0), drift=STEADY)))

    told = " ".join([found.summary, *found.grounds, *found.alternatives]).lower()
    assert "raise the" not in told
    assert "increase the" not in told


def weeks_of_bins(n, *, last=1.0):
    """Weeks of operating maps whose current goes with speed squared; the last one scaled."""
    return tuple(
        tuple(
            OpMapBin(
                pump_id="P-01", week=str(Week(2026, 47).plus(at + 1 - n)), frequency_bin_hz=hz - 1,
                pressure_bin_pct=pct, n=200, held_s=2000.0, frequency_mean_hz=hz,
                pressure_mean_kpa=414.0 * (pct + 2.5) / 100,
                current_mean_a=(1.8 + 5.0 * (hz / 60) ** 2) * (last if at == n - 1 else 1.0),
            )
            for hz in (43.0, 45.0, 47.0, 49.0, 51.0, 53.0)
            for pct in (90.0, 95.0)
        )
        for at in range(n)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("last", "words"), [(1.06, "6 % over"), (1.0, "give or take")], ids=["risen", "as before"]
)
def test_current_is_set_against_what_earlier_weeks_let_expect(make_case, last, words):
    maps = weeks_of_bins(5, last=last)
    expected = fit_expected_current(maps, Pump(pump_id="P-01", site_id="S-01"), "2026-W47")

    found = only(
        judge(make_case(**at(6.65), drift=STEADY, op_map=maps, expected_current=expected))
    )

    off_pct = found.measures["current_off_expected_pct"]
    assert off_pct == pytest.approx(100 * (last - 1), abs=0.2)
    assert any(words in text for text in found.grounds)


def test_without_enough_past_nothing_is_expected(make_case):
    found = only(judge(make_case(**at(6.65), drift=STEADY)))

    assert found.measures["current_off_expected_pct"] is None
    assert not any("let expect" in text for text in found.grounds)
