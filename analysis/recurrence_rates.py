"""How often a kind of fault was found among the pumps that could have shown it, and its limits."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.exposure import Places
from analysis.fault_history import FaultHistory
from analysis.findings import Kind
from analysis.intervals import poisson_limits
from analysis.limits import Limit
from analysis.reliability.rates import time_between_limits

MIN_PUMPS = Limit(5, "pumps observed", "common practice: fewer say nothing about a group")
MIN_FINDINGS = Limit(3, "pumps with the finding", "common practice: one or two may be chance")


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
class Looked:
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


def looked_at(seen: Sequence[FaultHistory]) -> Looked:
    """Faults and weeks of pumps that were judged at all."""
    return Looked(
        n_spells=np.array([len(history.spells) for history in seen], dtype=np.int64),
        n_judged=np.array([len(history.judged) for history in seen], dtype=np.int64),
    )


def kind_rate(
    kind: Kind, of_kind: Sequence[FaultHistory], seen: Sequence[FaultHistory], last: int
) -> KindRate:
    """Rate of one kind over the whole fleet, up to a week.

    Parameters
    ----------
    of_kind, seen : sequence of FaultHistory
        All there are of the kind; of them those with a week judged.
    last : int
        Number of the week.
    """
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


def rate_of(seen: Sequence[FaultHistory]) -> Rate:
    """Rate of pumps that were judged at all."""
    return rate_from(looked_at(seen).count())


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
