"""Look at logs of an unknown layout and propose a log profile, with the evidence, to be checked.

Only the first rows are read. What nothing in the files tells is left open and named.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from ingest.errors import LogError, ProfileError
from ingest.guess_quantities import Guess, Series, guess_quantities, numbers
from ingest.guess_time import guess_time, reference, toml_text
from ingest.inbox import find_logs
from ingest.installed_base import Register
from ingest.log_files import text_lines
from ingest.log_profile import NEEDED_QUANTITIES
from ingest.profile import read_profile
from ingest.sample_table import SAMPLE_LINES, SampleTable, read_parquet_sample, read_sample
from ingest.shown import shown

MAX_TAGS = 60  # ours: more different texts in a column are no tags


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
    time = guess_time(table)
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
        f"files = {toml_text(_pattern([file.name.rpartition('/')[2] for file in files]))}",
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
    lines = [
        f"{key} = {toml_text(value)}" for key, (value, plain) in keys.items() if value != plain
    ]
    marks = Counter(
        cell.strip()
        for row in table.rows
        for cell in row
        if cell.strip() in {"---", "--", "-", "OL", "n.a.", "#N/A", "Bad", "No Data"}
    )
    if marks:
        lines.append(f"blank = [{', '.join(toml_text(mark) for mark in sorted(marks))}]")
    return lines


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
            return [f"column = {reference(table, place)}"], place, doubts
    if stem.split("__")[0] in ids:
        return [], None, []
    for pump_id in ids:
        before, found, after = name.partition(pump_id)
        if found:
            sign = after[:1]
            inner = "[^.]+" if sign in ("", ".") else f"[^{re.escape(sign)}]+"
            pattern = f"^{re.escape(before)}(?P<pump_id>{inner}){re.escape(sign)}"
            return [f"file_name = {toml_text(pattern)}"], None, []
    for place, title in enumerate(table.titles):
        if place not in times and re.search(r"pump|station|device|unit|asset|site", title.lower()):
            names = sorted(set(table.column(place)))[:3]
            told = f"column '{shown(title)}' ({', '.join(map(shown, names))}) may name the pump"
            lines = [
                f"column = {reference(table, place)}",
                '# names = { "as logged" = "pump_id" }',
            ]
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
    left = {tag, *guess_time(table).places}
    value = next(
        place
        for place in range(len(table.titles))
        if place not in left
        and float(np.mean(~np.isnan(numbers(table.column(place), table.decimal)))) > 0.5
    )
    return [
        "",
        "[long]",
        f"tag_column = {reference(table, tag)}",
        f"value_column = {reference(table, value)}",
    ]


def _value_lines(table: SampleTable, guess: Guess, tag: int | None) -> list[str]:
    source = (
        f"tag = {toml_text(guess.title)}"
        if tag is not None
        else (f"column = {reference(table, guess.place)}")
    )
    unit = [] if guess.quantity == "fault_code" else [f"unit = {toml_text(guess.unit)}"]
    at_60_hz = [] if guess.at_60_hz is None else [f"at_60_hz = {guess.at_60_hz:g}"]
    return [
        "",
        f"[values.{guess.quantity}]  # {shown('; '.join(guess.evidence), 200)}",
        source,
        *unit,
        *at_60_hz,
    ]


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
