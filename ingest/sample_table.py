"""The first lines of an unknown text log as a table: its separators, header, units and cells."""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from ingest.errors import LogError
from ingest.log_files import UNREADABLE, LogFile, head, text_lines

if TYPE_CHECKING:
    import duckdb

SAMPLE_LINES = 4000
"""Ours: an hour at one second and a day at a minute, so that a pump starts and stops in it."""

_DELIMITERS = (",", ";", "\t", "|")
_NUMBER = re.compile(r"[-+]?\d+([.,]\d+)?([eE][-+]?\d+)?")
_TIME_LIKE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}.*|\d{9,13}(\.\d+)?|\d{8,14}")


@dataclass(frozen=True, kw_only=True)
class SampleTable:
    """The first rows of a file as text.

    Attributes
    ----------
    titles : list of str
        Of the header; empty texts where there is none.
    units : list of str
        Cells of the row below the header, where that holds no data.
    """

    file: LogFile
    encoding: str
    delimiter: str
    decimal: str
    has_header: bool
    skip_lines: int
    skip_after_header: int
    titles: list[str]
    units: list[str]
    rows: list[list[str]]

    def column(self, place: int) -> list[str]:
        """Cells of one column, without surrounding spaces."""
        return [row[place].strip() if place < len(row) else "" for row in self.rows]


def read_sample(file: LogFile) -> SampleTable:
    """Read the first lines of a text log of any layout.

    Raises
    ------
    LogError
        It cannot be read, or holds no rows of data.
    """
    try:
        encoding = _encoding(head(file))
        lines = list(islice(text_lines(file, encoding), SAMPLE_LINES))
    except UNREADABLE as error:
        raise LogError(f"{file.name}: cannot be read: {error}.") from error
    delimiter = max(_DELIMITERS, key=lambda sign: _evenness(lines, sign))
    rows = [next(csv.reader([line], delimiter=delimiter), []) if line else [] for line in lines]
    first = next((n for n, row in enumerate(rows) if _is_data(row)), None)
    if first is None:
        raise LogError(f"{file.name}: no row in it has a time and a number.")
    n_columns = Counter(len(row) for row in rows[first:] if row).most_common(1)[0][0]
    header = next((n for n in range(first) if _n_filled(rows[n]) >= max(2, n_columns / 2)), None)
    return SampleTable(
        file=file,
        encoding=encoding,
        delimiter=delimiter,
        decimal=_decimal(rows[first:], delimiter),
        has_header=header is not None,
        skip_lines=first if header is None else header,
        skip_after_header=0 if header is None else first - header - 1,
        titles=_padded([] if header is None else rows[header], n_columns),
        units=_padded(
            [] if header is None or header + 1 == first else rows[header + 1], n_columns
        ),
        rows=[row for row in rows[first:] if _is_data(row)],
    )


def read_parquet_sample(con: "duckdb.DuckDBPyConnection", file: LogFile) -> SampleTable:
    """Read the first rows of a Parquet log.

    Raises
    ------
    LogError
        It cannot be read.
    """
    import duckdb

    try:
        found = con.sql(
            "select columns(*)::varchar from read_parquet($path) limit $n",
            params={"path": str(file.path), "n": SAMPLE_LINES},
        )
        titles, rows = found.columns, found.fetchall()
    except duckdb.Error as error:
        raise LogError(f"{file.name}: cannot be read: {str(error).splitlines()[0]}") from error
    return SampleTable(
        file=file,
        encoding="utf-8",
        delimiter=",",
        decimal=".",
        has_header=True,
        skip_lines=0,
        skip_after_header=0,
        titles=titles,
        units=[""] * len(titles),
        rows=[[cell or "" for cell in row] for row in rows],
    )


def _encoding(start: bytes) -> str:
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    try:
        start.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if error.start < len(start) - 4:  # not just a sign cut at the end
            return "cp1252"
    return "utf-8-sig"


def _evenness(lines: Sequence[str], sign: str) -> float:
    """Lines with the commonest count of a sign, times that count."""
    counts = Counter(line.count(sign) for line in lines if line)
    counts.pop(0, None)
    if not counts:
        return 0
    n_signs, n_lines = counts.most_common(1)[0]
    return n_lines * min(n_signs, 3)


def _decimal(rows: Sequence[Sequence[str]], delimiter: str) -> str:
    numbers = [cell for row in rows for cell in row if _NUMBER.fullmatch(cell.strip())]
    has_comma = sum("," in cell for cell in numbers)
    return "," if delimiter != "," and has_comma > sum("." in cell for cell in numbers) else "."


def _is_data(row: Sequence[str]) -> bool:
    """Whether a row has a time and one number more at least."""
    cells = [cell.strip() for cell in row]
    times = [n for n, cell in enumerate(cells) if _TIME_LIKE.fullmatch(cell)]
    return bool(times) and any(
        _NUMBER.fullmatch(cell) for n, cell in enumerate(cells) if n != times[0]
    )


def _n_filled(row: Sequence[str]) -> int:
    return sum(bool(cell.strip()) for cell in row)


def _padded(row: Sequence[str], n_columns: int) -> list[str]:
    cells = [cell.strip() for cell in row[:n_columns]]
    return cells + [""] * (n_columns - len(cells))
