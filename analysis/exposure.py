"""Pumps with a fault and the time they were watched for it, so that like is compared with like.

A pump counts with its first fault only: one that fails every month is one bad pump, not a bad
model. What was there at the first look is counted apart from what began later, and both by
quarters, because a pump that joined last month, or after the summer, was not watched as others
were.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analysis.fault_history import FaultHistory
from analysis.reliability.rates import Stratified, Stratum, stratified_tails

QUARTER_WEEKS = 13

Slot = tuple[bool, int]  # at the first look or later; quarter, counted back from the last week
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


def strata(
    watches: Iterable[Watch], inside: set[str], level_of: Mapping[str, str] | None = None
) -> list[Stratum]:
    """Group against the others, slot by slot and, if asked, level by level of another grouping.

    Parameters
    ----------
    inside : set of str
        Pumps of the group.
    level_of : mapping, optional
        Group of each pump in the other grouping.
    """
    sums: dict[tuple[str, Slot], list[float]] = {}
    for watch in watches:
        level = "" if level_of is None else level_of[watch.pump_id]
        at = 0 if watch.pump_id in inside else 2
        for slot, (events, exposure) in watch.tally.items():
            row = sums.setdefault((level, slot), [0.0] * 4)
            row[at] += events
            row[at + 1] += exposure
    return [
        Stratum(events=int(row[0]), exposure=row[1], others=int(row[2]), rest=row[3])
        for _, row in sorted(sums.items())
    ]


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
