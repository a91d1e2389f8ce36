"""Pumps with a fault and the time they were watched for it, so that like is compared with like.

A pump counts with its first fault only: one that fails every month is one bad pump, not a bad
model. What was there at the first look is counted apart from what began later, and both by
quarters, because a pump that joined last month, or after the summer, was not watched as others
were.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from analysis.fault_history import FaultHistory
from analysis.reliability.rates import Stratified, Stratum, stratified_tails

QUARTER_WEEKS = 13

Slot = tuple[bool, int]  # at the first look or later; quarter, counted back from the last week
Levels = Mapping[str, str]  # group of each pump in one grouping
Sums = dict[tuple[str, Slot], tuple[int, float]]
Tally = Mapping[Slot, tuple[int, float]]  # faults and exposure (looks, or weeks later on)


@dataclass(frozen=True, kw_only=True)
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
    tally: dict[Slot, tuple[int, float]] = {}
    for week in history.judged:
        slot = (week == history.judged[0], (last_week - week) // QUARTER_WEEKS)
        events, exposure = tally.get(slot, (0, 0.0))
        tally[slot] = (events + (week == first_fault), exposure + 1.0)
        if week == first_fault:
            break
    return Watch(pump_id=history.pump_id, tally=tally)


class Watched:
    """Pumps watched for one kind, added up once, so that a group against the others costs its own.

    Faults and exposure are whole numbers, so that the others are exactly all less the group.
    """

    def __init__(self, watches: Iterable[Watch]) -> None:
        self._by_pump = {watch.pump_id: watch for watch in watches}
        self._sums: dict[int, tuple[Levels | None, Sums]] = {}
        self._members: dict[int, tuple[Levels, dict[str, set[str]]]] = {}

    def __iter__(self) -> Iterator[Watch]:
        return iter(self._by_pump.values())

    def of(self, pumps: Iterable[str]) -> list[Watch]:
        """Watches of some pumps, as far as they are among these."""
        return [self._by_pump[pump_id] for pump_id in pumps if pump_id in self._by_pump]

    def strata(self, inside: set[str], level_of: Levels | None = None) -> list[Stratum]:
        """Group against the others, slot by slot and, if asked, level by level of other groups.

        Parameters
        ----------
        inside : set of str
            Pumps of the group.
        level_of : mapping, optional
            Group of each pump in the other grouping.
        """
        if id(level_of) not in self._sums:
            self._sums[id(level_of)] = (level_of, _sums(self, level_of))
        _, of_all = self._sums[id(level_of)]
        own = _sums(self.of(inside), level_of)
        rows = [(*own.get(key, (0, 0.0)), *total) for key, total in sorted(of_all.items())]
        return [
            Stratum(events=k, exposure=e, others=k_all - k, rest=e_all - e)
            for k, e, k_all, e_all in rows
        ]

    def members(self, level_of: Levels) -> Mapping[str, set[str]]:
        """Pumps of each group of a grouping."""
        if id(level_of) not in self._members:
            members: dict[str, set[str]] = {}
            for pump_id in self._by_pump:
                members.setdefault(level_of[pump_id], set()).add(pump_id)
            self._members[id(level_of)] = (level_of, members)
        return self._members[id(level_of)][1]


def _sums(watches: Iterable[Watch], level_of: Levels | None) -> Sums:
    sums: Sums = {}
    for watch in watches:
        level = "" if level_of is None else level_of[watch.pump_id]
        for slot, (events, exposure) in watch.tally.items():
            k, e = sums.get((level, slot), (0, 0.0))
            sums[level, slot] = (k + events, e + exposure)
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
