"""What a judgement and the pages hang on, as short texts: alike only where nothing has changed.

They say whether work would only make again what is there; where one is not known, it is done.
"""

import hashlib
from collections.abc import Sequence
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import duckdb

from analysis.past import recent_since
from ingest.left_out import has_left_out

_LIBRARIES = (
    *("duckdb", "jinja2", "matplotlib", "numpy", "orjson", "plotly", "pyarrow", "scikit-learn"),
    *("scipy", "tzdata", "xlsxwriter"),
)
_REGISTER = ("sites", "pumps", "curves", "fault_codes", "visits")
_ANSWERS = ("findings", "assessments", "peer_notes")
_ROOT = Path(__file__).resolve().parents[1]


@cache
def program_state(*packages: str) -> str:
    """Every file of some of the program's packages, and the libraries' versions."""
    made = hashlib.sha256()
    for package in packages:
        for path in sorted((_ROOT / package).rglob("*")):
            if path.is_file() and path.suffix not in (".pyc", ".pyo"):
                content = path.read_bytes()
                made.update(f"{path.relative_to(_ROOT)} {len(content)}\n".encode() + content)
    made.update(" ".join(_version(name) for name in _LIBRARIES).encode())
    return made.hexdigest()


def register_state(con: duckdb.DuckDBPyConnection) -> str:
    """Sites, pumps, curves, fault codes and visits of a store."""
    return " ".join(_rows_state(con, f"select * from {table}") for table in _REGISTER)  # noqa: S608  # own names


def samples_state(con: duckdb.DuckDBPyConnection, up_to: str) -> str:
    """Which pump has how many samples of which weeks, from when to when, up to a week."""
    return _rows_state(con, "select * from coverage where week <= $week", up_to)


def records_state(con: duckdb.DuckDBPyConnection, week: str) -> str:
    """Weekly records of a week and of its recent past.

    Logs left where they lie may be rewritten with as many samples as before.
    """
    rows = con.execute(
        "select count(*), coalesce(sum(hash(w)::hugeint), 0) from pump_week w"
        " where week between $since and $week",
        {"since": recent_since(week), "week": week},
    )
    return str(rows.fetchall()[0])


def rejects_state(con: duckdb.DuckDBPyConnection) -> str:
    """Rows left out of a store."""
    return _rows_state(con, "select * from rejects")


def left_out_state(con: duckdb.DuckDBPyConnection, week: str) -> str:
    """Values that no pump can show, left out of a week."""
    if not has_left_out(con):
        return ""
    return _rows_state(con, "select * from left_out where week = $week", week)


def answers_state(con: duckdb.DuckDBPyConnection, week: str) -> str:
    """All that was judged of a week."""
    return " ".join(
        _rows_state(con, f"select * from {table} where week = $week", week)  # noqa: S608  # own names
        for table in _ANSWERS
    )


def judgement_state(
    con: duckdb.DuckDBPyConnection, week: str, before: Sequence[tuple[str, str | None]]
) -> str:
    """All that the judgement of a week hangs on.

    A change of records comes with one of the samples they are made of, or of the program.

    Parameters
    ----------
    before : sequence of (week, state)
        Weeks it looks back to, with the `answers_state` of each.
    """
    parts = (
        program_state("ingest", "analysis"),
        register_state(con),
        samples_state(con, week),
        left_out_state(con, week),
        *(f"{name} {state}" for name, state in before),
    )
    return fingerprint(*parts)


def pages_state(con: duckdb.DuckDBPyConnection, week: str, *options: str) -> str | None:
    """All that the pages of a week hang on; None where that is not known.

    Parameters
    ----------
    options : str
        What was asked for beside the week.
    """
    answers = con.execute("select week, answers from scans order by week").fetchall()
    if any(state is None for _, state in answers):
        return None
    return fingerprint(
        program_state("ingest", "analysis", "dashboards"),
        week,
        register_state(con),
        samples_state(con, week),
        records_state(con, week),
        rejects_state(con),
        *(f"{name} {state}" for name, state in answers),
        *options,
    )


def fingerprint(*parts: str) -> str:
    """One short text that stands for several."""
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _rows_state(con: duckdb.DuckDBPyConnection, query: str, week: str | None = None) -> str:
    """Number of rows and the sum of their hashes, as their order does not count."""
    rows = con.execute(
        f"select count(*), coalesce(sum(hash(t)::hugeint), 0) from ({query}) t",  # noqa: S608  # own
        {} if week is None else {"week": week},
    )
    n, total = rows.fetchall()[0]
    return f"{n}:{total}"


def _version(library: str) -> str:
    try:
        return version(library)
    except PackageNotFoundError:
        return ""
