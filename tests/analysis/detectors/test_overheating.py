import pytest

from analysis.detectors.heat_evidence import heat_line
from analysis.detectors.overheating import judge
from analysis.findings import NotAssessed

DEGREE_F = 9 / 5


def only(verdict):
    (judged,) = verdict
    return judged


def test_a_drive_as_warm_as_ever_is_clear(make_case):
    assert judge(make_case(past=4)) == ()


def test_the_line_is_theil_sens(case_factory):
    # Sen 1968: x 1, 2, 3, 4, 10, 12, 18 and y 9, 15, 19, 20, 45, 55, 78 -> slope 4; y - 4 x is
    # 5, 7, 7, 4, 5, 7, 6, its lower quartile 5
    loads, rises = (1, 2, 3, 4, 10, 12, 18), (9, 15, 19, 20, 45, 55, 78)
    days = case_factory.healthy_days(
        each_day=[
            {"drive_load_a": float(x), "drive_hot_c": 20.0 + y, "drive_cool_c": 20.0}
            for x, y in zip(loads, rises, strict=True)
        ]
    )

    line = heat_line(days)

    assert line.per_a == pytest.approx(4.0)
    assert line.rise_c == pytest.approx(5.0)


def test_six_past_days_are_too_few_for_a_line(case_factory):
    assert heat_line(case_factory.healthy_days()[:6]) is None


# usual rise 16 C (36 over 20) at 4 A
@pytest.mark.parametrize(("hot_c", "n"), [(45.0, 0), (47.0, 1), (60.0, 1)])
def test_ten_degrees_over_its_own_past_at_like_load_are_a_finding(make_case, hot_c, n):
    case = make_case(
        week={"drive_temp_max_c": hot_c + 2}, every_day={"drive_hot_c": hot_c}, past=4
    )

    assert len(judge(case)) == n


def test_less_cooling_is_damage_within_months_and_says_so(make_case):
    case = make_case(week={"drive_temp_max_c": 62.0}, every_day={"drive_hot_c": 60.0}, past=4)

    found = only(judge(case))

    assert (found.cause, found.consequence) == ("", 3)
    assert found.measures["excess_c"] == pytest.approx(24.0)
    assert any("fan or filter" in ground for ground in found.grounds)
    # 24 C are 43 F more; 62 C are 144 F
    assert f"reached 144 F, {round(24 * DEGREE_F)} F more than its own past" in found.summary


def test_a_fan_that_fails_over_weeks_is_not_its_own_baseline(make_case, case_factory):
    case = make_case(every_day={"drive_hot_c": 54.0}, past=4)
    crept = [
        case_factory.healthy_days(
            case_factory.REPORT_WEEK.plus(n - 4), every_day={"drive_hot_c": 36.0 + 4.0 * n}
        )
        for n in range(4)
    ]
    object.__setattr__(case, "past_days", tuple(day for week in crept for day in week))

    assert only(judge(case)).measures["excess_c"] > 10.0


def test_more_load_explains_more_heat(make_case, case_factory):
    # 4 C an ampere in the past: at 7 A, 12 C more than at 4 A
    case = make_case(every_day={"drive_hot_c": 48.0, "drive_load_a": 7.0}, past=2)
    spread = [
        {"drive_load_a": load, "drive_hot_c": 20.0 + 4.0 * load}
        for load in (3.0, 4.0, 5.0, 6.0, 7.0, 4.0, 5.0)
    ]
    past = case_factory.healthy_days(case_factory.REPORT_WEEK.plus(-1), each_day=spread)
    object.__setattr__(case, "past_days", past)

    assert judge(case) == ()


def test_a_load_that_the_past_has_not_seen_is_not_compared(make_case):
    case = make_case(every_day={"drive_hot_c": 60.0, "drive_load_a": 6.0}, past=4)

    assert judge(case) == ()


def test_one_warm_day_is_no_finding(make_case):
    case = make_case(each_day=[{"drive_hot_c": 60.0}], past=4)

    assert judge(case) == ()


def test_a_cold_cellar_that_warms_up_to_a_room_is_no_finding(make_case):
    case = make_case(
        every_day={"drive_hot_c": 39.0, "drive_cool_c": 8.0, "drive_cool_max_c": 12.0}, past=4
    )

    assert judge(case) == ()


SUN = {"drive_hot_c": 66.0, "drive_cool_max_c": 52.0}


def test_sun_on_the_box_shows_at_rest_as_well_and_is_mild(make_case):
    case = make_case(week={"drive_temp_max_c": 70.0}, every_day=SUN, past=4)

    found = only(judge(case))

    assert found.consequence == 2
    assert found.measures["is_surroundings"] is True
    assert any("at rest as well" in ground for ground in found.grounds)


def test_a_warm_afternoon_that_stays_within_what_controllers_are_made_for_is_none(make_case):
    case = make_case(every_day=SUN | {"drive_hot_c": 58.0}, past=4)

    assert judge(case) == ()


# -- the level, whatever the past

HOT = {"drive_hot_c": 82.0, "hot_s": 5_400.0}


def test_a_drive_over_eighty_degrees_since_the_record_begins_is_told_mildly(make_case):
    week = {"drive_temp_max_c": 84.0, "hot_s": 37_800.0}

    found = only(judge(make_case(week=week, every_day=HOT, past=4, past_every_day=HOT)))

    assert found.consequence == 2
    assert found.measures["hot_s"] == 37_800.0
    assert any("No hotter than in its own past" in ground for ground in found.grounds)


@pytest.mark.parametrize(
    "change",
    [{"each_day": [HOT]}, {"every_day": {"hot_s": 300.0}}],
    ids=["one day", "minutes"],
)
def test_a_short_heat_is_no_finding(make_case, change):
    assert judge(make_case(week={"drive_temp_max_c": 82.0, "hot_s": 2_100.0}, **change)) == ()


def test_a_hot_tin_pump_house_that_never_folds_back_is_none(make_case):
    tin = {
        "drive_hot_c": 76.0,
        "drive_cool_c": 24.0,
        "drive_cool_max_c": 58.0,
        "hot_s": 0.0,
    }
    week = {"drive_temp_max_c": 78.0, "drive_temp_cool_c": 25.0}

    assert judge(make_case(week=week, every_day=tin, past=4, past_every_day=tin)) == ()
    assert judge(make_case(week=week, every_day=tin)) == ()


def test_fold_back_short_of_pressure_is_poor_service(make_case):
    found = only(judge(make_case(week={"fold_back_s": 5_000.0, "drive_temp_max_c": 78.0})))

    assert found.consequence == 3
    assert "cuts its speed for heat" in found.summary


def test_a_current_limit_is_no_fold_back(make_case):
    case = make_case(week={"fold_back_s": 5_000.0, "ceiling_a": 6.9, "clip_s": 5_000.0})

    assert judge(case) == ()


def test_fahrenheit_read_as_celsius_is_held_back(make_case):
    # 60 F at rest is 16 C, 104 F under load 40 C
    week = {"drive_temp_max_c": 104.0, "drive_temp_cool_c": 60.0, "hot_s": 90_000.0}

    verdict = judge(make_case(week=week, every_day={"hot_s": 12_000.0}))

    assert isinstance(verdict, NotAssessed)
    assert "Probably logged in F" in verdict.reason


@pytest.mark.parametrize("name", ["drive_temp_max_c", "hot_s"])
def test_the_measures_of_the_contract_are_there(make_case, name):
    found = only(judge(make_case(every_day={"drive_hot_c": 60.0}, past=4)))

    assert found.measures[name] is not None
