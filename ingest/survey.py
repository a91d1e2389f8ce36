"""What a batch adds to the store: samples per pump and local week, and if they lie in order."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ingest.rows import numbers_of
from ingest.weeks import utc_of_local_midnight, week_of

if TYPE_CHECKING:
    import pyarrow as pa


@dataclass(frozen=True)
class WeekStarts:
    """ISO weeks of one time zone, in order, with the instants they begin at."""

    weeks: tuple[str, ...]
    starts_us: NDArray[np.int64]


def week_starts(timezone: str, first_at: datetime, last_at: datetime) -> WeekStarts:
    """Return the local weeks that hold ``[first_at, last_at]`` (UTC), a week more at each end."""
    monday = week_of(first_at.date() - timedelta(days=8)).monday
    weeks, starts = [], []
    while monday <= last_at.date() + timedelta(days=8):
        weeks.append(str(week_of(monday)))
        starts.append(
            np.datetime64(utc_of_local_midnight(monday, timezone), "us").astype(np.int64)
        )
        monday += timedelta(days=7)
    return WeekStarts(tuple(weeks), np.array(starts, dtype=np.int64))


@dataclass
class WeekCount:
    """Samples of one pump in one local week."""

    n: int
    first_us: int
    last_us: int


@dataclass
class Survey:
    """Samples by pump and week, as far as they lay in order.

    Attributes
    ----------
    disordered : int or None
        Number of the first pump found that is not in one piece, or whose instants do not rise.
        Where there is none, no instant comes twice.
    """

    disordered: int | None = None
    counts: dict[tuple[int, str], WeekCount] = field(default_factory=dict)

    @property
    def is_in_order(self) -> bool:
        """Whether each pump is in one piece and its instants rise."""
        return self.disordered is None

    def add(self, pump_no: int, ts_us: NDArray[np.int64], weeks: WeekStarts) -> None:
        """Count a piece of one pump's rising instants."""
        first, last = np.searchsorted(weeks.starts_us, ts_us[[0, -1]], side="right").tolist()
        cuts = np.searchsorted(ts_us, weeks.starts_us[first:last]).tolist()
        for number, (start, end) in enumerate(zip([0, *cuts], [*cuts, len(ts_us)], strict=True)):
            if start < end:
                self._merge((pump_no, weeks.weeks[first - 1 + number]), ts_us[start:end])

    def _merge(self, key: tuple[int, str], ts_us: NDArray[np.int64]) -> None:
        count = self.counts.get(key)
        if count is None:
            self.counts[key] = WeekCount(len(ts_us), int(ts_us[0]), int(ts_us[-1]))
        else:
            count.n += len(ts_us)
            count.last_us = int(ts_us[-1])


def survey(batches: Iterable["pa.RecordBatch"], weeks_of: Mapping[int, WeekStarts]) -> Survey:
    """Look through rows (pump_no, ts) as they lie; stops at the first that is out of order."""
    found = Survey()
    seen: set[int] = set()
    last: tuple[int, int] | None = None
    for batch in batches:
        pump_no, ts_us = numbers_of(batch.column(0)), numbers_of(batch.column(1))
        if len(ts_us) == 0:
            continue
        starts = np.flatnonzero(np.diff(pump_no)) + 1
        bounds = [0, *starts.tolist(), len(ts_us)]
        if len(bounds) - 1 > len(weeks_of):
            found.disordered = int(pump_no[0])
            return found
        falls = np.flatnonzero((np.diff(ts_us) <= 0) & (np.diff(pump_no) == 0))
        if falls.size:
            found.disordered = int(pump_no[falls[0]])
            return found
        for start, end in pairwise(bounds):
            number = int(pump_no[start])
            is_next = last is not None and number == last[0]
            if (is_next and last is not None and ts_us[start] <= last[1]) or (
                not is_next and number in seen
            ):
                found.disordered = number
                return found
            seen.add(number)
            found.add(number, ts_us[start:end], weeks_of[number])
            last = (number, int(ts_us[end - 1]))
    return found
