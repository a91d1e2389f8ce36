"""One register CSV becomes rows of typed values; every problem is listed, none stops the rest.

A cell that cannot be read costs its row where the column is needed; elsewhere the cell is left
blank. Either way the problem says so.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ingest.cells import CellError, Value, read_cell
from ingest.columns import Column, Kind
from ingest.installed_base import Problem

_HEADER_LINE = 1


@dataclass
class Row:
    """One row of a register file: where it stood and what could be read of it."""

    line: int
    values: dict[str, Value]


@dataclass
class Table:
    """One register file as read.

    Attributes
    ----------
    is_readable : bool
        False where the file lacks a needed column, so that no row could be used.
    """

    name: str
    rows: list[Row] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    is_readable: bool = True

    def add_problem(self, line: int | None, column: str | None, text: str) -> None:
        """List a problem of this file."""
        self.problems.append(Problem(file=self.name, line=line, column=column, text=text))


@dataclass(frozen=True)
class _Place:
    """Where one outer column stands in the file."""

    index: int
    name: str
    unit: str


@dataclass(frozen=True)
class _Layout:
    """What the header says of every row, and how a row is named in a problem."""

    n_columns: int
    columns: Sequence[Column]
    places: dict[str, list[_Place]]
    what: str
    key: str

    def left_out(self, cells: list[str]) -> str:
        """Say that this row is left out, by its key where it has one."""
        at = [place.index for place in self.places.get(self.key, ()) if place.index < len(cells)]
        name = f" {cells[at[0]]}" if at and cells[at[0]] else ""
        return f"{self.what}{name} left out."


def read_table(path: Path, columns: Sequence[Column], what: str, key: str) -> Table:
    """Read one register file.

    Parameters
    ----------
    path : Path
    columns : sequence of Column
        What the file may hold.
    what : str
        What one row is, in the consequence of a problem: ``Pump``.
    key : str
        Field that names the row in the consequence of a problem.
    """
    table = Table(path.name)
    lines = _lines(path, table)
    header = next(lines, None)
    if header is None:
        table.is_readable = False
        table.add_problem(None, None, "is empty, expected a header row. No row of it is used.")
        return table
    places = _places(header[1], columns, table)
    _check_needed(places, columns, header[1], table)
    if table.is_readable:
        layout = _Layout(len(header[1]), columns, places, what, key)
        for line, cells in lines:
            _read_row(table, line, cells, layout)
    return table


def _lines(path: Path, table: Table) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows that are not blank, each with the line it begins on."""
    text = path.read_bytes().decode("utf-8-sig", errors="replace")
    if "\N{REPLACEMENT CHARACTER}" in text:
        line = text[: text.index("\N{REPLACEMENT CHARACTER}")].count("\n") + 1
        table.add_problem(
            line,
            None,
            "has bytes that are not UTF-8. They are read as \N{REPLACEMENT CHARACTER}; "
            "save the file as UTF-8.",
        )
    reader = csv.reader(io.StringIO(text, newline=""))
    begins = 1
    for cells in reader:
        stripped = [cell.strip() for cell in cells]
        if any(stripped):
            yield begins, stripped
        begins = reader.line_num + 1


def _places(header: list[str], columns: Sequence[Column], table: Table) -> dict[str, list[_Place]]:
    """Find where each field stands; one field may stand in several units."""
    known = {name: (column, unit) for column in columns for name, unit in column.outer}
    places: dict[str, list[_Place]] = {}
    seen: set[str] = set()
    for index, title in enumerate(header):
        name = title.lower()
        if name in seen:
            table.add_problem(
                _HEADER_LINE, name, f"has column {name} twice. Only the first one is read."
            )
        elif name in known:
            column, unit = known[name]
            places.setdefault(column.field, []).append(_Place(index, name, unit))
        elif name:
            table.add_problem(
                _HEADER_LINE, title, f"has a column '{title}' that is not known. It is not read."
            )
        seen.add(name)
    return places


def _check_needed(
    places: dict[str, list[_Place]], columns: Sequence[Column], header: list[str], table: Table
) -> None:
    for column in columns:
        if column.needed and column.field not in places:
            table.is_readable = False
            hint = " The header is not separated by commas." if len(header) == 1 else ""
            table.add_problem(
                _HEADER_LINE,
                column.names[0],
                f"has no column {' or '.join(column.names)}, which is needed.{hint} "
                "No row of the file is used.",
            )


def _read_row(table: Table, line: int, cells: list[str], layout: _Layout) -> None:
    left_out = layout.left_out(cells)
    if len(cells) != layout.n_columns:
        table.add_problem(
            line,
            None,
            f"has {len(cells)} cells, expected {layout.n_columns} as in the header. {left_out}",
        )
        return
    values: dict[str, Value] = {}
    is_usable = True
    for column in layout.columns:
        places = layout.places.get(column.field, [])
        filled = [place for place in places if cells[place.index]]
        if len(filled) > 1:
            given = " and ".join(place.name for place in filled)
            after = left_out if column.needed else "Both are left blank."
            table.add_problem(
                line, filled[0].name, f"gives both {given}, expected only one of them. {after}"
            )
            is_usable &= not column.needed
        elif filled:
            is_usable &= _read_one(table, line, column, filled[0], cells, left_out, values)
        elif column.needed:
            name = places[0].name
            table.add_problem(line, name, f"{name} is blank, but it is needed. {left_out}")
            is_usable = False
    if is_usable:
        table.rows.append(Row(line, values))


def _read_one(
    table: Table,
    line: int,
    column: Column,
    place: _Place,
    cells: list[str],
    left_out: str,
    values: dict[str, Value],
) -> bool:
    """Read one filled cell into ``values``; False where its row is lost with it."""
    text = cells[place.index]
    try:
        values[column.field] = read_cell(column, place.unit, text)
    except CellError as error:
        costs_row = column.needed or column.kind is Kind.TIMEZONE
        blank = "The cell is left blank" + (
            f" ({column.blank_as} is used)." if column.blank_as else "."
        )
        table.add_problem(
            line,
            place.name,
            f"{place.name} is '{text}', expected {error}. {left_out if costs_row else blank}",
        )
        return not costs_row
    return True
