"""Pumps with a fault and the time they were watched for it, so that like is compared with like.

A pump counts with its first fault only: one that fails every month is one bad pump, not a bad
model. What was there at the first look is counted apart from what began later, and both by
quarters, because a pump that joined last month, or after the summer, was not watched as others
were.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import repeat

from analysis.fault_history import FaultHistory
from analysis.reliability.rates import Stratified, Stratum, stratified_tails

QUARTER_WEEKS = 13

Slot = tuple[bool, int]  # at the first look or later; quarter, counted back from the last week
Levels = Mapping[str, str]  # group of each pump in one grouping
Sums = dict[tuple[str, Slot], tuple[int, float]]
_PATTERNS_KEPT = 10_000
Tally = Mapping[Slot, tuple[int, float]]  # faults and exposure (looks, or weeks later on)


@dataclass(frozen=True, kw_only=True, slots=True)
class Watch:
    """One pump watched for one kind until its first fault."""

    pump_id: str
    tally: Tally

    @property
    def is_found(self) -> bool:
        """The pump had the fault at all."""
        return any(events for events, _ in self.tally.values())


def watch_of(history: FaultHistory, last_week: int) -> Watch:
    """Tally one pump up to its first fault; ``history`` has at least one week judged."""
    first_fault = history.spells[0].begins if history.spells else None
    return Watch(pump_id=history.pump_id, tally=_tally(history.judged, first_fault, last_week))


@lru_cache(maxsize=_PATTERNS_KEPT)
def _tally(judged: tuple[int, ...], first_fault: int | None, last_week: int) -> Tally:
    """One for all pumps that were watched alike, of which there are many."""
    tally: dict[Slot, tuple[int, float]] = {}
    for week in judged:
        slot = (week == judged[0], (last_week - week) // QUARTER_WEEKS)
        events, exposure = tally.get(slot, (0, 0.0))
        tally[slot] = (events + (week == first_fault), exposure + 1.0)
        if week == first_fault:
            break
    return tally


class Watched:
    """Pumps watched for one kind, added up once, so that a group against the others costs its own.

    ``found`` holds those that had the fault at all.

    Faults and exposure are whole numbers, so that the others are exactly all less the group, and
    pumps with the same tally are that tally times their number.
    """

    def __init__(self, watches: Iterable[Watch]) -> None:
        self._number_of: dict[str, int] = {}
        self._tallies: list[Tally] = []
        numbers: dict[int, int] = {}
        is_found: list[bool] = []
        for watch in watches:
            number = numbers.setdefault(id(watch.tally), len(numbers))
            if number == len(self._tallies):
                self._tallies.append(watch.tally)
                is_found.append(watch.is_found)
            self._number_of[watch.pump_id] = number
        self.found = frozenset(p for p, number in self._number_of.items() if is_found[number])
        self._sums: dict[int, tuple[Levels | None, Sums]] = {}
        self._members: dict[int, tuple[Levels, dict[str, set[str]]]] = {}

    def __iter__(self) -> Iterator[str]:
        return iter(self._number_of)

    def strata(self, inside: set[str], level_of: Levels | None = None) -> list[Stratum]:
        """Group against the others, slot by slot and, if asked, level by level of other groups.

        Slots in which the group was not watched tell nothing, and are left out.

        Parameters
        ----------
        inside : set of str
            Pumps of the group.
        level_of : mapping, optional
            Group of each pump in the other grouping.
        """
        if id(level_of) not in self._sums:
            self._sums[id(level_of)] = (level_of, self._add_up(self._number_of, level_of))
        _, of_all = self._sums[id(level_of)]
        own = self._add_up(inside & self._number_of.keys(), level_of)
        return [
            Stratum(events=k, exposure=e, others=of_all[key][0] - k, rest=of_all[key][1] - e)
            for key, (k, e) in sorted(own.items())
        ]

    def members(self, level_of: Levels) -> Mapping[str, set[str]]:
        """Pumps of each group of a grouping."""
        if id(level_of) not in self._members:
            members: dict[str, set[str]] = {}
            for pump_id in self._number_of:
                members.setdefault(level_of[pump_id], set()).add(pump_id)
            self._members[id(level_of)] = (level_of, members)
        return self._members[id(level_of)][1]

    def _add_up(self, pumps: Collection[str], level_of: Levels | None) -> Sums:
        numbers = map(self._number_of.__getitem__, pumps)
        levels = repeat("") if level_of is None else map(level_of.__getitem__, pumps)
        sums: Sums = {}
        for (level, number), n in Counter(zip(levels, numbers, strict=False)).items():
            for slot, (events, exposure) in self._tallies[number].items():
                k, e = sums.get((level, slot), (0, 0.0))
                sums[level, slot] = (k + n * events, e + n * exposure)
        return sums


def strata(
    watches: Iterable[Watch], inside: set[str], level_of: Levels | None = None
) -> list[Stratum]:
    """Put one group against the others; see `Watched.strata`."""
    return Watched(watches).strata(inside, level_of)


def ratio(rows: Iterable[Stratum]) -> float:
    """Group's rate over the others', strata weighed as Mantel and Haenszel do.

    ``sum(k1 e2 / e) / sum(k2 e1 / e)`` [1]_; infinite where the others have none.

    References
    ----------
    .. [1] N. E. Breslow, N. E. Day, Statistical Methods in Cancer Research II, IARC, 1987, 3.6.
    """
    above = below = 0.0
    for row in rows:
        total = row.exposure + row.rest
        if total > 0.0:
            above += row.events * row.rest / total
            below += row.others * row.exposure / total
    if below > 0.0:
        return above / below
    return float("inf") if above > 0.0 else 1.0


def expected(rows: Iterable[Stratum]) -> float:
    """Faults the group would have at the whole fleet's rates, slot by slot."""
    return sum(
        row.exposure * (row.events + row.others) / (row.exposure + row.rest)
        for row in rows
        if row.exposure > 0.0
    )


def tails_at(rows: Iterable[Stratum], factor: float) -> Stratified:
    """Chances of the group's count if its rate were ``factor`` times that of the others."""
    return stratified_tails(
        [
            Stratum(
                events=row.events,
                exposure=row.exposure * factor,
                others=row.others,
                rest=row.rest,
            )
            for row in rows
        ]
    )
