"""Which pump has how many samples in which week of its site's local time."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

import duckdb
import numpy as np
from numpy.typing import NDArray

from ingest.archive import Archive
from ingest.rows import arrow_table, numbers_of
from ingest.survey import Survey, WeekCount, week_starts

_EVER = (datetime.min, datetime.max)  # noqa: DTZ901  # instants are UTC without zone here


@dataclass(frozen=True)
class PumpCount:
    """What the store and its archive hold of one pump.

    Attributes
    ----------
    n_repeated : int
        Samples of an instant another sample has.
    n_pieces : int
        Stretches of rows in order it lies in, in the store.
    weeks : Survey
        Its samples by local week.
    """

    n_samples: int
    n_repeated: int
    n_pieces: int
    weeks: Survey


def count_pump(
    con: duckdb.DuckDBPyConnection, archive: Archive, pump_no: int, timezone: str
) -> PumpCount:
    """Count a pump's samples as they lie in the store and its archive."""
    laid_us, n_stored = _instants(con, archive, pump_no)
    in_order = np.unique(laid_us)
    weeks = Survey()
    if len(in_order):
        first, last = in_order[[0, -1]].view("datetime64[us]").tolist()
        weeks.add(pump_no, in_order, week_starts(timezone, first, last))
    return PumpCount(
        n_samples=len(laid_us),
        n_repeated=len(laid_us) - len(in_order),
        n_pieces=1 + int(np.count_nonzero(np.diff(laid_us[:n_stored]) <= 0)),
        weeks=weeks,
    )


def _instants(
    con: duckdb.DuckDBPyConnection, archive: Archive, pump_no: int
) -> tuple[NDArray[np.int64], int]:
    """Return a pump's instants, first those in the store as they lie, and how many those are."""
    stored = con.sql(
        "select pump_no, ts from samples where pump_no = $pump_no order by rowid",
        params={"pump_no": pump_no},
    ).to_arrow_table()
    rows = archive.with_stored(stored, [pump_no], *_EVER)
    return numbers_of(rows.column("ts")), stored.num_rows


def recount(con: duckdb.DuckDBPyConnection, timezone_of: Mapping[int, str]) -> None:
    """Count some pumps' weeks anew, by the zones they are in now; they are to be measured again.

    Instants stay as they were read.
    """
    archive = Archive(con)
    for pump_no, timezone in timezone_of.items():
        found = count_pump(con, archive, pump_no, timezone)
        con.execute("delete from coverage where pump_no = $pump_no", {"pump_no": pump_no})
        add_coverage(con, found.weeks)


def add_coverage(con: duckdb.DuckDBPyConnection, added: Survey) -> None:
    """Count added samples in ``coverage``; their weeks are to be measured again."""
    if not added.counts:
        return
    keys, counts = list(added.counts), list(added.counts.values())
    con.register(
        "added_weeks",
        arrow_table(
            {
                "pump_no": ([pump_no for pump_no, _ in keys], "integer"),
                "week": ([week for _, week in keys], "varchar"),
                "n_samples": ([count.n for count in counts], "bigint"),
                "first_at": ([count.first_us for count in counts], "timestamp"),
                "last_at": ([count.last_us for count in counts], "timestamp"),
            }
        ),
    )
    con.execute(
        "update coverage set n_samples = coverage.n_samples + added.n_samples,"
        " first_at = least(coverage.first_at, added.first_at),"
        " last_at = greatest(coverage.last_at, added.last_at), is_measured = false"
        " from added_weeks as added"
        " where coverage.pump_no = added.pump_no and coverage.week = added.week"
    )
    con.execute(
        "insert into coverage select pump_no, week, n_samples, first_at, last_at, false"
        " from added_weeks anti join coverage using (pump_no, week) order by pump_no, week"
    )
    con.unregister("added_weeks")


def pump_in_reach(
    stored: Mapping[int, Mapping[str, tuple[int, int, int]]],
    added: Mapping[tuple[int, str], WeekCount],
) -> int | None:
    """Number of a pump whose added samples overlap in time with those of it; None: of none.

    Parameters
    ----------
    stored : mapping
        What `stored_counts` gave of the pumps.
    added : mapping
        Samples by pump number and week.
    """
    for pump_no, week in sorted(added):
        count = added[pump_no, week]
        known = stored.get(pump_no, {}).get(week)
        if known is not None and known[1] <= count.last_us and count.first_us <= known[2]:
            return pump_no
    return None


def stored_counts(
    con: duckdb.DuckDBPyConnection, pump_nos: Iterable[int]
) -> dict[int, dict[str, tuple[int, int, int]]]:
    """Return what ``coverage`` says by pump and week: samples, first and last instant in us."""
    rows = con.execute(
        "select pump_no, week, n_samples, epoch_us(first_at), epoch_us(last_at) from coverage"
        " where list_contains($pump_nos, pump_no)",
        {"pump_nos": list(pump_nos)},
    ).fetchall()
    stored: dict[int, dict[str, tuple[int, int, int]]] = {}
    for pump_no, week, *counts in rows:
        stored.setdefault(pump_no, {})[week] = (counts[0], counts[1], counts[2])
    return stored
