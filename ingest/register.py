"""The register folder becomes the installed base; every problem of all files is listed at once.

A row costs nobody but itself: a pump whose site is left out is left out too, and both are listed.
A site with a time zone that is not known is left out, because its log times could not be dated.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from ingest.columns import REGISTER_FILES
from ingest.errors import RegisterError
from ingest.installed_base import (
    AGREED_OUTCOMES,
    CurvePoint,
    FaultCode,
    Problem,
    Pump,
    Register,
    Site,
    Visit,
)
from ingest.register_table import Row, Table, read_table

_WHAT = {
    "sites.csv": ("Site", "site_id"),
    "pumps.csv": ("Pump", "pump_id"),
    "curves.csv": ("Curve point of", "pump_model"),
    "fault_codes.csv": ("Fault code", "fault_code"),
    "visits.csv": ("Visit to", "site_id"),
}
_NEEDED_FILES = ("sites.csv", "pumps.csv")

_T = TypeVar("_T", Site, Pump)


def load_register(folder: Path) -> tuple[Register, list[Problem]]:
    """Read ``sites.csv``, ``pumps.csv`` and, where there, curves, fault codes and visits.

    Returns
    -------
    Register
        All rows that could be used, sorted by id.
    list of Problem
        Everything wrong in any file, in the order of files and lines, each with its consequence.

    Raises
    ------
    RegisterError
        The folder, ``sites.csv`` or ``pumps.csv`` is missing, or a needed column of these is.
    """
    _check_folder(folder)
    tables = {
        name: read_table(folder / name, columns, *_WHAT[name])
        if (folder / name).is_file()
        else Table(name)
        for name, columns in REGISTER_FILES.items()
    }
    unusable = [
        p for name in _NEEDED_FILES if not tables[name].is_readable for p in tables[name].problems
    ]
    if unusable:
        raise RegisterError(f"{folder}: " + "\n".join(str(problem) for problem in unusable))
    sites = _keyed(tables["sites.csv"], Site, "site_id", lambda row: True)
    pumps_table = tables["pumps.csv"]
    pumps = _keyed(
        pumps_table,
        Pump,
        "pump_id",
        lambda row: (
            _has_site(pumps_table, row, sites, f"Pump {row.values['pump_id']} left out.")
            and _check_speeds(pumps_table, row)
        ),
    )
    register = Register(
        sites=sites,
        pumps=pumps,
        curves=_curves(tables["curves.csv"]),
        fault_codes=_fault_codes(tables["fault_codes.csv"]),
        visits=_visits(tables["visits.csv"], sites, pumps),
    )
    return register, _in_order(tables)


def _check_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise RegisterError(f"{folder}: no such folder, expected the register's CSV files in it.")
    missing = [name for name in _NEEDED_FILES if not (folder / name).is_file()]
    if missing:
        raise RegisterError(f"{folder}: has no {' and no '.join(missing)}.")


def _in_order(tables: dict[str, Table]) -> list[Problem]:
    return [
        problem
        for table in tables.values()
        for problem in sorted(table.problems, key=lambda problem: problem.line or 0)
    ]


def _keyed(
    table: Table, make: Callable[..., _T], key: str, is_usable: Callable[[Row], bool]
) -> dict[str, _T]:
    """Rows as objects by id; an id that comes twice keeps its first row."""
    made: dict[str, _T] = {}
    first_line: dict[str, int] = {}
    for row in table.rows:
        name = str(row.values[key])
        if name in first_line:
            table.add_problem(
                row.line,
                key,
                f"{key} is '{name}' again, expected it once; it stands on line "
                f"{first_line[name]}. This row is left out.",
            )
            continue
        first_line[name] = row.line
        if is_usable(row):
            made[name] = make(**_typed(row))
    return dict(sorted(made.items()))


def _has_site(table: Table, row: Row, sites: dict[str, Site], left_out: str) -> bool:
    site_id = str(row.values["site_id"])
    if site_id in sites:
        return True
    table.add_problem(
        row.line,
        "site_id",
        f"site_id is '{site_id}', expected a usable site of sites.csv. {left_out}",
    )
    return False


def _check_speeds(table: Table, row: Row) -> bool:
    """Leave both speed limits blank where they contradict each other; always keeps the row."""
    defaults = Pump(pump_id="", site_id="")
    min_hz = float(str(row.values.get("min_hz", defaults.min_hz)))
    max_hz = float(str(row.values.get("max_hz", defaults.max_hz)))
    if min_hz >= max_hz:
        table.add_problem(
            row.line,
            "min_hz",
            f"min_hz is {min_hz:g} and max_hz {max_hz:g}, expected min below max. Both are left "
            f"blank ({defaults.min_hz:g} and {defaults.max_hz:g} are used).",
        )
        row.values.pop("min_hz", None)
        row.values.pop("max_hz", None)
    return True


def _curves(table: Table) -> tuple[CurvePoint, ...]:
    points = [CurvePoint(**_typed(row)) for row in table.rows]
    return tuple(sorted(points, key=lambda p: (p.pump_model, p.flow_lpm, p.head_m)))


def _fault_codes(table: Table) -> tuple[FaultCode, ...]:
    made: dict[tuple[str, str], FaultCode] = {}
    for row in table.rows:
        code = FaultCode(**_typed(row))
        key = (code.controller_model, code.fault_code)
        if key in made:
            table.add_problem(
                row.line,
                "fault_code",
                f"fault_code is '{code.fault_code}' again for {code.controller_model}, expected "
                "it once. This row is left out.",
            )
        else:
            made[key] = code
    return tuple(made[key] for key in sorted(made))


def _visits(table: Table, sites: dict[str, Site], pumps: dict[str, Pump]) -> tuple[Visit, ...]:
    visits = [Visit(**_typed(row)) for row in table.rows if _is_visit(table, row, sites, pumps)]
    return tuple(sorted(visits, key=lambda v: (v.visited_on, v.site_id, v.pump_id or "")))


def _is_visit(table: Table, row: Row, sites: dict[str, Site], pumps: dict[str, Pump]) -> bool:
    left_out = f"Visit of {row.values['visited_on']} left out."
    if not _has_site(table, row, sites, left_out):
        return False
    if row.values.get("outcome") in AGREED_OUTCOMES and row.values.get("until_on") is None:
        table.add_problem(
            row.line,
            "until",
            f"until is blank, expected the last day on which '{row.values['outcome']}' holds. "
            "The visit is kept and changes nothing.",
        )
    pump_id = row.values.get("pump_id")
    if pump_id is None:
        return True
    pump = pumps.get(str(pump_id))
    if pump is None or pump.site_id != row.values["site_id"]:
        table.add_problem(
            row.line,
            "pump_id",
            f"pump_id is '{pump_id}', expected a usable pump of site {row.values['site_id']}. "
            f"{left_out}",
        )
        return False
    return True


def _typed(row: Row) -> dict[str, Any]:
    """Values of a row for a constructor; the columns table fixes their types."""
    return dict(row.values)
