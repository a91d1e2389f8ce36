"""A file in which a second header stands is read as parts, each by its own header.

Firmware that is changed, and exports that are put one behind the other, write their header anew,
and may order the columns otherwise from there on.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest

import duckdb

from ingest.columns import LOGS
from ingest.layout import LayoutError
from ingest.log_files import text_lines
from ingest.log_profile import LogProfile
from ingest.probe import Probe, cells_of, probe
from ingest.rejects import Reject
from ingest.row_problems import TIME_UNREADABLE
from ingest.shown import shown

MAX_PARTS = 500
"""Ours: a header a line is no log."""

_TITLES = frozenset(name for column in LOGS for name in column.names)


@dataclass
class Parted:
    """Probes of whole files and of parts; ``home`` is each one's file, by its place in the batch.

    ``rejects`` and ``n_lost`` (rows by file) are of parts whose header cannot be read.
    """

    probes: list[Probe] = field(default_factory=list)
    home: list[int] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    n_lost: dict[int, int] = field(default_factory=dict)

    def add(self, number: int, probed: Probe) -> None:
        """Add a file or part."""
        self.probes.append(probed)
        self.home.append(number)


def part_files(con: duckdb.DuckDBPyConnection, probes: Sequence[Probe]) -> Parted | None:
    """Return the parts of files in which a header stands again; None where there is no such file.

    A header is no time, so only files of which ``raw`` marks such rows are looked through.
    """
    marked = con.execute(
        "select distinct file_no from raw where problems & $bit <> 0", {"bit": TIME_UNREADABLE}
    ).fetchall()
    headers = {
        number: lines for (number,) in sorted(marked) if (lines := _headers(probes[number]))
    }
    if not headers:
        return None
    parted = Parted()
    for number, probed in enumerate(probes):
        if number in headers:
            _add_parts(con, parted, number, probed, headers[number])
        else:
            parted.add(number, probed)
    return parted


def _add_parts(
    con: duckdb.DuckDBPyConnection,
    parted: Parted,
    number: int,
    probed: Probe,
    headers: list[int],
) -> None:
    first = replace(probed.file, n_lines=headers[0] - 1)
    parted.add(number, replace(probed, file=first))
    profile = probed.profile
    if profile is not None:
        profile = replace(profile, skip_lines=0, skip_after_header=0)
    starts = headers[:MAX_PARTS]
    for start, end in zip_longest(starts, starts[1:]):
        n_lines = None if end is None else end - start
        file = replace(probed.file, first_line=start, n_lines=n_lines)
        try:
            if n_lines is None and len(headers) > MAX_PARTS:
                raise LayoutError(f"is one of more than {MAX_PARTS}.")
            part = probe(con, file, profile)
        except LayoutError as error:
            lines = list(text_lines(file, probed.layout.encoding))
            n_rows = sum(1 for line in lines[1:] if line)
            parted.n_lost[number] = parted.n_lost.get(number, 0) + n_rows
            parted.rejects.append(
                Reject(
                    file_no=number,
                    line=start,
                    column=None,
                    reason=f"begins other columns: the header here {error}",
                    advice=f"{n_rows} rows below it left out; split the file here.",
                    content=shown(lines[0], 200),
                )
            )
        else:
            parted.add(number, replace(part, profile=probed.profile))


def _headers(probed: Probe) -> list[int]:
    """Lines, from 1, that are headers below the first."""
    if probed.file.packing == "parquet" or not _has_titles(probed.profile):
        return []
    return list(_header_lines(probed))


def _has_titles(profile: LogProfile | None) -> bool:
    return profile is None or (profile.has_header and isinstance(profile.time_columns[0], str))


def _header_lines(probed: Probe) -> Iterator[int]:
    profile = probed.profile
    title = "timestamp" if profile is None else str(profile.time_columns[0]).strip().lower()
    wanted = _TITLES if profile is None else _titles_of(profile)
    lines = text_lines(probed.file, probed.layout.encoding)
    for number, line in enumerate(lines, start=1):
        if number <= probed.layout.skip or title not in line.lower():
            continue
        cells = [cell.strip().lower() for cell in cells_of(line, probed.layout.delimiter)]
        if title in cells and sum(cell in wanted for cell in cells) > 1:
            yield number


def _titles_of(profile: LogProfile) -> frozenset[str]:
    refs = [*profile.time_columns, profile.pump_column, profile.tag_column, profile.value_column]
    refs += [value.source for value in profile.values]
    return frozenset(ref.strip().lower() for ref in refs if isinstance(ref, str))
