from datetime import date, timedelta
from types import ModuleType
from typing import Any

import pytest

from analysis.fix_weeks import SIZE_NAMES, FixWeeks, fixes_at, size_text
from analysis.memory import SIZE_OF
from analysis.visit_report import SIZE_IN_RECORD
from ingest.installed_base import Register, Site, Visit
from ingest.weeks import Week

WEEK = Week(2026, 47)
SITE = Site(site_id="S-01")


def fix(weeks_ago: int = 2, **change: Any) -> Visit:
    values: dict[str, Any] = {
        "visited_on": WEEK.plus(-weeks_ago).monday + timedelta(days=1),
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": "short_cycling",
        "outcome": "fixed",
    }
    return Visit(**(values | change))


@pytest.fixture
def around(case_factory: ModuleType) -> Any:
    """Return the fixes of a pump that started 900 times a day until two weeks ago, then 60."""

    def make(*visits: Visit, up_to: str | None = str(WEEK)) -> tuple[FixWeeks, ...]:
        weeks = [
            case_factory.healthy_week(WEEK.plus(-n), starts_per_day=900.0 if n >= 2 else 60.0)
            for n in range(12, -1, -1)
        ]
        return fixes_at(Register(visits=visits), SITE, [], {"P-01": weeks}, up_to)

    return make


def test_before_and_after_are_the_last_weeks_on_either_side_of_the_visits_own(around: Any):
    (told,) = around(fix())

    assert (told.before.size, told.before.monday) == (900.0, WEEK.plus(-3).monday)
    assert (told.after.size, told.after.monday) == (60.0, WEEK.monday)
    assert told.text("us") == "Starts a day: 900 before, 60 now."


def test_eight_weeks_before_are_shown(around: Any):
    (told,) = around(fix())

    assert told.weeks[0].monday == WEEK.plus(-10).monday
    assert len(told.weeks) == 11


def test_a_fix_of_this_week_has_no_after_yet(around: Any):
    (told,) = around(fix(0))

    assert told.after is None
    assert told.text("us") == "Starts a day: 60 before, not known now."


@pytest.mark.parametrize(
    "visit",
    [
        fix(outcome="confirmed"),
        fix(pump_id=None),
        fix(kind="setting"),  # no measure of size
        fix(kind="dry_running"),
        fix(kind="nothing known"),
        fix(site_id="S-02"),
        fix(13),  # older than the quarter shown
        fix(visited_on=WEEK.monday + timedelta(days=7)),  # not yet
    ],
)
def test_what_is_no_recent_fix_with_a_size_is_not_shown(around: Any, visit: Visit):
    assert around(visit) == ()


def test_the_latest_fix_comes_first(around: Any):
    told = around(fix(5), fix(2))

    assert [one.visit.visited_on for one in told] == [date(2026, 11, 3), date(2026, 10, 13)]


def test_every_measure_of_a_size_in_the_record_can_be_said():
    sized = {name for name, _ in SIZE_OF.values() if name in SIZE_IN_RECORD}

    assert sized == set(SIZE_NAMES)


@pytest.mark.parametrize(
    ("measure", "size", "text"),
    [
        ("starts_per_day", 910.4, "910"),
        ("voltage_min_pct", 88.2, "88 %"),
        ("current_p95_a", 6.94, "6.9 A"),
        ("leak_lpm", 0.5, "0.50 L/min"),
        ("leak_lpm", 0.0, "under 0.020 L/min"),
        ("gap_s", 7200.0, "2 h"),
        ("swing_kpa", 41.2, "41 kPa"),
    ],
)
def test_sizes_are_said_as_a_sensor_of_the_trade_shows_them(measure: str, size: float, text: str):
    assert size_text(measure, size, "si") == text
