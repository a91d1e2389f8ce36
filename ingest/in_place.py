"""Parquet logs are left where they lie: the store notes where that is, and what they hold.

A log that cannot be left, or meets samples the store has of the same time, is handed back. One
that is not as it was noted is looked through anew, and its pumps' weeks are measured again.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import duckdb

from ingest.archive import ensure_left, has_left
from ingest.batch_reading import Fleet
from ingest.coverage import add_coverage, pump_in_reach, stored_counts
from ingest.freed_memory import keep_freed_memory
from ingest.layout import LayoutError
from ingest.ledger import Entry, FileResult, Ledger, key_by_name
from ingest.load_report import Tally
from ingest.log_files import LogFile
from ingest.log_profile import LogProfile
from ingest.look_through import Held, NotFitError, look_through
from ingest.reject_text import unknown_pump
from ingest.rejects import Reject
from ingest.rows import insert_columns
from ingest.samples import add_columns
from ingest.shown import shown_error
from ingest.store import transaction
from ingest.survey import Survey, WeekCount

FILES_A_ROUND = 100
"""Logs noted by one transaction; ours, as of copied ones."""

_THREADS = 2  # reading lets go of the interpreter, as hashing does

_Counts = dict[str, tuple[int, int, int]]  # samples, first and last instant in us, by week


@dataclass(frozen=True)
class _Fit:
    log: LogFile
    entry: Entry
    held: Held
    rejects: list[Reject]


class InPlace:
    """Leaves logs where they lie, for the length of one load."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        fleet: Fleet,
        ledger: Ledger,
        tally: Tally,
        read_as: Mapping[LogProfile | None, str],
        when_new: Callable[[], None],
    ) -> None:
        self.con = con
        self.fleet = fleet
        self.ledger = ledger
        self.tally = tally
        self.read_as = read_as
        self.when_new = when_new
        self.known = _known(con)

    def leave(
        self, logs: Sequence[tuple[LogFile, LogProfile | None]]
    ) -> tuple[int, list[tuple[LogFile, str]]]:
        """Note what logs hold, where they lie.

        Returns
        -------
        int
            How many are as they were when they were noted.
        list of (LogFile, str)
            Those that are not fit for it, with the reason.
        """
        new = [(log, profile) for log, profile in logs if not self._is_as_noted(log, profile)]
        n_unchanged = len(logs) - len(new)
        if new:
            self.when_new()
            keep_freed_memory()
        not_fit: list[tuple[LogFile, str]] = []
        with ThreadPoolExecutor(_THREADS) as pool:
            for start in range(0, len(new), FILES_A_ROUND):
                some = new[start : start + FILES_A_ROUND]
                fit: list[_Fit] = []
                looked = pool.map(lambda one: self._look(*one), some)
                for (log, profile), held in zip(some, looked, strict=True):
                    if isinstance(held, str):
                        not_fit.append((log, held))
                        self._forget_changed(log)
                    elif (made := self._fit(log, profile, held)) is None:
                        n_unchanged += 1
                    else:
                        fit.append(made)
                not_fit += self._note(fit)
        return n_unchanged, not_fit

    def _is_as_noted(self, log: LogFile, profile: LogProfile | None) -> bool:
        known = self.known.get(log.address)
        return (
            known is not None
            and known[:2] == (log.n_bytes, log.changed_ns)
            and self.ledger.has((known[2],), self.read_as[profile])
        )

    def _forget_changed(self, log: LogFile) -> None:
        if log.address in self.known:
            with transaction(self.con):
                forget(self.con, log.address)

    def _look(self, log: LogFile, profile: LogProfile | None) -> Held | str:
        if not log.address.isprintable():
            return "its path has signs that are no text"
        try:
            held = look_through(log, profile, self.fleet)
            is_still = bool(log.url) or not log.has_changed()
            return held if is_still else "it was written to while it was read"
        except (NotFitError, LayoutError) as error:
            return shown_error(str(error).rstrip("."))

    def _fit(self, log: LogFile, profile: LogProfile | None, held: Held) -> _Fit | None:
        """A log as it is to be noted; None if its bytes are in the store already."""
        by_name = key_by_name(held.sha256, log, profile)
        key = held.sha256 if held.reading.pump is not None else by_name
        read_as = self.read_as[profile]
        if self.ledger.has((held.sha256, by_name), read_as):
            return None
        entry = Entry(key, log.name, log.n_bytes, read_as)
        self.ledger.expect(entry)
        told = [
            unknown_pump(name, n, self.fleet.numbers, is_in_name=held.reading.pump is None)
            for name, n in sorted(held.unknown.items())
        ]
        rejects = [
            Reject(file_no=0, line=None, column=one.column, reason=one.reason, advice=one.advice)
            for one in told
        ]
        return _Fit(log, entry, held, rejects)

    def _note(self, fit: Sequence[_Fit]) -> list[tuple[LogFile, str]]:
        """Write logs down; those that meet samples of the store are not fit."""
        if not fit:
            return []
        not_fit: list[tuple[LogFile, str]] = []
        with transaction(self.con):
            ensure_left(self.con)
            for one in fit:
                if one.log.address in self.known:
                    forget(self.con, one.log.address)
            taken: list[_Fit] = []
            pumps = {pump_no for one in fit for pump_no, _ in one.held.counts}
            stored = stored_counts(self.con, sorted(pumps))
            for one in fit:
                if pump_in_reach(stored, one.held.counts) is not None:
                    not_fit.append((one.log, "it meets samples the store has of the same time"))
                    self.ledger.give_up(one.entry)
                    continue
                _merge(stored, one.held.counts)
                taken.append(one)
            self._write(taken)
        for one in taken:
            self.tally.add(one.entry, _result(one), one.rejects)
            self.tally.note("left in place", one.log.name)
            self.tally.weeks |= {week for _, week in one.held.counts}
        return not_fit

    def _write(self, taken: Sequence[_Fit]) -> None:
        if not taken:
            return
        add_columns(self.con, _fields(taken))
        rows = [
            (one.log.address, *key, count)
            for one in taken
            for key, count in sorted(one.held.counts.items())
        ]
        insert_columns(
            self.con,
            "archived",
            {
                "name": [name for name, *_ in rows],
                "pump_no": [pump_no for _, pump_no, _, _ in rows],
                "week": [week for _, _, week, _ in rows],
                "n_samples": [count.n for *_, count in rows],
                "first_at": [count.first_us for *_, count in rows],
                "last_at": [count.last_us for *_, count in rows],
            },
        )
        insert_columns(
            self.con,
            "archive_files",
            {
                "name": [one.log.address for one in taken],
                "week": [min((week for _, week in one.held.counts), default="") for one in taken],
                "sha256": [one.held.sha256 for one in taken],
                "bytes": [one.log.n_bytes for one in taken],
            },
        )
        insert_columns(
            self.con,
            "left_in_place",
            {
                "name": [one.log.address for one in taken],
                "changed_ns": [one.log.changed_ns for one in taken],
                "key": [one.entry.key for one in taken],
                "reading": [one.held.reading.as_json() for one in taken],
            },
        )
        merged: dict[int, _Counts] = {}
        for one in taken:
            _merge(merged, one.held.counts)
        add_coverage(
            self.con,
            Survey(
                counts={
                    (pump_no, week): WeekCount(*count)
                    for pump_no, weeks in merged.items()
                    for week, count in weeks.items()
                }
            ),
        )
        self.ledger.write([(one.entry, _result(one), one.rejects) for one in taken])


