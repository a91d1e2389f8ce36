"""A batch read into ``raw`` goes into the store: all that can be used of each file.

Where usable rows lie in order (one piece a pump, rising in time) and meet nothing in the store,
they go straight in. Otherwise they are sorted, and instants that come twice are dropped first.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from importlib.resources import files

import duckdb

from ingest.archive import Archive
from ingest.batch_checks import PumpInFile
from ingest.batch_reading import Fleet, ReadBatch, channels_of
from ingest.clock_table import instant_of_row, make_clock
from ingest.coverage import pump_in_reach, stored_counts
from ingest.held_rows import held_rows
from ingest.ledger import FileResult
from ingest.row_problems import COSTS_ROW
from ingest.samples import CHANNELS, channel_columns, column_type
from ingest.survey import Survey, WeekStarts, survey, week_starts

_ROWS_A_FETCH = 1_000_000
_COLUMNS = (*CHANNELS, "fault_code")


@dataclass
class BatchResult:
    """What became of a batch: its files in the order of the probes, and what it added."""

    files: list[FileResult]
    added: Survey = field(default_factory=Survey)


def add_batch(con: duckdb.DuckDBPyConnection, fleet: Fleet, batch: ReadBatch) -> BatchResult:
    """Put the usable rows of ``raw`` into ``samples``; the caller holds the transaction."""
    probes = batch.probes
    result = BatchResult([FileResult() for _ in probes])
    for one in batch.seen:
        result.files[one.file_no].rows_in += one.n_rows
        result.files[one.file_no].rows_rejected += one.n_lost
    usable = [one for one in batch.seen if one.first_at is not None]
    if usable:
        weeks_of = _weeks_of(fleet, usable)
        make_clock(con, batch.clocks)
        layout = probes[0].layout
        fields = channels_of(probes)
        rows = _usable_rows(fields, has_local=bool(batch.clocks), is_long=layout.is_long)
        if layout.hold is not None:
            rows = held_rows(rows, layout.hold)
        result.added = _survey(con, rows, weeks_of)
        if (
            layout.is_sparse
            or not result.added.is_in_order
            or pump_that_meets_stored(con, result.added) is not None
        ):
            result.added = _add_sorted(
                con, rows, weeks_of, result, is_sparse=layout.is_sparse, fields=fields
            )
        else:
            _insert(con, rows, fields)
    for one_file in result.files:
        lost = one_file.rows_rejected + one_file.rows_repeated + one_file.rows_conflicting
        one_file.rows_kept = one_file.rows_in - lost
    result.files = _by_file(result.files, batch)
    return result


def _by_file(parts: Sequence[FileResult], batch: ReadBatch) -> list[FileResult]:
    """Add up what became of a file's parts."""
    whole = [FileResult() for _ in range(max(batch.home) + 1)]
    for number, part in zip(batch.home, parts, strict=True):
        whole[number] = whole[number].plus(part)
    for number, n_rows in batch.n_lost.items():
        whole[number] = whole[number].plus(FileResult(rows_in=n_rows, rows_rejected=n_rows))
    return whole


def _weeks_of(fleet: Fleet, usable: Sequence[PumpInFile]) -> dict[int, WeekStarts]:
    first: datetime = min(one.first_at for one in usable if one.first_at)
    last: datetime = max(one.last_at for one in usable if one.last_at)
    return weeks_between(fleet, first, last)


def weeks_between(fleet: Fleet, first: datetime, last: datetime) -> dict[int, WeekStarts]:
    """Weeks of each pump's local time, by its number, around two instants or local times."""
    margin = timedelta(days=2)  # times may still be local
    zones = fleet.timezone_of
    by_zone = {
        zone: week_starts(zone, first - margin, last + margin) for zone in set(zones.values())
    }
    return {pump_no: by_zone[zone] for pump_no, zone in zones.items()}


def _usable_rows(fields: set[str], *, has_local: bool, is_long: bool) -> str:
    """Select of the batch's usable rows as samples, with the file and row they came from."""
    columns = [
        f"raw.{name}" if name in fields else f"null::{column_type(name)} as {name}"
        for name in _COLUMNS
    ]
    instant, join = instant_of_row(has_local=has_local)
    only_tagged = " and raw.tag_no is not null" if is_long else ""
    rows = (
        f"select raw.file_no, raw.rowid as row_id, raw.pump_no, {instant} as ts,"  # noqa: S608
        f" {', '.join(columns)} from raw{join}"
        f" where raw.problems & {COSTS_ROW} = 0{only_tagged}"
    )
    if not is_long:
        return rows
    # A long table's values of one instant become one sample; of two values the first stays.
    firsts = ", ".join(
        f"arg_min({name}, row_id) filter ({name} is not null) as {name}" for name in _COLUMNS
    )
    return (
        f"select file_no, min(row_id) as row_id, pump_no, ts, {firsts}"  # noqa: S608  # our own
        f" from ({rows}) group by file_no, pump_no, ts"
    )


