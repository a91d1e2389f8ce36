from dataclasses import replace
from datetime import timedelta

import pytest

from analysis.baseline import Baseline
from analysis.detectors import overload_margin, undervoltage
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.spells import since_words, spell_bounds
from analysis.findings import NotAssessed


def low(day):
    return day.undervoltage_s > 0


def test_a_spell_begins_at_its_first_day_and_ends_with_its_last(make_case):
    case = make_case(each_day=[{}, {"undervoltage_s": 9.0}, {}, {"undervoltage_s": 9.0}])

    since_at, until_at = spell_bounds(case, low)

    assert since_at == case.days[1].from_at
    assert until_at == case.days[4].from_at


def test_a_spell_reaches_back_into_earlier_weeks(make_case):
    case = make_case(
        past=2, past_every_day={"undervoltage_s": 9.0}, each_day=[{"undervoltage_s": 9.0}]
    )

    assert spell_bounds(case, low)[0] == case.past_days[0].from_at


def test_more_than_a_week_without_it_ends_a_spell(make_case):
    case = make_case(past=2, each_day=[{}, {}, {}, {"undervoltage_s": 9.0}])

    assert spell_bounds(case, low)[0] == case.days[3].from_at


def test_without_a_day_that_shows_it_the_spell_is_the_observed_week(make_case):
    case = make_case()

    assert spell_bounds(case, low) == (case.week.first_at, case.week.last_at)


@pytest.mark.parametrize("detector", [undervoltage, overload_margin])
def test_a_gap_does_not_clear_a_pump(make_case, detector):
    verdict = detector.judge(make_case(week={"share_missing": 0.85}))

    assert isinstance(verdict, NotAssessed)
    assert "only 15 % of the week was logged" in verdict.reason


def test_only_grounds_that_hold_are_told_and_weighed():
    confidence, texts = weigh(0.5, [Ground(True, 0.2, "seen"), Ground(False, 0.3, "not seen")])

    assert (confidence, texts) == (0.7, ("seen",))


@pytest.mark.parametrize(("weight", "least", "most"), [(9.0, 0.5, 0.99), (-9.0, 0.01, 0.5)])
def test_no_evidence_makes_a_log_certain(weight, least, most):
    confidence, _ = weigh(0.5, [Ground(True, weight, "much")])

    assert least < confidence < most


def test_since_the_logs_first_day_is_said_as_far_back_as_the_log_goes(make_case):
    case = make_case(past=2)
    begins_at = case.past[0].first_at

    assert since_words(case, begins_at) == "as far back as the log goes (Mon 2 Nov)"
    assert since_words(case, begins_at + timedelta(days=1)) == "since Tue 3 Nov"


def test_since_a_known_change_is_no_end_of_the_log(make_case):
    cut = Baseline(why="installation", cuts_past=True)
    case = replace(make_case(past=2), baseline=cut)

    assert since_words(case, case.past[0].first_at) == "since Mon 2 Nov"
