"""Look at logs of an unknown layout and propose a log profile, with the evidence, to be checked.

Only the first rows are read. What nothing in the files tells is left open and named.
"""

import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from ingest.day_order import UnknownOrderError, stamp_format
from ingest.errors import LogError, ProfileError
from ingest.guess_quantities import Guess, Series, guess_quantities, numbers
from ingest.inbox import find_logs
from ingest.installed_base import Register
from ingest.log_files import text_lines
from ingest.log_profile import NEEDED_QUANTITIES
from ingest.profile import read_profile
from ingest.sample_table import SAMPLE_LINES, SampleTable, read_parquet_sample, read_sample
from ingest.shown import shown

MAX_TAGS = 60  # ours: more different texts in a column are no tags

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
class Proposal:
    """A log profile as TOML, with evidence in its comments.

    Attributes
    ----------
    doubts : tuple of str
        What a person must settle before the profile is used.
    trial : str
        What became of the sampled rows when they were read by it; "" where it was not tried.
    """

    toml: str
    doubts: tuple[str, ...]
    trial: str


@dataclass(frozen=True)
class _Time:
    lines: tuple[str, ...]
    places: tuple[int, ...]
    doubts: tuple[str, ...] = ()


def look(paths: Sequence[Path], register: Register | None = None) -> Proposal:
    """Propose a profile for logs of one layout, by the first of them.

    Raises
    ------
    LogError
        There are no logs, or the first has no row with a time and a number.
    """
    files = find_logs(paths, ()).files
    if files[0].packing == "parquet":
        import duckdb

        with duckdb.connect() as con:
            table = read_parquet_sample(con, files[0])
    else:
        table = read_sample(files[0])
    time = _time(table)
    doubts = [*time.doubts]
    pump, pump_place, pump_doubts = _pump(table, register, time.places)
    doubts += pump_doubts
    tag, series = _series(table, {*time.places, pump_place})
    guesses = guess_quantities(series, register)
    found = {guess.quantity for guess in guesses}
    doubts += [f"nothing looks like {one}" for one in NEEDED_QUANTITIES if one not in found]
    doubts += [f"{guess.quantity}: {doubt}" for guess in guesses for doubt in guess.doubts]
    unread = [
        shown(one.title)
        for number, one in enumerate(series)
        if number not in {_place_of(guess, series) for guess in guesses}
    ]
    lines = [
        f"# Proposed from {files[0].name} ({len(table.rows)} rows). Check it before use.",
        *(f"# CHECK: {doubt}." for doubt in doubts),
        *([f"# Not read: {', '.join(unread)}."] if unread else []),
        f"files = {_text(_pattern([file.name.rpartition('/')[2] for file in files]))}",
        *_file_lines(table),
        "",
        "[time]",
        *time.lines,
        *(["", "[pump]", *pump] if pump else []),
        *(_long_lines(table, tag) if tag is not None else []),
        *(line for guess in guesses for line in _value_lines(table, guess, tag)),
    ]
    toml = "\n".join(lines) + "\n"
    return Proposal(toml, tuple(doubts), _trial(toml, table, register))


def _file_lines(table: SampleTable) -> list[str]:
    keys = {
        "delimiter": (table.delimiter, ","),
        "decimal": (table.decimal, "."),
        "encoding": (table.encoding if table.encoding == "cp1252" else "utf-8", "utf-8"),
        "header": (table.has_header, True),
        "skip_lines": (table.skip_lines, 0),
        "skip_after_header": (table.skip_after_header, 0),
    }
    lines = [f"{key} = {_text(value)}" for key, (value, plain) in keys.items() if value != plain]
    marks = Counter(
        cell.strip()
        for row in table.rows
        for cell in row
        if cell.strip() in {"---", "--", "-", "OL", "n.a.", "#N/A", "Bad", "No Data"}
    )
    if marks:
        lines.append(f"blank = [{', '.join(_text(mark) for mark in sorted(marks))}]")
    return lines


def _time(table: SampleTable) -> _Time:
    """Find the column or columns of the time, and how it is written."""
    n_columns = len(table.titles)
    for place in range(n_columns):
        cells = table.column(place)
        found = _time_format(cells)
        if found is not None:
            form, doubts = found
            zone = [] if form.startswith("unix") or _has_offset(cells) else [_ZONE]
            head = [f"column = {_ref(table, place)}"]
            is_date = form.endswith("%Y")
            clock = place + 1
            if is_date and clock < n_columns and _CLOCK.fullmatch(table.column(clock)[0]):
                head = [f"columns = [{_ref(table, place)}, {_ref(table, clock)}]"]
                n_parts = table.column(clock)[0].count(":")
                form += " %H:%M:%S" if n_parts == 2 else " %H:%M"
                places: tuple[int, ...] = (place, clock)
            else:
                places = (place,)
            lines = head if form == "iso" else [*head, f"format = {_text(form)}"]
            return _Time((*lines, *zone), places, tuple(doubts))
    return _Time(("column = 1",), (0,), ("no column looks like a time",))


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