def forget(con: duckdb.DuckDBPyConnection, address: str) -> None:
    """Take a log that is not as it was out of the store; the caller holds the transaction.

    Its pumps' weeks are counted by what is left of them, and are to be measured again.
    """
    name = {"name": address}
    con.execute(
        "create or replace temp table touched as"
        " select distinct pump_no, week from archived where name = $name",
        name,
    )
    con.execute(
        "delete from files where sha256 in (select key from left_in_place where name = $name)",
        name,
    )
    con.execute(
        "delete from rejects where sha256 in (select key from left_in_place where name = $name)",
        name,
    )
    for table in ("archived", "archive_files", "left_in_place"):
        con.execute(f"delete from {table} where name = $name", name)  # noqa: S608  # our own names
    con.execute(
        "create or replace temp table remaining as"
        " select pump_no, week, sum(n)::bigint as n_samples, min(first_at) as first_at,"
        " max(last_at) as last_at from ("
        "   select pump_no, week, n_samples as n, first_at, last_at from archived"
        "   semi join touched using (pump_no, week)"
        "   union all"
        "   select c.pump_no, c.week, count(*), min(s.ts), max(s.ts) from samples s join ("
        "     select * from coverage semi join touched using (pump_no, week)) c"
        "   on s.pump_no = c.pump_no and s.ts between c.first_at and c.last_at group by all"
        " ) group by all"
    )
    con.execute(
        "delete from coverage using touched where coverage.pump_no = touched.pump_no"
        " and coverage.week = touched.week"
    )
    con.execute(
        "insert into coverage select pump_no, week, n_samples, first_at, last_at, false"
        " from remaining order by pump_no, week"
    )
    con.execute("drop table touched")
    con.execute("drop table remaining")


def _known(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[int, int, str]]:
    """Size, time of change and ledger key of each log left in place, by its address."""
    if not has_left(con):
        return {}
    rows = con.execute(
        "select name, bytes, changed_ns, key from left_in_place join archive_files using (name)"
    ).fetchall()
    return {name: (n_bytes, changed_ns, key) for name, n_bytes, changed_ns, key in rows}


def _result(one: _Fit) -> FileResult:
    n_unknown = sum(one.held.unknown.values())
    n_rows = one.held.n_rows
    return FileResult(rows_in=n_rows, rows_kept=n_rows - n_unknown, rows_rejected=n_unknown)


def _fields(taken: Iterable[_Fit]) -> set[str]:
    return {channel.field for one in taken for channel in one.held.reading.channels or ()}


def _merge(stored: dict[int, _Counts], counts: Mapping[tuple[int, str], WeekCount]) -> None:
    """Add samples to what is counted."""
    for (pump_no, week), count in counts.items():
        n, first_us, last_us = stored.setdefault(pump_no, {}).get(
            week, (0, count.first_us, count.last_us)
        )
        stored[pump_no][week] = (
            n + count.n,
            min(first_us, count.first_us),
            max(last_us, count.last_us),
        )
