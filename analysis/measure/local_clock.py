"""The site's clock over one week: where its hours, days and nights lie, in seconds of the week.

Seconds count from the week's first instant. Zones are asked about once per half hour of the
week, never per sample.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from ingest.weeks import Week, local_days

_HALF_HOUR = timedelta(minutes=30)


@dataclass(frozen=True)
class LocalClock:
    """Hours and days of one local week.

    Attributes
    ----------
    from_at, to_at : datetime
        The week's bounds, UTC without zone.
    hour_edges_s : ndarray of float64, shape (h + 1,)
        Bounds of the clock hours, 168 of them but where the clocks change. [s]
    hour : ndarray of int64, shape (h,)
        Local hour of each, 0 to 23.
    dates : tuple of date
        The seven local days.
    day_edges_s : ndarray of float64, shape (8,)
        Their bounds. [s]
    """

    week: Week
    timezone: str
    from_at: datetime
    to_at: datetime
    hour_edges_s: NDArray[np.float64]
    hour: NDArray[np.int64]
    dates: tuple[date, ...]
    day_edges_s: NDArray[np.float64]

    @property
    def length_s(self) -> float:
        """Length of the week in seconds: 167 to 169 h."""
        return float(self.day_edges_s[-1])

    def at(self, second_s: float) -> datetime:
        """The instant so many seconds into the week, UTC without zone."""
        return self.from_at + timedelta(microseconds=round(second_s * 1e6))

    def windows_s(self, from_hour: int, hours: int) -> NDArray[np.float64]:
        """Bounds of a daily window of local clock time, one row per day of the week.

        Where the clocks change inside, the window is an hour shorter or longer. The last one may
        end after the week.

        Returns
        -------
        ndarray of float64, shape (7, 2). [s]
        """
        return _windows_s(self.week, self.timezone, from_hour, hours)


@lru_cache(maxsize=256)
def local_clock(week: Week, timezone: str) -> LocalClock:
    """The clock of a week in a zone."""
    days = local_days(week, timezone)
    from_at, to_at = days[0][1], days[-1][2]
    zone = ZoneInfo(timezone)
    instants: list[datetime] = []
    hours: list[int] = []
    instant = from_at
    while instant < to_at:
        local = instant.replace(tzinfo=UTC).astimezone(zone)
        if local.minute == 0 or not hours or local.hour != hours[-1]:
            instants.append(instant)
            hours.append(local.hour)
        instant += _HALF_HOUR
    edges = [*instants, to_at]
    return LocalClock(
        week=week,
        timezone=timezone,
        from_at=from_at,
        to_at=to_at,
        hour_edges_s=np.array([(e - from_at).total_seconds() for e in edges]),
        hour=np.array(hours, dtype=np.int64),
        dates=tuple(day for day, _, _ in days),
        day_edges_s=np.array(
            [(day_from - from_at).total_seconds() for _, day_from, _ in days]
            + [(to_at - from_at).total_seconds()]
        ),
    )


@lru_cache(maxsize=1024)
def _windows_s(week: Week, timezone: str, from_hour: int, hours: int) -> NDArray[np.float64]:
    days = local_days(week, timezone)
    from_at = days[0][1]
    zone = ZoneInfo(timezone)

    def second(day: date, hour: int) -> float:
        local = datetime.combine(day + timedelta(days=hour // 24), time(hour % 24), tzinfo=zone)
        return (local.astimezone(UTC).replace(tzinfo=None) - from_at).total_seconds()

    return np.array(
        [(second(day, from_hour), second(day, from_hour + hours)) for day, _, _ in days]
    )
