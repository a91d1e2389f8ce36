"""Which logs have not been loaded before, and what is in them."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import duckdb

from ingest.layout import LayoutError
from ingest.ledger import Entry, FileResult, Ledger, key_by_name
from ingest.load_report import Tally
from ingest.log_files import MAX_GROWTH, SURE_BYTES, UNREADABLE, LogFile, unpacks_too_far
from ingest.log_profile import LogProfile
from ingest.probe import Probe, probe, rows_told
from ingest.rejects import Reject
from ingest.shown import shown_error
from ingest.store import transaction


@dataclass(frozen=True)
class NewFile:
    """A file to be loaded."""

    entry: Entry
    probe: Probe


@dataclass(frozen=True)
class Sorter:
    """Tells new files from others, for the length of one load.

    Attributes
    ----------
    read_as : mapping of LogProfile or None to str
        Hash of all that reading by a profile hangs on besides a file's bytes.
    when_new : callable
        Called for each file that was not loaded before.
    """

    con: duckdb.DuckDBPyConnection
    ledger: Ledger
    tally: Tally
    read_as: Mapping[LogProfile | None, str]
    when_new: Callable[[], None]

    def sort_out(
        self,
        logs: Sequence[tuple[LogFile, LogProfile | None]],
        hashes: Iterable[str | OSError],
    ) -> tuple[list[NewFile], int]:
        """Tell new files from those loaded before and those that cannot be read at all.

        Parameters
        ----------
        logs : sequence of (LogFile, LogProfile or None)
            Each with the profile it is read by.
        hashes : iterable of str or OSError
            Of the bytes of each, or why they cannot be read.

        Returns
        -------
        list of NewFile
        int
            How many were loaded before.
        """
        fresh: list[tuple[LogFile, LogProfile | None, str, Entry]] = []
        n_unchanged = 0
        for (file, profile), sha256 in zip(logs, hashes, strict=True):
            if isinstance(sha256, OSError):
                self.pass_over(file, f"cannot be read: {sha256.strerror}.")
                continue
            by_name = key_by_name(sha256, file, profile)
            if self.ledger.has((sha256, by_name), self.read_as[profile]):
                n_unchanged += 1
                continue
            self.when_new()
            entry = Entry(by_name, file.name, file.n_bytes, self.read_as[profile])
            fresh.append((file, profile, sha256, entry))
        n_rows = rows_told(self.con, [file for file, *_ in fresh])
        new: list[NewFile] = []
        for file, profile, sha256, entry in fresh:
            if self.ledger.has((sha256, entry.key), entry.read_as):  # its like came just before
                n_unchanged += 1
                continue
            probed = self._probe(file, profile, entry, n_rows.get(str(file.path)))
            if probed is None:
                continue
            if probed.layout.pump is not None:
                entry = replace(entry, key=sha256)
            self.ledger.expect(entry)
            new.append(NewFile(entry, probed))
            for note in probed.layout.notes:
                self.tally.note(note, file.name)
        return new, n_unchanged

    def pass_over(self, file: LogFile, why: str) -> None:
        """Tell of a file that is gone or in change; it is not written down, so is read again."""
        self.tally.add(Entry("", file.name, 0, ""), FileResult(), [_of_file(why)])

    def _probe(
        self, file: LogFile, profile: LogProfile | None, entry: Entry, n_rows: int | None
    ) -> Probe | None:
        """Look into a file; one that cannot be read is written down as that."""
        try:
            if unpacks_too_far(file):
                raise LayoutError(
                    f"unpacks to more than {MAX_GROWTH} times its size and {SURE_BYTES // 10**6} "
                    "MB, as no log does. Unpack it yourself if it is one."
                )
            return probe(self.con, file, profile, n_rows)
        except (LayoutError, *UNREADABLE) as error:
            why = str(error) if isinstance(error, LayoutError) else f"cannot be read: {error}."
        if file.has_changed():
            self.pass_over(file, why)
        else:
            reject = _of_file(why)
            with transaction(self.con):
                self.ledger.write([(entry, FileResult(), [reject])])
            self.tally.add(entry, FileResult(), [reject])
        return None


def _of_file(why: str) -> Reject:
    return Reject(
        file_no=0, line=None, column=None, reason=shown_error(why), advice="File left out."
    )
