"""What a log file is, from its first lines alone: its layout, its quoting, its first pump."""

import csv
import re
from dataclasses import dataclass, replace

import duckdb

from ingest.layout import Layout, LayoutError, plain_layout, profile_layout
from ingest.log_files import LogFile, head
from ingest.log_profile import LogProfile

_NUMBER = re.compile(r"[-+]?\d+(\.\d*)?")


@dataclass(frozen=True, kw_only=True)
class Probe:
    """One file and how it is to be read.

    Attributes
    ----------
    types : tuple of str
        Column types of a Parquet file; empty for text.
    is_quoted : bool
        Some cell of the first lines is in quotes.
    first_is_unix : bool
        The first row's time is a number.
    pump : str or None
        Name of the pump of the whole file, or of its first row where a column names it.
    """

    file: LogFile
    layout: Layout
    profile: LogProfile | None
    types: tuple[str, ...] = ()
    is_quoted: bool = False
    first_is_unix: bool = False
    pump: str | None = None

    @property
    def group(self) -> tuple[object, ...]:
        """Files with the same group are read by one statement."""
        packing = self.file.packing
        return (self.layout, packing, self.types, self.is_quoted, self.first_is_unix)


def probe(con: duckdb.DuckDBPyConnection, file: LogFile, profile: LogProfile | None) -> Probe:
    """Look into a file that is read as the profile says, or as a plain log.

    Raises
    ------
    LayoutError
        The file cannot be read at all, or lacks a needed column.
    """
    if file.packing == "parquet":
        return _probe_parquet(con, file, profile)
    return _probe_text(file, profile)


def _probe_parquet(
    con: duckdb.DuckDBPyConnection, file: LogFile, profile: LogProfile | None
) -> Probe:
    try:
        described = con.execute(
            "describe select * from read_parquet($path)", {"path": str(file.path)}
        ).fetchall()
    except duckdb.Error as error:
        raise LayoutError(f"cannot be read as Parquet: {_first_line(error)}") from error
    titles = [str(row[0]) for row in described]
    layout = profile_layout(profile, titles, 0) if profile else plain_layout(titles, 0)
    return Probe(
        file=file,
        layout=replace(layout, skip=0),
        profile=profile,
        types=tuple(str(row[1]) for row in described),
        pump=None if layout.pump is not None else pump_of_name(file, profile),
    )


def _probe_text(file: LogFile, profile: LogProfile | None) -> Probe:
    try:
        start = head(file)
    except (OSError, EOFError) as error:
        raise LayoutError(f"cannot be read: {error}") from error
    encoding = _encoding(start, profile)
    lines = start.decode(encoding, errors="ignore").splitlines()
    filled = [n for n, line in enumerate(lines) if line.strip()]
    n_before = profile.skip_lines if profile else (filled[0] if filled else 0)
    if len(lines) <= n_before or not filled:
        raise LayoutError("is empty. Export it again.")
    delimiter = profile.delimiter if profile else ","
    titles = _cells(lines[n_before], delimiter)
    if profile is None:
        layout = plain_layout(titles, n_before + 1)
    else:
        n_header = 1 if profile.has_header else 0
        layout = profile_layout(profile, titles, n_before + n_header + profile.skip_after_header)
    first = next((_cells(line, delimiter) for line in lines[layout.skip :] if line.strip()), [])
    return Probe(
        file=file,
        layout=replace(layout, encoding=encoding),
        profile=profile,
        is_quoted=b'"' in start,
        first_is_unix=_NUMBER.fullmatch(_cell(first, layout.time[0])) is not None,
        pump=_cell(first, layout.pump) if layout.pump is not None else pump_of_name(file, profile),
    )


def _encoding(start: bytes, profile: LogProfile | None) -> str:
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if profile is None or profile.encoding.lower() in ("utf-8", "utf8"):
        return "utf-8-sig"
    return profile.encoding


def _cells(line: str, delimiter: str) -> list[str]:
    return next(csv.reader([line], delimiter=delimiter), [])


def _cell(cells: list[str], index: int) -> str:
    return cells[index].strip() if index < len(cells) else ""


def pump_of_name(file: LogFile, profile: LogProfile | None) -> str | None:
    """Pump a file belongs to by its name, where no column names one."""
    if profile is not None and profile.pump_id is not None:
        return profile.pump_id
    if profile is not None and profile.pump_file_name is not None:
        match = re.search(profile.pump_file_name, file.path.name)
        return match["pump_id"] if match else None
    return file.stem.split("__")[0]


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0]