def _survey(
    con: duckdb.DuckDBPyConnection, rows: str, weeks_of: Mapping[int, WeekStarts]
) -> Survey:
    select = f"select pump_no, ts from ({rows})"  # noqa: S608  # our own statement
    reader = con.sql(select).to_arrow_reader(_ROWS_A_FETCH)
    found = survey(reader, weeks_of)
    reader.close()
    return found


def pump_that_meets_stored(con: duckdb.DuckDBPyConnection, added: Survey) -> int | None:
    """Number of a pump whose rows overlap in time with what is stored of it; None: of none."""
    pumps = {pump_no for pump_no, _ in added.counts}
    return pump_in_reach(stored_counts(con, sorted(pumps)), added.counts)


def _insert(con: duckdb.DuckDBPyConnection, rows: str, fields: Collection[str]) -> None:
    names = ", ".join(name for name in _COLUMNS if name in fields)
    con.execute(f"insert into samples by name select pump_no, ts, {names} from ({rows})")  # noqa: S608


def _add_sorted(
    con: duckdb.DuckDBPyConnection,
    rows: str,
    weeks_of: Mapping[int, WeekStarts],
    result: BatchResult,
    *,
    is_sparse: bool,
    fields: Collection[str],
) -> Survey:
    con.execute(
        "create or replace temp table staged as"  # noqa: S608  # our own statement
        f" select * from ({rows}) order by pump_no, ts, file_no, row_id"
    )
    if is_sparse:
        _count_samples(con, result)
    in_order = "select * from staged"
    added = _survey(con, in_order, weeks_of)
    if not added.is_in_order or pump_that_meets_stored(con, added) is not None:
        _drop_repeats(con, result)
        added = _survey(con, in_order, weeks_of)
    _insert(con, in_order, fields)
    con.execute("drop table staged")
    return added


def _count_samples(con: duckdb.DuckDBPyConnection, result: BatchResult) -> None:
    """Count rows as samples where several make one, or one makes several."""
    counts = con.execute("select file_no, count(*) from staged group by file_no").fetchall()
    for file_no, n_samples in counts:
        result.files[file_no].rows_in = n_samples + result.files[file_no].rows_rejected


def _drop_repeats(con: duckdb.DuckDBPyConnection, result: BatchResult) -> None:
    _make_all_samples(con)
    select = files("ingest").joinpath("dedupe.sql").read_text(encoding="utf-8")
    con.execute(f"create or replace temp table dropped as {select}")
    dropped: Counter[tuple[int, bool]] = Counter()
    for file_no, is_repeated, n_rows in con.execute(
        "select file_no, is_repeated, count(*) from dropped group by all"
    ).fetchall():
        dropped[file_no, is_repeated] += n_rows
    for (file_no, is_repeated), n_rows in dropped.items():
        if is_repeated:
            result.files[file_no].rows_repeated += n_rows
        else:
            result.files[file_no].rows_conflicting += n_rows
    con.execute("delete from staged where rowid in (select place from dropped)")
    con.execute("drop table dropped")


def _make_all_samples(con: duckdb.DuckDBPyConnection) -> None:
    """Make the view ``all_samples``: the store's, and archived ones a staged row may repeat."""
    columns = f"pump_no, ts, {channel_columns(con)}"
    con.execute(
        "create or replace temp table archived_samples as"  # noqa: S608  # our own names
        f" select {columns} from samples limit 0"
    )
    archive = Archive(con)
    none = con.sql("select * from archived_samples").to_arrow_table()
    kinds = {name: column_type(name) for name in _COLUMNS}
    no_nan = ", ".join(
        f"nullif({name}, 'nan'::float) as {name}" if kind == "float" else name
        for name, kind in kinds.items()
    )
    reach = con.execute(
        "select pump_no, min(ts), max(ts) from staged group by pump_no order by pump_no"
    ).fetchall()
    for pump_no, first_at, last_at in reach:
        found = archive.with_stored(none, [pump_no], first_at, last_at + timedelta(microseconds=1))
        if found.num_rows:
            con.register("found_rows", found)
            con.execute(
                f"insert into archived_samples select pump_no, ts, {no_nan}"  # noqa: S608  # our own
                " from found_rows"
            )
            con.unregister("found_rows")
    con.execute(
        "create or replace temp view all_samples as"  # noqa: S608  # our own names
        f" select {columns} from samples union all select * from archived_samples"
    )
