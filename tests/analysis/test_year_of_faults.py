"""An invented year of 200 pumps with known ills: what the page must find, and what not fall for.

The truth is that of ``sample_data/year.py``; the seeds were not chosen by the outcome.
"""

from dataclasses import dataclass
from types import ModuleType

import pytest

from analysis.fault_history import histories_of
from analysis.fault_report import FaultReport, fault_report
from analysis.findings import Kind
from analysis.recurrence_apart import Verdict
from analysis.recurrence_groups import GroupRate
from analysis.recurrence_trend import Trend
from sample_data.year import BAD_CREW, BAD_MODEL, BAD_REGION, make_year

pytestmark = pytest.mark.slow

SEEDS = (47, 101, 102)
RISING = "2026-W28"  # the irrigation wave began eight weeks before
END = "2026-W47"


@dataclass(frozen=True)
class Told:
    """What is said at the end of the year, and while the wave rises."""

    end: FaultReport
    rising: FaultReport


@pytest.fixture(scope="module")
def told_by_seed(year_of_faults: ModuleType) -> dict[int, Told]:
    told = {}
    for seed in SEEDS:
        year = make_year(seed)
        register = year_of_faults.as_register(year)
        end, rising = (
            fault_report(week, histories_of(*year_of_faults.as_answers(year, week)), register)
            for week in (END, RISING)
        )
        told[seed] = Told(end, rising)
    return told


@pytest.fixture(params=SEEDS)
def told(request: pytest.FixtureRequest, told_by_seed: dict[int, Told]) -> Told:
    return told_by_seed[request.param]


def test_the_bad_installer_is_named_first_with_limits_that_exclude_the_fleets_rate(told: Told):
    first = told.end.recurrence.standing_out[0]

    assert (first.kind, first.cause) == (Kind.SHORT_CYCLING, "tank_charge_lost")
    assert (first.grouping, first.group) == ("installer", BAD_CREW)
    assert first.verdict is Verdict.MORE
    assert first.low_times_fleet is not None
    assert first.low_times_fleet > 1.0
    fleet = (first.rate.n_found + first.rest.n_found) / (
        first.rate.n_observed + first.rest.n_observed
    )
    assert first.rate.low_per_100 > 100.0 * fleet


def of_bad_model(report: FaultReport) -> list[GroupRate]:
    return [
        each
        for each in report.recurrence.groups
        if each.kind is Kind.OVERLOAD_MARGIN and each.group in (BAD_MODEL, BAD_REGION)
    ]


def test_a_model_and_the_only_region_it_stands_in_are_never_told_apart(told: Told):
    both = of_bad_model(told.end)

    assert len(both) == 2
    assert all(each.verdict in (Verdict.ENTANGLED, Verdict.NONE) for each in both)
    for each in both:
        if each.verdict is Verdict.ENTANGLED:
            (other,) = {BAD_MODEL, BAD_REGION} - {each.group}
            assert other in {group for _, group in each.beside}


def test_neither_the_grown_fleet_nor_the_season_is_called_a_worsening(told: Told):
    for report in (told.rising, told.end):
        assert [c.kind for c in report.trends.cohorts if c.verdict is Trend.WORSE] == []
        assert [t for t in report.trends.long if t.verdict is Trend.WORSE] == []


def test_most_seeds_show_the_bad_model_at_all(told_by_seed: dict[int, Told]):
    seen = [
        any(each.verdict is Verdict.ENTANGLED for each in of_bad_model(told.end))
        for told in told_by_seed.values()
    ]

    assert sum(seen) >= 2
