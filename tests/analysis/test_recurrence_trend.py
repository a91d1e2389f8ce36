import pytest

from analysis.fault_history import FaultHistory, Spell
from analysis.findings import Kind
from analysis.recurrence_trend import Trend, Trends, trends
from ingest.installed_base import Pump, Register, Site
from ingest.weeks import parse_week

WEEK = "2026-W47"
LAST = (parse_week(WEEK).monday.toordinal() - 1) // 7


def pump(pump_id: str, first: int, *begins: int) -> FaultHistory:
    """One pump judged every week from ``first`` weeks before the last; faults likewise."""
    weeks = tuple(LAST - n for n in sorted(begins, reverse=True))
    return FaultHistory(
        pump_id=pump_id,
        kind=Kind.LEAK,
        judged=tuple(range(LAST - first, LAST + 1)),
        spells=tuple(Spell(begins=week, ends=week) for week in weeks),
        causes=dict.fromkeys(weeks, ""),
        events=len(weeks),
    )


def judge(histories: list[FaultHistory], group: dict[str, str] | None = None) -> Trends:
    names = group or {}
    pumps = {
        h.pump_id: Pump(pump_id=h.pump_id, site_id="S", pump_model=names.get(h.pump_id))
        for h in histories
    }
    return trends(WEEK, histories, Register(sites={"S": Site(site_id="S")}, pumps=pumps))


def leak_cohort(told: Trends):
    return next(each for each in told.cohorts if each.kind is Kind.LEAK)


def test_more_at_the_same_pumps_is_not_worse_while_the_season_is_unknown():
    told = judge([pump(f"P{n}", 30, *([n % 6] if n < 24 else [])) for n in range(60)])

    cohort = leak_cohort(told)
    assert (cohort.own.early, cohort.own.late) == (0, 24)
    assert cohort.verdict is Trend.MORE_SEASON


def test_more_than_last_year_at_this_season_is_getting_worse():
    fleet = [pump(f"P{n}", 80, *([n % 6] if n < 24 else [])) for n in range(60)]
    fleet += [pump(f"Q{n}", 80, 52 + n) for n in range(12)]  # last year: as many in each half

    cohort = leak_cohort(judge(fleet))

    assert cohort.last_year is not None
    assert (cohort.last_year.early, cohort.last_year.late) == (6, 6)
    assert cohort.verdict is Trend.WORSE


def test_a_rise_that_came_last_year_too_is_the_season():
    fleet = [pump(f"P{n}", 80, *([n % 6, 52 + n % 6] if n < 24 else [])) for n in range(60)]

    assert leak_cohort(judge(fleet)).verdict is Trend.AS_LAST_YEAR


def test_pumps_that_joined_lately_do_not_count_as_a_worsening():
    old = [pump(f"P{n}", 30, *([n % 13] if n < 13 else [])) for n in range(60)]
    new = [pump(f"Q{n}", 4, n % 3) for n in range(50)]

    cohort = leak_cohort(judge(old + new))

    assert cohort.n_pumps == 60
    assert cohort.all_begun[1] - cohort.own.late == 50
    assert cohort.verdict is Trend.STEADY


def test_a_record_of_seven_weeks_compares_nothing():
    assert judge([pump(f"P{n}", 6, 1) for n in range(30)]).cohorts == ()


def test_a_group_that_gets_worse_while_the_others_are_steady_is_named():
    bad = [pump(f"A{n}", 51, n % 12, 13 + n % 9) for n in range(15)]
    rest = [pump(f"B{n}", 51, (7 * n) % 50) for n in range(45)]
    names = {h.pump_id: "bad" for h in bad} | {h.pump_id: "good" for h in rest}

    told = judge(bad + rest, names)

    of_models = {t.group: t.verdict for t in told.long if t.grouping == "pump_model"}
    assert of_models == {"bad": Trend.WORSE, "good": Trend.STEADY}


def test_a_wave_that_all_pumps_share_is_not_a_worsening_of_any_group():
    fleet = [pump(f"P{n}", 51, n % 8, 10 + n % 5) for n in range(60)]
    names = {h.pump_id: f"model {n % 3}" for n, h in enumerate(fleet)}

    told = judge(fleet, names)

    verdicts = {t.verdict for t in told.long}
    assert Trend.WORSE not in verdicts
    assert Trend.AS_OTHERS in verdicts
    (whole,) = (t for t in told.long if not t.grouping)
    assert whole.verdict is Trend.MORE_SEASON
    assert whole.shape is not None
    assert whole.shape > 1.0


def test_one_pump_that_fails_ever_faster_is_named_once_two_years_are_on_record():
    steady = [pump(f"P{n}", 110, (11 * n) % 105, (17 * n + 3) % 105) for n in range(20)]
    lemon = pump("L", 110, 1, 3, 6, 9, 13, 17, 22, 40)

    told = judge([*steady, lemon])

    (of_pump,) = (t for t in told.long if t.grouping == "pump" and t.group == "L")
    assert of_pump.verdict is Trend.WORSE


@pytest.mark.parametrize("n_events", [0, 4])
def test_too_few_faults_are_too_few_to_say(n_events: int):
    told = judge([pump(f"P{n}", 30, *([n] if n < n_events else [])) for n in range(20)])

    assert leak_cohort(told).verdict is Trend.TOO_FEW
    assert told.long == ()
