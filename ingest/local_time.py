"""When a clock's local time was which UTC instant, with both kinds of clock change.

Worked out per stretch between two changes, never per row.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

_DAY = timedelta(days=1)
_SECOND = timedelta(seconds=1)


@dataclass(frozen=True, order=True)
class Stretch:
    """Local times ``[from_local, to_local)`` that lie ``offset`` ahead of UTC.

    In an hour that comes twice, this is its first pass.
    """

    from_local: datetime
    to_local: datetime
    offset: timedelta


@dataclass(frozen=True)
class RepeatedHour:
    """Local times ``[from_local, to_local)`` that come twice; the second pass has ``offset``."""

    from_local: datetime
    to_local: datetime
    offset: timedelta


@dataclass(frozen=True)
class LocalTime:
    """A zone's local time over some range: stretches in order, and the hours that come twice.

    Local times between two stretches do not exist: the clocks skip them.
    """

    stretches: tuple[Stretch, ...]
    repeated: tuple[RepeatedHour, ...]

    @property
    def skipped(self) -> list[tuple[datetime, datetime]]:
        """Local times that do not exist, as ``[from, to)``."""
        pairs = zip(self.stretches, self.stretches[1:], strict=False)
        return [(a.to_local, b.from_local) for a, b in pairs if a.to_local < b.from_local]


def local_time(timezone: str, first: datetime, last: datetime) -> LocalTime:
    """Local time of a zone, from local time ``first`` to ``last``, both included.

    Parameters
    ----------
    timezone : str
        IANA name.
    first, last : datetime
        Without zone.
    """
    zone = ZoneInfo(timezone)
    start, end = first - 2 * _DAY, last + 2 * _DAY  # no zone is more than a day off UTC
    stretches: list[Stretch] = []
    repeated: list[RepeatedHour] = []
    offset = _offset(zone, start)
    begins = start
    for change, after in _changes(zone, start, end):
        stretches.append(Stretch(begins, change + offset, offset))
        if after < offset:
            repeated.append(RepeatedHour(change + after, change + offset, after))
        begins = change + max(offset, after)
        offset = after
    stretches.append(Stretch(begins, end + 2 * _DAY, offset))
    return LocalTime(tuple(stretches), tuple(repeated))


def _offset(zone: ZoneInfo, instant: datetime) -> timedelta:
    return instant.replace(tzinfo=UTC).astimezone(zone).utcoffset() or timedelta()


def _changes(zone: ZoneInfo, start: datetime, end: datetime) -> list[tuple[datetime, timedelta]]:
    """Instants (UTC) at which the offset changes, each with the offset from then on."""
    changes = []
    day = start
    while day < end:
        low, high = day, day + _DAY
        if _offset(zone, low) != _offset(zone, high):
            before = _offset(zone, low)
            while high - low > _SECOND:
                middle = low + (high - low) // 2
                low, high = (middle, high) if _offset(zone, middle) == before else (low, middle)
            change = high.replace(microsecond=0)
            changes.append((change, _offset(zone, change)))
        day += _DAY
    return changes


def is_second_pass(ts_us: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which samples of a repeated hour belong to its second pass, by the order of rows.

    The second pass begins where the clock jumps back: at a sample that is not later than one
    before it. Where each sample stands once only, all are of the first pass. Rows from newest to
    oldest are read backwards.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
        Local times of one log of one pump inside the hour, in the order of its rows.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    steps = np.diff(ts_us)
    if np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0):
        return is_second_pass(ts_us[::-1])[::-1]
    latest = np.maximum.accumulate(ts_us)
    second = np.zeros(len(ts_us), dtype=np.bool_)
    second[1:] = ts_us[1:] <= latest[:-1]
    return second
