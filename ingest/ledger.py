"""The ledger: which files were loaded, what became of their rows, which weeks got samples."""

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, astuple, dataclass
from typing import Any, Literal

import duckdb

from ingest.left_out import forget_left_out
from ingest.log_files import LogFile
from ingest.log_profile import LogProfile
from ingest.probe import pump_of_name
from ingest.rejects import Reject
from ingest.rows import insert_columns


@dataclass
class FileResult:
    """What became of the rows of one file."""

    rows_in: int = 0
    rows_kept: int = 0
    rows_repeated: int = 0
    rows_conflicting: int = 0
    rows_rejected: int = 0

    def plus(self, other: "FileResult") -> "FileResult":
        """Return the sum of both."""
        pairs = zip(astuple(self), astuple(other), strict=True)
        return FileResult(*(mine + others for mine, others in pairs))

    def with_kept_before(self, n_rows: int) -> "FileResult":
        """Return it with rows an earlier reading kept, which this one met as repeated or left."""
        kept = self.rows_kept + n_rows
        left = max(self.rows_in - kept, 0)
        rejected = min(self.rows_rejected, left)
        conflicting = min(self.rows_conflicting, left - rejected)
        return FileResult(
            rows_in=max(self.rows_in, kept),
            rows_kept=kept,
            rows_repeated=left - rejected - conflicting,
            rows_conflicting=conflicting,
            rows_rejected=rejected,
        )


@dataclass(frozen=True)
class Entry:
    """A file in the ledger.

    Attributes
    ----------
    key : str
        Hash of its bytes, and of its pump where only its name says it.
    bytes : int
        Its size.
    read_as : str
        Hash of all its reading hung on besides its bytes: profile and register.
    """

    key: str
    name: str
    bytes: int
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

    def give_up(self, entry: Entry) -> None:
        """Take it back that a file is expected."""
        self._read_as.pop(entry.key, None)

    def write(self, loaded: Sequence[tuple[Entry, FileResult, Sequence[Reject]]]) -> None:
        """Write files' rows and rejects, in place of earlier ones of the same keys.

        What a file gave the store when it was read before stays counted as kept.
        """
        keys = {"keys": [entry.key for entry, _, _ in loaded]}
        kept_before = dict(
            self.con.execute(
                "select sha256, rows_kept from files where list_contains($keys, sha256)", keys
            ).fetchall()
        )
        loaded = [
            (entry, done.with_kept_before(kept_before.get(entry.key, 0)), rejects)
            for entry, done, rejects in loaded
        ]
        self.con.execute("delete from files where list_contains($keys, sha256)", keys)
        self.con.execute("delete from rejects where list_contains($keys, sha256)", keys)
        forget_left_out(self.con, keys["keys"])
        files = [{"sha256": e.key, **asdict(e), **asdict(done)} for e, done, _ in loaded]
        rejects = [
            {"sha256": entry.key, "file": entry.name, **asdict(reject)}
            for entry, _, of_file in loaded
            for reject in of_file
        ]
        _insert(self.con, "files", files)
        _insert(self.con, "rejects", rejects)


def _insert(
    con: duckdb.DuckDBPyConnection, table: Literal["files", "rejects"], rows: list[dict[str, Any]]
) -> None:
    """Insert rows that have a table's columns, and perhaps others."""
    if rows:
        names = [name for name, *_ in con.execute(f"describe {table}").fetchall()]
        insert_columns(con, table, {name: [row[name] for row in rows] for name in names})


def key_by_name(sha256: str, file: LogFile, profile: LogProfile | None) -> str:
    """Ledger key of a file whose name says which pump it is.

    Two pumps that stand still may log the very same bytes.
    """
    named = f"{sha256} {pump_of_name(file, profile)}"
    return hashlib.sha256(named.encode(errors="surrogatepass")).hexdigest()
