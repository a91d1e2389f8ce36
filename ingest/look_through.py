"""One Parquet log is read from end to end, to see whether it can be left where it lies.

Nothing in it may be wrong: instants with a zone, each pump's rising, values plausible. Rows of
pumps that are not in the register are passed over. Whatever is amiss is told in a few words, not
row by row; a log that is copied into the store is told of in full.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ingest.batch_checks import FAR_TIME, WhileRunning, in_wrong_unit
from ingest.batch_reading import Fleet
from ingest.layout import (
    NEEDED_CHANNELS,
    RANGES,
    Layout,
    LayoutError,
    plain_layout,
    profile_layout,
)
from ingest.log_files import LogFile, too_many_rows
from ingest.log_profile import LogProfile
from ingest.outside import (
    ChannelColumn,
    OutsideRows,
    Reading,
    open_parquet,
    opened_source,
    pieces_of,
    read_groups,
    sha256_of_source,
    statistics_of,
)
from ingest.probe import pump_of_name
from ingest.staging_sql import BLANK_WORDS, FIRST_AT, TOO_FAR_AT
from ingest.survey import Survey, WeekCount, WeekStarts, week_starts

if TYPE_CHECKING:
    import pyarrow as pa

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_AS_IT_IS = Reading(time="", pump=None, channels=(), pump_ids={})  # for a look at its columns


class NotFitError(Exception):
    """A log cannot be left where it lies; the text says why."""


@dataclass(frozen=True)
class Held:
    """What one log holds.

    Attributes
    ----------
    sha256 : str
        Hash of its bytes.
    counts : dict of (int, str) to WeekCount
        Samples by pump number and local week.
    unknown : dict of str to int
        Rows by the names of pumps that are not in the register.
    """

    reading: Reading
    sha256: str
    n_rows: int
    counts: dict[tuple[int, str], WeekCount]
    unknown: dict[str, int]


def look_through(log: LogFile, profile: LogProfile | None, fleet: Fleet) -> Held:
    """Read a log from end to end, and say what it holds.

    Raises
    ------
    NotFitError
        Something in it is not as it has to be, or it cannot be read.
    LayoutError
        It is no log, or claims more rows than is believed.
    """
    import pyarrow as pa

    try:
        with opened_source(log.address) as source:
            sha256 = sha256_of_source(source)
            told = open_parquet(source, _AS_IT_IS)
            if too_many_rows(told.metadata.num_rows, log.n_bytes):
                raise LayoutError(f"has {told.metadata.num_rows} rows in {log.n_bytes} bytes")
            reading = _reading(told.schema_arrow, log, profile, fleet)
            seen = _Seen(reading, fleet)
            file = open_parquet(source, reading)
            for group in range(file.num_row_groups):
                rows = read_groups(file, reading, [group], [*RANGES, "fault_code"])
                if not statistics_of(file, reading, group).fit(rows):
                    raise NotFitError("its statistics contradict its rows")
                seen.add(rows)
        seen.check_whole()
        return Held(reading, sha256, seen.n_rows, seen.found.counts, seen.unknown)
    except (OSError, pa.ArrowException, UnicodeError) as error:
        raise NotFitError(str(error).splitlines()[0].rstrip(".")) from error


def _reading(
    schema: "pa.Schema", log: LogFile, profile: LogProfile | None, fleet: Fleet
) -> Reading:
    """How a log's columns become samples, where all of them are of a fitting kind."""
    from pyarrow import types

    titles = list(schema.names)
    if len(set(titles)) < len(titles):
        raise NotFitError("two columns have one name")
    layout = profile_layout(profile, titles, 0) if profile else plain_layout(titles, 0)
    if layout.is_sparse or len(layout.time) > 1:
        raise NotFitError("its rows are no whole samples, or its times stand in two columns")
    time = titles[layout.time[0]]
    kind = schema.field(time).type
    if not (types.is_timestamp(kind) and kind.tz):
        raise NotFitError(f"column '{time}' does not hold instants with a zone")
    pump = None if layout.pump is None else titles[layout.pump]
    if pump is not None and not _is_text(schema.field(pump).type):
        raise NotFitError(f"column '{pump}' does not hold text")
    for channel in layout.channels:
        kind = schema.field(titles[channel.index]).type
        is_number = types.is_integer(kind) or types.is_float32(kind) or types.is_float64(kind)
        if not (_is_text(kind) if channel.field == "fault_code" else is_number):
            raise NotFitError(f"column '{channel.title}' holds {kind}")
    return Reading(
        time=time,
        pump=pump,
        channels=_channels(layout, titles),
        pump_ids=_pump_ids(log, profile, fleet, is_of_one=pump is None),
        blank=tuple(sorted({*BLANK_WORDS, *(word.strip().lower() for word in layout.blank)})),
    )


def _is_text(kind: "pa.DataType") -> bool:
    from pyarrow import types

    if types.is_dictionary(kind):
        kind = kind.value_type
    return bool(types.is_string(kind) or types.is_large_string(kind))


