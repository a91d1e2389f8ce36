"""New files go into the store by batches: what is clean the straight way, the rest carefully."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path

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
from ingest.ledger import Entry, FileResult, Ledger
from ingest.left_out import write_left_out
from ingest.load_report import Tally
from ingest.log_profile import LogProfile
from ingest.new_files import NewFile
from ingest.rejects import Reject
from ingest.samples import add_columns
from ingest.staging import PumpLabels
from ingest.store import transaction

FILES_A_BATCH = 100
BYTES_A_BATCH = 600_000_000
"""Some thirteen million rows, so that a batch stays within the usual memory limit."""

MAX_APART = 5
"""Files of a batch that are set apart as not clean, one try each; ours: more tries cost more."""


def batches_of(new: Sequence[NewFile]) -> Iterator[list[NewFile]]:
    """Cut files into batches of not too many rows, about even: each costs something by itself."""
    n_bytes = sum(one.probe.plain_bytes for one in new)
    n_batches = max(ceil(len(new) / FILES_A_BATCH), ceil(n_bytes / BYTES_A_BATCH), 1)
    batch: list[NewFile] = []
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


@dataclass(frozen=True)
class BatchLoader:
    """Loads batches of new files, each by one transaction a way, for the length of one load.

    Attributes
    ----------
    folder : Path
        Where cleaned copies of files may be put.
    """

    con: duckdb.DuckDBPyConnection
    fleet: Fleet
    ledger: Ledger
    tally: Tally
    folder: Path

    def load(self, batch: Sequence[NewFile], profile: LogProfile | None) -> None:
        """Load files that are read by one profile, or by none."""
        probes = [new.probe for new in batch]
        labels = PumpLabels(_labels(self.fleet, profile))
        labels.create(self.con)
        add_columns(self.con, channels_of(probes))
        careful = self._load_straight(batch, labels) if is_likely_clean(probes) else list(batch)
        if careful:
            self._load_careful(careful, labels)

    def _load_careful(self, batch: Sequence[NewFile], labels: PumpLabels) -> None:
        """Load files in which something is wrong, or repeats: each problem is found and named."""
        probes = [new.probe for new in batch]
        batch_read = read_batch(self.con, probes, self.fleet, labels, self.folder)
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
            write_left_out(self.con, [entry.key for entry, *_ in loaded], batch_read.left_out)
        self.con.execute("drop table raw")
        self._tell(loaded, result)

    def _load_straight(self, batch: Sequence[NewFile], labels: PumpLabels) -> list[NewFile]:
        """Load what is clean of a batch the straight way; return the files that are not.

        Files that are not clean are set apart one by one, as far as they are few. Which of them
        is met first hangs on the threads; they come back in the batch's order.
        """
        rest = list(batch)
        apart: list[NewFile] = []
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

    def _is_only_blank(self, one: NewFile, labels: PumpLabels) -> bool:
        """Whether a file with cells that are no numbers is clean all the same; it is loaded so."""
        try:
            self._load_clean([one], labels, is_typed=False)
        except NotCleanError:
            return False
        return True

    def _load_clean(self, batch: Sequence[NewFile], labels: PumpLabels, *, is_typed: bool) -> None:
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

    def _as_read(self, new: NewFile) -> Entry:
        """Ledger entry of a file; one that was written to meanwhile is to be read again."""
        if not new.probe.file.has_changed():
            return new.entry
        self.tally.note(
            "was written to while it was read; load it again when it is whole", new.entry.name
        )
        changed = hashlib.sha256(f"changed {new.entry.key}".encode()).hexdigest()
        return replace(new.entry, key=changed)


def _labels(fleet: Fleet, profile: LogProfile | None) -> dict[str, int]:
    """Names that pumps may carry in the logs, with their numbers."""
    labels = dict(fleet.numbers)
    for name, pump_id in profile.pump_names if profile is not None else ():
        if pump_id in fleet.numbers:
            labels[name] = fleet.numbers[pump_id]
    return labels
