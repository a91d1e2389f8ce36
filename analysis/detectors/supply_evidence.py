"""What a week's volts say of the supply: idle part, own-load part, the wire.

``idle part`` is how far the volts fall below nominal with the pump at rest, at their usual worst;
``own part`` is what the pump's own load takes on top. Both in volts at the controller.
"""

from dataclasses import dataclass

from analysis.case import Case
from analysis.detectors.spells import days_seen
from analysis.detectors.supply_joint import JointGrowth, joint_growth
from analysis.limits import (
    LONGEST_OUTAGE_S,
    LOW_VOLTAGE_DAY_S,
    PAIRS_MIN,
    UNDERVOLTAGE_DAY_S,
    VOLTAGE_INTERRUPTED_PCT,
)
from analysis.physics.electrical import STRANDED_RATIO, loop_resistance_ohm
from analysis.records import PumpDay, PumpWeek


@dataclass(frozen=True, kw_only=True)
class SupplyEvidence:
    """Volts of one pump-week in parts.

    Attributes
    ----------
    idle_low_v : float or None
        Usual worst volts at rest: the lowest of the 5th percentile, the worst hour's and the
        worst day's median. [V]
    idle_part_v, own_part_v : float or None
        See the module; None where the log does not tell. [V]
    wire_ohm : float or None
        Loop resistance the registered conductor should have at 75 C, stranded. [ohm]
    wire_ratio : float or None
        Low end of the measured loop resistance over ``wire_ohm``.
    wire_drop_v : float or None
        What the registered conductor alone would take at the same current. [V]
    """

    nominal_v: float
    idle_low_v: float | None
    idle_part_v: float | None
    own_part_v: float | None
    wire_ohm: float | None
    wire_ratio: float | None
    wire_drop_v: float | None
    growth: JointGrowth | None

    def pct(self, volts: float | None) -> float:
        """A part of the nominal volts in percent, 0 where unknown."""
        return 0.0 if volts is None else 100 * volts / self.nominal_v


def gather(case: Case, nominal_v: float) -> SupplyEvidence:
    """Take the volts of a week apart."""
    week = case.week
    idle_low_v = _idle_low_v(case)
    own_part_v = _own_part_v(week)
    wire_ohm = wire_loop_ohm(case)
    low_ohm = week.loop_resistance_low_ohm or week.loop_resistance_ohm
    amps = week.pair_supply_a
    return SupplyEvidence(
        nominal_v=nominal_v,
        idle_low_v=idle_low_v,
        idle_part_v=None if idle_low_v is None else max(0.0, nominal_v - idle_low_v),
        own_part_v=own_part_v,
        wire_ohm=wire_ohm,
        wire_ratio=low_ohm / wire_ohm if low_ohm and wire_ohm else None,
        wire_drop_v=amps * wire_ohm if amps and wire_ohm else None,
        growth=joint_growth(case, nominal_v),
    )


def wire_loop_ohm(case: Case, temperature_c: float = 75.0) -> float | None:
    """Loop resistance of the registered conductor, stranded; None where it is blank.

    By default at the 75 C that tables of branch-circuit wire state. [ohm]
    """
    mm2, one_way_m = case.pump.supply_wire_mm2, case.pump.supply_wire_m
    if not mm2 or not one_way_m:
        return None
    solid = loop_resistance_ohm(mm2, one_way_m, temperature_c, phases=case.pump.supply_phases)
    return float(solid) * STRANDED_RATIO


def _idle_low_v(case: Case) -> float | None:
    by_hour = [volts for volts in case.week.idle_v_by_hour or [] if volts is not None]
    by_day = [day.idle_v_median for day in case.days if day.idle_v_median is not None]
    worst = [case.week.idle_v_p05, min(by_hour, default=None), min(by_day, default=None)]
    return min((volts for volts in worst if volts is not None), default=None)


def _own_part_v(week: PumpWeek) -> float | None:
    if week.own_drop_v is not None and week.n_voltage_pairs >= PAIRS_MIN.value:
        return max(0.0, week.own_drop_v)
    if week.idle_v_median is not None and week.running_v_median is not None:
        return max(0.0, week.idle_v_median - week.running_v_median)
    return None if week.own_drop_v is None else max(0.0, week.own_drop_v)


def undervoltage_days(case: Case) -> tuple[PumpDay, ...]:
    """Days with more than ``UNDERVOLTAGE_DAY_S`` under 90 %."""
    return tuple(d for d in case.days if (d.undervoltage_s or 0.0) > UNDERVOLTAGE_DAY_S.value)


def low_days(case: Case) -> tuple[PumpDay, ...]:
    """Days with more than ``LOW_VOLTAGE_DAY_S`` of running under 95 %, or any of 90 %."""
    return tuple(d for d in case.days if is_low_day(d))


def is_low_day(day: PumpDay) -> bool:
    """Whether a day ran under 95 % or stood under 90 % for more than a sag."""
    return (day.below_95_run_s or 0.0) > LOW_VOLTAGE_DAY_S.value or (
        day.undervoltage_s or 0.0
    ) > UNDERVOLTAGE_DAY_S.value


def looks_like_generator(case: Case, nominal_v: float) -> bool:
    """Whether the low volts are one spell that began at an outage or swung high as well.

    A standby generator's volts wander both ways for one night and are gone. The low days must be
    one day or two in a row among at least four, no silence may follow them to the week's end,
    and no earlier week may show the same.
    """
    low, seen = low_days(case), days_seen(case)
    spans = (low[-1].local_date - low[0].local_date).days if low else 9
    if spans > 1 or len(seen) < 4 or any(is_low_day(day) for day in case.past_days):
        return False
    swings = (case.week.overvoltage_s or 0.0) > UNDERVOLTAGE_DAY_S.value
    cut = any(
        day.voltage_min_v is not None
        and day.voltage_min_v < VOLTAGE_INTERRUPTED_PCT.value / 100 * nominal_v
        for day in low
    )
    return swings or cut or _outage_before(case, low)


def _outage_before(case: Case, low: tuple[PumpDay, ...]) -> bool:
    week = case.week
    gap_at = week.longest_gap_from_at
    if gap_at is None or week.n_gaps == 0 or week.longest_gap_s > LONGEST_OUTAGE_S.value:
        return False
    ends_the_week = week.silent_s >= week.longest_gap_s
    hours_before = (low[0].from_at - gap_at).total_seconds() / 3600
    return not ends_the_week and -24 <= hours_before <= 24
