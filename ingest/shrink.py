"""A store's file is written anew, without the room that samples moved out of it have left."""

import os
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from ingest.errors import StoreError
from ingest.store import open_store


def shrink_store(path: Path, *, memory_limit: str = "1GB") -> tuple[int, int]:
    """Write a store anew beside itself, and put it in its place when it is whole.

    No one else can open the store meanwhile. Killed at any moment, the old or the new one is
    there, and both hold the same.

    Returns
    -------
    before, after : int
        The file's size. [bytes]

    Raises
    ------
    StoreError
        It cannot be opened for writing, or the new one cannot be written.
    """
    open_store(path, memory_limit=memory_limit).close()  # says in plain words why it cannot be
    before = path.stat().st_size
    store = path.resolve()
    try:
        with (
            TemporaryDirectory(prefix=f".{store.name}-", dir=store.parent) as aside,
            duckdb.connect(config={"memory_limit": memory_limit}) as con,
        ):
            made = Path(aside) / "store"
            con.execute(f"attach {_literal(store)} as old")
            con.execute(f"attach {_literal(made)} as new")
            con.execute("copy from database old to new")
            con.execute("detach new")
            with made.open("rb") as file:
                os.fsync(file.fileno())
            made.replace(store)  # before the old one is let go, so that no one gets it still
            con.execute("detach old")
    except duckdb.Error as error:
        raise StoreError(
            f"{path}: cannot be written anew: {str(error).splitlines()[0]}"
        ) from error
    return before, path.stat().st_size


def _literal(path: Path) -> str:
    """Write a path as SQL; the database takes no parameters where it attaches files."""
    return "'" + str(path).replace("'", "''") + "'"
