"""Logs go into the store: each file's bytes once, each pump's instant once.

Files are known by the hash of their bytes (and by their pump, where only their name says it). A
file that was loaded is not read again, unless some of it was rejected and the register or profile
it was read with has changed since. Of two samples of one pump and instant, the one in the store
stays; within one load, the one of the file that sorts first. Each batch of files is one
transaction.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple, dataclass, field
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from ingest.batch import BatchResult, FileResult, Fleet, add_batch, read_batch
from ingest.installed_base import Problem, Register
from ingest.layout import LayoutError
from ingest.log_files import LogFile, find_logs, sha256_of
from ingest.log_profile import LogProfile
from ingest.probe import Probe, probe, pump_of_name
from ingest.rejects import Reject
from ingest.staging import PumpLabels
from ingest.store import pump_numbers, save_register
from ingest.survey import Survey

FILES_A_BATCH = 50
BYTES_A_BATCH = 256_000_000
"""Some five million rows, so that a batch stays within the usual memory limit."""

MAX_LISTED_REJECTS = 1000

_READING = 1  # raise it when the same bytes would be read otherwise than before


@dataclass(frozen=True, kw_only=True)
class LoadReport:
    """What a load did.

    Attributes
    ----------
    n_files, n_files_new, n_files_unchanged : int
        Files given; of them read now; of them loaded before, byte for byte.
    rows_in : int
        Rows in the files read now: kept + repeated + conflicting + rejected. A long table's rows
        are counted as the samples they make.
    rows_conflicting : int
        Rows left out as another value of the same pump and instant came first.
    rejects : tuple of Problem
        Rows, cells and files not loaded as they stood; the first of them, all are in the store.
    n_rejects : int
        How many there were.
    notes : tuple of str
        What was not read, though nothing is wrong with it.
    weeks_touched : tuple of str
        ISO weeks (site-local) that got samples, in order.
    """

    n_files: int = 0
    n_files_new: int = 0
    n_files_unchanged: int = 0
    rows_in: int = 0
    rows_kept: int = 0
    rows_repeated: int = 0
    rows_conflicting: int = 0
    rows_rejected: int = 0
    rejects: tuple[Problem, ...] = ()
    n_rejects: int = 0
    notes: tuple[str, ...] = ()
    weeks_touched: tuple[str, ...] = ()


@dataclass(frozen=True)
class _NewFile:
    file: LogFile
    sha256: str
    read_as: str
    probe: Probe


@dataclass
class _Tally:
    """What a load has done so far."""

    totals: FileResult = field(default_factory=FileResult)
    rejects: list[Problem] = field(default_factory=list)
    n_rejects: int = 0
    notes: dict[str, list[str]] = field(default_factory=dict)
    weeks: set[str] = field(default_factory=set)

    def add(self, done: Sequence[FileResult]) -> None:
        for one in done:
            totals = zip(astuple(self.totals), astuple(one), strict=True)
            self.totals = FileResult(*(so_far + more for so_far, more in totals))


def load_logs(
    con: duckdb.DuckDBPyConnection,
    paths: Sequence[Path],
    register: Register,
    profiles: Sequence[LogProfile] = (),
    progress: Callable[[int, int, str], None] | None = None,
) -> LoadReport:
    """Load files, or folders of files, into the store.

    Parameters
    ----------
    con : DuckDBPyConnection
        A store open for writing.
    paths : sequence of Path
        Files, and folders that are searched through and through.
    register : Register
    profiles : sequence of LogProfile
        A file is read by the first one that is for its name, else as a plain log.
    progress : callable, optional
        Called with files done, files in all, and the name of the next or last file.

    Raises
    ------
    LogError
        A path does not exist, or no log file is there at all.
    """
    found = find_logs(paths, profiles)
    if not set(register.pumps) <= set(pump_numbers(con)):
        save_register(con, register)
    loader = _Loader(con, register, profiles, progress or (lambda done, total, name: None))
    return loader.load(found)


class _Loader:
    """Holds what stays the same from file to file of one load."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        register: Register,
        profiles: Sequence[LogProfile],
        progress: Callable[[int, int, str], None],
    ) -> None:
        self.con = con
        self.profiles = profiles
        self.progress = progress
        numbers = pump_numbers(con)
        self.fleet = Fleet(register, {pump_id: numbers[pump_id] for pump_id in register.pumps})
        self.tally = _Tally()
        self._hashes: dict[LogProfile | None, str] = {}

    def load(self, found: Sequence[LogFile]) -> LoadReport:
        self.progress(0, len(found), found[0].name)
        new, n_unchanged, n_unusable = self._sort_out(found)
        n_done = n_unchanged + n_unusable
        with TemporaryDirectory(prefix="pumprounds-") as folder:
            for batch in _batches(new):
                self._load_batch(batch, Path(folder))
                n_done += len(batch)
                self.progress(n_done, len(found), batch[-1].file.name)
        totals = self.tally.totals
        return LoadReport(
            n_files=len(found),
            n_files_new=len(found) - n_unchanged,
            n_files_unchanged=n_unchanged,
            rows_in=totals.rows_in,
            rows_kept=totals.rows_kept,
            rows_repeated=totals.rows_repeated,
            rows_conflicting=totals.rows_conflicting,
            rows_rejected=totals.rows_rejected,
            rejects=tuple(self.tally.rejects),
            n_rejects=self.tally.n_rejects,
            notes=tuple(_note(text, names) for text, names in self.tally.notes.items()),
            weeks_touched=tuple(sorted(self.tally.weeks)),
        )

    def _sort_out(self, found: Sequence[LogFile]) -> tuple[list[_NewFile], int, int]:
        """Tell new files from those loaded before and those that cannot be read at all."""
        known = dict(self.con.execute("select sha256, read_as from files").fetchall())
        faulty = {row[0] for row in self.con.execute("select sha256 from rejects").fetchall()}
        new: list[_NewFile] = []
        n_unchanged = n_unusable = 0
        for file, sha256 in zip(found, sha256_of(found), strict=True):
            profile = next((p for p in self.profiles if p.is_for(file.path.name)), None)
            read_as = self._read_as(profile)
            by_name = _key_by_name(sha256, file, profile)
            keys = [key for key in (sha256, by_name) if key in known]
            if any(key not in faulty or known[key] == read_as for key in keys):
                n_unchanged += 1
                continue
            try:
                probed = probe(self.con, file, profile)
            except LayoutError as error:
                self._reject_file(file, by_name, read_as, str(error))
                n_unusable += 1
                continue
            key = by_name if probed.layout.pump is None else sha256
            known[key] = read_as
            faulty.discard(key)
            new.append(_NewFile(file, key, read_as, probed))
            for note in probed.layout.notes:
                self.tally.notes.setdefault(note, []).append(file.name)
        return new, n_unchanged, n_unusable

    def _read_as(self, profile: LogProfile | None) -> str:
        """Hash of all that a file's reading hangs on besides its bytes."""
        if profile not in self._hashes:
            register = self.fleet.register
            pumps = [
                (p.pump_id, register.sites[p.site_id].timezone, p.pressure_setting_kpa, p.max_hz)
                for p in register.pumps.values()
            ]
            text = json.dumps([_READING, repr(profile), pumps])
            self._hashes[profile] = hashlib.sha256(text.encode()).hexdigest()
        return self._hashes[profile]

    def _reject_file(self, file: LogFile, sha256: str, read_as: str, why: str) -> None:
        reject = Reject(file_no=0, line=None, column=None, reason=why, advice="File left out.")
        self.con.execute("begin")
        try:
            self._write_file(file, sha256, read_as, FileResult(), [reject])
        except BaseException:
            self.con.execute("rollback")
            raise
        self.con.execute("commit")

    def _load_batch(self, batch: Sequence[_NewFile], folder: Path) -> None:
        probes = [new.probe for new in batch]
        labels = PumpLabels(_labels(self.fleet, batch[0].probe.profile))
        labels.create(self.con)
        seen, clocks, rejects = read_batch(self.con, probes, self.fleet, labels, folder)
        self.con.execute("begin")
        try:
            result = add_batch(self.con, probes, self.fleet, seen, clocks)
            result.rejects = rejects
            _add_coverage(self.con, result.added)
            self._write_files(batch, result)
        except BaseException:
            self.con.execute("rollback")
            raise
        self.con.execute("commit")
        self.con.execute("drop table raw")
        self.tally.add(result.files)
        self.tally.weeks |= {week for _, week in result.added.counts}

    def _write_files(self, batch: Sequence[_NewFile], result: BatchResult) -> None:
        for number, (new, done) in enumerate(zip(batch, result.files, strict=True)):
            rejects = [reject for reject in result.rejects if reject.file_no == number]
            self._write_file(new.file, new.sha256, new.read_as, done, rejects)

    def _write_file(
        self,
        file: LogFile,
        sha256: str,
        read_as: str,
        done: FileResult,
        rejects: Sequence[Reject],
    ) -> None:
        """Write the ledger's row of a file and its rejects, in place of earlier ones."""
        self.con.execute("delete from files where sha256 = ?", [sha256])
        self.con.execute("delete from rejects where sha256 = ?", [sha256])
        self.con.execute(
            "insert into files values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [sha256, file.name, file.n_bytes, read_as, *astuple(done)],
        )
        if rejects:
            self.con.executemany(
                "insert into rejects values (?, ?, ?, ?, ?, ?)",
                [[sha256, file.name, r.line, r.reason, r.advice, r.content] for r in rejects],
            )
        self.tally.n_rejects += len(rejects)
        room = MAX_LISTED_REJECTS - len(self.tally.rejects)
        self.tally.rejects += [reject.as_problem(file.name) for reject in rejects[:room]]


