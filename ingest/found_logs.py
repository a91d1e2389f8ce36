"""Find logs and hash them, as a process of its own may while this one is still starting.

The imports stand inside the function, so that naming it costs nothing.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ingest.inbox import Inbox


def find_and_hash(logs: Sequence[Path | str], profile_files: Sequence[Path]) -> "Inbox":
    """Find the logs of some files and folders, and hash each.

    Raises
    ------
    LogError
        As `find_logs`.
    ProfileError
        A profile cannot be used.
    """
    from dataclasses import replace

    from ingest.inbox import find_logs
    from ingest.log_files import sha256_of
    from ingest.profile import read_profile

    inbox = find_logs(logs, [read_profile(path) for path in profile_files])
    return replace(inbox, sha256=tuple(sha256_of(inbox.files)))
