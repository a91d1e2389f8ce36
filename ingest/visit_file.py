"""One visit is added to ``visits.csv`` of a register folder: checked whole, written at once.

Rows that stand there stay byte for byte, but for a column the file lacks and the visit needs.
"""

import csv
import io
import os
from pathlib import Path

from ingest.errors import RegisterError
from ingest.installed_base import AGREED_OUTCOMES, OUTCOMES, Register, Visit

_FIELDS = {
    "visited_on": "visited_on",
    "site_id": "site_id",
    "pump_id": "pump_id",
    "kind": "kind",
    "outcome": "outcome",
    "found": "found",
    "done": "done",
    "until": "until_on",
}
"""Column of the file to field of ``Visit``."""


def add_visit(folder: Path, visit: Visit, register: Register, kinds: tuple[str, ...]) -> Path:
    """Add a visit; return the file it stands in.

    Parameters
    ----------
    register : Register
        As the folder has it.
    kinds : tuple of str
        Kinds a visit may be about.

    Raises
    ------
    RegisterError
        The visit does not fit the register (all of it is listed), or the file cannot be added to.
    """
    problems = visit_problems(visit, register, kinds)
    if problems:
        raise RegisterError(" ".join(problems) + " Nothing was added.")
    path = folder / "visits.csv"
    text = path.read_bytes().decode("utf-8-sig", errors="strict") if path.is_file() else ""
    values = {column: _cell(getattr(visit, field)) for column, field in _FIELDS.items()}
    new = _with_row(text, values, path)
    beside = path.with_name(f".{path.name}.part")
    beside.write_bytes(new.encode("utf-8"))
    os.replace(beside, path)  # a reader sees the old file or the new one, never half of it
    return path


def visit_problems(visit: Visit, register: Register, kinds: tuple[str, ...]) -> list[str]:
    """Everything about a visit that does not fit."""
    problems = []
    pump = register.pumps.get(visit.pump_id or "")
    if visit.site_id not in register.sites:
        problems.append(f"site_id is '{visit.site_id}', expected a usable site of sites.csv.")
    elif visit.pump_id is not None and (pump is None or pump.site_id != visit.site_id):
        known = ", ".join(p.pump_id for p in register.pumps_at(visit.site_id))
        problems.append(f"pump_id is '{visit.pump_id}', expected one of the site's: {known}.")
    if visit.kind is not None and visit.kind not in kinds:
        problems.append(f"kind is '{visit.kind}', expected one of {', '.join(kinds)}.")
    if visit.outcome not in OUTCOMES:
        problems.append(f"outcome is '{visit.outcome}', expected one of {', '.join(OUTCOMES)}.")
    needs_until = visit.outcome in AGREED_OUTCOMES
    if needs_until and visit.until_on is None:
        problems.append(f"until is blank, expected the last day on which '{visit.outcome}' holds.")
    if visit.until_on is not None and visit.until_on < visit.visited_on:
        problems.append(f"until is {visit.until_on}, expected no day before {visit.visited_on}.")
    return problems


def _with_row(text: str, values: dict[str, str], path: Path) -> str:
    """Text of the file with one row more."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    if not rows:
        return _lines([list(values), list(values.values())])
    header = [name.strip().lower() for name in rows[0]]
    missing = [name for name in ("visited_on", "site_id") if name not in header]
    if missing:
        raise RegisterError(
            f"{path}: has no column {' and no '.join(missing)}. Nothing was added."
        )
    added = [name for name, value in values.items() if value and name not in header]
    row = [values.get(name, "") for name in [*header, *added]]
    if not added:
        end = "" if text.endswith(("\n", "\r")) else "\n"
        return f"{text}{end}{_lines([row])}"
    widened = [[*cells, *[""] * len(added)] if cells else cells for cells in rows[1:]]
    return _lines([[*rows[0], *added], *widened, row])


def _lines(rows: list[list[str]]) -> str:
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator="\n").writerows(rows)
    return buffer.getvalue()


def _cell(value: object) -> str:
    return "" if value is None else str(value)
