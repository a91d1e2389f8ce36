"""How hot a drive is beside its own past, at like load and like surroundings.

A heat sink stands above the air around it in proportion to its losses, and these follow the
motor's current. So each day's hottest quarter of an hour under load, less its coolest rest, is
held against a line over current through past days. The rests themselves tell sun and hot rooms
from a fan.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.case import Case
from analysis.detectors.spells import days_seen
from analysis.few import median_of
from analysis.limits import (
    FAHRENHEIT_COOL_C,
    FOLD_BACK_S,
    HEAT_EXCESS_C,
    HEAT_LOAD_REACH,
    HEAT_PAST_DAYS,
    HEAT_ROOM_HOT_C,
    HEAT_ROOM_MAX_C,
    HOT_DAY_S,
    HOT_DAYS,
)
from analysis.records import PumpDay

_USUAL_SHARE = 0.25  # of the past days: a fan that failed weeks ago is not its own baseline
_LOAD_SPREAD_MIN = 0.2  # of the median load; less shows no slope
_ROOM_SHARE = 0.5


@dataclass(frozen=True, kw_only=True)
class HeatLine:
    """What rise over its surroundings a drive's past lets expect.

    Attributes
    ----------
    rise_c, per_a : float
        Usual rise at no current, and what each ampere adds. [C, C/A]
    room_c : float
        Usual warmest rest of a day over its coolest. [C]
    load_max_a : float
        Highest load of the past. [A]
    n_days : int
    """

    rise_c: float
    per_a: float
    room_c: float
    load_max_a: float
    n_days: int


@dataclass(frozen=True, kw_only=True)
class HeatDay:
    """One day of this week beside the past.

    Attributes
    ----------
    excess_c : float
        Rise over what the past lets expect. [C]
    room_c : float
        The part of it that the drive shows at rest as well. [C]
    """

    day: PumpDay
    excess_c: float
    room_c: float

    @property
    def is_room(self) -> bool:
        """Most of the excess is there at rest: sun on the box or a hot room."""
        return self.room_c >= _ROOM_SHARE * self.excess_c


def heat_line(past_days: Sequence[PumpDay]) -> HeatLine | None:
    """Fit a drive's past: Theil-Sen over current (Sen 1968), at the lower quarter of the days.

    None with fewer than ``HEAT_PAST_DAYS`` days that tell.
    """
    days = [day for day in past_days if _rise_c(day) is not None]
    if len(days) < HEAT_PAST_DAYS.value:
        return None
    load_a = np.array([day.drive_load_a for day in days], dtype=np.float64)
    rise_c = np.array([_rise_c(day) for day in days], dtype=np.float64)
    per_a = _slope(load_a, rise_c)
    rooms = [_room_c(day) for day in days]
    return HeatLine(
        rise_c=float(np.quantile(rise_c - per_a * load_a, _USUAL_SHARE)),
        per_a=per_a,
        room_c=median_of([room for room in rooms if room is not None]),
        load_max_a=float(load_a.max()),
        n_days=len(days),
    )


def _slope(load_a: NDArray[np.float64], rise_c: NDArray[np.float64]) -> float:
    from scipy.stats import theilslopes

    spread_a = float(np.ptp(load_a))
    if spread_a < _LOAD_SPREAD_MIN * float(np.median(load_a)):
        return 0.0
    return max(0.0, float(theilslopes(rise_c, load_a).slope))


def _rise_c(day: PumpDay) -> float | None:
    if day.drive_hot_c is None or day.drive_cool_c is None or day.drive_load_a is None:
        return None
    return day.drive_hot_c - day.drive_cool_c


def _room_c(day: PumpDay) -> float | None:
    if day.drive_cool_c is None or day.drive_cool_max_c is None:
        return None
    return day.drive_cool_max_c - day.drive_cool_c


def warmer_days(case: Case, line: HeatLine) -> list[HeatDay]:
    """Days of the week over the line by more than ``HEAT_EXCESS_C`` and warm enough to matter.

    A day under a load the past has not seen is left out. What comes from the surroundings counts
    only where it makes the drive hotter than a room within its limits could.
    """
    found = []
    for day in case.days:
        rise_c, load_a = _rise_c(day), day.drive_load_a
        if rise_c is None or load_a is None or load_a > HEAT_LOAD_REACH.value * line.load_max_a:
            continue
        excess_c = rise_c - line.rise_c - line.per_a * load_a
        warm = HeatDay(day=day, excess_c=excess_c, room_c=(_room_c(day) or 0.0) - line.room_c)
        least_c = HEAT_ROOM_HOT_C.value if warm.is_room else HEAT_ROOM_MAX_C.value
        if excess_c > HEAT_EXCESS_C.value and (day.drive_hot_c or 0.0) >= least_c:
            found.append(warm)
    return found if _repeats(case, len(found)) else []


def hot_days(case: Case) -> list[PumpDay]:
    """Days on which the drive was hot for long enough, where there are enough of them."""
    days = [day for day in case.days if (day.hot_s or 0.0) >= HOT_DAY_S.value]
    return days if _repeats(case, len(days)) else []


def _repeats(case: Case, n_days: int) -> bool:
    return n_days > 0 and n_days >= min(HOT_DAYS.value, len(days_seen(case)))


def folds_back(case: Case) -> bool:
    """Whether a hot drive holds its speed down for minutes of the week."""
    return (case.week.fold_back_s or 0.0) >= FOLD_BACK_S.value


def looks_like_fahrenheit(case: Case) -> float | None:
    """Temperature that no drive has at rest in its coolest hours, as logged; else None [C]."""
    week = case.week
    coolest_c = week.drive_temp_p05_c if week.drive_temp_cool_c is None else week.drive_temp_cool_c
    if coolest_c is None or coolest_c < FAHRENHEIT_COOL_C.value:
        return None
    return coolest_c
