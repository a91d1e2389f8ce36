"""Whether a folder still holds the very pages that would be written into it now.

A file beside the pages notes what they hang on, and each file's hash: a page that somebody edited,
moved or lost is then written again, and so is everything where anything has changed.
"""

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

NOTED_IN = ".written.json"


def note_written(out: Path, state: str, files: Iterable[Path], report: dict[str, int]) -> None:
    """Note what has been written into a folder.

    Parameters
    ----------
    state : str
        All that the files hang on, as a fingerprint.
    files : iterable of Path
        They all, as they are now.
    report : dict
        What was said of them.
    """
    hashes = {path.relative_to(out).as_posix(): _hash(path) for path in files}
    noted = {"state": state, "report": report, "files": dict(sorted(hashes.items()))}
    (out / NOTED_IN).write_text(json.dumps(noted, indent=0), encoding="utf-8")


def forget_written(out: Path) -> None:
    """Note nothing, for as long as files are being written."""
    (out / NOTED_IN).unlink(missing_ok=True)


def report_as_written(out: Path, state: str) -> dict[str, int] | None:
    """Return what was said of a folder's files, if they are there as written in this state."""
    noted = _noted(out)
    if noted is None or noted["state"] != state:
        return None
    for name, written in noted["files"].items():
        path = out / name
        if not path.is_file() or _hash(path) != written:
            return None
    return dict(noted["report"])


def _noted(out: Path) -> dict[str, Any] | None:
    try:
        noted = json.loads((out / NOTED_IN).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    is_whole = isinstance(noted, dict) and {"state", "report", "files"} <= noted.keys()
    return noted if is_whole else None


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
