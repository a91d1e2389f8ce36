from dataclasses import replace
from datetime import datetime, timedelta
from math import log
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from analysis.call_rules import TRUCK_ACTIONS, Action, action_for
from analysis.calls import rank_calls
from analysis.context import Fleet
from analysis.findings import SEVERITY_OF_CONSEQUENCE, Finding, Judged, Kind
from analysis.history import History
from analysis.judging import judge_week
from analysis.learned_confidence import (
    OUTCOMES_MIN,
    PRIOR_SD,
    Learned,
    Outcome,
    fit_shift,
    learn,
    origin_text,
    outcomes_before,
    recalibrated,
)
from ingest.installed_base import Register, Visit
from ingest.weeks import Week

WEEK = Week(2026, 47)
ENOUGH = int(OUTCOMES_MIN.value)


def finding(pump: str = "P-01", weeks_ago: int = 2, **change: Any) -> Finding:
    week = WEEK.plus(-weeks_ago)
    values: dict[str, Any] = {
        "week": str(week),
        "site_id": "S-01",
        "pump_id": pump,
        "kind": Kind.SHORT_CYCLING,
        "cause": "tank_charge_lost",
        "severity": SEVERITY_OF_CONSEQUENCE[3],
        "confidence": 0.8,
        "first_seen": datetime.combine(week.monday, datetime.min.time()),
        "last_seen": datetime.combine(week.monday, datetime.min.time()),
        "measures": {"starts_per_day": 400.0},
        "summary": "",
        "limit_source": "",
        "consequence": 3,
        "state": "same",
    }
    return Finding(**(values | change))


def visit(
    pump: str = "P-01", weeks_ago: int = 2, outcome: str = "confirmed", **change: Any
) -> Visit:
    values: dict[str, Any] = {
        "visited_on": WEEK.plus(-weeks_ago).monday,
        "site_id": "S-01",
        "pump_id": pump,
        "kind": "short_cycling",
        "outcome": outcome,
    }
    return Visit(**(values | change))


def judged(
    confidence: float = 0.8, kind: Kind = Kind.SHORT_CYCLING, consequence: int = 3
) -> Judged:
    return Judged(
        kind=kind,
        cause="",
        consequence=consequence,
        confidence=confidence,
        since_at=datetime(2026, 11, 16),
        until_at=datetime(2026, 11, 22),
        measures={},
        summary="",
        limit_source="",
    )


def seen(*visits: Visit, findings: tuple[Finding, ...] = (finding(),)) -> list[Outcome]:
    known = {(f.pump_id, f.kind, f.week): f for f in findings}
    return outcomes_before(str(WEEK), visits, lambda *key: known.get(key))


def outcomes(n_right: int, n_wrong: int, stated: float = 0.8) -> list[Outcome]:
    return [
        Outcome(kind=Kind.SHORT_CYCLING, stated=stated, is_right=n < n_right)
        for n in range(n_right + n_wrong)
    ]


def test_below_enough_visits_the_stated_grounds_stand():
    learned = learn(outcomes(0, ENOUGH - 1))

    assert learned[Kind.SHORT_CYCLING].shift is None
    assert recalibrated(judged(), learned) == judged()


def test_visits_that_found_less_than_stated_make_a_kind_less_sure_and_more_surer():
    worse, better = learn(outcomes(8, 12)), learn(outcomes(20, 0, stated=0.6))

    assert recalibrated(judged(0.8), worse).confidence < 0.8
    assert recalibrated(judged(0.6), better).confidence > 0.6


def test_visits_that_found_what_was_stated_change_nothing():
    assert recalibrated(judged(0.8), learn(outcomes(16, 4))).confidence == 0.8


def test_more_visits_of_the_same_share_come_closer_to_that_share():
    told = [
        recalibrated(judged(0.8), learn(outcomes(n, n))).confidence for n in (10, 40, 160, 2000)
    ]

    assert told == sorted(told, reverse=True)
    assert 0.5 < told[0] < 0.8
    assert told[-1] == pytest.approx(0.5, abs=0.01)


def test_all_right_never_makes_a_kind_certain():
    assert recalibrated(judged(0.9), learn(outcomes(20, 0, stated=0.9))).confidence < 1.0


def test_the_shift_is_that_of_a_penalised_logistic_regression():
    # scikit-learn as a second opinion: at a stated 0.5 the log-odds are 0, so the shift is the one
    # coefficient of a constant feature, and its penalty w^2 / (2 C) is the prior's with C = sd^2
    right = np.array([1] * 31 + [0] * 9)
    model = LogisticRegression(C=PRIOR_SD.value**2, fit_intercept=False, tol=1e-10, max_iter=1000)

    model.fit(np.ones((right.size, 1)), right)

    assert fit_shift([0.5] * 40, 31) == pytest.approx(float(model.coef_[0, 0]), abs=1e-5)


def test_with_many_visits_the_shift_is_the_difference_of_the_log_odds():
    # by hand: found 60 % of what was stated at 80 %; the prior's weight against 100 000 is nil
    shift = fit_shift([0.8] * 100_000, 60_000)

    assert shift == pytest.approx(log(0.6 / 0.4) - log(0.8 / 0.2), abs=1e-3)


def test_the_order_within_a_kind_stays_the_detectors():
    learned = learn(outcomes(5, 25))

    told = [recalibrated(judged(c), learned).confidence for c in (0.3, 0.5, 0.7, 0.9, 0.95)]

    assert told == sorted(told)
    assert len(set(told)) == len(told)


def test_another_kind_is_not_touched():
    learned = learn(outcomes(0, 30))

    assert recalibrated(judged(kind=Kind.LEAK), learned) == judged(kind=Kind.LEAK)


