"""Is it getting worse: the same pumps compared with themselves, the season beside it.

Counts grow with the fleet and swing with the season, and neither is a worsening. So a span of
weeks is compared, half against half, for pumps that were watched in both; over the whole record
each pump's faults are placed in that pump's own watch; and "getting worse" is only said beyond
last year's change at the same season or, for a group, beyond that of all other pumps. Without
either the page says that the season is not ruled out.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from analysis.fault_history import FaultHistory, week_no
from analysis.findings import Kind
from analysis.groups import GROUPINGS, groups_of
from analysis.limits import Limit
from analysis.reliability.cohort import Halves, chance_beyond, chance_of_change
from analysis.reliability.power_law import fit_counts, fit_systems
from analysis.reliability.rates import false_discovery
from analysis.reliability.trend_tests import handbook_test, laplace_test
from ingest.installed_base import Register
from ingest.weeks import parse_week

YEAR_WEEKS = 52
COHORT_WEEKS = Limit(13, "weeks", "ours: a quarter; longer holds two seasons")
COHORT_MIN_WEEKS = Limit(8, "weeks", "ours: four and four; fewer are weather or use")
COHORT_SHARE = Limit(0.75, "of the weeks of each half judged", "ours: watched alike in both")
TREND_MIN_EVENTS = Limit(
    5, "faults begun", "common practice: Laplace's test is near to normal from four on"
)
PUMP_MIN_EVENTS = Limit(3, "faults begun", "ours: two make one interval, which shows no trend")
TREND_CHANCE_MAX = Limit(0.05, "chance", "common practice")


class Trend(StrEnum):
    """What can be said of a trend."""

    TOO_FEW = "too few to say"
    STEADY = "steady"
    WORSE = "getting worse"
    BETTER = "getting better"
    MORE_SEASON = "more than before, season not ruled out"
    LESS_SEASON = "less than before, season not ruled out"
    AS_LAST_YEAR = "changed as at this season last year"
    AS_OTHERS = "changed as at all other pumps"


@dataclass(frozen=True, kw_only=True)
class CohortTrend:
    """One kind at the same pumps, the later half of a span against the earlier.

    Attributes
    ----------
    n_pumps, n_weeks : int
        Pumps watched in both halves; weeks of the span.
    own, last_year : Halves
        Faults begun and weeks watched; last year's of the same pumps, None where not on record.
    all_begun : tuple of (int, int)
        Faults begun at all pumps in each half, new ones included.
    all_pumps : tuple of (int, int)
        Pumps watched in each half.
    shape : float or None
        Power law of the weekly counts: above 1 faster, below 1 slower; None where too few.
    chance : float
        That a steady rate changes so much, for all kinds compared at once.
    """

    kind: Kind
    n_pumps: int
    n_weeks: int
    own: Halves
    last_year: Halves | None
    all_begun: tuple[int, int]
    all_pumps: tuple[int, int]
    shape: float | None
    chance: float
    verdict: Trend


@dataclass(frozen=True, kw_only=True)
class LongTrend:
    """One kind in one group, or on one pump, over the whole record, each pump by its own watch.

    Attributes
    ----------
    grouping, group : str
        "" and "" for the whole fleet; "pump" and its id for one pump.
    n, n_pumps : int
        Faults begun after the first look; pumps watched.
    shape : float or None
        Power law's shape: above 1 worse, below 1 better.
    laplace : float
        Laplace's U: positive is worse.
    chance : float
        The larger one of Laplace's and the handbook's test, in the direction of U, for all
        compared at once.
    """

    kind: Kind
    grouping: str
    group: str
    n: int
    n_pumps: int
    shape: float | None
    laplace: float
    chance: float
    verdict: Trend


@dataclass(frozen=True, kw_only=True)
class Trends:
    """All trends up to a week.

    Attributes
    ----------
    cohorts : tuple of CohortTrend
        One a kind; empty where the record is shorter than ``COHORT_MIN_WEEKS``.
    long : tuple of LongTrend
        Fleet, groups and pumps with faults enough to be tested, by kind.
    """

    n_weeks: int
    cohorts: tuple[CohortTrend, ...]
    long: tuple[LongTrend, ...]


def trends(week: str, histories: Iterable[FaultHistory], register: Register) -> Trends:
    """Judge the trends of all kinds.

    Parameters
    ----------
    histories : iterable of FaultHistory
        Up to ``week``; of two years where there are, so that last year's season is known.
    """
    last = week_no(week)
    by_kind: dict[Kind, list[FaultHistory]] = {kind: [] for kind in Kind}
    for history in histories:
        if history.pump_id in register.pumps and history.judged:
            by_kind[history.kind].append(history)
    first = min((h.judged[0] for each in by_kind.values() for h in each), default=last)
    n_weeks = last - first + 1
    span = min(int(COHORT_WEEKS.value), n_weeks)
    cohorts = []
    if span >= COHORT_MIN_WEEKS.value:
        cohorts = [_cohort(kind, seen, last, span) for kind, seen in by_kind.items()]
    group_of = groups_of(register, parse_week(week).monday)
    long = _long_trends(by_kind, group_of, (first, last))
    return Trends(n_weeks=n_weeks, cohorts=_judged_cohorts(cohorts), long=long)


def _cohort(kind: Kind, seen: Sequence[FaultHistory], last: int, span: int) -> CohortTrend:
    middle = last - span // 2
    early, late = range(last - span + 1, middle + 1), range(middle + 1, last + 1)
    same = [h for h in seen if _is_watched(h, early) and _is_watched(h, late)]
    year = YEAR_WEEKS
    early_before = range(early.start - year, early.stop - year)
    late_before = range(late.start - year, late.stop - year)
    then = [h for h in same if _is_watched(h, early_before) and _is_watched(h, late_before)]
    return CohortTrend(
        kind=kind,
        n_pumps=len(same),
        n_weeks=span,
        own=_halves(same, early, late),
        last_year=_halves(then, early_before, late_before) if then else None,
        all_begun=(_begun(seen, early), _begun(seen, late)),
        all_pumps=(_watched(seen, early), _watched(seen, late)),
        shape=_counts_shape(same, range(early.start, late.stop)),
        chance=1.0,
        verdict=Trend.TOO_FEW,
    )


def _judged_cohorts(cohorts: Sequence[CohortTrend]) -> tuple[CohortTrend, ...]:
    """Verdicts of all kinds, luck adjusted for their number."""
    tested = [c for c in cohorts if c.own.early + c.own.late >= TREND_MIN_EVENTS.value]
    two_sided = [min(1.0, 2.0 * min(chance_of_change(c.own))) for c in tested]
    chance_of = {
        c.kind: float(chance) for c, chance in zip(tested, false_discovery(two_sided), strict=True)
    }
    return tuple(
        replace(c, chance=chance_of[c.kind], verdict=_cohort_verdict(c, chance_of[c.kind]))
        if c.kind in chance_of
        else c
        for c in cohorts
    )


def _cohort_verdict(cohort: CohortTrend, chance: float) -> Trend:
    if chance > TREND_CHANCE_MAX.value:
        return Trend.STEADY
    more, less = chance_of_change(cohort.own)
    is_worse = more < less
    before = cohort.last_year
    if before is None or before.early + before.late == 0:
        return Trend.MORE_SEASON if is_worse else Trend.LESS_SEASON
    beyond = chance_beyond(cohort.own, before)[0 if is_worse else 1]
    if beyond > TREND_CHANCE_MAX.value:
        return Trend.AS_LAST_YEAR
    return Trend.WORSE if is_worse else Trend.BETTER


def _long_trends(
    by_kind: Mapping[Kind, Sequence[FaultHistory]],
    group_of: Mapping[str, Mapping[str, str]],
    span: tuple[int, int],
) -> tuple[LongTrend, ...]:
    """Trends of fleet, groups and pumps, kind by kind; luck adjusted over all of them.

    A trend of less than two years must also be beyond that of all other pumps, which had the
    same seasons.
    """
    is_season_known = span[1] - span[0] + 1 >= 2 * YEAR_WEEKS
    found: list[LongTrend] = []
    guarded: list[float | None] = []
    for kind, seen in by_kind.items():
        of_all = _in_halves(seen, span)
        for grouping, group, inside in _sets(seen, group_of):
            trend = _long_trend(kind, grouping, group, inside)
            if trend is not None:
                guard = 0.0 if is_season_known else _beyond_others(trend, inside, of_all, span)
                found.append(trend)
                guarded.append(None if guard is None else max(guard, trend.chance))
    alone = false_discovery([trend.chance for trend in found])
    beyond = false_discovery([1.0 if guard is None else guard for guard in guarded])
    return tuple(
        replace(
            trend,
            chance=float(chance),
            verdict=_long_verdict(trend, float(chance), None if guard is None else float(past)),
        )
        for trend, chance, guard, past in zip(found, alone, guarded, beyond, strict=True)
    )


def _sets(
    seen: Sequence[FaultHistory], group_of: Mapping[str, Mapping[str, str]]
) -> list[tuple[str, str, Sequence[FaultHistory]]]:
    """The whole fleet, each group, and each pump with faults enough."""
    sets: list[tuple[str, str, Sequence[FaultHistory]]] = [("", "", seen)]
    for grouping in GROUPINGS:
        members: dict[str, list[FaultHistory]] = {}
        for history in seen:
            members.setdefault(group_of[grouping][history.pump_id], []).append(history)
        if len(members) > 1:
            sets += [(grouping, group, of_group) for group, of_group in sorted(members.items())]
    often = [h for h in seen if len(h.begun_later) >= PUMP_MIN_EVENTS.value]
    return sets + [("pump", h.pump_id, [h]) for h in often]


def _long_trend(
    kind: Kind, grouping: str, group: str, inside: Sequence[FaultHistory]
) -> LongTrend | None:
    """Test one set of pumps; None with too few faults. ``chance`` is not adjusted yet."""
    ages, spans = _watches([h for h in inside if h.begun_later])
    n = sum(len(one) for one in ages)
    least = PUMP_MIN_EVENTS if grouping == "pump" else TREND_MIN_EVENTS
    if n < least.value:
        return None
    laplace, handbook = laplace_test(ages, spans), handbook_test(ages, spans)
    if laplace is None or handbook is None:
        return None
    if laplace.statistic > 0.0:
        chance = max(laplace.chance_worse, handbook.chance_worse)
    else:
        chance = max(laplace.chance_better, handbook.chance_better)
    return LongTrend(
        kind=kind,
        grouping=grouping,
        group=group,
        n=n,
        n_pumps=len(inside),
        shape=fit_systems(*_watches(inside)).shape,
        laplace=laplace.statistic,
        chance=min(1.0, 2.0 * chance),
        verdict=Trend.STEADY,
    )


def _watches(inside: Sequence[FaultHistory]) -> tuple[list[list[float]], list[float]]:
    """Ages at which faults began, from the first look on, and the age each pump was watched to.

    A fault found in a week began in its middle, say.
    """
    watched = [h for h in inside if h.judged[-1] > h.judged[0]]
    return (
        [[week - h.judged[0] - 0.5 for week in h.begun_later] for h in watched],
        [float(h.judged[-1] - h.judged[0]) for h in watched],
    )


def _beyond_others(
    trend: LongTrend,
    inside: Sequence[FaultHistory],
    of_all: Halves,
    span: tuple[int, int],
) -> float | None:
    """Chance of the change between the record's halves if it were that of all other pumps."""
    own = _in_halves(inside, span)
    other = Halves(
        early=of_all.early - own.early,
        early_weeks=of_all.early_weeks - own.early_weeks,
        late=of_all.late - own.late,
        late_weeks=of_all.late_weeks - own.late_weeks,
    )
    if other.early + other.late < TREND_MIN_EVENTS.value:
        return None
    return min(1.0, 2.0 * chance_beyond(own, other)[0 if trend.laplace > 0.0 else 1])


