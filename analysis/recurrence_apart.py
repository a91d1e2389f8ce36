"""Whether a group stays apart from the others among their like, or is mixed up with another.

A group that stands out is compared again with the others of the same model, motor, installer,
region and age. What stays apart stands; what is not apart any more goes with the other grouping;
where too few pumps are in one and not in the other, nobody can tell.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import compress

from analysis.exposure import Watched, ratio, tails_at
from analysis.groups import GROUPINGS, NOT_REGISTERED
from analysis.limits import Limit

LIKE_CHANCE_MAX = Limit(
    0.05, "chance, one-sided", "common practice: a second look at what stood out already"
)
LIKE_MIN_PUMPS = Limit(
    5, "other pumps of the like", "common practice: fewer say nothing about a group"
)
RATIO_MAX = 1000.0  # stands for "the others have none"


class Verdict(StrEnum):
    """What can be said of one kind in one group."""

    TOO_FEW = "too few to say"
    NONE = "no clear difference"
    MORE = "goes together with more of it"
    LESS = "goes together with less of it"
    ENTANGLED = "cannot tell apart"
    WITHIN = "no clear difference among their like"


@dataclass(frozen=True, kw_only=True)
class CrossRow:
    """Pumps of one installer, model and region: how many have the kind, of how many observed."""

    installer: str
    pump_model: str
    region: str
    n_found: int
    n_observed: int


def apart(
    watches: Watched,
    grouping: str,
    group: str,
    direction: Verdict,
    group_of: Mapping[str, Mapping[str, str]],
) -> tuple[Verdict, tuple[tuple[str, str], ...]]:
    """Compare a group that stands out with its like in every other grouping.

    Parameters
    ----------
    direction : Verdict
        ``MORE`` or ``LESS``, as it stands against all others.
    group_of : mapping
        Group of each pump, by grouping.

    Returns
    -------
    verdict : Verdict
        ``direction``, ``ENTANGLED`` or ``WITHIN``.
    beside : tuple of (str, str)
        The groups that made it so.
    """
    inside = watches.members(group_of[grouping])[group]
    plain = watches.strata(inside)
    factor = max(1.0 / RATIO_MAX, min(RATIO_MAX, ratio(plain)))
    mixed: list[tuple[str, str]] = []
    gone: list[tuple[str, str]] = []
    for other in GROUPINGS:
        level_of = group_of[other]
        if other == grouping or watches.members(level_of).keys() <= {NOT_REGISTERED}:
            continue
        main, n_like = watches.main_level(inside, level_of)
        if n_like < LIKE_MIN_PUMPS.value:
            mixed.append((other, main))
            continue
        rows = watches.strata(inside, level_of)
        alike, as_before = tails_at(rows, 1.0), tails_at(rows, factor)
        is_more = direction is Verdict.MORE
        if (alike.more if is_more else alike.less) <= LIKE_CHANCE_MAX.value:
            continue
        lost = as_before.less if is_more else as_before.more
        (gone if lost <= LIKE_CHANCE_MAX.value else mixed).append((other, main))
    if gone:
        return Verdict.WITHIN, tuple(gone)
    if mixed:
        return Verdict.ENTANGLED, tuple(mixed)
    return direction, ()


def cross_rows(
    watches: Watched, group_of: Mapping[str, Mapping[str, str]]
) -> tuple[CrossRow, ...]:
    """Count one kind by installer, model and region, most pumps with it first."""
    levels = [group_of[name] for name in ("installer", "pump_model", "region")]
    keys = list(zip(*(map(one.__getitem__, watches.pumps) for one in levels), strict=True))
    observed = Counter(keys)
    found = Counter(compress(keys, watches.is_found))
    return tuple(
        CrossRow(
            installer=key[0],
            pump_model=key[1],
            region=key[2],
            n_found=found[key],
            n_observed=observed[key],
        )
        for key in sorted(observed, key=lambda key: (-found[key], -observed[key], key))
    )
