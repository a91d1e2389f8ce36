"""What of a long past counts, and that what is read is no more than that."""

from itertools import pairwise
from types import ModuleType

import pytest

from analysis.limits import LONG_PAST_STEP_WEEKS, LONG_PAST_WEEKS, PAST_WEEKS
from analysis.past import long_past, recent, recent_since, up_to_week
from ingest.weeks import Week, parse_week

W47 = Week(2026, 47)
ALL = [W47.plus(-n) for n in range(400, -1, -1)]


def names(weeks) -> list[str]:
    return [one.week for one in weeks]


def test_each_week_of_the_recent_past_counts_and_one_a_quarter_before(
    case_factory: ModuleType,
) -> None:
    weeks = [case_factory.healthy_week(name) for name in ALL]

    counted = names(up_to_week(weeks, str(W47)))

    assert counted[-27:] == [str(W47.plus(-n)) for n in range(26, -1, -1)]
    older = [parse_week(name).monday for name in counted[:-27]]
    apart = {(b - a).days // 7 for a, b in pairwise(older)}
    assert apart == {LONG_PAST_STEP_WEEKS.value}
    assert (W47.monday - older[0]).days / 7 <= LONG_PAST_WEEKS.value


def test_the_weeks_that_stand_for_theirs_are_the_same_a_week_later() -> None:
    now, later = long_past(str(W47)), long_past(str(W47.plus(1)))

    assert len(now ^ later) <= 2


def test_of_a_pump_long_silent_the_last_week_counts(case_factory: ModuleType) -> None:
    silent_for = int(PAST_WEEKS.value) + 40
    before = [case_factory.healthy_week(W47.plus(-silent_for - n)) for n in (1, 0)]
    weeks = [*before, case_factory.healthy_week(W47)]

    counted = up_to_week(weeks, str(W47))

    assert names(counted)[-2:] == [str(W47.plus(-silent_for)), str(W47)]
    assert names(recent(counted[:-1], str(W47))) == [str(W47.plus(-silent_for))]


@pytest.mark.parametrize("n", [1, 26])
def test_a_past_of_half_a_year_counts_whole(case_factory: ModuleType, n: int) -> None:
    weeks = [case_factory.healthy_week(W47.plus(-back)) for back in range(n, -1, -1)]

    assert up_to_week(weeks, str(W47)) == weeks
    assert recent_since(str(W47)) <= weeks[0].week