def _key_by_name(sha256: str, file: LogFile, profile: LogProfile | None) -> str:
    """Ledger key of a file whose name says which pump it is.

    Two pumps that stand still may log the very same bytes.
    """
    return hashlib.sha256(f"{sha256} {pump_of_name(file, profile)}".encode()).hexdigest()


def _labels(fleet: Fleet, profile: LogProfile | None) -> dict[str, int]:
    """Names that pumps may carry in the logs, with their numbers."""
    labels = dict(fleet.numbers)
    for name, pump_id in profile.pump_names if profile is not None else ():
        if pump_id in fleet.numbers:
            labels[name] = fleet.numbers[pump_id]
    return labels


def _batches(new: Sequence[_NewFile]) -> Iterator[list[_NewFile]]:
    """Cut files into batches: of one profile, and not too many rows."""
    for _, alike in groupby(
        sorted(new, key=lambda one: _order(one.probe)), key=lambda one: _order(one.probe)
    ):
        batch: list[_NewFile] = []
        n_bytes = 0
        for one in alike:
            is_full = len(batch) == FILES_A_BATCH or n_bytes + one.file.plain_bytes > BYTES_A_BATCH
            if batch and is_full:
                yield batch
                batch, n_bytes = [], 0
            batch.append(one)
            n_bytes += one.file.plain_bytes
        if batch:
            yield batch


