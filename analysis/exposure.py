"""Pumps with a fault and the time they were watched for it, so that like is compared with like.

A pump counts with its first fault only: one that fails every month is one bad pump, not a bad
model. What was there at the first look is counted apart from what began later, and both by
quarters, because a pump that joined last month, or after the summer, was not watched as others
were.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analysis.fault_history import FaultHistory
from analysis.reliability.rates import Stratified, Stratum, stratified_tails

QUARTER_WEEKS = 13

Slot = tuple[bool, int]  # at the first look or later; quarter, counted back from the last week
Levels = Mapping[str, str]  # group of each pump in one grouping
Sums = dict[tuple[int, Slot], tuple[int, float]]
Places = NDArray[np.int64]
_PATTERNS_KEPT = 10_000
Tally = Mapping[Slot, tuple[int, float]]  # faults and exposure (looks, or weeks later on)


@dataclass(frozen=True, kw_only=True, slots=True)
class Watch:
    """One pump watched for one kind until its first fault."""

    pump_id: str
    tally: Tally


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

    Groups are places among the pumps, in the order they came. Faults and exposure are whole
    numbers, so that the others are exactly all less the group, and pumps with the same tally are
    that tally times their number.
    """

    def __init__(self, watches: Iterable[Watch]) -> None:
        self.pumps: list[str] = []
        self._tallies: list[Tally] = []
        tally_no: list[int] = []
        numbers: dict[int, int] = {}
        for watch in watches:
            number = numbers.setdefault(id(watch.tally), len(numbers))
            if number == len(self._tallies):
                self._tallies.append(watch.tally)
            tally_no.append(number)
            self.pumps.append(watch.pump_id)
        has_fault = [any(k for k, _ in tally.values()) for tally in self._tallies]
        self._tally_no = np.array(tally_no, dtype=np.int64)
        self.is_found = np.array(has_fault, dtype=np.bool_)[self._tally_no]
        self._coded: dict[int, tuple[Levels, _Coded]] = {}
        self._sums: dict[int, tuple[Levels | None, Sums]] = {}

    def strata(self, inside: Places, level_of: Levels | None = None) -> list[Stratum]:
        """Group against the others, slot by slot and, if asked, level by level of other groups.

        Slots in which the group was not watched tell nothing, and are left out.

        Parameters
        ----------
        inside : ndarray of int64
            Places of the group's pumps.
        level_of : mapping, optional
            Group of each pump in the other grouping.
        """
        if id(level_of) not in self._sums:
            everyone = np.arange(len(self.pumps))
            self._sums[id(level_of)] = (level_of, self._add_up(everyone, level_of))
        _, of_all = self._sums[id(level_of)]
        return [
            Stratum(events=k, exposure=e, others=of_all[key][0] - k, rest=of_all[key][1] - e)
            for key, (k, e) in sorted(self._add_up(inside, level_of).items())
        ]

    def members(self, level_of: Levels) -> Mapping[str, Places]:
        """Places of the pumps of each group of a grouping, groups in order."""
        return self._levels(level_of).members

    def main_level(self, inside: Places, level_of: Levels) -> tuple[str, int]:
        """Where most of a group's pumps with the fault stand in another grouping.

        Returns
        -------
        level : str
        n_others : int
            Pumps of that level which are not the group's.
        """
        coded = self._levels(level_of)
        counts = np.bincount(coded.level_no[inside[self.is_found[inside]]])
        main = int(np.argmax(counts))
        n_own = int(np.count_nonzero(coded.level_no[inside] == main))
        name = coded.names[main]
        return name, coded.members[name].size - n_own

    def _levels(self, level_of: Levels) -> "_Coded":
        if id(level_of) not in self._coded:
            self._coded[id(level_of)] = (level_of, _coded([level_of[p] for p in self.pumps]))
        return self._coded[id(level_of)][1]

    def _add_up(self, places: Places, level_of: Levels | None) -> Sums:
        keys = self._tally_no[places]
        if level_of is not None:
            keys = keys + self._levels(level_of).level_no[places] * len(self._tallies)
        sums: Sums = {}
        for key, n in zip(*(a.tolist() for a in np.unique(keys, return_counts=True)), strict=True):
            level, number = divmod(key, len(self._tallies))
            for slot, (events, exposure) in self._tallies[number].items():
                k, e = sums.get((level, slot), (0, 0.0))
                sums[level, slot] = (k + n * events, e + n * exposure)
        return sums


@dataclass(frozen=True)
class _Coded:
    """Groups of one grouping by number, in the order of their names."""

    names: list[str]
    level_no: Places
    members: dict[str, Places]


def _coded(levels: list[str]) -> _Coded:
    names = sorted(set(levels))
    number_of = {name: number for number, name in enumerate(names)}
    level_no = np.array([number_of[level] for level in levels], dtype=np.int64)
    parts = np.split(
        np.argsort(level_no, kind="stable"),
        np.cumsum(np.bincount(level_no, minlength=len(names)))[:-1],
    )
    return _Coded(names, level_no, dict(zip(names, parts, strict=False)))  # no pumps, no names


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
