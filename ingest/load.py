"""Logs go into the store: each file's bytes once, each pump's instant once.

Files are known by the hash of their bytes (and by their pump, where only their name says it). A
file that was loaded is not read again, unless some of it was rejected and the register or profile
it was read with has changed since. Of two samples of one pump and instant, the one in the store
stays; within one load, the one of the file that sorts first. Each batch of files is one
transaction.
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from ingest.batch_reading import Fleet
from ingest.errors import LogError
from ingest.in_place import InPlace
from ingest.inbox import Inbox, find_logs
from ingest.installed_base import Register
from ingest.ledger import Ledger
from ingest.load_batch import BatchLoader, batches_of
from ingest.load_report import LoadReport, Tally
from ingest.log_files import LogFile, sha256_of
from ingest.log_profile import LogProfile
from ingest.new_files import Sorter
from ingest.store import pump_numbers, save_register, shut_off_files

__all__ = ["LoadReport", "load_logs"]

_READING = 3  # raise it when the same bytes would be read otherwise than before


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


_Log = tuple[LogFile, LogProfile | None]
"""A log, and the profile it is read by."""


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
        self.sorter = Sorter(con, self.ledger, self.tally, self.read_as, when_new)

    def load(self, inbox: Inbox, *, is_last: bool, in_place: bool) -> LoadReport:
        n_found = len(inbox.files)
        self.progress(0, n_found, inbox.files[0].name)
        logs = [(file, self._profile(file)) for file in inbox.files]
        with TemporaryDirectory(prefix="pumprounds-") as folder:
            if is_last:
                here = [file.path for file, _ in logs if not file.url]
                shut_off_files(self.con, here, Path(folder))
            n_as_noted = 0
            if in_place:
                logs, n_as_noted = self._leave(logs)
            new, n_unchanged = self.sorter.sort_out(logs, _hashes(inbox, logs))
            n_unchanged += n_as_noted
            n_done = n_found - len(new)
            loader = BatchLoader(self.con, self.fleet, self.ledger, self.tally, Path(folder))
            for profile in (*self.profiles, None):
                for batch in batches_of([one for one in new if one.probe.profile is profile]):
                    loader.load(batch, profile)
                    n_done += len(batch)
                    self.progress(n_done, n_found, batch[-1].probe.file.name)
        return self.tally.report(n_found, n_unchanged, inbox.notes)

    def _profile(self, file: LogFile) -> LogProfile | None:
        return next((one for one in self.profiles if one.is_for(file.path.name)), None)

    def _leave(self, logs: Sequence[_Log]) -> tuple[list[_Log], int]:
        """Leave logs where they lie; return those still to be copied, and how many were known."""
        placer = InPlace(
            self.con, self.fleet, self.ledger, self.tally, self.read_as, self.when_new
        )
        n_unchanged, not_fit = placer.leave([log for log in logs if log[0].packing == "parquet"])
        for file, why in not_fit:
            if file.url:
                self.sorter.pass_over(
                    file, f"cannot be left where it lies: {why}. Fetch it and load it."
                )
            else:
                self.tally.note(f"copied into the store, as {why}", file.name)
        rest = {file.address for file, _ in not_fit if not file.url}
        left = [log for log in logs if log[0].packing != "parquet" or log[0].address in rest]
        return left, n_unchanged


def _hashes(inbox: Inbox, logs: Sequence[_Log]) -> Iterable[str | OSError]:
    """Hash of each log, as it was found ahead or else as it is now."""
    files = [file for file, _ in logs]
    known = dict(zip(inbox.files, inbox.sha256, strict=True)) if inbox.sha256 else {}
    return [known[file] for file in files] if known else sha256_of(files)


def _read_as(profile: LogProfile | None, register: Register) -> str:
    """Hash of all that a file's reading hangs on besides its bytes."""
    pumps = [
        (p.pump_id, register.sites[p.site_id].timezone, p.pressure_setting_kpa, p.max_hz)
        for p in register.pumps.values()
    ]
    text = json.dumps([_READING, repr(profile), pumps])
    return hashlib.sha256(text.encode()).hexdigest()