def test_an_outcome_is_what_a_visit_showed_of_the_latest_finding_before_it():
    early, late = finding(weeks_ago=4, confidence=0.6), finding(weeks_ago=3, confidence=0.7)

    (told,) = seen(visit(weeks_ago=2, outcome="not_found"), findings=(early, late))

    assert told == Outcome(kind=Kind.SHORT_CYCLING, stated=0.7, is_right=False)


def test_confirmed_and_fixed_are_right():
    assert [seen(visit(outcome=o))[0].is_right for o in ("confirmed", "fixed", "not_found")] == [
        True,
        True,
        False,
    ]


@pytest.mark.parametrize(
    "other",
    [
        visit(outcome="planned"),
        visit(pump="P-02"),
        visit(kind="leak"),
        visit(kind=None),
        visit(pump_id=None),
        visit(weeks_ago=0),  # this week's own visit is for next week's list
        visit(weeks_ago=27),
    ],
)
def test_what_tells_nothing_of_a_finding_is_no_outcome(other: Visit):
    assert seen(other, findings=(finding(), finding(weeks_ago=26))) == []


def test_a_finding_of_more_than_two_months_before_a_visit_is_another_matter():
    assert len(seen(visit(weeks_ago=2), findings=(finding(weeks_ago=10),))) == 1
    assert seen(visit(weeks_ago=2), findings=(finding(weeks_ago=11),)) == []


def test_of_several_visits_to_one_spell_the_last_counts():
    began = finding().first_seen - timedelta(days=30)
    spell = tuple(finding(weeks_ago=n, first_seen=began) for n in (4, 3, 2))

    (told,) = seen(visit(weeks_ago=4, outcome="not_found"), visit(weeks_ago=2), findings=spell)

    assert told.is_right


def test_what_was_learned_before_is_not_learned_again():
    told_before = finding(
        confidence=0.5, measures={"stated_confidence": 0.8, "confidence_visits": 30}
    )

    (told,) = seen(visit(), findings=(told_before,))

    assert told.stated == 0.8


def test_the_words_say_where_a_confidence_comes_from():
    plain = finding()
    own = replace(plain, confidence=0.48, measures={"stated_confidence": 0.8})
    learned = replace(
        plain, confidence=0.66, measures={"stated_confidence": 0.8, "confidence_visits": 24}
    )

    assert origin_text(plain) == "from stated grounds"
    assert origin_text(own) == "from stated grounds 0.80 and a visit to this pump"
    assert origin_text(learned) == "from 24 visits about this kind, stated grounds 0.80"


@pytest.mark.parametrize("kind", [Kind.DRY_RUNNING, Kind.UNDERVOLTAGE, Kind.SENSOR_FAULT])
def test_no_visits_bring_no_water_fire_or_burst_below_phone_today(kind: Kind):
    never_there = learn([Outcome(kind=kind, stated=0.95, is_right=False) for _ in range(500)])
    stated = judged(0.7, kind, consequence=5)

    now = recalibrated(stated, never_there)
    urgent = finding(kind=kind, consequence=5, confidence=now.confidence)
    (call,) = rank_calls([urgent], Register(), capacity=0)

    assert now.confidence < 0.05
    assert action_for(urgent) is Action.PHONE_TODAY
    assert call.is_within_capacity
    assert Action.PHONE_TODAY not in TRUCK_ACTIONS


@pytest.fixture
def cycling_fleet(case_factory: ModuleType) -> Any:
    """Return a fleet of one pump that starts too often, with visits to others of its kind."""

    def make(visits: tuple[Visit, ...]) -> Fleet:
        site, pump = case_factory.healthy_site(), case_factory.healthy_pump()
        record = case_factory.healthy_week(WEEK, current_p95_a=7.6, over_limit_s=40_000.0)
        return Fleet(
            register=Register(
                sites={site.site_id: site}, pumps={pump.pump_id: pump}, visits=visits
            ),
            weeks={pump.pump_id: [record]},
            days={
                pump.pump_id: case_factory.healthy_days(WEEK, every_day={"over_limit_s": 5_700})
            },
            op_map={},
        )

    return make


def history_of(n: int) -> History:
    history = History()
    for number in range(n):
        found = finding(f"P-X{number}", kind=Kind.OVERLOAD_MARGIN, confidence=0.9)
        history.findings[found.pump_id, found.kind, "", found.week] = found
    return history


def test_the_week_is_judged_in_the_light_of_the_visits(cycling_fleet: Any):
    wrong = tuple(
        visit(f"P-X{n}", outcome="not_found", kind="overload_margin") for n in range(ENOUGH)
    )

    (before,), _ = judge_week(cycling_fleet(wrong[1:]), str(WEEK), history_of(ENOUGH))
    (after,), _ = judge_week(cycling_fleet(wrong), str(WEEK), history_of(ENOUGH))

    assert before.kind is after.kind is Kind.OVERLOAD_MARGIN
    assert "stated_confidence" not in before.measures
    assert after.confidence < before.confidence
    assert after.measures["stated_confidence"] == round(before.confidence, 3)
    assert after.measures["confidence_visits"] == ENOUGH
    assert after.severity == before.severity


def test_counts_of_what_was_learned_add_up():
    told = learn(outcomes(14, 7, stated=0.75))[Kind.SHORT_CYCLING]

    assert told == Learned(
        kind=Kind.SHORT_CYCLING,
        n_right=14,
        n_wrong=7,
        n_expected=pytest.approx(15.75),  # 21 x 0.75
        shift=told.shift,
    )
    assert told.n == 21
