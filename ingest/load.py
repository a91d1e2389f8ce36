"""Logs go into the store: each file's bytes once, each pump's instant once.

Files are known by the hash of their bytes (and by their pump, where only their name says it). A
file that was loaded is not read again, unless some of it was rejected and the register or profile
it was read with has changed since. Of two samples of one pump and instant, the one in the store
stays; within one load, the one of the file that sorts first. Each batch of files is one
transaction.
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from ingest.batch import BatchResult, add_batch
from ingest.batch_reading import Fleet, channels_of, read_batch
from ingest.clean_batch import (
    NotCleanError,
    NotTypedError,
    add_clean,
    has_typed_cells,
    is_likely_clean,
)
from ingest.coverage import add_coverage
from ingest.errors import LogError
from ingest.in_place import InPlace
from ingest.inbox import Inbox, find_logs
from ingest.installed_base import Register
from ingest.layout import LayoutError
from ingest.ledger import Entry, FileResult, Ledger, key_by_name
from ingest.load_report import LoadReport, Tally
from ingest.log_files import (
    MAX_GROWTH,
    SURE_BYTES,
    UNREADABLE,
    LogFile,
    sha256_of,
    unpacks_too_far,
)
from ingest.log_profile import LogProfile
from ingest.probe import Probe, probe, rows_told
from ingest.rejects import Reject
from ingest.samples import add_columns
from ingest.shown import shown_error
from ingest.staging import PumpLabels
from ingest.store import pump_numbers, save_register, shut_off_files, transaction

__all__ = ["LoadReport", "load_logs"]

FILES_A_BATCH = 100
BYTES_A_BATCH = 600_000_000
"""Some thirteen million rows, so that a batch stays within the usual memory limit."""

MAX_APART = 5
"""Files of a batch that are set apart as not clean, one try each; ours: more tries cost more."""

_READING = 3  # raise it when the same bytes would be read otherwise than before


@dataclass(frozen=True)
class _NewFile:
    entry: Entry
    probe: Probe


def load_logs(
    con: duckdb.DuckDBPyConnection,
    paths: Sequence[Path | str],
    register: Register,
    profiles: Sequence[LogProfile] = (),
    progress: Callable[[int, int, str], None] | None = None,
    *,
    is_last: bool = False,
    in_place: bool = False,
    when_new: Callable[[], None] = lambda: None,
    ahead: Callable[[], Inbox] | None = None,
) -> LoadReport:
    """Load files, or folders of files, into the store.

    Parameters
    ----------
    con : DuckDBPyConnection
        A store open for writing.
    paths : sequence of Path or str
        Files, and folders that are searched through and through; as text, addresses of object
        stores, whose logs can only be left in place.
    register : Register
    profiles : sequence of LogProfile
        A file is read by the first one that is for its name, else as a plain log.
    progress : callable, optional
        Called with files done, files in all, and the name of the next or last file.
    is_last : bool
        Shut the connection off from all other files for good, once the logs are found.
    in_place : bool
        Leave Parquet logs where they lie, as far as they are fit for it.
    when_new : callable, optional
        Called for each log that is not in the store, as soon as that is known.
    ahead : callable, optional
        Gives the logs of these paths, where they were found and hashed meanwhile.

    Raises
    ------
    LogError
        A path does not exist, or no log file is there at all; an object store's logs were not to
        be left in place.
    """
    found = find_logs(paths, profiles) if ahead is None else ahead()
    if not in_place and any(file.url for file in found.files):
        raise LogError("Logs of an object store are not copied: add --in-place to leave them.")
    if not set(register.pumps) <= set(pump_numbers(con)):
        save_register(con, register)
    shown = progress or (lambda done, total, name: None)
    loader = _Loader(con, register, profiles, shown, when_new)
    return loader.load(found, is_last=is_last, in_place=in_place)


class _Loader:
    """Holds what stays the same from file to file of one load."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        register: Register,
        profiles: Sequence[LogProfile],
        progress: Callable[[int, int, str], None],
        when_new: Callable[[], None],
    ) -> None:
        self.con = con
        self.when_new = when_new
        self.profiles = profiles
        self.progress = progress
        numbers = pump_numbers(con)
        self.fleet = Fleet(register, {pump_id: numbers[pump_id] for pump_id in register.pumps})
        self.ledger = Ledger(con)
        self.tally = Tally()
        self.read_as = {profile: _read_as(profile, register) for profile in (None, *profiles)}

    def load(self, inbox: Inbox, *, is_last: bool, in_place: bool) -> LoadReport:
        found = inbox.files
        n_found = len(found)
        self.progress(0, len(found), found[0].name)
        with TemporaryDirectory(prefix="pumprounds-") as folder:
            if is_last:
                here = [file.path for file in found if not file.url]
                shut_off_files(self.con, here, Path(folder))
            n_as_noted = 0
            if in_place:
                found, n_as_noted = self._leave(found)
            known = dict(zip(inbox.files, inbox.sha256, strict=True)) if inbox.sha256 else {}
            sha256 = [known[file] for file in found] if known else sha256_of(found)
            new, n_unchanged = self._sort_out(zip(found, sha256, strict=True))
            n_unchanged += n_as_noted
            n_done = n_found - len(new)
            for profile in (*self.profiles, None):
                for batch in _batches([one for one in new if one.probe.profile is profile]):
                    self._load_batch(batch, profile, Path(folder))
                    n_done += len(batch)
                    self.progress(n_done, n_found, batch[-1].probe.file.name)
        return self.tally.report(n_found, n_unchanged, inbox.notes)

    def _leave(self, found: Sequence[LogFile]) -> tuple[list[LogFile], int]:
        """Leave logs where they lie; return those still to be copied, and how many were known."""
        fit = [file for file in found if file.packing == "parquet"]
        placer = InPlace(
            self.con, self.fleet, self.ledger, self.tally, self.read_as, self.when_new
        )
        n_unchanged, not_fit = placer.leave([(file, self._profile(file)) for file in fit])
        for file, why in not_fit:
            if file.url:
                self._pass_over(
                    file, f"cannot be left where it lies: {why}. Fetch it and load it."
                )
            else:
                self.tally.note(f"copied into the store, as {why}", file.name)
        rest = {file.address for file, _ in not_fit if not file.url}
        return [f for f in found if f.packing != "parquet" or f.address in rest], n_unchanged

    def _profile(self, file: LogFile) -> LogProfile | None:
        return next((one for one in self.profiles if one.is_for(file.path.name)), None)

    def _sort_out(
        self, hashed: Iterable[tuple[LogFile, str | OSError]]
    ) -> tuple[list[_NewFile], int]:
        """Tell new files from those loaded before and those that cannot be read at all."""
        fresh: list[tuple[LogFile, str, Entry]] = []
        n_unchanged = 0
        for file, sha256 in hashed:
            if isinstance(sha256, OSError):
                self._pass_over(file, f"cannot be read: {sha256.strerror}.")
                continue
            profile = self._profile(file)
            by_name = key_by_name(sha256, file, profile)
            if self.ledger.has((sha256, by_name), self.read_as[profile]):
                n_unchanged += 1
                continue
            self.when_new()
            entry = Entry(by_name, file.name, file.n_bytes, self.read_as[profile])
            fresh.append((file, sha256, entry))
        n_rows = rows_told(self.con, [file for file, _, _ in fresh])
        new: list[_NewFile] = []
        for file, sha256, entry in fresh:
            if self.ledger.has((sha256, entry.key), entry.read_as):  # its like came just before
                n_unchanged += 1
                continue
            probed = self._probe(file, entry, n_rows.get(str(file.path)))
            if probed is None:
                continue
            if probed.layout.pump is not None:
                entry = replace(entry, key=sha256)
            self.ledger.expect(entry)
            new.append(_NewFile(entry, probed))
            for note in probed.layout.notes:
                self.tally.note(note, file.name)
        return new, n_unchanged

    def _probe(self, file: LogFile, entry: Entry, n_rows: int | None) -> Probe | None:
        """Look into a file; one that cannot be read is written down as that."""
        try:
            if unpacks_too_far(file):
                raise LayoutError(
                    f"unpacks to more than {MAX_GROWTH} times its size and {SURE_BYTES // 10**6} "
                    "MB, as no log does. Unpack it yourself if it is one."
                )
            return probe(self.con, file, self._profile(file), n_rows)
        except (LayoutError, *UNREADABLE) as error:
            why = str(error) if isinstance(error, LayoutError) else f"cannot be read: {error}."
        if file.has_changed():
            self._pass_over(file, why)
        else:
            reject = _of_file(why)
            with transaction(self.con):
                self.ledger.write([(entry, FileResult(), [reject])])
            self.tally.add(entry, FileResult(), [reject])
        return None

    def _pass_over(self, file: LogFile, why: str) -> None:
        """Tell of a file that is gone or in change; it is not written down, so is read again."""
        self.tally.add(Entry("", file.name, 0, ""), FileResult(), [_of_file(why)])

    def _load_batch(
        self, batch: Sequence[_NewFile], profile: LogProfile | None, folder: Path
    ) -> None:
        probes = [new.probe for new in batch]
        labels = PumpLabels(_labels(self.fleet, profile))
        labels.create(self.con)
        add_columns(self.con, channels_of(probes))
        careful = self._load_straight(batch, labels) if is_likely_clean(probes) else list(batch)
        if careful:
            self._load_careful(careful, labels, folder)

    def _load_careful(self, batch: Sequence[_NewFile], labels: PumpLabels, folder: Path) -> None:
        """Load files in which something is wrong, or repeats: each problem is found and named."""
        probes = [new.probe for new in batch]
        batch_read = read_batch(self.con, probes, self.fleet, labels, folder)
        with transaction(self.con):
            result = add_batch(self.con, self.fleet, batch_read)
            add_coverage(self.con, result.added)
            loaded = [
                (
                    self._as_read(new),
                    done,
                    [one for one in batch_read.rejects if one.file_no == number],
                )
                for number, (new, done) in enumerate(zip(batch, result.files, strict=True))
            ]
            self.ledger.write(loaded)
        self.con.execute("drop table raw")
        self._tell(loaded, result)

    def _load_straight(self, batch: Sequence[_NewFile], labels: PumpLabels) -> list[_NewFile]:
        """Load what is clean of a batch the straight way; return the files that are not.

        Files that are not clean are set apart one by one, as far as they are few. Which of them
        is met first hangs on the threads; they come back in the batch's order.
        """
        rest = list(batch)
        apart: list[_NewFile] = []
        is_typed = has_typed_cells([new.probe for new in batch])
        while rest:
            try:
                self._load_clean(rest, labels, is_typed=is_typed)
            except NotCleanError as found:
                if isinstance(found, NotTypedError) and found.place is None:
                    is_typed = False
                    continue
                if found.place is None or len(apart) == MAX_APART:
                    break
                one = rest.pop(found.place)
                if isinstance(found, NotTypedError) and self._is_only_blank(one, labels):
                    is_typed = False  # where one file has blank cells, others will
                    continue
                apart.append(one)
            else:
                rest = []
        left = {id(new) for new in (*rest, *apart)}
        return [new for new in batch if id(new) in left]

    def _is_only_blank(self, one: _NewFile, labels: PumpLabels) -> bool:
        """Whether a file with cells that are no numbers is clean all the same; it is loaded so."""
        try:
            self._load_clean([one], labels, is_typed=False)
        except NotCleanError:
            return False
        return True

    def _load_clean(
        self, batch: Sequence[_NewFile], labels: PumpLabels, *, is_typed: bool
    ) -> None:
        with transaction(self.con):
            probes = [new.probe for new in batch]
            result = add_clean(self.con, probes, self.fleet, labels, is_typed=is_typed)
            add_coverage(self.con, result.added)
            loaded: list[tuple[Entry, FileResult, list[Reject]]] = [
                (self._as_read(new), done, [])
                for new, done in zip(batch, result.files, strict=True)
            ]
            self.ledger.write(loaded)
        self._tell(loaded, result)

    def _tell(
        self, loaded: Sequence[tuple[Entry, FileResult, list[Reject]]], result: BatchResult
    ) -> None:
        for entry, done, rejects in loaded:
            self.tally.add(entry, done, rejects)
        self.tally.weeks |= {week for _, week in result.added.counts}

    def _as_read(self, new: _NewFile) -> Entry:
        """Ledger entry of a file; one that was written to meanwhile is to be read again."""
        if not new.probe.file.has_changed():
            return new.entry
        self.tally.note(
            "was written to while it was read; load it again when it is whole", new.entry.name
        )
        changed = hashlib.sha256(f"changed {new.entry.key}".encode()).hexdigest()
        return replace(new.entry, key=changed)


