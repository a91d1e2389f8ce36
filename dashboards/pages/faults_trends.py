"""Trends as the page of recurring faults writes them."""

from dataclasses import dataclass

from analysis.groups import GROUPINGS
from analysis.recurrence_trend import CohortTrend, LongTrend, Trend, Trends
from analysis.reliability.cohort import Halves
from analysis.wording import count_text
from dashboards import labels

QUIET = (Trend.STEADY, Trend.TOO_FEW)


@dataclass(frozen=True, kw_only=True)
class CohortLine:
    """One kind at the same pumps, half against half, with the whole fleet and last year."""

    name: str
    pumps: str
    own: str
    all_pumps: str
    last_year: str
    shape: str
    verdict: str
    is_clear: bool


@dataclass(frozen=True, kw_only=True)
class LongLine:
    """One set of pumps whose faults come faster or slower over the whole record."""

    name: str
    of: str
    begun: str
    shape: str
    laplace: str
    chance: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class TrendsText:
    """All trends; ``span`` says what was compared, ``tested`` how many sets of pumps were."""

    span: str
    cohorts: tuple[CohortLine, ...]
    long: tuple[LongLine, ...]
    tested: str


def trends_text(trends: Trends) -> TrendsText:
    """Write the trends; long ones only where they are not steady."""
    span = f"The record is {count_text(trends.n_weeks, 'week')} long"
    if trends.cohorts:
        n_weeks = trends.cohorts[0].n_weeks
        span = f"{span}; the last {n_weeks} are compared, the later half with the earlier."
    else:
        span = f"{span}: too short to compare the same pumps with themselves."
    moved = [each for each in trends.long if each.verdict not in QUIET]
    return TrendsText(
        span=span,
        cohorts=tuple(_cohort_line(each) for each in trends.cohorts if any(each.all_pumps)),
        long=tuple(_long_line(each) for each in moved),
        tested=f"{len(trends.long)} sets of pumps had faults enough to be tested;"
        f" {len(trends.long) - len(moved)} of them are steady.",
    )


def _cohort_line(each: CohortTrend) -> CohortLine:
    return CohortLine(
        name=labels.kind_text(each.kind),
        pumps=count_text(each.n_pumps, "pump"),
        own=_halves_text(each.own),
        all_pumps=f"{each.all_begun[0]} at {each.all_pumps[0]} then"
        f" {each.all_begun[1]} at {each.all_pumps[1]}",
        last_year="not on record" if each.last_year is None else _halves_text(each.last_year),
        shape="-" if each.shape is None else f"{each.shape:.2f}",
        verdict=str(each.verdict),
        is_clear=each.verdict not in QUIET,
    )


def _halves_text(halves: Halves) -> str:
    return f"{halves.early} then {halves.late}"


def _long_line(each: LongTrend) -> LongLine:
    of = "all pumps"
    if each.grouping:
        of = f"{GROUPINGS.get(each.grouping, each.grouping)} {each.group}"
    return LongLine(
        name=labels.kind_text(each.kind),
        of=of,
        begun=f"{each.n} at {count_text(each.n_pumps, 'pump')}",
        shape="-" if each.shape is None else f"{each.shape:.2f}",
        laplace=f"{each.laplace:+.1f}",
        chance=f"{each.chance:.3f}",
        verdict=str(each.verdict),
    )