def _channels(layout: Layout, titles: Sequence[str]) -> tuple[ChannelColumn, ...]:
    return tuple(
        ChannelColumn(
            field=channel.field,
            column=titles[channel.index],
            factor=channel.scale.factor,
            offset=channel.scale.offset,
        )
        for channel in layout.channels
    )


def _pump_ids(
    log: LogFile, profile: LogProfile | None, fleet: Fleet, *, is_of_one: bool
) -> dict[str, str]:
    """Pumps by those names in a log that are not their ids."""
    names = {} if profile is None else dict(profile.pump_names)
    if not is_of_one:
        return names
    name = pump_of_name(log, profile) or ""
    return {"": names.get(name, name)}


@dataclass
class _Seen:
    """What a log has shown so far."""

    reading: Reading
    fleet: Fleet
    n_rows: int = 0
    found: Survey = field(default_factory=Survey)
    unknown: dict[str, int] = field(default_factory=Counter)
    last_us: dict[int, int] = field(default_factory=dict)
    running: dict[int, list[tuple[NDArray[np.float32], NDArray[np.float32]]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def add(self, rows: OutsideRows) -> None:
        """Look through some rows more."""
        n = rows.ts_us.size
        if n == 0:
            return
        self.n_rows += n
        _check_values(rows)
        _check_order(rows)
        first_us, last_us = int(rows.ts_us.min()), int(rows.ts_us.max())
        if first_us < _us(FIRST_AT) or last_us >= _us(TOO_FAR_AT):
            raise NotFitError("some of its times are of a clock that was lost")
        weeks: dict[str, WeekStarts] = {}
        for place, start, end in pieces_of(rows):
            name = rows.names[place]
            number = self._number(name)
            if number is None:
                self.unknown[self.reading.pump_ids.get(name, name)] += end - start
                continue
            piece = rows.ts_us[start:end]
            if number in self.last_us and piece[0] <= self.last_us[number]:
                raise NotFitError(f"the times of pump '{name}' do not rise")
            self.last_us[number] = int(piece[-1])
            zone = self.fleet.timezone_of[number]
            if zone not in weeks:
                weeks[zone] = week_starts(zone, _at(first_us), _at(last_us))
            self.found.add(number, piece, weeks[zone])
            kpa, hz = (rows.channels[name][start:end] for name in ("pressure_kpa", "frequency_hz"))
            is_running = hz > 0
            self.running[number].append((kpa[is_running], hz[is_running]))

    def check_whole(self) -> None:
        """Check what only the whole log shows."""
        firsts = [count.first_us for count in self.found.counts.values()]
        lasts = [count.last_us for count in self.found.counts.values()]
        if firsts and timedelta(microseconds=max(lasts) - min(firsts)) > FAR_TIME:
            raise NotFitError("its times lie more than a year apart")
        for number, pieces in self.running.items():
            kpa, hz = (np.concatenate(one) for one in zip(*pieces, strict=True))
            is_known = ~np.isnan(kpa)
            if not is_known.any():
                continue
            usual = WhileRunning(
                int(is_known.sum()), float(np.median(kpa[is_known])), float(np.median(hz))
            )
            if in_wrong_unit(usual, self.fleet.pump_of[number]):
                raise NotFitError("a pressure misses its setting by just a unit's factor")

    def _number(self, name: str) -> int | None:
        pump_id = self.reading.pump_ids.get(name, name)
        number = self.fleet.numbers.get(pump_id)
        if number is None and pump_id.strip() in self.fleet.numbers:
            raise NotFitError(f"the name of pump '{name}' has blanks around it")
        return number


def _check_order(rows: OutsideRows) -> None:
    if not ((np.diff(rows.ts_us) > 0) | (np.diff(rows.place) != 0)).all():
        raise NotFitError("its times do not rise, or come twice")
    n_pumps = int(np.count_nonzero(np.bincount(rows.place)))
    if np.count_nonzero(np.diff(rows.place)) >= n_pumps:
        raise NotFitError("rows of several pumps are mixed; sort it by pump and time")


def _check_values(rows: OutsideRows) -> None:
    for name, values in rows.channels.items():
        low, high = RANGES[name]
        is_known = ~np.isnan(values)
        known = values if is_known.all() else values[is_known]
        if known.size and (known.min() < low or known.max() > high):
            raise NotFitError(f"some values of {name} are not plausible")
    needed = [np.isnan(rows.channels[name]) for name in NEEDED_CHANNELS if name in rows.channels]
    if np.logical_and.reduce(needed).any():
        raise NotFitError("some rows have no value")


def _us(at: datetime) -> int:
    return (at.replace(tzinfo=UTC) - _EPOCH) // timedelta(microseconds=1)


def _at(us: int) -> datetime:
    return (_EPOCH + timedelta(microseconds=us)).replace(tzinfo=None)
