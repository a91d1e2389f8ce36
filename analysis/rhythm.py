"""A site's own rhythm: calendar, quiet hours, empty days, and demand that looks like a fault."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analysis.demand_patterns import DAY_MIN, DAY_NAMES, Demand, demands_of, draws_of
from analysis.few import median_of
from analysis.limits import DAY_OBSERVED_SHARE, IDLE_SHARE, QUIET_HOURS, RHYTHM_HOURS_MIN
from analysis.records import PumpDay, PumpWeek
from ingest.weeks import parse_week

Floats = NDArray[np.float64]

LAGS_H = (24, 48, 168)

_WEEK_HOURS = 168
_DAY_S = 86_400.0


@dataclass(frozen=True, kw_only=True)
class Rhythm:
    """When a site draws water.

    Attributes
    ----------
    correlation : dict of int to float or None
        Autocorrelation of the hourly run share at 24, 48 and 168 h; None where too few hours.
    quiet_from_hour : int or None
        Local hour at which the quietest ``QUIET_HOURS`` begin, over all weeks.
    quiet_ratio : float or None
        Mean run share of those hours over that of all hours.
    demands : tuple of Demand
        Recognised demand, that of the week judged included, earliest hour first.
    idle_dates : tuple of date
        Days of the week judged on which next to nothing ran.
    """

    correlation: dict[int, float | None]
    quiet_from_hour: int | None
    quiet_ratio: float | None
    demands: tuple[Demand, ...]
    idle_dates: tuple[date, ...]

    @property
    def texts(self) -> tuple[str, ...]:
        """Lines for evidence and pages: recognised demand, and days of hardly any running.

        Whether somebody was there is not said: pages travel, and a second pump may have run.
        """
        lines = [demand.text for demand in self.demands]
        if self.idle_dates:
            days = ", ".join(DAY_NAMES[day.weekday()] for day in self.idle_dates)
            lines.append(f"hardly ran on {days}")
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
            if abs(shift := DAY_MIN * (draw.on - on).days) <= DAY_MIN
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
    draws = [draw for one in weeks for draw in draws_of(one)]
    from_hour, ratio = _quiet_hours(shares) or (None, None)
    return Rhythm(
        correlation={lag: autocorrelation(shares, lag) for lag in LAGS_H},
        quiet_from_hour=from_hour,
        quiet_ratio=ratio,
        demands=demands_of(draws, weeks, parse_week(week.week).monday),
        idle_dates=_idle(days, past_days),
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


def _quiet_hours(shares: Floats) -> tuple[int, float | None] | None:
    """Hour at which the quietest begin, and their mean run share over that of all hours."""
    if shares.size == 0:
        return None
    by_hour = shares.reshape(-1, 24)
    known = ~np.isnan(by_hour)
    if not known.any(axis=0).all():
        return None
    mean = np.nansum(by_hour, axis=0) / known.sum(axis=0)
    width = int(QUIET_HOURS.value)
    around = np.convolve(np.append(mean, mean[: width - 1]), np.ones(width) / width, "valid")
    usual = float(mean.mean())
    return int(np.argmin(around)), float(around.min()) / usual if usual > 0.0 else None


def _idle(days: Sequence[PumpDay], past_days: Sequence[PumpDay]) -> tuple[date, ...]:
    """Days with next to no running, on a site that usually runs."""
    seen = [d for d in (*past_days, *days) if d.observed_s >= DAY_OBSERVED_SHARE.value * _DAY_S]
    running = [d.run_s for d in seen if d.run_s > 0.0]
    if not running:
        return ()
    usual_s = median_of(running)
    return tuple(d.local_date for d in seen if d in days and d.run_s <= IDLE_SHARE.value * usual_s)
