"""Signs that the pump itself gives less than it did: more speed for its pressure, less current.

By the affinity laws a pump that lost head needs more speed to hold its pressure with no flow. One
whose suction is blocked holds it as before at no flow, as the blockage costs head with the square
of flow; but where it gives most it passes less water at like speed and pressure, which takes less
current.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.case import Case, CurrentDrift
from analysis.drift import current_drift
from analysis.few import median_of
from analysis.limits import (
    AMPS_FALL_PCT,
    DRIFT_MIN_WEEKS,
    F0_MIDDLE_SHARE,
    F0_RISE_ALONE_HZ,
    F0_RISE_HZ,
    F0_RISING_SHARE,
    NO_FLOW_MIN_STARTS,
    TOP_SPEED_SHARE,
)
from analysis.slopes import theil_sen
from ingest.weeks import parse_week

_LEVEL = 0.95
_WEEK_DAYS = 7.0


@dataclass(frozen=True, kw_only=True)
class Creep:
    """A no-flow speed that rose over the weeks.

    Attributes
    ----------
    first_hz, last_hz : float
        Level at the beginning and the end. [Hz]
    is_step : bool
        It rose at once.
    level_is_known : bool
        Suction was logged and taken out.
    """

    first_hz: float
    last_hz: float
    n_weeks: int
    is_step: bool
    level_is_known: bool

    @property
    def rise_hz(self) -> float:
        """Rise over the weeks seen."""
        return self.last_hz - self.first_hz

    @property
    def head_lost_pct(self) -> float:
        """Boost at like speed that is lost (affinity laws)."""
        return 100.0 * (1.0 - (self.first_hz / self.last_hz) ** 2)


def creep_of(case: Case) -> Creep | None:
    """The rise of the no-flow speed; None where it does not rise by more than chance.

    From the followed no-flow speed where the stops tell one; in logs too slow for that from the
    slowest tenth of last speeds before a stop, which are those at the end of flow.
    """
    drift = case.no_flow_drift
    if drift is None:
        found = _creep_of_slow_log(case)
    elif drift.rises:
        found = Creep(
            first_hz=drift.first_hz,
            last_hz=drift.last_hz,
            n_weeks=drift.n_weeks,
            is_step=drift.shape == "step",
            level_is_known=drift.suction_from == "logged",
        )
    else:
        found = None
    return found if found is not None and found.rise_hz >= F0_RISE_HZ.value else None


def _creep_of_slow_log(case: Case) -> Creep | None:
    told = [
        ((parse_week(week.week).monday.toordinal()) / _WEEK_DAYS, week.no_flow_hz)
        for week in (*case.past, case.week)
        if week.no_flow_hz is not None
        and week.n_starts >= NO_FLOW_MIN_STARTS.value
        and not week.is_averaged
    ]
    if len(told) < DRIFT_MIN_WEEKS.value:
        return None
    pairs = list(combinations([hz for _, hz in told], 2))
    if sum(later > first for first, later in pairs) < F0_RISING_SHARE.value * len(pairs):
        return None
    at, hz = (np.array(values) for values in zip(*told, strict=True))
    slope, _, _ = theil_sen(at, hz, _LEVEL)
    half = slope * float(at[-1] - at[0]) / 2
    middle = median_of((hz - slope * (at - at.mean())).tolist())
    return Creep(
        first_hz=middle - half,
        last_hz=middle + half,
        n_weeks=len(told),
        is_step=False,
        level_is_known=False,
    )


def creeps_far(case: Case) -> bool:
    """Whether the rise alone is worth a line, with no shortage yet."""
    creep = creep_of(case)
    if creep is None or creep.is_step or creep.rise_hz < F0_RISE_ALONE_HZ.value:
        return False
    return case.no_flow_drift is not None or _middle_rises_too(case, creep)


def _middle_rises_too(case: Case, creep: Creep) -> bool:
    """Whether the middle of the last speeds before a stop rises with the slowest tenth.

    The slowest tenth alone also rises where stops come to scatter less, as a leak makes them.
    """
    past_hz = [week.f0_hz for week in case.past if week.f0_hz is not None]
    if not past_hz or case.week.f0_hz is None:
        return False
    first_hz = median_of(past_hz[: max(1, len(past_hz) // 2)])
    return case.week.f0_hz - first_hz >= F0_MIDDLE_SHARE.value * creep.rise_hz


def fall_of_amps(case: Case) -> CurrentDrift | None:
    """Fall of current at like speed and pressure over the weeks; None where it may be chance.

    First of all at about the speed at which the pump falls short: a blockage shows nothing at the
    low flows of slower running. A worn pump shows over all bins.
    """
    found = (drift for drift in (_drift_when_short(case), case.drift) if drift is not None)
    return next((drift for drift in found if _falls(drift)), None)


def _drift_when_short(case: Case) -> CurrentDrift | None:
    if case.week.weak_hz is None:
        return None
    least_hz = TOP_SPEED_SHARE.value * case.week.weak_hz
    return current_drift(
        [tuple(b for b in week if b.frequency_mean_hz >= least_hz) for week in case.op_map]
    )


def _falls(drift: CurrentDrift) -> bool:
    return drift.total_pct <= AMPS_FALL_PCT.value and drift.high_pct_per_week < 0.0
