"""ISO weeks in a site's local time: parsing, bounds as UTC instants, local days.

A week belongs to a pump by its site's local time, so its length is 167, 168 or 169 h where the
clocks change in it. Instants are UTC without zone.
"""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from ingest.errors import WeekError

_ISO_WEEK = re.compile(r"(\d{4})-W(\d{2})")


@dataclass(frozen=True, order=True)
class Week:
    """An ISO 8601 week; ``str()`` writes it as 2026-W47."""

    year: int
    number: int

    def __str__(self) -> str:
        return f"{self.year:04d}-W{self.number:02d}"

    @property
    def monday(self) -> date:
        """First day of the week."""
        return date.fromisocalendar(self.year, self.number, 1)

    def plus(self, weeks: int) -> "Week":
        """Return the week so many weeks later (earlier if negative)."""
        return week_of(self.monday + timedelta(weeks=weeks))


def parse_week(text: str) -> Week:
    """Read ``2026-W47``.

    Raises
    ------
    WeekError
        The text is not an ISO week, or the year has no such week.
    """
    match = _ISO_WEEK.fullmatch(text)
    if match is None:
        raise WeekError(f"{text}: not an ISO week. Write it as 2026-W47.")
    week = Week(int(match[1]), int(match[2]))
    try:
        week.monday  # noqa: B018  # raises for a week the year does not have
    except ValueError as error:
        raise WeekError(f"{text}: {match[1]} has no week {match[2]}.") from error
    return week


def week_of(day: date) -> Week:
    """Return the ISO week a local date falls in."""
    iso = day.isocalendar()
    return Week(iso.year, iso.week)


def utc_of_local_midnight(day: date, timezone: str) -> datetime:
    """Return the instant at which a local day begins, UTC without zone.

    Where the clocks skip midnight the day begins at the first instant after the skip.
    """
    local = datetime.combine(day, time(), tzinfo=ZoneInfo(timezone))
    return local.astimezone(UTC).replace(tzinfo=None)


def week_bounds(week: Week, timezone: str) -> tuple[datetime, datetime]:
    """Return first instant of the week and first instant after it, UTC without zone."""
    return (
        utc_of_local_midnight(week.monday, timezone),
        utc_of_local_midnight(week.monday + timedelta(days=7), timezone),
    )


def local_days(week: Week, timezone: str) -> list[tuple[date, datetime, datetime]]:
    """Return the seven local days of the week with their bounds, UTC without zone."""
    days = [week.monday + timedelta(days=n) for n in range(8)]
    starts = [utc_of_local_midnight(day, timezone) for day in days]
    return list(zip(days[:7], starts[:7], starts[1:], strict=True))
