"""Whether what a store says of itself agrees: counts, keys, order, ledger, coverage, archive."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import duckdb

from ingest.archive import Archive, archived_count
from ingest.archive_checks import wrong_archive
from ingest.coverage import count_pump, stored_counts
from ingest.store import pump_numbers, read_register

_KEYS = {
    "sites": "site_id",
    "pumps": "pump_id",
    "pump_numbers": "pump_id",
    "pump_numbers by number": "pump_no",
    "files": "sha256",
    "coverage": "pump_no, week",
}

_LINKS = {
    "samples": ("pump_no", "pump_numbers", "pump_no"),
    "coverage": ("pump_no", "pump_numbers", "pump_no"),
    "pumps": ("pump_id", "pump_numbers", "pump_id"),
    "pumps by site": ("site_id", "sites", "site_id"),
    "rejects": ("sha256", "files", "sha256"),
}


@dataclass(frozen=True, kw_only=True)
class StoreReport:
    """What was counted, and every contradiction found, as a sentence.

    ``n_samples`` are in the store or its archive, ``n_archived`` of them there.
    """

    n_samples: int
    n_archived: int
    n_files: int
    n_pumps: int
    faults: tuple[str, ...]


def verify_store(
    con: duckdb.DuckDBPyConnection, progress: Callable[[int, int, str], None] | None = None
) -> StoreReport:
    """Check a store's tables against each other; a store in good order has no faults.

    Where files of the archive are not as they were written, what hangs on them is not checked.
    """
    n_archived = archived_count(con)
    n_samples = _count(con, "select count(*) from samples") + n_archived
    faults = [*_wrong_keys(con), *_broken_links(con), *_wrong_ledger(con, n_samples)]
    wrong_files = list(wrong_archive(con))
    faults += wrong_files
    numbers = pump_numbers(con)
    register = read_register(con)
    timezone_of = {
        pump.pump_id: register.sites[pump.site_id].timezone
        for pump in register.pumps.values()
        if pump.site_id in register.sites
    }
    archive = Archive(con)
    for n_done, (pump_id, pump_no) in enumerate(sorted(numbers.items())):
        if wrong_files:
            break
        if progress is not None:
            progress(n_done, len(numbers), pump_id)
        faults += _wrong_pump(con, archive, pump_id, pump_no, timezone_of.get(pump_id))
    return StoreReport(
        n_samples=n_samples,
        n_archived=n_archived,
        n_files=_count(con, "select count(*) from files"),
        n_pumps=len(numbers),
        faults=tuple(faults),
    )


def _count(con: duckdb.DuckDBPyConnection, query: str) -> int:
    (row,) = con.execute(query).fetchall()
    return int(row[0])


def _wrong_keys(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    for name, key in _KEYS.items():
        table = name.split()[0]
        n_twice = _count(
            con,
            f"select count(*) from (select {key} from {table} group by all"  # noqa: S608  # our own
            " having count(*) > 1)",
        )
        if n_twice:
            yield f"{table}: {n_twice} keys ({key}) come more than once."


def _broken_links(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    for name, (column, other, key) in _LINKS.items():
        table = name.split()[0]
        n_lost = _count(
            con,
            f"select count(distinct {column}) from {table}"  # noqa: S608  # our own names
            f" where {column} not in (select {key} from {other})",
        )
        if n_lost:
            yield f"{table}: {n_lost} values of {column} are not in {other}."


def _wrong_ledger(con: duckdb.DuckDBPyConnection, n_samples: int) -> Iterator[str]:
    n_kept = _count(con, "select coalesce(sum(rows_kept), 0) from files")
    if n_kept != n_samples:
        yield f"files: {n_kept} rows were kept, but samples has {n_samples}."
    wrong = con.execute(
        "select name, rows_in, rows_kept + rows_repeated + rows_conflicting + rows_rejected"
        " from files where rows_in <> rows_kept + rows_repeated + rows_conflicting + rows_rejected"
        " or least(rows_kept, rows_repeated, rows_conflicting, rows_rejected) < 0 order by name"
    ).fetchall()
    for name, n_in, n_told in wrong:
        yield f"files: {name} had {n_in} rows, but {n_told} are accounted for."


def _wrong_pump(
    con: duckdb.DuckDBPyConnection,
    archive: Archive,
    pump_id: str,
    pump_no: int,
    timezone: str | None,
) -> Iterator[str]:
    found = count_pump(con, archive, pump_no, timezone or "UTC")
    if found.n_repeated:
        yield f"samples: {pump_id} has {found.n_repeated} instants more than once."
    n_files = _count(con, "select count(*) from files where rows_kept > 0")
    if found.n_pieces > max(n_files, 1):
        yield f"samples: {pump_id} lies in {found.n_pieces} pieces, of only {n_files} files."
    told = stored_counts(con, [pump_no]).get(pump_no, {})
    if timezone is None:  # its zone is not known any more, so neither are its weeks
        n_told = sum(n for n, _, _ in told.values())
        if n_told != found.n_samples:
            yield f"coverage: {pump_id} has {found.n_samples} samples, told are {n_told}."
        return
    counted = {
        week: (count.n, count.first_us, count.last_us)
        for (_, week), count in found.weeks.counts.items()
    }
    for week in sorted(counted.keys() | told.keys()):
        if counted.get(week) != told.get(week):
            n_counted, n_told = (side.get(week, (0,))[0] for side in (counted, told))
            yield (
                f"coverage: {pump_id} has {n_counted} samples in {week}, told are {n_told}, "
                "or their first or last instant differs."
            )
