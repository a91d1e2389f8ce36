"""What a batch shows only as a whole: lost clocks, wrong units, local times that come twice."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import duckdb
import numpy as np

from ingest.installed_base import Pump
from ingest.local_time import LocalTime, is_second_pass, local_time
from ingest.row_problems import COSTS_ROW, HOUR_SKIPPED, TIME_TOO_FAR, UNIT_WRONG

WRONG_UNIT_RATIOS = (6.895, 14.5, 100.0)
"""kPa a psi, psi a bar, kPa a bar."""

WRONG_UNIT_BAND = 0.1  # ours: a drive holds its setting far closer than that

FULL_SPEED_SHARE = 0.95
"""Ours: a pump below this share of its top speed is holding its pressure, not failing to."""

MIN_RUNNING_SAMPLES = 10  # ours: fewer do not make a usual pressure

FAR_TIME = timedelta(days=366)
"""Ours: the least distance from a file's other times that is taken for a wrong clock."""


@dataclass(frozen=True)
class WhileRunning:
    """What a pump usually shows while it runs: medians, of so many samples of pressure."""

    n_samples: int
    pressure_kpa: float | None
    frequency_hz: float | None


@dataclass(frozen=True)
class PumpInFile:
    """What one file holds of one pump.

    Attributes
    ----------
    first_at, last_at : datetime or None
        As the file says, local or UTC; None where no row is usable.
    n_running, running_kpa, running_hz : int, float or None, float or None
        As of `WhileRunning`.
    """

    file_no: int
    pump_no: int | None
    n_rows: int
    first_row: int
    n_lost: int
    n_flagged: int
    n_local: int
    first_at: datetime | None
    last_at: datetime | None
    n_running: int
    running_kpa: float | None
    running_hz: float | None

    @property
    def running(self) -> WhileRunning:
        """What it shows while running."""
        return WhileRunning(self.n_running, self.running_kpa, self.running_hz)


def pumps_in_files(con: duckdb.DuckDBPyConnection, *, is_sparse: bool) -> list[PumpInFile]:
    """Sum up ``raw`` per file and pump."""
    # Where speed and pressure stand on different rows, all rows are taken as running.
    running = "true" if is_sparse else "frequency_hz > 0"
    usable = f"problems & {COSTS_ROW} = 0"
    rows = con.execute(
        "select file_no, pump_no, count(*), min(rowid),"  # noqa: S608  # our own names and numbers
        f" count(*) filter (problems & {COSTS_ROW} <> 0), count(*) filter (problems <> 0),"
        f" count(*) filter (is_local and {usable}),"
        f" min(ts) filter ({usable}), max(ts) filter ({usable}),"
        f" count(pressure_kpa) filter ({usable} and {running}),"
        f" median(pressure_kpa) filter ({usable} and {running}),"
        f" median(frequency_hz) filter ({usable} and {running})"
        " from raw group by file_no, pump_no order by file_no, pump_no"
    ).fetchall()
    return [PumpInFile(*row) for row in rows]


def mark_far_times(con: duckdb.DuckDBPyConnection, seen: Sequence[PumpInFile]) -> bool:
    """Mark times that lie far from all others of their file; True where there were some.

    Far is beyond three times the middle half's spread (Tukey's outer fences), and a year at least.
    No clock of this machine is asked: the same file reads the same at any time.
    """
    ranges: dict[int, list[datetime]] = defaultdict(list)
    for one in seen:
        if one.first_at is not None and one.last_at is not None:
            ranges[one.file_no] += [one.first_at, one.last_at]
    wide = [n for n, times in ranges.items() if max(times) - min(times) > FAR_TIME]
    if not wide:
        return False
    con.execute(
        f"""
        update raw set problems = problems | {TIME_TOO_FAR} from (
            select file_no, quantile_disc(ts, 0.25) as low, quantile_disc(ts, 0.75) as high
            from raw where problems & {COSTS_ROW} = 0 and list_contains($files, file_no)
            group by file_no
        ) as middle
        where raw.file_no = middle.file_no and problems & {COSTS_ROW} = 0
            and (ts > high + greatest($far, 3 * (high - low))
                or ts < low - greatest($far, 3 * (high - low)))
        """,  # noqa: S608  # our own numbers
        {"files": wide, "far": FAR_TIME},
    )
    return True


def in_wrong_unit(running: WhileRunning, pump: Pump) -> bool:
    """Whether a pump's running pressure misses its setting by just a unit's factor.

    A pressure far below the setting may be a pump that fails to make it. It is only taken for a
    wrong unit where the drive holds its speed below the top, so is content with what it reads.
    """
    if running.pressure_kpa is None or pump.pressure_setting_kpa is None:
        return False
    if running.n_samples < MIN_RUNNING_SAMPLES or running.pressure_kpa <= 0:
        return False
    ratio = running.pressure_kpa / pump.pressure_setting_kpa
    if any(abs(ratio / factor - 1) <= WRONG_UNIT_BAND for factor in WRONG_UNIT_RATIOS):
        return True
    is_below = any(abs(ratio * factor - 1) <= WRONG_UNIT_BAND for factor in WRONG_UNIT_RATIOS)
    is_content = (
        running.frequency_hz is not None and running.frequency_hz < FULL_SPEED_SHARE * pump.max_hz
    )
    return is_below and is_content


