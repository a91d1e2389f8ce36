"""What recurs in the fleet: faults of up to a year beside the pumps that could have shown them.

A count alone shows which model sold best. So each count stands beside the pumps observed for its
kind (judged: found or clear) and the weeks they were, with exact Poisson limits; where a few
pumps or faults are all there is, the answer is "too few to say". Model, installer and region are
entangled (one installer fits one model in one valley): a group *goes together with* a kind,
nothing here says that it causes it, and where two groups are nearly the same pumps the answer is
"cannot tell apart".
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.exposure import Watched, watch_of
from analysis.fault_history import FaultHistory, of_cause, week_no
from analysis.findings import Kind
from analysis.groups import GROUPINGS, groups_of
from analysis.recurrence_apart import CrossRow, cross_rows
from analysis.recurrence_groups import (
    GroupRate,
    Subject,
    group_rates,
    judged_groups,
    standing_out,
)
from analysis.recurrence_rates import MIN_FINDINGS, KindRate, kind_rate, looked_at
from ingest.installed_base import Register
from ingest.weeks import parse_week

RATE_WEEKS = 52  # a whole year, so that no season is left out


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
        kinds.append(kind_rate(kind, of_kind, seen, last))
        for cause, of_subject in _subjects(seen):
            watched = Watched(watch_of(history, last) for history in of_subject)
            watches[kind, cause] = watched
            looked = looked_at(of_subject)
            for grouping in GROUPINGS:
                groups += group_rates((kind, cause), grouping, looked, watched, group_of[grouping])
    groups = judged_groups(groups, watches, group_of)
    named = standing_out(groups)
    return Recurrence(
        week=week,
        n_weeks=len(set[int]().union(*{h.judged for each in by_kind.values() for h in each})),
        n_pumps=len(register.pumps),
        kinds=tuple(kinds),
        groups=tuple(groups),
        standing_out=named,
        crosses=tuple(
            Cross(kind=kind, cause=cause, rows=cross_rows(watches[kind, cause], group_of))
            for kind, cause in dict.fromkeys((each.kind, each.cause) for each in named)
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
