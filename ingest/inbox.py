"""Which log files lie in the given files and folders, and what there is not followed or searched.

Folders may be open to strangers: a link that leads out of the folder it lies in is not followed,
and folders are searched to a stated depth.
"""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ingest.errors import LogError
from ingest.log_files import SUFFIXES, LogFile
from ingest.log_profile import LogProfile
from ingest.outside import file_system_of
from ingest.shown import shown

MAX_DEPTH = 32
"""Folders below each other that are searched; ours: no export nests as deep."""

_PACKINGS = {".parquet": "parquet", ".gz": "gzip", ".zst": "zstd"}


@dataclass(frozen=True)
class Inbox:
    """Log files, each once, in order of their name; notes say what was passed over.

    Attributes
    ----------
    sha256 : tuple of str or OSError
        Of each file, or why it cannot be read, where that was found out meanwhile; else none.
    """

    files: list[LogFile]
    notes: tuple[str, ...] = ()
    sha256: tuple[str | OSError, ...] = ()


@dataclass
class _Search:
    """What one search has met so far."""

    found: dict[Path, LogFile] = field(default_factory=dict)
    links: list[str] = field(default_factory=list)
    too_deep: list[str] = field(default_factory=list)

    def add(self, path: Path, name: str) -> None:
        try:
            state = path.stat()
        except OSError:
            return  # gone since the folder was listed
        file = LogFile(
            path=path,
            name=shown(name, 200),
            packing=_PACKINGS.get(path.suffix.lower(), "none"),
            n_bytes=state.st_size,
            changed_ns=state.st_mtime_ns,
        )
        self.found.setdefault(path.resolve(), file)

    def notes(self) -> Iterator[str]:
        for names, what in (
            (self.links, "leads out of the folder that was given, and is not followed"),
            (self.too_deep, f"lies more than {MAX_DEPTH} folders deep, and is not searched"),
        ):
            if names:
                more = f" (and {len(names) - 1} more)" if len(names) > 1 else ""
                yield f"{shown(min(names), 200)}{more}: {what}."


def find_logs(paths: Sequence[Path | str], profiles: Sequence[LogProfile]) -> Inbox:
    """Return all log files of the given files and folders.

    In folders, files with the endings of a log and files a profile's ``files`` names are taken;
    below the address of an object store (text, ``s3://...``), its Parquet files.

    Raises
    ------
    LogError
        A path does not exist, a store cannot be reached, or no log file is in any of them.
    """
    missing = [str(path) for path in paths if isinstance(path, Path) and not path.exists()]
    if missing:
        raise LogError(f"{', '.join(missing)}: no such file or folder.")
    search = _Search()
    for given in paths:
        if isinstance(given, str):
            _search_address(given, search)
        elif given.is_dir():
            _search_folder(given, profiles, search)
        else:
            search.add(given, given.name)
    if not search.found:
        raise LogError(
            f"{', '.join(map(str, paths))}: no log in it. A log ends in {', '.join(SUFFIXES)}."
        )
    files = sorted(search.found.values(), key=lambda file: (file.name, str(file.path)))
    return Inbox(files, tuple(search.notes()))


def _search_address(address: str, search: _Search) -> None:
    import pyarrow as pa
    from pyarrow import fs

    scheme, _, rest = address.partition("://")
    _, ask, query = rest.partition("?")  # such as a region
    try:
        file_system, top = file_system_of(address)
        given = file_system.get_file_info(top)
        below = fs.FileSelector(top, recursive=True)
        is_folder = given.type == fs.FileType.Directory
        infos = file_system.get_file_info(below) if is_folder else [given]
    except (OSError, ValueError, ImportError, pa.ArrowException) as error:
        raise LogError(f"{address}: cannot be reached: {str(error).splitlines()[0]}") from error
    for info in infos:
        if info.type != fs.FileType.File or not info.path.lower().endswith(".parquet"):
            continue
        path = Path(info.path)
        search.found.setdefault(
            path,
            LogFile(
                path=path,
                name=shown(info.path.removeprefix(top).lstrip("/") or path.name, 200),
                packing="parquet",
                n_bytes=info.size,
                changed_ns=info.mtime_ns or 0,
                url=f"{scheme}://{info.path}{ask}{query}",
            ),
        )


def _search_folder(top: Path, profiles: Sequence[LogProfile], search: _Search) -> None:
    home = top.resolve()
    folders = [(str(top), "", 0)]
    while folders:
        folder, name, depth = folders.pop()
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda one: one.name):
                below = f"{name}{entry.name}"
                if entry.is_dir(follow_symlinks=False):
                    if depth < MAX_DEPTH:
                        folders.append((entry.path, f"{below}/", depth + 1))
                    else:
                        search.too_deep.append(below)
                elif entry.is_symlink() and not _is_inside(entry.path, home):
                    search.links.append(below)
                elif entry.is_file() and _is_log(entry.name, profiles):
                    search.add(Path(entry.path), below)


def _is_inside(link: str, home: Path) -> bool:
    try:
        return Path(link).resolve().is_relative_to(home)
    except (OSError, RuntimeError):  # a link to itself
        return False


def _is_log(name: str, profiles: Sequence[LogProfile]) -> bool:
    # A profile for all names ("*") must not turn every note lying about into a log.
    return name.lower().endswith(SUFFIXES) or any(
        profile.files != "*" and profile.is_for(name) for profile in profiles
    )
