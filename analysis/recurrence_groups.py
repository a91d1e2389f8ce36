"""In which groups of pumps a fault is more or less frequent than in the rest of the fleet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.exposure import Watched, expected, ratio
from analysis.findings import Kind
from analysis.groups import NOT_REGISTERED
from analysis.intervals import poisson_limits
from analysis.limits import Limit
from analysis.recurrence_apart import Verdict, apart
from analysis.recurrence_rates import Looked, Rate, rate_from
from analysis.reliability.rates import false_discovery, stratified_tails
from analysis.reliability.shrinkage import fit_prior, shrunk

MIN_REST_PUMPS = Limit(5, "pumps outside the group", "ours: a comparison needs a rest of fleet")
FALSE_SHARE_MAX = Limit(
    0.05, "share of groups named wrongly", "common practice: one false name in twenty"
)

Subject = tuple[Kind, str]
"""A kind and one of its causes, or "" for any."""


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


def group_rates(
    subject: Subject,
    grouping: str,
    looked: Looked,
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


def judged_groups(
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


def standing_out(groups: Sequence[GroupRate]) -> tuple[GroupRate, ...]:
    """Groups apart from the others, in the order of `Recurrence.standing_out`."""
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
