"""A site's own rhythm: calendar, quiet hours, empty days, and demand that looks like a fault.

Water drawn by a timer comes back at the same hour for the same time; a leak keeps no calendar.
What is recognised is named with "looks like": who or what draws, the log does not know.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import gcd

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    DAY_OBSERVED_SHARE,
    QUIET_HOURS,
    RHYTHM_FILL_S,
    RHYTHM_HOURS_MIN,
    RHYTHM_KEPT_SHARE,
    RHYTHM_LENGTH_SHARE,
    RHYTHM_LONGEST_MIN,
    RHYTHM_START_MIN,
    RHYTHM_TIMES,
    VACANT_SHARE,
)
from analysis.records import PumpDay, PumpWeek
from ingest.weeks import parse_week

Floats = NDArray[np.float64]

EVERY_NTH, WEEKDAYS, DAILY, SOME_DAYS, ONCE = "every nth day", "weekdays", "daily", "some", "once"

LAGS_H = (24, 48, 168)

_DAY_MIN = 1440
_WEEK_HOURS = 168
_DAY_S = 86_400.0
_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_SOFTENER_NIGHT_MIN = (0, 300)  # begins between midnight and five
_SOFTENER_MIN = (20, 240)  # regeneration takes one to two hours, some say up to four
_SOFTENER_DAYS = (2, 10)
_STEADY_RUN = 0.97


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
        from_min = float(np.median([d.from_min for d in self.draws]))
        to_min = from_min + float(np.median([d.length_min for d in self.draws]))
        is_night = _is_night(from_min) or to_min >= _DAY_MIN
        when = {
            EVERY_NTH: f"every {_ordinal(self.every_days)} {'night' if is_night else 'day'}",
            WEEKDAYS: f"on {', '.join(_NAMES[day] for day in self.weekdays)}",
            DAILY: "every night" if is_night else "every day",
            SOME_DAYS: f"on {len(self.draws)} {'nights' if is_night else 'days'}",
            ONCE: f"once, on {_NAMES[self.draws[-1].on.weekday()]} {self.draws[-1].on:%d.%m.}",
        }[self.pattern]
        like = f": looks like {self.looks_like}" if self.looks_like else ""
        return f"draws {_clock(from_min)}-{_clock(to_min)} {when}{like}"


@dataclass(frozen=True, kw_only=True)
class Rhythm:
    """When a site draws water.

    Attributes
    ----------
    correlation : dict of int to float or None
        Autocorrelation of the hourly run share at 24, 48 and 168 h; None where too few hours.
    quiet_from_hour : int or None
        Local hour at which the quietest ``QUIET_HOURS`` begin, over all weeks.
    demands : tuple of Demand
        Recognised demand, that of the week judged included, earliest hour first.
    vacant_dates : tuple of date
        Days of the week judged on which next to nothing ran.
    """

    correlation: dict[int, float | None]
    quiet_from_hour: int | None
    demands: tuple[Demand, ...]
    vacant_dates: tuple[date, ...]

    @property
    def texts(self) -> tuple[str, ...]:
        """Lines for evidence and pages: recognised demand, and empty days."""
        lines = [demand.text for demand in self.demands]
        if self.vacant_dates:
            days = ", ".join(_NAMES[day.weekday()] for day in self.vacant_dates)
            lines.append(f"next to nothing was drawn on {days}: looks like nobody was there")
        return tuple(lines)

    def scheduled_min(
        self, on: date, from_hour: int, hours: int = int(QUIET_HOURS.value)
    ) -> float:
        """Minutes of a window of local time that demand with a calendar takes.

        Parameters
        ----------
        on : date
            Local date on which the window begins.
        from_hour, hours : int
            Its first local hour and its length.
        """
        low, high = 60.0 * from_hour, 60.0 * (from_hour + hours)
        spans = [
            (draw.from_min + shift, draw.to_min + shift)
            for demand in self.demands
            if demand.is_scheduled
            for draw in demand.draws
            if abs(shift := _DAY_MIN * (draw.on - on).days) <= _DAY_MIN
        ]
        return sum(max(0.0, min(high, b) - max(low, a)) for a, b in spans)


def rhythm_of(
    week: PumpWeek, days: Sequence[PumpDay], past: Sequence[PumpWeek], past_days: Sequence[PumpDay]
) -> Rhythm:
    """Read a pump's rhythm from its weeks on record.

    Parameters
    ----------
    week, days
        The week judged.
    past, past_days
        Earlier weeks, oldest first.
    """
    weeks = [*past, week]
    shares = hourly(weeks)
    draws = [draw for one in weeks for draw in _draws_of(one)]
    return Rhythm(
        correlation={lag: autocorrelation(shares, lag) for lag in LAGS_H},
        quiet_from_hour=_quiet_from_hour(shares),
        demands=_demands(draws, weeks, parse_week(week.week).monday),
        vacant_dates=_vacant(days, past_days),
    )


def hourly(weeks: Sequence[PumpWeek]) -> Floats:
    """Run share hour by hour over all weeks, NaN where unknown; shape (168 x weeks spanned,)."""
    if not weeks:
        return np.zeros(0)
    first = parse_week(weeks[0].week).monday
    n_weeks = (parse_week(weeks[-1].week).monday - first).days // 7 + 1
    shares = np.full((n_weeks, _WEEK_HOURS), np.nan)
    for week in weeks:
        at = (parse_week(week.week).monday - first).days // 7
        if week.run_share_by_week_hour is not None:
            shares[at] = [np.nan if s is None else s for s in week.run_share_by_week_hour]
    return shares.ravel()


def autocorrelation(values: Floats, lag: int) -> float | None:
    """Pearson's correlation of a series with itself so many steps later.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN where unknown: pairs with one are left out.
    lag : int
        Steps.

    Returns
    -------
    float or None
        None with fewer than ``RHYTHM_HOURS_MIN`` pairs, or where nothing varies.
    """
    if values.size <= lag:
        return None
    now, later = values[:-lag], values[lag:]
    known = ~(np.isnan(now) | np.isnan(later))
    if np.count_nonzero(known) < RHYTHM_HOURS_MIN.value:
        return None
    now, later = now[known] - now[known].mean(), later[known] - later[known].mean()
    scale = float(np.sqrt((now @ now) * (later @ later)))
    return float(now @ later) / scale if scale > 0.0 else None


def _quiet_from_hour(shares: Floats) -> int | None:
    if shares.size == 0:
        return None
    by_hour = shares.reshape(-1, 24)
    known = ~np.isnan(by_hour)
    if not known.any(axis=0).all():
        return None
    mean = np.nansum(by_hour, axis=0) / known.sum(axis=0)
    width = int(QUIET_HOURS.value)
    return int(np.argmin(np.convolve(np.append(mean, mean[: width - 1]), np.ones(width), "valid")))


def _draws_of(week: PumpWeek) -> list[Draw]:
    monday = parse_week(week.week).monday
    return [
        Draw(
            on=monday + timedelta(days=int(from_min // _DAY_MIN)),
            from_min=from_min % _DAY_MIN,
            length_min=length_min,
            run_share=run_share,
        )
        for from_min, length_min, run_share in zip(
            week.draw_from_min or (), week.draw_min or (), week.draw_run_share or (), strict=True
        )
        if length_min <= RHYTHM_LONGEST_MIN.value
    ]


def _demands(
    draws: Sequence[Draw], weeks: Sequence[PumpWeek], this_monday: date
) -> tuple[Demand, ...]:
    """Group draws that are alike, largest group first, and name what is recognised."""
    left = list(draws)
    found = []
    while left:
        group = max((_alike(one, left) for one in left), key=len)
        left = [draw for draw in left if draw not in group]
        demand = _name(group, weeks)
        if demand is not None and any(draw.on >= this_monday for draw in group):
            found.append(demand)
    return tuple(sorted(found, key=lambda d: (d.draws[0].from_min, d.draws[0].on)))


def _alike(one: Draw, others: Sequence[Draw]) -> list[Draw]:
    """Draws that begin at that hour and take that long, at most one a day."""
    group: dict[date, Draw] = {}
    for other in others:
        apart_min = abs((other.from_min - one.from_min + 720) % _DAY_MIN - 720)
        longer = max(one.length_min, other.length_min)
        if (
            apart_min <= RHYTHM_START_MIN.value
            and abs(one.length_min - other.length_min) <= RHYTHM_LENGTH_SHARE.value * longer
        ):
            group.setdefault(other.on, other)
    return [group[on] for on in sorted(group)]


def _name(group: Sequence[Draw], weeks: Sequence[PumpWeek]) -> Demand | None:
    """Recognise one group of draws; None where it is use like any other."""
    draws = tuple(group)
    length_min = float(np.median([d.length_min for d in draws]))
    from_min = float(np.median([d.from_min for d in draws]))
    if len(draws) < RHYTHM_TIMES.value:
        one = draws[-1]
        is_fill = one.length_min * 60.0 >= RHYTHM_FILL_S.value and one.run_share >= _STEADY_RUN
        if not is_fill:
            return None
        return Demand(draws=(one,), pattern=ONCE, looks_like="a pool or tank being filled")
    observed = _observed_dates(weeks)
    apart = [(b.on - a.on).days for a, b in pairwise(draws)]
    every = gcd(*apart)
    is_night = _is_night(from_min) or from_min + length_min >= _DAY_MIN
    weekdays = tuple(sorted({d.on.weekday() for d in draws}))
    if _is_kept(draws, [d for d in observed if d.weekday() in weekdays]):
        if len(weekdays) == 7:
            return Demand(draws=draws, pattern=DAILY, looks_like="a timer or a filter")
        if len(weekdays) * RHYTHM_TIMES.value <= len(draws) or every % 7 == 0:
            like = "irrigation" if is_night or length_min >= 60 else "a timer"
            return Demand(draws=draws, pattern=WEEKDAYS, weekdays=weekdays, looks_like=like)
    due = [d for d in observed if (d - draws[0].on).days % every == 0 and d >= draws[0].on]
    if _SOFTENER_DAYS[0] <= every <= _SOFTENER_DAYS[1] and _is_kept(draws, due):
        is_soft = (
            _SOFTENER_NIGHT_MIN[0] <= from_min < _SOFTENER_NIGHT_MIN[1]
            and _SOFTENER_MIN[0] <= length_min <= _SOFTENER_MIN[1]
        )
        return Demand(
            draws=draws,
            pattern=EVERY_NTH,
            every_days=every,
            looks_like="a softener" if is_soft else "a timer",
        )
    if is_night and length_min * 60.0 >= RHYTHM_FILL_S.value:
        return Demand(draws=draws, pattern=SOME_DAYS, looks_like="a waterer or a frost drip")
    return None


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


def _vacant(days: Sequence[PumpDay], past_days: Sequence[PumpDay]) -> tuple[date, ...]:
    """Days with next to no running, on a site that usually runs."""
    seen = [d for d in (*past_days, *days) if d.observed_s >= DAY_OBSERVED_SHARE.value * _DAY_S]
    running = [d.run_s for d in seen if d.run_s > 0.0]
    if not running:
        return ()
    usual_s = float(np.median(running))
    return tuple(
        d.local_date for d in seen if d in days and d.run_s <= VACANT_SHARE.value * usual_s
    )


def _is_night(from_min: float) -> bool:
    return from_min >= 21 * 60 or from_min < 6 * 60


def _clock(minutes: float) -> str:
    whole = round(minutes) % _DAY_MIN
    return f"{whole // 60:02d}:{whole % 60:02d}"


def _ordinal(n: int) -> str:
    return f"{n}{'nd' if n == 2 else 'rd' if n == 3 else 'th'}"
