"""Where the header of a plain log stands, and rows of units or second titles beneath it."""

import re
from collections.abc import Sequence

from ingest.columns import LOGS, Kind
from ingest.layout import Layout, LayoutError
from ingest.units import UNITS

MAX_LINES_BEFORE = 20
"""Ours: more lines of report title before a header were never meant for a machine."""

MAX_ROWS_BENEATH = 2

_TITLES = frozenset(name for column in LOGS for name in column.names)
_TIME_TITLES = frozenset(
    name for column in LOGS if column.kind is Kind.INSTANT for name in column.names
)
_ALIASES = {
    "kpa": "kpa",
    "bar": "bar",
    "psi": "psi",
    "psig": "psi",
    "hz": "hz",
    "a": "a",
    "amps": "a",
    "v": "v",
    "gpm": "gpm",
    "l/min": "lpm",
    "lpm": "lpm",
    "°c": "c",
    "c": "c",
    "°f": "f",
    "f": "f",
}
_DIGIT = re.compile(r"\d")


def header_place(rows: Sequence[Sequence[str]]) -> int:
    """Return which of the first rows is the header: the first with a title of times, else 0."""
    for place, row in enumerate(rows[:MAX_LINES_BEFORE]):
        if _is_header(row):
            return place
    return 0


def _is_header(row: Sequence[str]) -> bool:
    titles = {cell.strip().strip('"').strip().lower() for cell in row}
    return bool(titles & _TIME_TITLES) and len(titles & _TITLES) > 1


def rows_beneath(layout: Layout, rows: Sequence[Sequence[str]]) -> int:
    """Count rows right below the header that hold units or further titles, not data.

    Parameters
    ----------
    layout : Layout
    rows : sequence of sequence of str
        Cells of the lines below the header.

    Raises
    ------
    LayoutError
        A row of units names another unit than the column's title.
    """
    n_rows = 0
    for row in rows[:MAX_ROWS_BENEATH]:
        places = [*layout.time, *(channel.index for channel in layout.channels)]
        cells = [row[place].strip() for place in places if place < len(row)]
        if not any(cells) or any(_DIGIT.search(cell) for cell in cells) or _is_header(row):
            break
        _check_units(layout, row)
        n_rows += 1
    return n_rows


def _unit(row: Sequence[str], place: int) -> str | None:
    cell = row[place].strip().strip('"[]()').strip().lower() if place < len(row) else ""
    return _ALIASES.get(cell)


def _check_units(layout: Layout, row: Sequence[str]) -> None:
    for channel in layout.channels:
        unit = _unit(row, channel.index)
        if unit is not None and channel.unit in UNITS and unit != channel.unit:
            raise LayoutError(
                f"has a column {channel.title}, but the row of units below says "
                f"'{row[channel.index].strip()}': which is right is not guessed. Correct one, or "
                "describe the file in a log profile."
            )
