"""How the no-flow speed f0 moves over weeks, and what can move it.

The affinity laws give ``f0 = f_rated * sqrt(boost / shutoff boost)`` with boost the pressure at
the stop less the suction. What is logged or registered of the boost is taken out first, so that
what is left is the pump (wear, blockage), the water's level, or a pressure sensor that shifted:
the log alone does not part these three.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of
from analysis.limits import (
    NO_FLOW_CHANGE_HZ,
    NO_FLOW_FLOOR_HZ,
    NO_FLOW_MIN_STARTS,
    NO_FLOW_MIN_WEEKS,
    NO_FLOW_SPREAD_HZ,
    SAME_INTERVAL_RATIO,
)
from analysis.records import OpMapBin, PumpWeek
from analysis.slopes import theil_sen
from analysis.steps import Step, find_step
from analysis.wording import pressure_text
from ingest.installed_base import Pump
from ingest.weeks import parse_week

Floats = NDArray[np.float64]
WeekBins = Mapping[str, Sequence[OpMapBin]]

LOGGED, REGISTERED, UNKNOWN = "logged", "registered", "unknown"
STEP, CREEP, STEADY = "step", "creep", "steady"

_LEVEL = 0.95
_NEAR_HZ = 3.0  # suction is read where the pump runs near its no-flow speed


@dataclass(frozen=True, kw_only=True)
class NoFlow:
    """No-flow speed of one week and the boost it held.

    Attributes
    ----------
    f0_hz : float
        Median last running frequency before a stop. [Hz]
    pressure_kpa : float
        Pressure at the stop. [kPa]
    suction_kpa : float
        Suction pressure, 0 where unknown. [kPa]
    suction_from : str
        ``logged``, ``registered`` or ``unknown``.
    """

    week: str
    from_at: datetime
    f0_hz: float
    pressure_kpa: float
    suction_kpa: float
    suction_from: str

    @property
    def boost_kpa(self) -> float:
        """Pressure the pump adds at the stop; without the lift where the suction is unknown."""
        return self.pressure_kpa - self.suction_kpa


@dataclass(frozen=True, kw_only=True)
class NoFlowDrift:
    """How f0, carried to the last week's boost, moves over the weeks since the baseline.

    Attributes
    ----------
    hz_per_week, low_hz_per_week, high_hz_per_week : float
        Theil-Sen slope and Sen's 95 % limits. [Hz/week]
    first_hz, last_hz : float
        Level at the beginning and the end: before and after a step, else the line's ends. [Hz]
    total_hz : float
        ``last_hz`` less ``first_hz``. [Hz]
    shape : str
        ``step``, ``creep`` or ``steady``.
    step_at : datetime or None
        Start of the first week of the new level, UTC.
    suction_from : str
        Where suction comes from: ``logged`` (taken out), ``registered`` (taken as constant) or
        ``unknown`` (not taken out).
    boost_kpa : float
        Boost all weeks are carried to. [kPa]
    """

    n_weeks: int
    hz_per_week: float
    low_hz_per_week: float
    high_hz_per_week: float
    first_hz: float
    last_hz: float
    shape: str
    step_at: datetime | None
    suction_from: str
    boost_kpa: float

    @property
    def total_hz(self) -> float:
        """Change over the weeks seen."""
        return self.last_hz - self.first_hz

    @property
    def rises(self) -> bool:
        """The pump needs more speed than it did to hold the pressure without flow."""
        return self.shape != STEADY and self.total_hz > 0.0

    @property
    def shutoff_change_pct(self) -> float:
        """Change of the boost at like speed that would explain it: wear where negative."""
        return 100.0 * ((self.first_hz / self.last_hz) ** 2 - 1.0)

    @property
    def equivalent_kpa(self) -> float:
        """Pressure that would explain it: a sensor reading so much low, or suction so much less.

        Negative where f0 fell: a sensor reading high, or more suction.
        """
        return self.boost_kpa * ((self.last_hz / self.first_hz) ** 2 - 1.0)


def no_flow_of(week: PumpWeek, pump: Pump, bins: Sequence[OpMapBin]) -> NoFlow | None:
    """No-flow speed of a week; None where its stops do not tell one.

    A log of averages, few stops, or stops that end at scattered speeds (out of high flow) do not.
    """
    pressure_kpa = week.stop_pressure_kpa or week.held_pressure_kpa
    if (
        week.f0_hz is None
        or pressure_kpa is None
        or week.is_averaged
        or week.n_starts < NO_FLOW_MIN_STARTS.value
        or (week.f0_spread_hz or 0.0) > NO_FLOW_SPREAD_HZ.value
    ):
        return None
    suction_kpa, suction_from = _suction(week.f0_hz, pump, bins)
    if pressure_kpa <= suction_kpa:
        return None
    return NoFlow(
        week=week.week,
        from_at=week.from_at,
        f0_hz=week.f0_hz,
        pressure_kpa=pressure_kpa,
        suction_kpa=suction_kpa,
        suction_from=suction_from,
    )


def logs_alike(one: PumpWeek, other: PumpWeek) -> bool:
    """Two weeks were logged at like intervals, so that their last samples before stops compare."""
    fast, slow = sorted((one.log_interval_s, other.log_interval_s))
    return slow <= SAME_INTERVAL_RATIO.value * fast


def no_flow_drift(
    weeks: Sequence[PumpWeek], pump: Pump, op_map: Sequence[Sequence[OpMapBin]]
) -> NoFlowDrift | None:
    """Drift of f0 over weeks.

    Parameters
    ----------
    weeks : sequence of PumpWeek
        Since the baseline, oldest first, the week judged last. Weeks logged at another interval
        are left out.
    op_map : sequence of sequence of OpMapBin
        Bins of the same weeks, for logged suction; in any order.

    Returns
    -------
    NoFlowDrift or None
        None where fewer than ``NO_FLOW_MIN_WEEKS`` weeks tell an f0, or the last week does not.
    """
    bins = {cells[0].week: cells for cells in op_map if cells}
    known = [
        (week, got)
        for week in weeks
        if logs_alike(week, weeks[-1])
        and (got := no_flow_of(week, pump, bins.get(week.week, ()))) is not None
    ]
    if len(known) < NO_FLOW_MIN_WEEKS.value or known[-1][0] is not weeks[-1]:
        return None
    points = [got for _, got in known]
    at_week = np.array([parse_week(p.week).monday.toordinal() / 7.0 for p in points])
    boost_kpa = points[-1].boost_kpa
    hz = np.array([p.f0_hz * np.sqrt(boost_kpa / p.boost_kpa) for p in points])
    sen = theil_sen(at_week, hz, _LEVEL)
    step = find_step(hz, least=NO_FLOW_CHANGE_HZ.value, floor=NO_FLOW_FLOOR_HZ.value)
    shape, first_hz, last_hz = _levels(at_week, hz, sen, step)
    least_known = (UNKNOWN, REGISTERED, LOGGED).index
    return NoFlowDrift(
        n_weeks=len(points),
        hz_per_week=sen[0],
        low_hz_per_week=sen[1],
        high_hz_per_week=sen[2],
        first_hz=first_hz,
        last_hz=last_hz,
        shape=shape,
        step_at=None if step is None else points[step.at].from_at,
        suction_from=min((p.suction_from for p in points), key=least_known),
        boost_kpa=boost_kpa,
    )


def _levels(
    at_week: Floats, hz: Floats, sen: tuple[float, float, float], step: Step | None
) -> tuple[str, float, float]:
    """Shape, and the levels at both ends."""
    if step is not None:
        return STEP, step.before, step.after
    slope, low, high = sen
    middle = median_of((hz - slope * at_week).tolist())
    first, last = (middle + slope * float(at) for at in (at_week[0], at_week[-1]))
    is_sure = low > 0.0 or high < 0.0
    is_creep = is_sure and abs(last - first) >= NO_FLOW_CHANGE_HZ.value
    return CREEP if is_creep else STEADY, first, last


def what_moved(drift: NoFlowDrift, pump: Pump, units: str) -> tuple[str, ...]:
    """What can have moved f0 like this, each with the size it would need; () where steady.

    A step speaks for something done or broken at once, a creep for wear or water; neither rules
    the others out.
    """
    if drift.shape == STEADY:
        return ()
    by = pressure_text(abs(drift.equivalent_kpa), units)
    up = drift.rises
    level = "lower" if up else "higher"
    told = []
    if drift.suction_from != LOGGED:
        where = "Water level" if pump.suction in ("well", "lift") else "Suction pressure"
        told.append(f"{where} {level} by {by}")
    if up:
        less = abs(drift.shutoff_change_pct)
        told.append(f"Wear or a blockage: {less:.0f} % less pressure at like speed")
    else:
        told.append("Pump end renewed or cleaned")
    told.append(f"Pressure sensor that reads {by} {'low' if up else 'high'}")
    return tuple(reversed(told)) if drift.shape == STEP else tuple(told)


def _suction(f0_hz: float, pump: Pump, bins: Sequence[OpMapBin]) -> tuple[float, str]:
    """Suction near the no-flow speed, and where it is known from."""
    logged = [
        (b.suction_mean_kpa, b.held_s, abs(b.frequency_mean_hz - f0_hz) <= _NEAR_HZ)
        for b in bins
        if b.suction_mean_kpa is not None and b.held_s > 0.0
    ]
    near = [row for row in logged if row[2]] or logged
    if near:
        values, held_s = [row[0] for row in near], [row[1] for row in near]
        return float(np.average(values, weights=held_s)), LOGGED
    if pump.suction_kpa is not None:
        return pump.suction_kpa, REGISTERED
    return 0.0, UNKNOWN