def _long_verdict(trend: LongTrend, chance: float, beyond: float | None) -> Trend:
    if chance > TREND_CHANCE_MAX.value:
        return Trend.STEADY
    is_worse = trend.laplace > 0.0
    if beyond is None:
        return Trend.MORE_SEASON if is_worse else Trend.LESS_SEASON
    if beyond > TREND_CHANCE_MAX.value:
        return Trend.AS_OTHERS
    return Trend.WORSE if is_worse else Trend.BETTER


def _is_watched(history: FaultHistory, weeks: range) -> bool:
    """The pump was looked at before the span and in most of its weeks."""
    if history.judged[0] > weeks.start:
        return False
    return _n_within(history.judged, weeks) >= COHORT_SHARE.value * len(weeks)


def _n_within(rising: Sequence[int], weeks: range) -> int:
    return bisect_left(rising, weeks.stop) - bisect_left(rising, weeks.start)


def _in_halves(histories: Sequence[FaultHistory], span: tuple[int, int]) -> Halves:
    """Count the two halves of a whole record."""
    first, last = span
    middle = (first + last) // 2
    return _halves(histories, range(first, middle + 1), range(middle + 1, last + 1))


def _halves(histories: Sequence[FaultHistory], early: range, late: range) -> Halves:
    return Halves(
        early=_begun(histories, early),
        early_weeks=sum(_n_within(h.judged, early) for h in histories),
        late=_begun(histories, late),
        late_weeks=sum(_n_within(h.judged, late) for h in histories),
    )


def _begun(histories: Sequence[FaultHistory], weeks: range) -> int:
    return sum(_n_within(h.begun_later, weeks) for h in histories)


def _watched(histories: Sequence[FaultHistory], weeks: range) -> int:
    return sum(_n_within(h.judged, weeks) > 0 for h in histories)


def _counts_shape(histories: Sequence[FaultHistory], weeks: range) -> float | None:
    counts = [_begun(histories, range(week, week + 1)) for week in weeks]
    if sum(counts) < TREND_MIN_EVENTS.value or sum(c > 0 for c in counts) < 2:
        return None
    return fit_counts(list(range(1, len(counts) + 1)), counts).shape
