"""What a log file is, and its bytes and text whatever it is packed in."""

import gzip
import hashlib
import io
import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import IO, cast

SUFFIXES = (".csv", ".csv.gz", ".csv.zst", ".parquet")
MAX_LINE = 65_536
"""Signs of a line that are read in text mode; longer lines are no log and are cut."""

MAX_GROWTH = 100
SURE_BYTES = 256_000_000
"""A packed file may unpack to 100 times its size, or to 256 MB where that is more.

Ours: logs of a pump that never runs shrink some fifty times; a file made to fill a disk, 1000.
"""

SURE_ROWS = 50_000_000
MAX_ROWS_A_BYTE = 5
"""A Parquet file may hold 50 million rows, or five a byte where that is more.

Ours: the week of 800 pumps at 10 s; values that never change take next to no bytes.
"""

_HASH_THREADS = 2  # hashing lets go of the interpreter; two cores are the least we plan for
_HEAD_BYTES = 65_536
_CHUNK = 1 << 20


@dataclass(frozen=True, kw_only=True)
class LogFile:
    """One log file, or the part of it that has the same columns.

    Attributes
    ----------
    name : str
        How it is named to people: its path below the folder that was given.
    packing : str
        ``parquet``, ``gzip``, ``zstd`` or ``none``.
    changed_ns : int
        When it was last written, as it was found. [ns]
    url : str
        Address of a file that is in an object store; empty for one of this machine.
    first_line, n_lines : int, int or None
        Lines of the text that are meant, counted from 1; all to the end where None.
    """

    path: Path
    name: str
    packing: str
    n_bytes: int
    changed_ns: int = 0
    url: str = ""
    first_line: int = 1
    n_lines: int | None = None

    @property
    def address(self) -> str:
        """Where it is, whatever folder the reader works in."""
        return self.url or str(self.path.absolute())

    @property
    def stem(self) -> str:
        """File name without its endings."""
        name = self.path.name
        lower = name.lower()
        for suffix in (*SUFFIXES, ".gz", ".zst"):
            if lower.endswith(suffix):
                return name[: -len(suffix)]
        return self.path.stem

    @property
    def plain_bytes(self) -> int:
        """About how many bytes it would have as plain text (packed logs shrink about tenfold)."""
        return self.n_bytes if self.packing == "none" else self.n_bytes * 10

    @property
    def is_pattern(self) -> bool:
        """Whether the database would take its path for a pattern that may fit other files too."""
        return any(sign in str(self.path) for sign in "*?[")

    @property
    def is_part(self) -> bool:
        """Whether only some of its lines are meant."""
        return self.first_line > 1 or self.n_lines is not None

    def has_changed(self) -> bool:
        """Whether the file is gone or was written to since it was found."""
        try:
            state = self.path.stat()
        except OSError:
            return True
        return (state.st_size, state.st_mtime_ns) != (self.n_bytes, self.changed_ns)


def sha256_of(files: Sequence[LogFile]) -> Iterator[str | OSError]:
    """Yield the SHA-256 of each file's bytes as hexadecimal text, or why it cannot be read."""
    with ThreadPoolExecutor(_HASH_THREADS) as pool:
        yield from pool.map(_sha256, files)


def _sha256(file: LogFile) -> str | OSError:
    try:
        with file.path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        return error


def unpacks_too_far(file: LogFile) -> bool:
    """Whether a packed file unpacks to more than is believed of a log; it is read no further."""
    if file.packing not in ("gzip", "zstd"):
        return False
    limit = max(SURE_BYTES, MAX_GROWTH * file.n_bytes)
    if file.packing == "gzip" and file.n_bytes * 1032 < limit:  # zlib's greatest ratio
        return False
    n_bytes = 0
    with open_bytes(file) as stream:
        while n_bytes <= limit:
            chunk = stream.read(_CHUNK)
            if not chunk:
                return False
            n_bytes += len(chunk)
    return True


def too_many_rows(n_rows: int, n_bytes: int) -> bool:
    """Whether a Parquet file claims more rows than is believed of a log; it is read no further."""
    return n_rows > max(SURE_ROWS, MAX_ROWS_A_BYTE * n_bytes)


@contextmanager
def open_bytes(file: LogFile) -> Iterator[IO[bytes]]:
    """Open a file's bytes, unpacked."""
    if file.packing == "gzip":
        with gzip.open(file.path, "rb") as unzipped:
            yield cast("IO[bytes]", unzipped)
    elif file.packing == "zstd":
        import pyarrow as pa  # the standard library cannot read zstd before Python 3.14

        with pa.input_stream(str(file.path), compression="zstd") as stream:
            yield stream
    else:
        with file.path.open("rb") as plain:
            yield plain


def text_lines(file: LogFile, encoding: str) -> Iterator[str]:
    """Yield a file's (or part's) lines without their ends, as a reader of its text sees them.

    Bytes that are no text become U+FFFD, lines are cut at ``MAX_LINE``.
    """
    start = file.first_line - 1
    stop = None if file.n_lines is None else start + file.n_lines
    with (
        open_bytes(file) as stream,
        io.TextIOWrapper(stream, encoding=encoding, errors="replace") as text,
    ):
        yield from islice(_cut_lines(text), start, stop)


def _cut_lines(text: io.TextIOWrapper) -> Iterator[str]:
    while line := text.readline(MAX_LINE):
        yield line.rstrip("\n")
        while not line.endswith("\n") and (line := text.readline(MAX_LINE)):
            pass  # the rest of a line that is too long


def head(file: LogFile) -> bytes:
    """Return the first bytes of a file, unpacked, cut at a line's end where there is one."""
    with open_bytes(file) as stream:
        start = stream.read(_HEAD_BYTES)
    return start if len(start) < _HEAD_BYTES else start[: start.rfind(b"\n") + 1] or start


UNREADABLE = (OSError, EOFError, zlib.error)
"""What reading a file's bytes may raise where they are damaged or gone."""
