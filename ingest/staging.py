"""Rows of a batch of log files, read into one temporary table ``raw`` in the order of the files.

``raw`` has one row per line of data: file_no, pump_no, ts (as it reads), is_local, the channels
the batch has, and problems (see ``row_problems``). Row ids rise with files and lines.
"""

import csv
import io
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import duckdb

from ingest.layout import Layout
from ingest.log_files import text_lines
from ingest.probe import Probe
from ingest.samples import CHANNELS
from ingest.staging_sql import BLANK_WORDS, staging_select
from ingest.units import Conversion

_MAX_LINE = 65_536  # longer lines are no log; cut, they are rejected as broken


_PARAMETER = re.compile(r"\$([a-z_]+)")


@dataclass(frozen=True)
class PumpLabels:
    """Names pumps carry in the logs, with their numbers in the store."""

    numbers: Mapping[str, int]

    def create(self, con: duckdb.DuckDBPyConnection) -> None:
        """Make the names known to the database session as an enum, for fast look-up."""
        con.execute("drop type if exists pump_label")
        con.execute(
            "create or replace temp table pump_labels as"
            " select unnest($names) as name, generate_subscripts($names, 1) as place",
            {"names": list(self.numbers) or [""]},
        )
        con.execute(
            "create temp type pump_label as enum (select name from pump_labels order by place)"
        )


def stage(
    con: duckdb.DuckDBPyConnection, probes: Sequence[Probe], labels: PumpLabels, folder: Path
) -> dict[int, str]:
    """Read a batch of files into ``raw``; a file's number is its place among the probes.

    Parameters
    ----------
    folder : Path
        Where cleaned copies may be put: of files in another encoding, or with bytes no reader
        takes.

    Returns
    -------
    dict of int to str
        Files that could not be read at all, with the reason.
    """
    _create_raw(con, probes)
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for number, probed in enumerate(probes):
        groups[(*probed.group, needs_copy(probed))].append(number)
    unreadable: dict[int, str] = {}
    for numbers in groups.values():
        batch = _Reading(con, probes, labels, folder)
        unreadable.update(batch.read(numbers))
    return unreadable


def _create_raw(con: duckdb.DuckDBPyConnection, probes: Sequence[Probe]) -> None:
    fields = {channel.field for probed in probes for channel in probed.layout.channels}
    columns = [f"{name} float" for name in CHANNELS if name in fields]
    if "fault_code" in fields:
        columns.append("fault_code varchar")
    if any(probed.layout.is_long for probed in probes):
        columns.append("tag_no usmallint")
    con.execute(
        "create or replace temp table raw (file_no usmallint, pump_no integer, is_local boolean,"
        f" ts timestamp, {', '.join(columns)}, problems uinteger)"
    )


def needs_copy(probed: Probe) -> bool:
    """Whether the database cannot be given the file itself."""
    file = probed.file
    return file.packing != "parquet" and (
        probed.layout.encoding != "utf-8-sig" or file.is_part or file.is_pattern
    )


@dataclass(frozen=True)
class _Reading:
    con: duckdb.DuckDBPyConnection
    probes: Sequence[Probe]
    labels: PumpLabels
    folder: Path

    def read(self, numbers: list[int]) -> dict[int, str]:
        """Read files of one group; where the statement fails, each file by itself."""
        copies = {n: self._copy(n) for n in numbers if needs_copy(self.probes[n])}
        try:
            self._insert({n: copies.get(n, self.probes[n].file.path) for n in numbers})
        except duckdb.Error as error:
            if len(numbers) > 1:
                failed = [self.read([number]) for number in numbers]
                return {n: why for one in failed for n, why in one.items()}
            why = f"cannot be read: {str(error).splitlines()[0]}"
            return self._read_cleaned(numbers[0], why, is_clean=bool(copies))
        swallowed = [n for n in numbers if self._has_swallowed_lines(n)]
        why = "has quotes that do not match"
        failed = [self._read_cleaned(n, why, is_clean=n in copies) for n in swallowed]
        return {n: why for one in failed for n, why in one.items()}

    def _has_swallowed_lines(self, number: int) -> bool:
        """Whether an open quote made one row of several lines; its rows are then taken back."""
        probed = self.probes[number]
        if not probed.is_quoted:
            return False
        lines = text_lines(probed.file, probed.layout.encoding)
        n_lines = sum(1 for line in islice(lines, probed.layout.skip, None) if line)
        place = {"number": number}
        found = self.con.execute(
            "select count(*) from raw where file_no = $number", place
        ).fetchone()
        if found == (n_lines,):
            return False
        self.con.execute("delete from raw where file_no = $number", place)
        return True

    def _read_cleaned(self, number: int, why: str, *, is_clean: bool) -> dict[int, str]:
        if is_clean or self.probes[number].file.packing == "parquet":
            return {number: why}
        try:
            self._insert({number: self._copy(number)})
        except (duckdb.Error, OSError, EOFError):
            return {number: why}
        return {}

    def _insert(self, paths: dict[int, Path]) -> None:
        select, values = reading(self.con, self.probes, self.labels, paths)
        self.con.execute(f"insert into raw by name {select}", values)

    def _copy(self, number: int) -> Path:
        """Write a copy in UTF-8 with one row a line, whatever stood in the file."""
        probed = self.probes[number]
        path = self.folder / f"{number}.csv"
        with path.open("w", encoding="utf-8", newline="") as out:
            for line in text_lines(probed.file, probed.layout.encoding):
                cut = line[:_MAX_LINE].replace("\0", "\N{REPLACEMENT CHARACTER}")
                out.write((_requoted(cut, probed.layout) if probed.is_quoted else cut) + "\n")
        return path