def _of_file(why: str) -> Reject:
    return Reject(
        file_no=0, line=None, column=None, reason=shown_error(why), advice="File left out."
    )


def _read_as(profile: LogProfile | None, register: Register) -> str:
    """Hash of all that a file's reading hangs on besides its bytes."""
    pumps = [
        (p.pump_id, register.sites[p.site_id].timezone, p.pressure_setting_kpa, p.max_hz)
        for p in register.pumps.values()
    ]
    text = json.dumps([_READING, repr(profile), pumps])
    return hashlib.sha256(text.encode()).hexdigest()


def _labels(fleet: Fleet, profile: LogProfile | None) -> dict[str, int]:
    """Names that pumps may carry in the logs, with their numbers."""
    labels = dict(fleet.numbers)
    for name, pump_id in profile.pump_names if profile is not None else ():
        if pump_id in fleet.numbers:
            labels[name] = fleet.numbers[pump_id]
    return labels


def _batches(new: Sequence[_NewFile]) -> Iterator[list[_NewFile]]:
    """Cut files into batches of not too many rows, about even: each costs something by itself."""
    n_bytes = sum(one.probe.plain_bytes for one in new)
    n_batches = max(ceil(len(new) / FILES_A_BATCH), ceil(n_bytes / BYTES_A_BATCH), 1)
    batch: list[_NewFile] = []
    size = 0
    for one in new:
        more = one.probe.plain_bytes
        is_full = len(batch) >= len(new) / n_batches or size >= n_bytes / n_batches
        if batch and (is_full or size + more > BYTES_A_BATCH):
            yield batch
            batch, size = [], 0
        batch.append(one)
        size += more
    if batch:
        yield batch
