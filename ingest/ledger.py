"""The ledger: which files were loaded, what became of their rows, which weeks got samples."""

import hashlib
from collections.abc import Sequence
from dataclasses import astuple, dataclass

import duckdb

from ingest.log_files import LogFile
from ingest.log_profile import LogProfile
from ingest.probe import pump_of_name
from ingest.rejects import Reject
from ingest.survey import Survey


@dataclass
class FileResult:
    """What became of the rows of one file."""

    rows_in: int = 0
    rows_kept: int = 0
    rows_repeated: int = 0
    rows_conflicting: int = 0
    rows_rejected: int = 0


@dataclass(frozen=True)
class Entry:
    """A file in the ledger.

    Attributes
    ----------
    key : str
        Hash of its bytes, and of its pump where only its name says it.
    read_as : str
        Hash of all its reading hung on besides its bytes: profile and register.
    """

    key: str
    name: str
    n_bytes: int
    read_as: str


class Ledger:
    """Files in the store, as they were when the load began and as it adds to them."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.con = con
        self._read_as = dict(con.execute("select sha256, read_as from files").fetchall())
        self._faulty = {key for (key,) in con.execute("select sha256 from rejects").fetchall()}

    def has(self, keys: Sequence[str], read_as: str) -> bool:
        """Whether a file need not be read again, under any of the keys it may have.

        What was rejected is tried again once the profile or register has changed.
        """
        return any(
            key in self._read_as and (key not in self._faulty or self._read_as[key] == read_as)
            for key in keys
        )

    def expect(self, entry: Entry) -> None:
        """Take a file as loaded from now on, so that its bytes are not read twice in one load."""
        self._read_as[entry.key] = entry.read_as
        self._faulty.discard(entry.key)

    def write(self, entry: Entry, done: FileResult, rejects: Sequence[Reject]) -> None:
        """Write a file's row and its rejects, in place of earlier ones of the same key."""
        self.con.execute("delete from files where sha256 = ?", [entry.key])
        self.con.execute("delete from rejects where sha256 = ?", [entry.key])
        self.con.execute(
            "insert into files values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [entry.key, entry.name, entry.n_bytes, entry.read_as, *astuple(done)],
        )
        if rejects:
            self.con.executemany(
                "insert into rejects values (?, ?, ?, ?, ?, ?)",
                [[entry.key, entry.name, r.line, r.reason, r.advice, r.content] for r in rejects],
            )


def key_by_name(sha256: str, file: LogFile, profile: LogProfile | None) -> str:
    """Ledger key of a file whose name says which pump it is.

    Two pumps that stand still may log the very same bytes.
    """
    return hashlib.sha256(f"{sha256} {pump_of_name(file, profile)}".encode()).hexdigest()


def add_coverage(con: duckdb.DuckDBPyConnection, added: Survey) -> None:
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
