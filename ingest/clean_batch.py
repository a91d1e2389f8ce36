"""The straight way into the store, for batches in which nothing is wrong and nothing repeats.

Most files are as they should be. They are read, checked row by row and inserted by one statement,
which ends at the first row that is not; what it began is then taken back, and the file goes the
careful way by ``raw``, where each problem is named. Both ways store the same samples.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta

import duckdb

from ingest.batch import BatchResult, pump_that_meets_stored, weeks_between
from ingest.batch_checks import WhileRunning, in_wrong_unit
from ingest.batch_reading import Fleet, channels_of
from ingest.ledger import FileResult
from ingest.local_time import local_time
from ingest.probe import Probe
from ingest.samples import CHANNELS
from ingest.staging import PumpLabels, needs_copy, reading
from ingest.survey import Survey, survey

_FIRST_NEW_ROW = 36_028_797_018_960_000
"""Row ids from here on are those of rows the open transaction has added, in DuckDB."""

_ROWS_A_FETCH = 1_000_000

_NOT_CLEAN = "a row that is not clean, file "
_FILE = re.compile(f"Invalid Input Error: {_NOT_CLEAN}([0-9]+)")
"""At the very start of an error; further on it may repeat what a stranger's file says."""


class NotCleanError(Exception):
    """Something in a batch is not as it should be; the transaction is to be undone.

    Attributes
    ----------
    place : int or None
        Which file of the batch it was found in; None where that is not known.
    """

    def __init__(self, place: int | None) -> None:
        super().__init__(place)
        self.place = place


class NotTypedError(NotCleanError):
    """A cell cannot be read as a number; it may be blank, so that the row is clean."""


def is_likely_clean(probes: Sequence[Probe]) -> bool:
    """Whether the straight way may be tried: files of whole samples, one a pump."""
    pumps = {probed.pump for probed in probes}
    return len(pumps) == len(probes) and not any(
        probed.layout.pump is not None
        or probed.layout.is_sparse
        or probed.is_quoted
        or needs_copy(probed)
        for probed in probes
    )


def has_typed_cells(probes: Sequence[Probe]) -> bool:
    """Whether cells of numbers can be read as such: text with decimal points."""
    return all(not probed.types and probed.layout.decimal == "." for probed in probes)


def add_clean(
    con: duckdb.DuckDBPyConnection,
    probes: Sequence[Probe],
    fleet: Fleet,
    labels: PumpLabels,
    *,
    is_typed: bool,
) -> BatchResult:
    """Insert a batch straight.

    Raises
    ------
    NotTypedError
        With ``is_typed``, a cell is blank or no number.
    NotCleanError
        It is not clean; the careful way finds out what is wrong.
    """
    try:
        n_rows = _insert(con, probes, fleet, labels, is_typed=is_typed)
    except duckdb.Error as error:
        text = str(error)
        told = _FILE.match(text)
        if told:
            raise NotCleanError(int(told[1])) from error
        if is_typed:
            raise NotTypedError(_named(text, probes)) from error
        raise NotCleanError(_named(text, probes)) from error
    place_of = {labels.numbers.get(probed.pump or ""): n for n, probed in enumerate(probes)}
    added = _survey(con, fleet)
    if added.disordered is not None:
        raise NotCleanError(place_of.get(added.disordered))
    counts = _rows_of(added)
    if sum(counts.values()) != n_rows:
        raise NotCleanError(None)
    met = pump_that_meets_stored(con, added)
    if met is not None:
        raise NotCleanError(place_of.get(met))
    for pump_no, running in _while_running(con):
        if in_wrong_unit(running, fleet.pump_of[pump_no]):
            raise NotCleanError(place_of.get(pump_no))
    numbers = [labels.numbers.get(probed.pump or "") for probed in probes]
    files = [counts.get(number or 0, 0) for number in numbers]
    return BatchResult([FileResult(rows_in=n, rows_kept=n) for n in files], added)


def _named(text: str, probes: Sequence[Probe]) -> int | None:
    """Place of the file an error of the database names."""
    named = [n for n, probed in enumerate(probes) if str(probed.file.path) in text]
    return max(named, key=lambda n: len(str(probes[n].file.path)), default=None)