def reading(
    con: duckdb.DuckDBPyConnection,
    probes: Sequence[Probe],
    labels: PumpLabels,
    paths: Mapping[int, Path],
    *,
    is_typed: bool = False,
) -> tuple[str, dict[str, object]]:
    """Select that reads some files of one group as rows of ``raw``, and its parameters.

    Parameters
    ----------
    paths : mapping of int to Path
        What to read of each file, the file itself or a copy of it, by its place in the probes.
    is_typed : bool
        Read cells of numbers straight as such, a twelfth faster; one that is none, or blank, is
        then an error of the database.
    """
    first = probes[next(iter(paths))]
    layout = first.layout
    names = [str(path) for path in paths.values()]
    is_copy = any(path != probes[n].file.path for n, path in paths.items())
    select = staging_select(
        layout,
        _source(first, is_copy=is_copy, is_typed=is_typed),
        first.types,
        first_is_unix=first.first_is_unix,
    )
    values: dict[str, object] = {
        "paths": names,
        "file_nos": list(paths),
        "expected": [probes[n].pump for n in paths],
        "expected_nos": [labels.numbers.get(probes[n].pump or "") for n in paths],
        "label_nos": list(labels.numbers.values()) or [None],
        "blank": [*BLANK_WORDS, *(word.strip().lower() for word in layout.blank)],
        "tags": [channel.tag for channel in layout.channels],
        "time_format": layout.time_format,
    }
    return select, {name: values[name] for name in set(_PARAMETER.findall(select))}


def _requoted(line: str, layout: Layout) -> str:
    """Quote a line anew; a line whose quotes do not match gets cells too many, so it is listed."""
    try:
        cells = next(csv.reader([line], delimiter=layout.delimiter, strict=True), [])
    except csv.Error:
        cells = ["broken quotes"] * (layout.n_columns + 1)
    out = io.StringIO()
    csv.writer(out, delimiter=layout.delimiter, lineterminator="").writerow(cells)
    return out.getvalue()


def _source(probed: Probe, *, is_copy: bool, is_typed: bool) -> str:
    """From clause that names the cells c0, c1, ... by position."""
    if probed.types:
        names = ", ".join(f"c{index}" for index in range(len(probed.types)))
        return f"read_parquet($paths) as log_rows({names})"
    kinds = ["VARCHAR"] * probed.layout.n_columns
    for channel in probed.layout.channels if is_typed else ():
        if channel.field != "fault_code":
            kinds[channel.index] = "FLOAT" if channel.scale == Conversion() else "DOUBLE"
    columns = ", ".join(f"'c{index}': '{kind}'" for index, kind in enumerate(kinds))
    quote = "'\"'" if probed.is_quoted else "''"
    packing = "none" if is_copy else probed.file.packing
    skip = probed.layout.skip if is_copy else probed.n_skipped_ends
    # A cell that is missing must be told from a blank one: no text stands for NULL, so only the
    # cells a short line lacks are NULL; what a long line has too much lands in "extra".
    return (
        f"read_csv($paths, columns = {{{columns}, 'extra': 'VARCHAR'}}, header = false,"
        f" skip = {skip}, auto_detect = false, delim = '{probed.layout.delimiter}',"
        f" quote = {quote}, escape = {quote}, new_line = '\\n', nullstr = '\x01',"
        f" null_padding = true, strict_mode = false, compression = '{packing}')"
    )
