"""What recurs in the fleet: faults of up to a year beside the pumps that could have shown them.

A count alone shows which model sold best. So each count stands beside the pumps observed for its
kind (judged: found or clear) and the weeks they were, with exact Poisson limits; where a few
pumps or faults are all there is, the answer is "too few to say". Model, installer and region are
entangled (one installer fits one model in one valley): a group *goes together with* a kind,
nothing here says that it causes it, and where two groups are nearly the same pumps the answer is
"cannot tell apart".
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.exposure import Places, Watched, expected, ratio, watch_of
from analysis.fault_history import FaultHistory, of_cause, week_no
from analysis.findings import Kind
from analysis.groups import GROUPINGS, NOT_REGISTERED, groups_of
from analysis.intervals import poisson_limits
from analysis.limits import Limit
from analysis.recurrence_apart import CrossRow, Verdict, apart, cross_rows
from analysis.reliability.rates import false_discovery, stratified_tails, time_between_limits
from analysis.reliability.shrinkage import fit_prior, shrunk
from ingest.installed_base import Register
from ingest.weeks import parse_week

RATE_WEEKS = 52  # a whole year, so that no season is left out

MIN_PUMPS = Limit(5, "pumps observed", "common practice: fewer say nothing about a group")
MIN_FINDINGS = Limit(3, "pumps with the finding", "common practice: one or two may be chance")
MIN_REST_PUMPS = Limit(5, "pumps outside the group", "ours: a comparison needs a rest of fleet")
FALSE_SHARE_MAX = Limit(
    0.05, "share of groups named wrongly", "common practice: one false name in twenty"
)


Subject = tuple[Kind, str]  # a kind and one of its causes, or "" for any


@dataclass(frozen=True, kw_only=True)
class Rate:
    """Pumps with a fault among pumps observed, how often it began, and what that is worth.

    Attributes
    ----------
    n_found, n_observed : int
        Pumps with the fault; pumps for which its kind could be judged.
    n_spells : int
        How often it began; a pump may have it again after it was clear.
    pump_weeks : int
        Weeks in which it could be judged, all pumps together.
    per_100, low_per_100, high_per_100 : float or None
        Pumps with the fault per 100 observed and the 95 % limits of that; None where no pump
        was observed. A pump counts once, so an upper limit past 100 is 100.
    per_100_weeks, low_per_100_weeks, high_per_100_weeks : float or None
        Faults begun per 100 pump-weeks, likewise.
    is_too_few : bool
        Under ``MIN_PUMPS`` pumps or ``MIN_FINDINGS`` pumps with the fault.
    """

    n_found: int
    n_observed: int
    n_spells: int
    pump_weeks: int
    per_100: float | None
    low_per_100: float | None
    high_per_100: float | None
    per_100_weeks: float | None
    low_per_100_weeks: float | None
    high_per_100_weeks: float | None
    is_too_few: bool


@dataclass(frozen=True, kw_only=True)
class KindRate:
    """One kind over the whole fleet.

    Attributes
    ----------
    causes : tuple of (str, int)
        Pumps by the cause last found, the most frequent first.
    n_not_judged : int
        Pumps for which it could never be judged.
    between_weeks, low_between_weeks, high_between_weeks : float or None
        Pump-weeks from one to the next (trips one by one, where they are counted); None where
        nothing was observed, and no middle or upper limit without an event.
    weekly : tuple of (float or None)
        Share of the pumps judged that had it open, week by week, the last week last: the season.
    """

    kind: Kind
    rate: Rate
    causes: tuple[tuple[str, int], ...]
    n_not_judged: int
    between_weeks: float | None
    low_between_weeks: float | None
    high_between_weeks: float | None
    weekly: tuple[float | None, ...]


@dataclass(frozen=True, kw_only=True)
class GroupRate:
    """One kind, or one cause of it, in one group of pumps, beside the rest of the fleet.

    Attributes
    ----------
    cause : str
        Cause the faults were last laid to; "" for any.
    times_fleet, low_times_fleet, high_times_fleet : float or None
        Its rate over that of the whole fleet watched alike (first look and quarters), drawn
        towards the other groups where it is small, with 95 % limits.
    chance : float
        That such a difference, or a larger one, comes by luck, for all groups compared at once.
    verdict : Verdict
    beside : tuple of (str, str)
        Groupings and groups it cannot be told apart from, or within which nothing is left of
        the difference.
    """

    kind: Kind
    cause: str
    grouping: str
    group: str
    rate: Rate
    rest: Rate
    times_fleet: float | None
    low_times_fleet: float | None
    high_times_fleet: float | None
    chance: float
    verdict: Verdict
    beside: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Cross:
    """One kind, or one cause of it, by installer, model and region."""

    kind: Kind
    cause: str
    rows: tuple[CrossRow, ...]


@dataclass(frozen=True, kw_only=True)
class Recurrence:
    """What recurs up to a week: by kind, and by kind and group.

    Attributes
    ----------
    n_weeks : int
        Weeks with answers, up to ``RATE_WEEKS``.
    groups : tuple of GroupRate
        Only groups with the kind, by kind, cause, grouping, then from the highest lower limit
        down; causes stand apart where a kind was laid to several.
    standing_out : tuple of GroupRate
        Groups apart from the others: first those that stay so among their like, by the lower
        limit; then those that cannot be told apart from another group; then those with less. A
        group named for a cause is not named again for its kind.
    crosses : tuple of Cross
        Installer by model by region, for the kinds and causes of ``standing_out``.
    """

    week: str
    n_weeks: int
    n_pumps: int
    kinds: tuple[KindRate, ...]
    groups: tuple[GroupRate, ...]
    standing_out: tuple[GroupRate, ...]
    crosses: tuple[Cross, ...]


def recurrence(week: str, histories: Iterable[FaultHistory], register: Register) -> Recurrence:
    """Compare kinds and groups over the weeks up to one.

    Parameters
    ----------
    histories : iterable of FaultHistory
        Of pumps and kinds, up to ``week``; of pumps no longer registered they are left out.
    """
    last = week_no(week)
    by_kind: dict[Kind, list[FaultHistory]] = {kind: [] for kind in Kind}
    for history in histories:
        if history.pump_id in register.pumps:
            by_kind[history.kind].append(history)
    group_of = groups_of(register, parse_week(week).monday)
    kinds, groups = [], []
    watches: dict[Subject, Watched] = {}
    for kind, of_kind in by_kind.items():
        seen = [history for history in of_kind if history.judged]
        kinds.append(_kind_rate(kind, of_kind, seen, last))
        for cause, of_subject in _subjects(seen):
            watched = Watched(watch_of(history, last) for history in of_subject)
            watches[kind, cause] = watched
            looked = _looked(of_subject)
            for grouping in GROUPINGS:
                groups += _group_rates(
                    (kind, cause), grouping, looked, watched, group_of[grouping]
                )
    groups = _judged(groups, watches, group_of)
    standing_out = _in_order(groups)
    return Recurrence(
        week=week,
        n_weeks=len(set[int]().union(*{h.judged for each in by_kind.values() for h in each})),
        n_pumps=len(register.pumps),
        kinds=tuple(kinds),
        groups=tuple(groups),
        standing_out=standing_out,
        crosses=tuple(
            Cross(kind=kind, cause=cause, rows=cross_rows(watches[kind, cause], group_of))
            for kind, cause in dict.fromkeys((each.kind, each.cause) for each in standing_out)
        ),
    )


def _subjects(seen: Sequence[FaultHistory]) -> list[tuple[str, Sequence[FaultHistory]]]:
    """The kind as a whole and, where it was laid to several causes, each frequent one."""
    counts = Counter(c for h in seen for c in {h.causes[s.ends] for s in h.spells})
    causes = [c for c in sorted(counts) if c and counts[c] >= MIN_FINDINGS.value]
    subjects: list[tuple[str, Sequence[FaultHistory]]] = [("", seen)]
    if len(counts) > 1:
        subjects += [(cause, [of_cause(h, cause) for h in seen]) for cause in causes]
    return subjects


def _kind_rate(
    kind: Kind, of_kind: Sequence[FaultHistory], seen: Sequence[FaultHistory], last: int
) -> KindRate:
    causes = Counter(history.causes[max(history.causes)] for history in seen if history.causes)
    rate = rate_of(seen)
    events = sum(history.events for history in seen)
    low = high = None
    if rate.pump_weeks:
        low, high = time_between_limits(rate.pump_weeks, events)
    return KindRate(
        kind=kind,
        rate=rate,
        causes=tuple(sorted(causes.items(), key=lambda item: (-item[1], item[0]))),
        n_not_judged=len(of_kind) - len(seen),
        between_weeks=rate.pump_weeks / events if events else None,
        low_between_weeks=low,
        high_between_weeks=high if events else None,
        weekly=_weekly(seen, last),
    )


def _weekly(seen: Sequence[FaultHistory], last: int) -> tuple[float | None, ...]:
    judged = Counter[int]()
    for weeks, n in Counter(history.judged for history in seen).items():
        judged.update(dict.fromkeys(weeks, n))
    found = Counter(week for history in seen for week in history.causes)
    record = range(min(judged, default=last), last + 1)
    return tuple(found[week] / judged[week] if judged[week] else None for week in record)


@dataclass(frozen=True)
class Count:
    """Pumps with a fault and pumps judged, faults and pump-weeks; all less a group is the rest."""

    n_found: int
    n_observed: int
    n_spells: int
    pump_weeks: int

    def __sub__(self, other: "Count") -> "Count":
        return Count(
            self.n_found - other.n_found,
            self.n_observed - other.n_observed,
            self.n_spells - other.n_spells,
            self.pump_weeks - other.pump_weeks,
        )


@dataclass(frozen=True)
class _Looked:
    """Faults and weeks judged of pumps that were judged at all, in the order of their watches."""

    n_spells: Places
    n_judged: Places

    def count(self, places: Places | None = None) -> Count:
        """Count all of them, or some."""
        n_spells = self.n_spells if places is None else self.n_spells[places]
        n_judged = self.n_judged if places is None else self.n_judged[places]
        return Count(
            n_found=int(np.count_nonzero(n_spells)),
            n_observed=n_spells.size,
            n_spells=int(n_spells.sum()),
            pump_weeks=int(n_judged.sum()),
        )


def _looked(seen: Sequence[FaultHistory]) -> _Looked:
    return _Looked(
        n_spells=np.array([len(history.spells) for history in seen], dtype=np.int64),
        n_judged=np.array([len(history.judged) for history in seen], dtype=np.int64),
    )


def rate_of(seen: Sequence[FaultHistory]) -> Rate:
    """Rate of pumps that were judged at all."""
    return rate_from(_looked(seen).count())


def rate_from(count: Count) -> Rate:
    """Rate with its limits."""
    n_found, n_observed = count.n_found, count.n_observed
    n_spells, pump_weeks = count.n_spells, count.pump_weeks
    per_100, low, high = _per_100(n_found, n_observed)
    per_100_weeks, low_weeks, high_weeks = _per_100(n_spells, pump_weeks)
    return Rate(
        n_found=n_found,
        n_observed=n_observed,
        n_spells=n_spells,
        pump_weeks=pump_weeks,
        per_100=per_100,
        low_per_100=low,
        high_per_100=None if high is None else min(100.0, high),
        per_100_weeks=per_100_weeks,
        low_per_100_weeks=low_weeks,
        high_per_100_weeks=high_weeks,
        is_too_few=n_observed < MIN_PUMPS.value or n_found < MIN_FINDINGS.value,
    )


def _per_100(count: int, exposure: int) -> tuple[float | None, float | None, float | None]:
    if not exposure:
        return None, None, None
    low, high = poisson_limits(count, exposure / 100.0)
    return 100.0 * count / exposure, float(low), float(high)


def _group_rates(
    subject: Subject,
    grouping: str,
    looked: _Looked,
    watches: Watched,
    group_of: Mapping[str, str],
) -> list[GroupRate]:
    """Rates of the groups that show the kind, each beside the rest; not judged yet."""
    members = watches.members(group_of)
    if members.keys() <= {NOT_REGISTERED}:
        return []
    in_all = looked.count()
    rows = {group: watches.strata(inside) for group, inside in members.items()}
    found = [sum(row.events for row in of_group) for of_group in rows.values()]
    due = [expected(of_group) for of_group in rows.values()]
    against_fleet = _against_fleet(found, due)
    rates = []
    for n, (group, of_group) in enumerate(rows.items()):
        if not found[n]:
            continue
        in_group = looked.count(members[group])
        tails = stratified_tails(of_group)
        middle, low, high = against_fleet[n]
        rates.append(
            GroupRate(
                kind=subject[0],
                cause=subject[1],
                grouping=grouping,
                group=group,
                rate=rate_from(in_group),
                rest=rate_from(in_all - in_group),
                times_fleet=middle,
                low_times_fleet=low,
                high_times_fleet=high,
                chance=min(1.0, 2.0 * min(tails.more, tails.less)),
                verdict=Verdict.MORE if ratio(of_group) > 1.0 else Verdict.LESS,
            )
        )
    return sorted(rates, key=lambda each: (-(each.rate.low_per_100 or 0.0), each.group))


def _against_fleet(
    found: Sequence[int], due: Sequence[float]
) -> list[tuple[float | None, float | None, float | None]]:
    """Found over due of each group, drawn towards the others where there are groups enough."""
    watched = [(k, e) for k, e in zip(found, due, strict=True) if e > 0.0]
    prior = fit_prior([k for k, _ in watched], [e for _, e in watched])
    out: list[tuple[float | None, float | None, float | None]] = []
    for k, e in zip(found, due, strict=True):
        if e <= 0.0:
            out.append((None, None, None))
        elif prior is None:
            low, high = poisson_limits(k, e)
            out.append((k / e, float(low), float(high)))
        else:
            middle, lower, upper = shrunk(prior, k, e)
            out.append((float(middle), float(lower), float(upper)))
    return out


def _judged(
    groups: Sequence[GroupRate],
    watches: Mapping[Subject, Watched],
    group_of: Mapping[str, Mapping[str, str]],
) -> list[GroupRate]:
    """Give each group its verdict: luck first, for all at once, then what it is mixed up with."""
    told = [each for each in groups if _can_tell(each)]
    adjusted = false_discovery([each.chance for each in told])
    chance_of = {id(each): float(chance) for each, chance in zip(told, adjusted, strict=True)}
    judged = []
    for each in groups:
        chance = chance_of.get(id(each))
        if chance is None:
            judged.append(replace(each, chance=1.0, verdict=Verdict.TOO_FEW))
        elif chance > FALSE_SHARE_MAX.value:
            judged.append(replace(each, chance=chance, verdict=Verdict.NONE))
        else:
            of_subject = watches[each.kind, each.cause]
            verdict, beside = apart(of_subject, each.grouping, each.group, each.verdict, group_of)
            judged.append(replace(each, chance=chance, verdict=verdict, beside=beside))
    return judged


def _can_tell(each: GroupRate) -> bool:
    return not each.rate.is_too_few and each.rest.n_observed >= MIN_REST_PUMPS.value


def _in_order(groups: Sequence[GroupRate]) -> tuple[GroupRate, ...]:
    places = {Verdict.MORE: 0, Verdict.ENTANGLED: 1, Verdict.LESS: 2}
    by_cause = {
        (each.kind, each.grouping, each.group, each.verdict) for each in groups if each.cause
    }
    named = [
        each
        for each in groups
        if each.verdict in places
        and (each.cause or (each.kind, each.grouping, each.group, each.verdict) not in by_cause)
    ]
    return tuple(
        sorted(
            named,
            key=lambda each: (
                places[each.verdict],
                -(each.low_times_fleet or 0.0),
                list(Kind).index(each.kind),
                each.cause,
                each.grouping,
                each.group,
            ),
        )
    )