def _pump(
    table: SampleTable, register: Register | None, times: Sequence[int]
) -> tuple[list[str], int | None, list[str]]:
    """Find what names the pump: a column, or the file's name."""
    ids = sorted(register.pumps, key=len, reverse=True) if register else []
    name, stem = table.file.path.name, table.file.stem
    for place in range(len(table.titles)):
        values = set(table.column(place)) - {""}
        if place not in times and values & set(ids):
            lost = sorted(values - set(ids))[:3]
            doubts = (
                [f"pumps {', '.join(map(shown, lost))} are not in the register"] if lost else []
            )
            return [f"column = {_ref(table, place)}"], place, doubts
    if stem.split("__")[0] in ids:
        return [], None, []
    for pump_id in ids:
        before, found, after = name.partition(pump_id)
        if found:
            sign = after[:1]
            inner = "[^.]+" if sign in ("", ".") else f"[^{re.escape(sign)}]+"
            pattern = f"^{re.escape(before)}(?P<pump_id>{inner}){re.escape(sign)}"
            return [f"file_name = {_text(pattern)}"], None, []
    for place, title in enumerate(table.titles):
        if place not in times and re.search(r"pump|station|device|unit|asset|site", title.lower()):
            names = sorted(set(table.column(place)))[:3]
            told = f"column '{shown(title)}' ({', '.join(map(shown, names))}) may name the pump"
            lines = [f"column = {_ref(table, place)}", '# names = { "as logged" = "pump_id" }']
            return lines, place, [f"{told}; no name there is in the register"]
    return [], None, ["nothing names a pump of the register"]


def _series(table: SampleTable, left: set[int | None]) -> tuple[int | None, list[Series]]:
    """Columns of numbers; of a table with one value a row the tags, each with its own rows."""
    places = [place for place in range(len(table.titles)) if place not in left]
    values = {place: numbers(table.column(place), table.decimal) for place in places}
    is_number = {place: float(np.mean(~np.isnan(of))) > 0.5 for place, of in values.items()}
    texts = [place for place in places if not is_number[place]]
    if sum(is_number.values()) == 1 and texts:
        value = next(place for place in places if is_number[place])
        for place in texts:
            tags = table.column(place)
            if 1 < len(set(tags)) <= MAX_TAGS and len(set(tags)) < len(tags) / 2:
                return place, [
                    Series(value, tag, "", values[value][np.array(tags) == tag])
                    for tag in sorted(set(tags))
                ]
    series = [
        Series(place, table.titles[place] or str(place + 1), table.units[place], values[place])
        for place in places
    ]
    return None, series


def _place_of(guess: Guess, series: Sequence[Series]) -> int:
    return next(
        n for n, one in enumerate(series) if (one.place, one.title) == (guess.place, guess.title)
    )


def _long_lines(table: SampleTable, tag: int) -> list[str]:
    left = {tag, *_time(table).places}
    value = next(
        place
        for place in range(len(table.titles))
        if place not in left
        and float(np.mean(~np.isnan(numbers(table.column(place), table.decimal)))) > 0.5
    )
    return [
        "",
        "[long]",
        f"tag_column = {_ref(table, tag)}",
        f"value_column = {_ref(table, value)}",
    ]


def _value_lines(table: SampleTable, guess: Guess, tag: int | None) -> list[str]:
    source = (
        f"tag = {_text(guess.title)}"
        if tag is not None
        else (f"column = {_ref(table, guess.place)}")
    )
    unit = [] if guess.quantity == "fault_code" else [f"unit = {_text(guess.unit)}"]
    at_60_hz = [] if guess.at_60_hz is None else [f"at_60_hz = {guess.at_60_hz:g}"]
    return [
        "",
        f"[values.{guess.quantity}]  # {shown('; '.join(guess.evidence), 200)}",
        source,
        *unit,
        *at_60_hz,
    ]


def _ref(table: SampleTable, place: int) -> str:
    """Name a column by its title, or by its number where that is not its own."""
    title = table.titles[place]
    lower = [one.lower() for one in table.titles]
    return _text(title) if title and lower.count(title.lower()) == 1 else str(place + 1)


def _text(value: object) -> str:
    """Write a value as TOML, whose strings are written as in JSON."""
    return json.dumps(value, ensure_ascii=True)


def _pattern(names: Sequence[str]) -> str:
    """Return a glob that all names fit and few others do."""
    first = names[0]
    start = re.match(r"([A-Za-z]+[_-])*", first)
    stem = start[0] if start and all(name.startswith(start[0]) for name in names) else ""
    n_endings = 2 if first.endswith((".gz", ".zst")) else 1
    return f"{stem}*{''.join(Path(first).suffixes[-n_endings:])}"


def _trial(toml: str, table: SampleTable, register: Register | None) -> str:
    """Load the sampled rows by the proposed profile into a store that is thrown away."""
    from ingest.load import load_logs
    from ingest.store import open_store, save_register

    with TemporaryDirectory(prefix="pumprounds-") as name:
        folder = Path(name)
        (folder / "profile.toml").write_text(toml, encoding="utf-8")
        try:
            profile = replace(read_profile(folder / "profile.toml"), files="*")
        except ProfileError as error:
            return f"It cannot be used as it stands: {error}"
        if register is None:
            return ""
        sample = table.file.path
        if table.file.packing != "parquet":
            sample = folder / "logs" / f"{table.file.stem}.csv"
            sample.parent.mkdir()
            lines = list(text_lines(replace(table.file, n_lines=SAMPLE_LINES), table.encoding))
            sample.write_text("\n".join(lines) + "\n", encoding=profile.encoding, errors="replace")
        with open_store(folder / "trial.duckdb") as con:
            save_register(con, register)
            try:
                report = load_logs(con, [sample], register, [profile])
            except LogError as error:
                return str(error)
    told = f"Tried on the first rows: {report.rows_kept} samples of {report.rows_in} rows."
    return " ".join([told, *(str(problem) for problem in report.rejects[:3])])