def mark_wrong_unit(con: duckdb.DuckDBPyConnection, wrong: Iterable[PumpInFile]) -> None:
    """Keep all rows of these pumps in these files out."""
    for one in wrong:
        con.execute(
            f"update raw set problems = problems | {UNIT_WRONG}"  # noqa: S608  # our own number
            " where file_no = $file_no and pump_no = $pump_no",
            {"file_no": one.file_no, "pump_no": one.pump_no},
        )


def local_times(
    seen: Sequence[PumpInFile], timezone_of: Mapping[int, str]
) -> dict[str, tuple[LocalTime, list[int]]]:
    """Local time of each zone some pump's rows are local to, with those pumps' numbers."""
    ranges: dict[str, list[datetime]] = defaultdict(list)
    pumps: dict[str, set[int]] = defaultdict(set)
    for one in seen:
        if one.n_local and one.pump_no is not None and one.first_at and one.last_at:
            zone = timezone_of[one.pump_no]
            ranges[zone] += [one.first_at, one.last_at]
            pumps[zone].add(one.pump_no)
    return {
        zone: (local_time(zone, min(times), max(times)), sorted(pumps[zone]))
        for zone, times in sorted(ranges.items())
    }


def settle_clock_changes(
    con: duckdb.DuckDBPyConnection,
    clocks: Mapping[str, tuple[LocalTime, list[int]]],
    *,
    is_long: bool,
) -> bool:
    """Mark times the clocks skip and date the second pass of hours that come twice.

    Returns
    -------
    bool
        True where some row was marked or dated.
    """
    is_any = False
    for clock, pump_nos in clocks.values():
        for from_local, to_local in clock.skipped:
            is_any |= _mark_skipped(con, pump_nos, from_local, to_local)
        for hour in clock.repeated:
            is_any |= _date_second_pass(
                con, pump_nos, (hour.from_local, hour.to_local), hour.offset, is_long=is_long
            )
    return is_any


def _mark_skipped(
    con: duckdb.DuckDBPyConnection, pump_nos: list[int], from_local: datetime, to_local: datetime
) -> bool:
    changed = con.execute(
        f"update raw set problems = problems | {HOUR_SKIPPED}"  # noqa: S608  # our own number
        " where is_local and ts >= $from_local and ts < $to_local"
        " and list_contains($pump_nos, pump_no)",
        {"from_local": from_local, "to_local": to_local, "pump_nos": pump_nos},
    ).fetchone()
    return bool(changed and changed[0])


def _date_second_pass(
    con: duckdb.DuckDBPyConnection,
    pump_nos: list[int],
    hour: tuple[datetime, datetime],
    offset: timedelta,
    *,
    is_long: bool,
) -> bool:
    import pyarrow as pa

    tag_no = "tag_no" if is_long else "0"
    rows = con.sql(
        f"select file_no, pump_no, {tag_no} as tag_no, rowid as row_id, ts from raw"  # noqa: S608
        f" where is_local and ts >= $from_local and ts < $to_local and tag_no is not null"
        f" and problems & {COSTS_ROW} = 0 and list_contains($pump_nos, pump_no)"
        " order by file_no, pump_no, tag_no, row_id",
        params={"from_local": hour[0], "to_local": hour[1], "pump_nos": pump_nos},
    ).to_arrow_table()
    if rows.num_rows == 0:
        return False
    log = np.stack([rows.column(name).to_numpy() for name in ("file_no", "pump_no", "tag_no")])
    ts_us = rows.column("ts").to_numpy().astype("datetime64[us]").view(np.int64)
    row_id = rows.column("row_id").to_numpy()
    ends = np.append(np.flatnonzero((np.diff(log) != 0).any(axis=0)) + 1, len(ts_us))
    is_second = np.zeros(len(ts_us), dtype=np.bool_)
    for start, end in zip(np.append(0, ends[:-1]).tolist(), ends.tolist(), strict=True):
        is_second[start:end] = is_second_pass(ts_us[start:end])
    if not is_second.any():
        return False
    utc = (ts_us[is_second] - int(offset.total_seconds()) * 1_000_000).view("datetime64[us]")
    con.register("second_pass", pa.table({"row_id": row_id[is_second], "utc": utc}))
    con.execute(
        "update raw set ts = second_pass.utc, is_local = false from second_pass"
        " where raw.rowid = second_pass.row_id"
    )
    con.unregister("second_pass")
    return True
