"""Grounds of weak delivery: is it the demand, the volts, the direction of turning, or the pump."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from analysis.case import Case
from analysis.detectors.gone_spells import current_when_held, expected_current_of
from analysis.detectors.setting_speed import curve_no_flow_hz
from analysis.detectors.spells import days_seen
from analysis.limits import (
    FLAT_BLOCK_S,
    TOP_SPEED_HZ,
    WEAK_DAY_S,
    WEAK_DAYS,
    WEAK_LOW_AMPS_PCT,
    WEAK_LOW_VOLTS_SHARE,
    WEAK_NEVER_SHARE,
    WEAK_VOLTS_RECOVER_PCT,
    WEAK_WEEK_S,
)
from analysis.records import PumpDay

_PAST_WEEKS_MIN = 2
_OF_USUAL_SHARE = 0.8  # of the pump's usual day: ours, a sound one's days differ by less
_MOSTLY_SHARE = 0.5  # of a day's settled running: less is no holding
_AT_ONCE_DAYS = 2  # the day it began on holds part of both


@dataclass(frozen=True, kw_only=True)
class WeakEvidence:
    """What a week shows of a pump that does not reach its setting.

    Attributes
    ----------
    is_short : bool
        Short at top speed for long enough, on several days.
    never_days : tuple of PumpDay
        The last days in which it ran and never reached the setting.
    began_on : PumpDay or None
        The day before those, where it held part of the day and was short for the rest.
    held_before : bool
        Days before those held it; None of them in the record: False.
    came_at_once : bool
        From one day to the next; False too where no day before is known.
    current_pct : float or None
        Motor current while short, of the expected at like speed.
    is_new : bool
        At least two earlier weeks show nothing of it.
    """

    is_short: bool
    never_days: tuple[PumpDay, ...]
    began_on: PumpDay | None
    held_before: bool
    came_at_once: bool
    current_pct: float | None
    is_new: bool

    @property
    def never(self) -> bool:
        """Whether it has stopped reaching its setting at all."""
        return len(self.never_days) >= WEAK_DAYS.value

    @property
    def takes_little(self) -> bool:
        """Whether the motor takes less than a pump that gives more water would."""
        return self.current_pct is not None and self.current_pct <= WEAK_LOW_AMPS_PCT.value


def gather(case: Case) -> WeakEvidence:
    """Look through week, days and earlier weeks."""
    week = case.week
    days = [day for day in case.days if is_weak_day(day)]
    enough_days = len(days) >= min(WEAK_DAYS.value, len(days_seen(case)))
    never_days, before = _never_days([*case.past_days, *case.days])
    held_before = any((day.at_setting_share or 0.0) > WEAK_NEVER_SHARE.value for day in before)
    held_well = _held_well(before)
    is_new = len(case.past) >= _PAST_WEEKS_MIN and all(
        (past.weak_s or 0.0) < WEAK_DAY_S.value for past in case.past
    )
    return WeakEvidence(
        is_short=(week.weak_s or 0.0) >= WEAK_WEEK_S.value and bool(days) and enough_days,
        never_days=never_days if never_days and never_days[-1] in case.days else (),
        began_on=before[-1] if before and is_weak_day(before[-1]) and held_well else None,
        held_before=held_before,
        came_at_once=bool(held_well),
        current_pct=_current_pct(case, is_new=is_new),
        is_new=is_new,
    )


def _current_pct(case: Case, *, is_new: bool) -> float | None:
    """Current while short, of what to expect at that speed.

    An expectation learned from weeks that were short as well takes the fault for normal: then
    the current at which it held its setting is carried to this speed.
    """
    week = case.week
    if week.weak_hz is None or week.weak_current_a is None:
        return None
    held = None if is_new else current_when_held(case, week.weak_hz)
    expected = held or expected_current_of(case, week.weak_hz)
    return None if expected is None else 100 * week.weak_current_a / expected.current_a


def is_weak_day(day: PumpDay) -> bool:
    """Whether a day shows it."""
    return (day.weak_s or 0.0) >= WEAK_DAY_S.value


def _never_days(days: Sequence[PumpDay]) -> tuple[tuple[PumpDay, ...], list[PumpDay]]:
    """The last days in a row that ran and never reached the setting, and the days before."""
    ran = [
        day
        for day in days
        if day.at_setting_share is not None and (day.settled_s or 0.0) >= FLAT_BLOCK_S.value
    ]
    at = len(ran)
    while at and (ran[at - 1].at_setting_share or 0.0) <= WEAK_NEVER_SHARE.value:
        at -= 1
    return tuple(day for day in ran[at:] if is_weak_day(day)), ran[:at]


def _held_well(before: Sequence[PumpDay]) -> list[PumpDay]:
    """Which of the last days held the setting most of the time and about as much as ever.

    As ever: the median of the days that were not weak. Hard draws and slow ramps leave a sound
    pump short of it for a share of its running that is its own.
    """
    sound = [day.at_setting_share or 0.0 for day in before if not is_weak_day(day)]
    if not sound:
        return []
    least = max(_OF_USUAL_SHARE * median(sound), _MOSTLY_SHARE)
    return [
        day
        for day in before[-_AT_ONCE_DAYS:]
        if (day.at_setting_share or 0.0) >= least and not is_weak_day(day)
    ]


def volts_explain(case: Case) -> bool:
    """Whether it is short only while the volts are low."""
    week = case.week
    nominal_v = case.pump.motor_volts or case.pump.supply_volts
    if (week.weak_low_volts_share or 0.0) < WEAK_LOW_VOLTS_SHARE.value or not nominal_v:
        return False
    return volts_recover(case) or not week.same_held_voltage_v


def volts_recover(case: Case) -> bool:
    """Whether it holds its setting at the same speed once the volts are back."""
    week = case.week
    nominal_v = case.pump.motor_volts or case.pump.supply_volts
    if week.weak_voltage_v is None or week.same_held_voltage_v is None or not nominal_v:
        return False
    rise_pct = 100 * (week.same_held_voltage_v - week.weak_voltage_v) / nominal_v
    return rise_pct >= WEAK_VOLTS_RECOVER_PCT.value


def curve_says_it_can(case: Case) -> bool | None:
    """Whether the published curve reaches the setting below top speed; None without a curve."""
    no_flow_hz = curve_no_flow_hz(case, TOP_SPEED_HZ.value)
    return None if no_flow_hz is None else no_flow_hz < case.pump.max_hz


def follows_a_gap(case: Case, since_at: datetime) -> bool:
    """Whether it began within a day of the week's longest silence: power was off, or work done."""
    gap_at = case.week.longest_gap_from_at
    return gap_at is not None and abs((since_at - gap_at).total_seconds()) <= 86_400.0
