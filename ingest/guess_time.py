"""Which column of an unknown log is its time, and how that is written, as lines of a profile."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ingest.day_order import UnknownOrderError, stamp_format
from ingest.sample_table import SampleTable

_ISO = re.compile(r"\d{4}[-/]\d{1,2}[-/]\d{1,2}([T ]\d.*)?")
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
_UNIX = re.compile(r"1\d{9}(\.\d+)?|1\d{12}")
_FORMATS = {
    r"\d{14}": "%Y%m%d%H%M%S",
    r"\d{8}[ T]\d{6}": "%Y%m%d %H%M%S",
    r"\d{1,2}-[A-Za-z]{3}-\d{4} \d{1,2}:\d{2}:\d{2}": "%d-%b-%Y %H:%M:%S",
    r"\d{1,2} [A-Za-z]{3} \d{4} \d{1,2}:\d{2}:\d{2}": "%d %b %Y %H:%M:%S",
}


@dataclass(frozen=True)
class TimeGuess:
    """Lines of a profile's ``[time]``, the columns they name, what a person must settle."""

    lines: tuple[str, ...]
    places: tuple[int, ...]
    doubts: tuple[str, ...] = ()


def guess_time(table: SampleTable) -> TimeGuess:
    """Find the column or columns of the time, and how it is written."""
    n_columns = len(table.titles)
    for place in range(n_columns):
        cells = table.column(place)
        found = _time_format(cells)
        if found is not None:
            form, doubts = found
            zone = [] if form.startswith("unix") or _has_offset(cells) else [_ZONE]
            head = [f"column = {reference(table, place)}"]
            is_date = form.endswith("%Y")
            clock = place + 1
            if is_date and clock < n_columns and _CLOCK.fullmatch(table.column(clock)[0]):
                head = [f"columns = [{reference(table, place)}, {reference(table, clock)}]"]
                n_parts = table.column(clock)[0].count(":")
                form += " %H:%M:%S" if n_parts == 2 else " %H:%M"
                places: tuple[int, ...] = (place, clock)
            else:
                places = (place,)
            lines = head if form == "iso" else [*head, f"format = {toml_text(form)}"]
            return TimeGuess((*lines, *zone), places, tuple(doubts))
    return TimeGuess(("column = 1",), (0,), ("no column looks like a time",))


_ZONE = "# No offset is written: times are the site's own, or name a zone: timezone = ..."


def _has_offset(cells: Sequence[str]) -> bool:
    return bool(re.search(r"(Z|[+-]\d{2}:?\d{2})$", cells[0]))


def _time_format(cells: Sequence[str]) -> tuple[str, list[str]] | None:
    first = next((cell for cell in cells if cell), "")
    if _ISO.fullmatch(first):
        return "iso", []
    if _UNIX.fullmatch(first):
        return ("unix_s" if len(first.partition(".")[0]) == 10 else "unix_ms"), []
    for pattern, form in _FORMATS.items():
        if re.fullmatch(pattern, first):
            return form, []
    try:
        found = stamp_format(first, cells)
    except UnknownOrderError:
        day_first = re.sub(r"^\d+([/.-])\d+\1\d{4}", r"%d\1%m\1%Y", first)
        clock = "%H:%M:%S" if first.count(":") == 2 else "%H:%M"
        guess = re.sub(r"\d{1,2}:\d{2}(:\d{2})?", clock, day_first)
        return guess, ["the first rows do not tell the day from the month; %d/%m is a guess"]
    return None if found is None else (found, [])


def reference(table: SampleTable, place: int) -> str:
    """Name a column by its title, or by its number where that is not its own."""
    title = table.titles[place]
    lower = [one.lower() for one in table.titles]
    return toml_text(title) if title and lower.count(title.lower()) == 1 else str(place + 1)


def toml_text(value: object) -> str:
    """Write a value as TOML, whose strings are written as in JSON."""
    return json.dumps(value, ensure_ascii=True)
