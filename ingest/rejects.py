"""Rows and cells that were not loaded, each by file and line, with the reason and what to do.

The first lines of each kind are listed one by one, the rest of the kind by its count, so that a
file that is wrong from end to end does not bury the others.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

import duckdb
import numpy as np
from numpy.typing import NDArray

from ingest.installed_base import Problem
from ingest.log_files import text_lines
from ingest.probe import Probe, cells_of
from ingest.reject_text import KINDS, ProblemKind, Told, everyday_unit, unknown_pump
from ingest.row_problems import COSTS_CELL, COSTS_ROW, PUMP_UNKNOWN, SECONDS_LOST, UNIT_WRONG
from ingest.shown import shown

LISTED_LINES = 20
"""Lines of one kind and file that are listed one by one; ours: enough to see the pattern."""

_TOLD_ONCE = UNIT_WRONG | SECONDS_LOST  # of a whole file
_CONTENT_LENGTH = 200


@dataclass(frozen=True, kw_only=True)
class Reject:
    """One line (or, where ``line`` is None, more of a file) that was not loaded as it stood."""

    file_no: int
    line: int | None
    column: str | None
    reason: str
    advice: str
    content: str | None = None

    def as_problem(self, file_name: str) -> Problem:
        """Return it in the form all problems are listed in."""
        return Problem(
            file=file_name, line=self.line, column=self.column, text=f"{self.reason} {self.advice}"
        )


@dataclass(frozen=True)
class _Line:
    number: int
    cells: list[str]
    text: str


def list_rejects(
    con: duckdb.DuckDBPyConnection, probes: Sequence[Probe], pump_ids: Collection[str]
) -> list[Reject]:
    """Name everything ``raw`` marks line by line, in the order of files and lines.

    Parameters
    ----------
    pump_ids : collection of str
        Pumps there are, to name the one a wrong id may stand for.
    """
    marked = con.sql(
        "select raw.file_no, rowid - first_row as place, problems, n_rows from raw"  # noqa: S608
        " join (select file_no, min(rowid) as first_row, count(*) as n_rows from raw"
        " group by file_no) as files"
        " using (file_no)"
        f" where problems & {COSTS_ROW | COSTS_CELL} <> 0 and problems & {_TOLD_ONCE} = 0"
        " order by raw.file_no, place"
    ).to_arrow_table()
    file_no = marked.column("file_no").to_numpy()
    place = marked.column("place").to_numpy()
    problems = marked.column("problems").to_numpy()
    rejects: list[Reject] = []
    for number in np.unique(file_no).tolist():
        of_file = file_no == number
        n_rows = int(marked.column("n_rows")[int(np.argmax(of_file))].as_py())
        listing = _FileListing(con, number, probes[number], pump_ids, n_rows)
        rejects += listing.rejects(place[of_file], problems[of_file])
    return rejects


@dataclass(frozen=True)
class _FileListing:
    con: duckdb.DuckDBPyConnection
    number: int
    probed: Probe
    pump_ids: Collection[str]
    n_rows: int

    def rejects(self, place: NDArray[np.int64], problems: NDArray[np.uint32]) -> list[Reject]:
        by_kind = {kind: place[self._has(kind, problems)] for kind in KINDS}
        wanted = [places[:LISTED_LINES] for places in by_kind.values()]
        unknown = place[problems & PUMP_UNKNOWN != 0]
        names_a_pump = self.probed.layout.pump is not None
        if names_a_pump:
            wanted.append(unknown)
        lines = self._lines(np.unique(np.concatenate(wanted)))
        made = [
            reject
            for kind, places in by_kind.items()
            for reject in self._of_kind(kind, places, lines)
        ]
        if len(unknown):
            made += self._unknown_pumps(unknown, lines if names_a_pump else {})
        return sorted(made, key=lambda reject: reject.line or 0)

    def _has(self, kind: ProblemKind, problems: NDArray[np.uint32]) -> NDArray[np.bool_]:
        """Rows a kind is told of: a broken line is not also told to lack a value."""
        is_told: NDArray[np.bool_] = problems & kind.bit != 0
        if kind.unless:
            is_told &= problems & kind.unless == 0
        return is_told

    def _of_kind(
        self, kind: ProblemKind, places: NDArray[np.int64], lines: dict[int, _Line]
    ) -> Iterator[Reject]:
        tell = self._words(kind, places, lines)
        for place in places[:LISTED_LINES].tolist():
            line = lines[place]
            told = tell(self.probed, line.cells)
            yield Reject(
                file_no=self.number,
                line=line.number,
                column=told.column,
                reason=told.reason,
                advice=told.advice,
                content=shown(line.text, _CONTENT_LENGTH),
            )
        if len(places) > LISTED_LINES:
            told = tell(self.probed, lines[int(places[0])].cells)
            yield Reject(
                file_no=self.number,
                line=None,
                column=told.column,
                reason=f"has {len(places) - LISTED_LINES} more lines like the one on line "
                f"{lines[int(places[0])].number} ({told.reason.rstrip('.')}).",
                advice=told.advice,
            )

    def _words(
        self, kind: ProblemKind, places: NDArray[np.int64], lines: dict[int, _Line]
    ) -> Callable[[Probe, list[str]], Told]:
        """Words for a kind; others where one value comes again and again.

        Not where it is most of the file and everyday in another unit: a pump at rest may show one
        value for long, and a column in another unit is so from end to end.
        """
        if kind.tell_same is None or len(places) < 2:
            return kind.tell
        of = next(c for c in self.probed.layout.channels if c.field == kind.field)
        listed = [lines[place].cells for place in places[:LISTED_LINES].tolist()]
        cell, *others = {cells[of.index].strip() for cells in listed if of.index < len(cells)}
        is_most = 2 * len(places) >= self.n_rows
        may_be_unit = is_most and everyday_unit(of, cell) is not None
        return kind.tell if others or may_be_unit else kind.tell_same

    def _unknown_pumps(
        self, places: NDArray[np.int64], lines: dict[int, _Line]
    ) -> Iterator[Reject]:
        """One reject a pump, on the first line that names it."""
        column = self.probed.layout.pump
        if column is None:
            told = unknown_pump(self.probed.pump, len(places), self.pump_ids, is_in_name=True)
            yield Reject(
                file_no=self.number, line=None, column=None, reason=told.reason, advice=told.advice
            )
            return
        counts: Counter[str] = Counter()
        first: dict[str, _Line] = {}
        for place in places.tolist():
            line = lines[place]
            name = line.cells[column].strip() if column < len(line.cells) else ""
            counts[name] += 1
            first.setdefault(name, line)
        for name, line in first.items():
            told = unknown_pump(name, counts[name], self.pump_ids, is_in_name=False)
            yield Reject(
                file_no=self.number,
                line=line.number,
                column="pump_id",
                reason=told.reason,
                advice=told.advice,
                content=shown(line.text, _CONTENT_LENGTH),
            )

    def _lines(self, places: NDArray[np.int64]) -> dict[int, _Line]:
        """Find rows by their place among the file's rows, counted from 0."""
        if self.probed.file.packing == "parquet":
            return self._parquet_rows(places)
        layout = self.probed.layout
        wanted = iter(places.tolist())
        found: dict[int, _Line] = {}
        next_place = next(wanted, None)
        place = -1
        first_line = self.probed.file.first_line
        lines = text_lines(self.probed.file, layout.encoding)
        for number, text in enumerate(lines, start=first_line):
            if number < first_line + layout.skip or not text:
                continue  # rows are counted as the reader counts them: empty lines are none
            place += 1
            if place == next_place:
                cells = cells_of(text, layout.delimiter)
                found[place] = _Line(number, cells, text)
                next_place = next(wanted, None)
                if next_place is None:
                    break
        return found

    def _parquet_rows(self, places: NDArray[np.int64]) -> dict[int, _Line]:
        names = ", ".join(f"c{index}" for index in range(len(self.probed.types)))
        cells = ", ".join(f"c{index}::varchar" for index in range(len(self.probed.types)))
        rows = self.con.execute(
            f"select file_row_number, {cells}"  # noqa: S608  # column places only
            f" from read_parquet($path, file_row_number = true) as log_rows({names})"
            " where list_contains($places, file_row_number)",
            {"path": str(self.probed.file.path), "places": places.tolist()},
        ).fetchall()
        return {
            row[0]: _Line(
                row[0] + 1, [cell or "" for cell in row[1:]], ", ".join(map(str, row[1:]))
            )
            for row in rows
        }