def _insert(
    con: duckdb.DuckDBPyConnection,
    probes: Sequence[Probe],
    fleet: Fleet,
    labels: PumpLabels,
    *,
    is_typed: bool,
) -> int:
    """Insert all rows, or raise an error of the database at the first that is not clean."""
    groups: dict[tuple[str, tuple[object, ...]], list[int]] = defaultdict(list)
    for number, probed in enumerate(probes):
        instant = _instant(probed, _timezone(probed, fleet))
        groups[instant, probed.group].append(number)
    n_rows = 0
    for (instant, _), numbers in groups.items():
        paths = {number: probes[number].file.path for number in numbers}
        select, values = reading(con, probes, labels, paths, is_typed=is_typed)
        fields = channels_of([probes[number] for number in numbers])
        names = ", ".join(name for name in (*CHANNELS, "fault_code") if name in fields)
        rows = f"select pump_no, {instant} as ts, {names} from ({select})"  # noqa: S608  # our own
        inserted = con.execute(f"insert into samples by name {rows}", values).fetchone()
        n_rows += int(inserted[0]) if inserted else 0
    return n_rows


def _timezone(probed: Probe, fleet: Fleet) -> str | None:
    if probed.profile is not None and probed.profile.timezone is not None:
        return probed.profile.timezone
    number = fleet.numbers.get(probed.pump or "")
    return None if number is None else fleet.timezone_of[number]


def _instant(probed: Probe, timezone: str | None) -> str:
    """Expression for the instant of a clean row; of any other row it is an error.

    Local times are dated for a year from the file's first; the hours around clock changes that
    come twice are not dated here.
    """
    not_clean = f"error('{_NOT_CLEAN}' || file_no)"
    first = _first_local(probed)
    if timezone is None or first is None:
        return f"case when problems = 0 and not is_local then ts else {not_clean} end"
    clock = local_time(timezone, first - timedelta(days=1), first + timedelta(days=370))
    ends = {hour.to_local: hour.from_local for hour in clock.repeated}
    dated = " ".join(
        f"when ts >= timestamp '{one.from_local}' and ts < timestamp"
        f" '{ends.get(one.to_local, one.to_local)}'"
        f" then ts - to_microseconds({one.offset // timedelta(microseconds=1)})"
        for one in clock.stretches
    )
    return (
        f"case when problems <> 0 then {not_clean} when not is_local then ts {dated}"
        f" else {not_clean} end"
    )


def _first_local(probed: Probe) -> datetime | None:
    """First time of a text log that may be local; None where it is not, or cannot be read here."""
    form = probed.layout.time_format
    try:
        if form == "iso":
            first = datetime.fromisoformat(probed.first_time)
        else:
            first = datetime.strptime(probed.first_time, form)  # noqa: DTZ007  # local on purpose
    except ValueError:
        return None
    return first if first.tzinfo is None and 2000 < first.year < 2100 else None


def _survey(con: duckdb.DuckDBPyConnection, fleet: Fleet) -> Survey:
    new = f"from samples where rowid >= {_FIRST_NEW_ROW}"
    (bounds,) = con.execute(f"select min(ts), max(ts) {new}").fetchall()  # our own
    if bounds[0] is None:
        return Survey()
    reader = con.sql(f"select pump_no, ts {new}").to_arrow_reader(_ROWS_A_FETCH)
    try:
        return survey(reader, weeks_between(fleet, bounds[0], bounds[1]))
    finally:
        reader.close()


def _rows_of(added: Survey) -> dict[int, int]:
    counts: dict[int, int] = {}
    for (pump_no, _), count in added.counts.items():
        counts[pump_no] = counts.get(pump_no, 0) + count.n
    return counts


def _while_running(con: duckdb.DuckDBPyConnection) -> list[tuple[int, WhileRunning]]:
    """Return what each pump, and so each file, shows while running; none of one that never ran."""
    rows = con.execute(
        "select pump_no, count(pressure_kpa), median(pressure_kpa), median(frequency_hz)"  # noqa: S608  # our own number
        f" from samples where rowid >= {_FIRST_NEW_ROW} and frequency_hz > 0"
        " group by pump_no order by pump_no"
    ).fetchall()
    return [(pump_no, WhileRunning(*row)) for pump_no, *row in rows]
