"""A site's clock on a chart: UTC instants shifted to local time, and the zone's name.

Plotly draws a date axis as UTC, so local clock time is written as if it were UTC.
"""

from datetime import UTC, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from analysis.limits import QUIET_HOURS
from analysis.records import PumpDay

_STEP = timedelta(minutes=15)  # clocks are changed at full quarters of an hour of UTC
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_US_PER_S = 1_000_000


def local_ms(ts_us: NDArray[np.int64], timezone: str) -> NDArray[np.float64]:
    """Local clock time of UTC instants.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants in order, microseconds since 1970.
    timezone : str
        IANA name.

    Returns
    -------
    ndarray of float64, shape (n,)
        Milliseconds since 1970 of the clock on the wall; steps back where clocks do.
    """
    if ts_us.size == 0:
        return np.empty(0, dtype=np.float64)
    day_us = 86_400 * _US_PER_S
    first_day, last_day = int(ts_us[0]) // day_us, int(ts_us[-1]) // day_us
    changes_us, offsets_us = _offsets(timezone, first_day, last_day)
    offset_us = offsets_us[np.searchsorted(changes_us, ts_us, side="right") - 1]
    shifted: NDArray[np.float64] = (ts_us + offset_us) / 1000.0
    return shifted


def instant_ms(instant: datetime, timezone: str) -> float:
    """Local clock time of one UTC instant without zone, ms since 1970."""
    local = instant.replace(tzinfo=UTC).astimezone(ZoneInfo(timezone))
    return local.replace(tzinfo=UTC).timestamp() * 1000.0


def us_of(instant: datetime) -> int:
    """UTC instant without zone as microseconds since 1970."""
    return (instant.replace(tzinfo=UTC) - _EPOCH) // timedelta(microseconds=1)


def quiet_window(day: PumpDay, from_hour: int, timezone: str) -> tuple[datetime, datetime]:
    """Quiet window that begins on a local day, UTC without zone."""
    local = datetime.combine(day.local_date, time(from_hour), tzinfo=ZoneInfo(timezone))
    from_at = local.astimezone(UTC).replace(tzinfo=None)
    return from_at, from_at + timedelta(hours=QUIET_HOURS.value)


def zone_title(timezone: str, from_at: datetime, to_at: datetime) -> str:
    """Title of a time axis: "local time, America/Denver (MST)"; both names if clocks change."""
    zone = ZoneInfo(timezone)
    first = from_at.replace(tzinfo=UTC).astimezone(zone).tzname()
    last = (to_at - timedelta(seconds=1)).replace(tzinfo=UTC).astimezone(zone).tzname()
    names = str(first) if first == last else f"{first}, then {last}"
    return f"local time, {timezone}" if names == timezone else f"local time, {timezone} ({names})"


@lru_cache(maxsize=256)
def _offsets(
    timezone: str, first_day: int, last_day: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Instants from which an offset holds, and the offsets, both in microseconds."""
    zone = ZoneInfo(timezone)
    at = _EPOCH + timedelta(days=first_day)
    end = _EPOCH + timedelta(days=last_day + 1)
    changes, offsets = [us_of(at)], [_offset_us(at, zone)]
    while at < end:
        if (day_later := at + timedelta(days=1)) <= end and (
            _offset_us(day_later, zone) == offsets[-1]
        ):
            at = day_later
            continue
        at += _STEP
        if (offset := _offset_us(at, zone)) != offsets[-1]:
            changes.append(us_of(at))
            offsets.append(offset)
    return np.array(changes, dtype=np.int64), np.array(offsets, dtype=np.int64)


def _offset_us(at: datetime, zone: ZoneInfo) -> int:
    offset = at.astimezone(zone).utcoffset()
    return 0 if offset is None else offset // timedelta(microseconds=1)
