"""Which log files there are, what they are by name, and their text whatever it is packed in."""

import gzip
import hashlib
import io
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, cast

from ingest.errors import LogError
from ingest.log_profile import LogProfile

_SUFFIXES = (".csv", ".csv.gz", ".csv.zst", ".parquet")
_HASH_THREADS = 2  # hashing lets go of the interpreter; two cores are the least we plan for
_HEAD_BYTES = 65_536


@dataclass(frozen=True, kw_only=True)
class LogFile:
    """One log file.

    Attributes
    ----------
    name : str
        How it is named to people: its path below the folder that was given.
    packing : str
        ``parquet``, ``gzip``, ``zstd`` or ``none``.
    """

    path: Path
    name: str
    packing: str
    n_bytes: int

    @property
    def stem(self) -> str:
        """File name without its endings."""
        name = self.path.name
        lower = name.lower()
        for suffix in (*_SUFFIXES, ".gz", ".zst"):
            if lower.endswith(suffix):
                return name[: -len(suffix)]
        return self.path.stem

    @property
    def plain_bytes(self) -> int:
        """About how many bytes it would have as plain text (packed logs shrink about tenfold)."""
        return self.n_bytes if self.packing == "none" else self.n_bytes * 10


def find_logs(paths: Sequence[Path], profiles: Sequence[LogProfile]) -> list[LogFile]:
    """Return all log files of the given files and folders, each once, in order of their name.

    In folders, files with the endings of a log and files a profile's ``files`` names are taken.

    Raises
    ------
    LogError
        A path does not exist, or there is no log file in any of them.
    """
    missing = [str(path) for path in paths if not path.exists()]
    if missing:
        raise LogError(f"{', '.join(missing)}: no such file or folder.")
    found: dict[Path, LogFile] = {}
    for given in paths:
        for path in [given] if given.is_file() else sorted(given.rglob("*")):
            if path == given or (path.is_file() and _is_log(path.name, profiles)):
                name = path.name if path == given else path.relative_to(given).as_posix()
                found.setdefault(path.resolve(), _log_file(path, name))
    if not found:
        raise LogError(
            f"{', '.join(map(str, paths))}: no log in it. A log ends in {', '.join(_SUFFIXES)}."
        )
    return sorted(found.values(), key=lambda file: (file.name, str(file.path)))


def _is_log(name: str, profiles: Sequence[LogProfile]) -> bool:
    # A profile for all names ("*") must not turn every note lying about into a log.
    return name.lower().endswith(_SUFFIXES) or any(
        profile.files != "*" and profile.is_for(name) for profile in profiles
    )


def _log_file(path: Path, name: str) -> LogFile:
    packings = {".parquet": "parquet", ".gz": "gzip", ".zst": "zstd"}
    return LogFile(
        path=path,
        name=name,
        packing=packings.get(path.suffix.lower(), "none"),
        n_bytes=path.stat().st_size,
    )


def sha256_of(files: Sequence[LogFile]) -> list[str]:
    """Return the SHA-256 of each file's bytes, as hexadecimal text.

    Raises
    ------
    LogError
        A file cannot be opened.
    """
    with ThreadPoolExecutor(_HASH_THREADS) as pool:
        return list(pool.map(_sha256, files))


def _sha256(file: LogFile) -> str:
    try:
        with file.path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise LogError(f"{file.path}: cannot be read: {error.strerror}.") from error


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
    """Yield a text file's lines without their ends; bytes that are no text become U+FFFD."""
    with (
        open_bytes(file) as stream,
        io.TextIOWrapper(stream, encoding=encoding, errors="replace") as text,
    ):
        for line in text:
            yield line.rstrip("\n")


def head(file: LogFile) -> bytes:
    """Return the first bytes of a file, unpacked, cut at a line's end where there is one."""
    with open_bytes(file) as stream:
        start = stream.read(_HEAD_BYTES)
    return start if len(start) < _HEAD_BYTES else start[: start.rfind(b"\n") + 1] or start