def _order(probed: Probe) -> str:
    return probed.profile.name if probed.profile is not None else ""


def _add_coverage(con: duckdb.DuckDBPyConnection, added: Survey) -> None:
    """Count the batch's samples in ``coverage``; their weeks are to be measured again."""
    import pyarrow as pa

    if not added.counts:
        return
    keys, counts = list(added.counts), list(added.counts.values())
    con.register(
        "added_weeks",
        pa.table(
            {
                "pump_no": pa.array([pump_no for pump_no, _ in keys], pa.int32()),
                "week": [week for _, week in keys],
                "n_samples": [count.n for count in counts],
                "first_at": pa.array([count.first_us for count in counts], pa.timestamp("us")),
                "last_at": pa.array([count.last_us for count in counts], pa.timestamp("us")),
            }
        ),
    )
    con.execute(
        "update coverage set n_samples = coverage.n_samples + added.n_samples,"
        " first_at = least(coverage.first_at, added.first_at),"
        " last_at = greatest(coverage.last_at, added.last_at), is_measured = false"
        " from added_weeks as added"
        " where coverage.pump_no = added.pump_no and coverage.week = added.week"
    )
    con.execute(
        "insert into coverage select pump_no, week, n_samples, first_at, last_at, false"
        " from added_weeks anti join coverage using (pump_no, week) order by pump_no, week"
    )
    con.unregister("added_weeks")


def _note(text: str, names: Sequence[str]) -> str:
    more = f" and {len(names) - 1} more files" if len(names) > 1 else ""
    return f"{names[0]}{more}: {text}."
