"""A batch of log files is read into ``raw``, and all that is wrong there is marked and named."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import duckdb

from ingest.batch_checks import (
    PumpInFile,
    in_wrong_unit,
    local_times,
    mark_far_times,
    mark_wrong_unit,
    pumps_in_files,
    settle_clock_changes,
)
from ingest.installed_base import Pump, Register
from ingest.layout import RANGES
from ingest.left_out import LeftOut, count_left_out
from ingest.local_time import LocalTime
from ingest.parts import Parted, part_files
from ingest.probe import Probe
from ingest.reject_text import wrong_unit
from ingest.rejects import Reject, list_rejects
from ingest.row_order import mark_row_order
from ingest.row_problems import SECONDS_LOST
from ingest.samples import CHANNELS
from ingest.shown import shown_error
from ingest.staging import PumpLabels, stage


@dataclass(frozen=True)
class Fleet:
    """The register with the numbers its pumps have in the store."""

    register: Register
    numbers: Mapping[str, int]

    @cached_property
    def pump_of(self) -> dict[int, Pump]:
        """Pump that has a number."""
        return {self.numbers[pump.pump_id]: pump for pump in self.register.pumps.values()}

    @cached_property
    def timezone_of(self) -> dict[int, str]:
        """Time zone of each pump's site, by the pump's number."""
        sites = self.register.sites
        return {number: sites[pump.site_id].timezone for number, pump in self.pump_of.items()}


@dataclass(frozen=True)
class ReadBatch:
    """What a batch of files holds, once read and checked.

    Attributes
    ----------
    probes, home : sequence
        Files as they were read, and the place in the batch of the file each is (a part) of.
    n_lost : dict of int to int
        Rows that were not read at all, by the file's place in the batch.
    seen : list of PumpInFile
        What each file holds of each pump, rows that cannot be used told apart.
    clocks : dict
        Local time of each zone that rows are local to, with those pumps' numbers.
    left_out : list of LeftOut
        Values that no pump can show, by the file's place in the batch.
    """

    probes: Sequence[Probe]
    home: Sequence[int]
    n_lost: Mapping[int, int]
    seen: list[PumpInFile]
    clocks: dict[str, tuple[LocalTime, list[int]]]
    rejects: list[Reject]
    left_out: list[LeftOut]


def read_batch(
    con: duckdb.DuckDBPyConnection,
    probes: Sequence[Probe],
    fleet: Fleet,
    labels: PumpLabels,
    folder: Path,
) -> ReadBatch:
    """Read files into ``raw`` and mark all that is wrong there."""
    unreadable = stage(con, probes, labels, folder)
    parted = part_files(con, probes)
    if parted is None:
        parted = Parted(list(probes), list(range(len(probes))))
    else:
        probes = parted.probes
        unreadable = stage(con, probes, labels, folder)
    is_long, is_sparse = probes[0].layout.is_long, probes[0].layout.is_sparse
    profile = probes[0].profile
    seen = pumps_in_files(con, is_sparse=is_sparse)
    if mark_far_times(con, seen):
        seen = pumps_in_files(con, is_sparse=is_sparse)
    zones = fleet.timezone_of
    if profile is not None and profile.timezone is not None:
        zones = dict.fromkeys(zones, profile.timezone)
    clocks = local_times(seen, zones)
    if settle_clock_changes(con, clocks, is_long=is_long):
        seen = pumps_in_files(con, is_sparse=is_sparse)
    if not is_sparse and mark_row_order(con):
        seen = pumps_in_files(con, is_sparse=is_sparse)
    wrong = [
        (one, fleet.pump_of[one.pump_no])
        for one in seen
        if one.pump_no is not None and in_wrong_unit(one.running, fleet.pump_of[one.pump_no])
    ]
    mark_wrong_unit(con, [one for one, _ in wrong])
    rejects = [_file_reject(number, why) for number, why in unreadable.items()]
    rejects += _lost_seconds(con)
    rejects += [_unit_reject(probes[one.file_no], one, pump) for one, pump in wrong]
    left_out: list[LeftOut] = []
    if any(one.n_flagged for one in seen):
        rejects += list_rejects(con, probes, fleet.numbers)
        left_out = count_left_out(con, fleet.timezone_of, clocks)
        _blank_cells(con, probes)
    if wrong:
        seen = pumps_in_files(con, is_sparse=is_sparse)
    rejects = [replace(one, file_no=parted.home[one.file_no]) for one in rejects]
    left_out = [replace(one, file_no=parted.home[one.file_no]) for one in left_out]
    rejects += parted.rejects
    rejects.sort(key=lambda reject: (reject.file_no, reject.line or 0))
    return ReadBatch(probes, parted.home, parted.n_lost, seen, clocks, rejects, left_out)


def _file_reject(file_no: int, why: str) -> Reject:
    return Reject(
        file_no=file_no,
        line=None,
        column=None,
        reason=f"{shown_error(why.rstrip('.'))}.",
        advice="File left out; export it again.",
    )


def _lost_seconds(con: duckdb.DuckDBPyConnection) -> list[Reject]:
    files = con.execute(
        "select file_no, count(*), count(distinct ts) from raw where problems & $bit <> 0"
        " group by file_no order by file_no",
        {"bit": SECONDS_LOST},
    ).fetchall()
    return [
        Reject(
            file_no=file_no,
            line=None,
            column="timestamp",
            reason=f"has lost the seconds of its times, as files saved by a spreadsheet do: "
            f"{n_rows} rows share {n_minutes} minutes.",
            advice="Rows left out; export them again and load that file untouched.",
        )
        for file_no, n_rows, n_minutes in files
    ]


def _unit_reject(probed: Probe, one: PumpInFile, pump: Pump) -> Reject:
    told = wrong_unit(probed, one, pump)
    return Reject(
        file_no=one.file_no,
        line=None,
        column=told.column,
        reason=told.reason,
        advice=told.advice,
    )


def _blank_cells(con: duckdb.DuckDBPyConnection, probes: Sequence[Probe]) -> None:
    """Leave cells blank whose value is not plausible, or NaN."""
    present = [name for name in CHANNELS if name in channels_of(probes)]
    changes = ", ".join(
        f"{name} = case when {name} between {RANGES[name][0]!r} and {RANGES[name][1]!r}"
        f" then {name} end"
        for name in present
    )
    con.execute(f"update raw set {changes} where problems <> 0")  # noqa: S608  # our own names


def channels_of(probes: Sequence[Probe]) -> set[str]:
    """Channels (and fault code) that some file of the batch has."""
    return {channel.field for probed in probes for channel in probed.layout.channels}
