"""Draws that come back: grouped by hour and length, and named after what draws like that.

Water drawn by a timer comes back at the same hour for the same time; a leak keeps no calendar.
"Looks like" is meant: who or what draws, the log does not know.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import gcd

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of
from analysis.limits import (
    DAY_OBSERVED_SHARE,
    RHYTHM_FILL_S,
    RHYTHM_KEPT_SHARE,
    RHYTHM_LENGTH_SHARE,
    RHYTHM_LONGEST_MIN,
    RHYTHM_START_MIN,
    RHYTHM_TIMER_MIN,
    RHYTHM_TIMER_TIMES,
    RHYTHM_TIMES,
)
from analysis.records import PumpWeek
from ingest.weeks import parse_week

EVERY_NTH, WEEKDAYS, DAILY, SOME_DAYS, ONCE = "every nth day", "weekdays", "daily", "some", "once"
DAY_MIN = 1440
DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_SOFTENER_NIGHT_MIN = (0, 300)  # begins between midnight and five
_SOFTENER_MIN = (20, 240)  # regeneration takes one to two hours, some say up to four
_SOFTENER_DAYS = (2, 10)
_STEADY_RUN = 0.97
_EVENING_MIN, _MORNING_MIN = 21 * 60, 6 * 60
_ZONES_MIN = 60


@dataclass(frozen=True, kw_only=True)
class Draw:
    """One draw on the local clock."""

    on: date
    from_min: float  # from midnight of that day
    length_min: float
    run_share: float

    @property
    def to_min(self) -> float:
        """End, minutes from the midnight of the day it began."""
        return self.from_min + self.length_min


@dataclass(frozen=True, kw_only=True)
class Demand:
    """Draws that belong together.

    Attributes
    ----------
    draws : tuple of Draw
        Oldest first.
    pattern : str
        ``every nth day``, ``weekdays``, ``daily``, ``some`` or ``once``.
    every_days : int
        Days from one to the next, for ``every nth day``; else 0.
    weekdays : tuple of int
        For ``weekdays``, Monday 0; else empty.
    looks_like : str
        What draws like that; empty where nothing in particular does.
    """

    draws: tuple[Draw, ...]
    pattern: str
    every_days: int = 0
    weekdays: tuple[int, ...] = ()
    looks_like: str = ""

    @property
    def is_scheduled(self) -> bool:
        """It keeps a calendar, as a leak never does."""
        return self.pattern in (EVERY_NTH, WEEKDAYS, DAILY)

    @property
    def text(self) -> str:
        """One line for a page, ``draws 02:05-03:10 every 4th night: looks like a softener``."""
        from_min, length_min = _middle(self.draws)
        to_min = from_min + length_min
        is_night = reaches_night(from_min, length_min)
        when = {
            EVERY_NTH: f"every {_ordinal(self.every_days)} {'night' if is_night else 'day'}",
            WEEKDAYS: f"on {', '.join(DAY_NAMES[day] for day in self.weekdays)}",
            DAILY: "every night" if is_night else "every day",
            SOME_DAYS: f"on {len(self.draws)} {'nights' if is_night else 'days'}",
            ONCE: f"once, on {_date_text(self.draws[-1].on)}",
        }[self.pattern]
        like = f": looks like {self.looks_like}" if self.looks_like else ""
        return f"draws {_clock(from_min)}-{_clock(to_min)} {when}{like}"


def draws_of(week: PumpWeek) -> list[Draw]:
    """Draws of a week's record, oldest first; what never ends is none."""
    monday = parse_week(week.week).monday
    return [
        Draw(
            on=monday + timedelta(days=int(from_min // DAY_MIN)),
            from_min=from_min % DAY_MIN,
            length_min=length_min,
            run_share=run_share,
        )
        for from_min, length_min, run_share in zip(
            week.draw_from_min or (), week.draw_min or (), week.draw_run_share or (), strict=True
        )
        if length_min <= RHYTHM_LONGEST_MIN.value
    ]


def demands_of(
    draws: Sequence[Draw], weeks: Sequence[PumpWeek], this_monday: date
) -> tuple[Demand, ...]:
    """Group draws that are alike, largest group first, and name what is recognised.

    Parameters
    ----------
    draws : sequence of Draw
        Of all weeks, oldest first.
    weeks : sequence of PumpWeek
        The weeks they come from: which days were seen.
    this_monday : date
        Monday of the week judged; demand of earlier weeks only is left out.
    """
    alike = _alike(draws)
    is_left = np.ones(len(draws), dtype=np.bool_)
    found = []
    while is_left.any():
        n_alike = np.where(is_left, alike[:, is_left].sum(axis=1), 0)
        rows = np.flatnonzero(alike[int(np.argmax(n_alike))] & is_left).tolist()
        if len(rows) < RHYTHM_TIMES.value:
            break
        is_left[rows] = False
        found.append(_repeated(_once_a_day([draws[row] for row in rows]), weeks))
    found += [_fill(draws[row]) for row in np.flatnonzero(is_left).tolist()]
    told = [d for d in found if d is not None and d.draws[-1].on >= this_monday]
    return tuple(sorted(told, key=lambda d: (d.draws[0].from_min, d.draws[0].on)))


def _alike(draws: Sequence[Draw]) -> NDArray[np.bool_]:
    """Which draws begin at the same hour and take equally long, shape (n, n)."""
    from_min = np.array([draw.from_min for draw in draws])
    length_min = np.array([draw.length_min for draw in draws])
    half = DAY_MIN / 2
    apart_min = np.abs((from_min[:, None] - from_min + half) % DAY_MIN - half)
    longer_min = np.maximum(length_min[:, None], length_min)
    differ_min = np.abs(length_min[:, None] - length_min)
    return np.asarray(
        (apart_min <= RHYTHM_START_MIN.value)
        & (differ_min <= RHYTHM_LENGTH_SHARE.value * longer_min)
    )


def _once_a_day(draws: Sequence[Draw]) -> tuple[Draw, ...]:
    """The first of each day, oldest first."""
    by_day: dict[date, Draw] = {}
    for draw in draws:
        by_day.setdefault(draw.on, draw)
    return tuple(by_day[on] for on in sorted(by_day))


def _fill(draw: Draw) -> Demand | None:
    """One long run without a stop; None for any other single draw."""
    if draw.length_min * 60.0 < RHYTHM_FILL_S.value or draw.run_share < _STEADY_RUN:
        return None
    return Demand(draws=(draw,), pattern=ONCE, looks_like="a pool or tank being filled")


def _repeated(draws: tuple[Draw, ...], weeks: Sequence[PumpWeek]) -> Demand | None:
    """Recognise draws that are alike; None where they are use like any other."""
    if len(draws) < RHYTHM_TIMES.value:
        return None
    if _is_timed(draws) and (timed := _timed(draws, weeks)) is not None:
        return timed
    from_min, length_min = _middle(draws)
    if reaches_night(from_min, length_min) and length_min * 60.0 >= RHYTHM_FILL_S.value:
        return Demand(draws=draws, pattern=SOME_DAYS, looks_like="a waterer or a frost drip")
    return None


def _timed(draws: tuple[Draw, ...], weeks: Sequence[PumpWeek]) -> Demand | None:
    """Find the calendar of draws that begin on the minute; None where there is none."""
    from_min, length_min = _middle(draws)
    observed = _observed_dates(weeks)
    every = gcd(*((b.on - a.on).days for a, b in pairwise(draws)))
    weekdays = tuple(sorted({d.on.weekday() for d in draws}))
    if _is_kept(draws, [d for d in observed if d.weekday() in weekdays]):
        if len(weekdays) == 7:
            return Demand(draws=draws, pattern=DAILY, looks_like="a timer or a filter")
        if len(weekdays) * RHYTHM_TIMES.value <= len(draws) or every % 7 == 0:
            is_zone = reaches_night(from_min, length_min) or length_min >= _ZONES_MIN
            like = "irrigation" if is_zone else "a timer"
            return Demand(draws=draws, pattern=WEEKDAYS, weekdays=weekdays, looks_like=like)
    due = [on for on in observed if (on - draws[0].on).days % every == 0]
    if not (_SOFTENER_DAYS[0] <= every <= _SOFTENER_DAYS[1] and _is_kept(draws, due)):
        return None
    is_soft = (
        _SOFTENER_NIGHT_MIN[0] <= from_min < _SOFTENER_NIGHT_MIN[1]
        and _SOFTENER_MIN[0] <= length_min <= _SOFTENER_MIN[1]
    )
    like = "a softener" if is_soft else "a timer"
    return Demand(draws=draws, pattern=EVERY_NTH, every_days=every, looks_like=like)


def _is_timed(draws: Sequence[Draw]) -> bool:
    """Enough draws, and all begin on the minute as a timer's do."""
    from_min, _ = _middle(draws)
    off_min = max(abs(d.from_min - from_min) for d in draws)
    return len(draws) >= RHYTHM_TIMER_TIMES.value and off_min <= RHYTHM_TIMER_MIN.value


def _middle(draws: Sequence[Draw]) -> tuple[float, float]:
    """Usual beginning and length in minutes."""
    from_min = median_of([d.from_min for d in draws])
    return from_min, median_of([d.length_min for d in draws])


def _is_kept(draws: Sequence[Draw], due: Sequence[date]) -> bool:
    """It came on most of the days it would fall on, from the first time to the last."""
    inside = [on for on in due if draws[0].on <= on <= draws[-1].on]
    return len(draws) >= RHYTHM_KEPT_SHARE.value * max(1, len(inside))


def _observed_dates(weeks: Sequence[PumpWeek]) -> list[date]:
    """Local days of which at least half was seen."""
    dates = []
    for week in weeks:
        shares = week.run_share_by_week_hour
        if shares is None:
            continue
        monday = parse_week(week.week).monday
        for day in range(7):
            known = sum(share is not None for share in shares[24 * day : 24 * day + 24])
            if known >= 24 * DAY_OBSERVED_SHARE.value:
                dates.append(monday + timedelta(days=day))
    return dates


def reaches_night(from_min: float, length_min: float) -> bool:
    """It begins between nine in the evening and six, or runs past midnight."""
    is_late = from_min >= _EVENING_MIN or from_min < _MORNING_MIN
    return is_late or from_min + length_min >= DAY_MIN


def _date_text(on: date) -> str:
    return f"{DAY_NAMES[on.weekday()]} {on.day} {on:%b}"


def _clock(minutes: float) -> str:
    whole = round(minutes) % DAY_MIN
    return f"{whole // 60:02d}:{whole % 60:02d}"


def _ordinal(n: int) -> str:
    return f"{n}{'nd' if n == 2 else 'rd' if n == 3 else 'th'}"
