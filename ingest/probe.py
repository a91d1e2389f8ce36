"""What a log file is, from its first lines alone: its layout, its quoting, its first pump."""

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import islice

import duckdb

from ingest.day_order import UnknownOrderError, column, stamp_format
from ingest.head_rows import header_place, rows_beneath
from ingest.layout import Layout, LayoutError, plain_layout, profile_layout
from ingest.log_files import UNREADABLE, LogFile, head, text_lines, too_many_rows
from ingest.log_profile import LogProfile

_HEAD_LINES = 50
_BYTES_A_ROW = 46  # of a text log: a time and four channels
_LINE_END = re.compile(r"\r\n|\n|\r")
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
    n_skipped_ends : int
        Signs of line ends before the first row of data, as the reader counts them.
    first_is_unix : bool
        The first row's time is a number.
    first_time : str
        The first row's time as it is written.
    pump : str or None
        Name of the pump of the whole file, or of its first row where a column names it.
    n_rows : int or None
        Rows, where the file says so.
    """

    file: LogFile
    layout: Layout
    profile: LogProfile | None
    types: tuple[str, ...] = ()
    is_quoted: bool = False
    n_skipped_ends: int = 0
    first_is_unix: bool = False
    first_time: str = ""
    pump: str | None = None
    n_rows: int | None = None

    @property
    def plain_bytes(self) -> int:
        """About how many bytes it would have as plain text."""
        return self.file.plain_bytes if self.n_rows is None else self.n_rows * _BYTES_A_ROW

    @property
    def group(self) -> tuple[object, ...]:
        """Files with the same group are read by one statement."""
        packing = self.file.packing
        return (
            self.layout,
            packing,
            self.types,
            self.is_quoted,
            self.n_skipped_ends,
            self.first_is_unix,
        )


def rows_told(con: duckdb.DuckDBPyConnection, files: Iterable[LogFile]) -> dict[str, int]:
    """Rows of Parquet files by path, as they say: one question for all takes a seventh.

    Nothing where any of them cannot be read; each is then to be asked by itself.
    """
    paths = [str(f.path) for f in files if f.packing == "parquet" and not f.is_pattern]
    if not paths:
        return {}
    try:
        rows = con.execute(
            "select file_name, num_rows from parquet_file_metadata($paths)", {"paths": paths}
        ).fetchall()
    except (duckdb.Error, UnicodeError):
        return {}
    return dict(rows)


def probe(
    con: duckdb.DuckDBPyConnection,
    file: LogFile,
    profile: LogProfile | None,
    n_rows: int | None = None,
) -> Probe:
    """Look into a file that is read as the profile says, or as a plain log.

    Parameters
    ----------
    n_rows : int, optional
        Rows of a Parquet file, where they are known.

    Raises
    ------
    LayoutError
        The file cannot be read at all, or lacks a needed column.
    """
    if file.packing == "parquet":
        return _probe_parquet(con, file, profile, n_rows)
    return _probe_text(file, profile)


def _probe_parquet(
    con: duckdb.DuckDBPyConnection,
    file: LogFile,
    profile: LogProfile | None,
    n_rows: int | None,
) -> Probe:
    if file.is_pattern:
        raise LayoutError("has *, ? or [ in its path, which stand for other signs. Rename it.")
    try:
        described = con.execute(
            "describe select * from read_parquet($path)", {"path": str(file.path)}
        ).fetchall()
        if n_rows is None:
            ((n_rows,),) = con.execute(
                "select num_rows from parquet_file_metadata($path)", {"path": str(file.path)}
            ).fetchall()
    except duckdb.Error as error:
        raise LayoutError(f"cannot be read as Parquet: {_first_line(error)}") from error
    if too_many_rows(n_rows, file.n_bytes):
        raise LayoutError(
            f"has {n_rows} rows in {file.n_bytes} bytes, as no log does. Split it if it is."
        )
    titles = [str(row[0]) for row in described]
    layout = profile_layout(profile, titles, 0) if profile else plain_layout(titles, 0)
    return Probe(
        file=file,
        layout=replace(layout, skip=0),
        profile=profile,
        types=tuple(str(row[1]) for row in described),
        pump=None if layout.pump is not None else pump_of_name(file, profile),
        n_rows=n_rows,
    )


def _probe_text(file: LogFile, profile: LogProfile | None) -> Probe:
    try:
        start = head(file)
        encoding = _encoding(start, profile)
        text = (
            "\n".join(islice(text_lines(file, encoding), _HEAD_LINES))
            if file.is_part
            else start.decode(encoding, errors="ignore")
        )
    except UNREADABLE as error:
        raise LayoutError(f"cannot be read: {error}") from error
    if not text.strip(', ;|\t"\r\n'):
        raise LayoutError("is empty. Export it again.")
    delimiter = profile.delimiter if profile else ","
    n_head = _HEAD_LINES + (profile.skip_lines if profile else 0)
    rows = [cells_of(line, delimiter) for line in _LINE_END.split(text, n_head)[:n_head]]
    layout = _layout(rows, profile)
    first = next((row for row in rows[layout.skip :] if any(row)), [])
    layout = replace(layout, encoding=encoding, time_format=_time_format(file, layout, first))
    return Probe(
        file=file,
        layout=layout,
        profile=profile,
        is_quoted='"' in _without_first(text, layout.skip),
        n_skipped_ends=_line_ends(start, layout.skip),
        first_is_unix=_NUMBER.fullmatch(_cell(first, layout.time[0])) is not None,
        first_time=" ".join(_cell(first, place) for place in layout.time),
        pump=_cell(first, layout.pump) if layout.pump is not None else pump_of_name(file, profile),
    )


def _layout(rows: list[list[str]], profile: LogProfile | None) -> Layout:
    """Layout of a text file by its first rows."""
    if profile is not None:
        if len(rows) <= profile.skip_lines:
            raise LayoutError("is empty. Export it again.")
        n_header = 1 if profile.has_header else 0
        return profile_layout(
            profile,
            rows[profile.skip_lines],
            profile.skip_lines + n_header + profile.skip_after_header,
        )
    filled = next((n for n, row in enumerate(rows) if any(cell.strip() for cell in row)), 0)
    place = filled + header_place(rows[filled:])
    layout = plain_layout(rows[place], place + 1)
    n_beneath = rows_beneath(layout, rows[place + 1 :])
    notes = [*layout.notes]
    if place > filled:
        notes.append(f"{place - filled} lines before the header are not read")
    if n_beneath:
        notes.append(f"{n_beneath} rows of units or titles below the header are not read")
    return replace(layout, skip=layout.skip + n_beneath, notes=tuple(notes))


def _time_format(file: LogFile, layout: Layout, first: list[str]) -> str:
    """Format of the times; where 11/12/2026 could be two days, by the evidence of all rows."""
    if layout.time_format != "iso" or len(layout.time) > 1:
        return layout.time_format
    place = layout.time[0]
    lines = islice(text_lines(file, layout.encoding), layout.skip, None)
    try:
        found = stamp_format(_cell(first, place), column(lines, place, layout.delimiter))
    except UnknownOrderError as error:
        raise LayoutError(str(error)) from error
    except UNREADABLE as error:
        raise LayoutError(f"cannot be read: {error}") from error
    return found or layout.time_format


def _without_first(text: str, n_lines: int) -> str:
    """Text behind so many lines."""
    parts = _LINE_END.split(text, n_lines) if n_lines else [text]
    return parts[n_lines] if len(parts) > n_lines else ""


def _line_ends(start: bytes, n_lines: int) -> int:
    """Count carriage returns and line feeds of the first lines.

    The reader takes either for a line's end where it skips lines, though not where it reads them.
    """
    lines = start.splitlines(keepends=True)[:n_lines]
    n_ends = sum(line.count(b"\r") + line.count(b"\n") for line in lines)
    is_ended = n_lines == 0 or (bool(lines) and lines[-1].endswith((b"\r", b"\n")))
    return n_ends if is_ended else n_ends + 1


def _encoding(start: bytes, profile: LogProfile | None) -> str:
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    n_nul = [start[place::2].count(0) for place in (0, 1)]
    if max(n_nul) > len(start) / 4:  # Latin text in UTF-16 has a zero in every second byte
        return "utf-16-be" if n_nul[0] > n_nul[1] else "utf-16-le"
    if profile is None or profile.encoding.lower() in ("utf-8", "utf8"):
        return "utf-8-sig"
    return profile.encoding


def cells_of(line: str, delimiter: str) -> list[str]:
    """Cells of one line; one whose quotes do not match is cut at every delimiter."""
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)


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
