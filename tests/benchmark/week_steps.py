"""The steps of a week from logs to pages, and the least that each could take."""

import shutil
from pathlib import Path

from timing import TOOL, Step, Used, print_table, script, time_in_turn

READ, STORE_SUM = "read and sum of the files", "sum of the week in the store"
COLUMNS = {"read": READ, "store": STORE_SUM}


def time_week(fleet: Path, work: Path, repeats: int) -> dict[str, Used]:
    """Time every step of a fleet's week, each in a fresh process, all in turn.

    Parameters
    ----------
    fleet : Path
        Holds ``register`` and ``logs``.
    work : Path
        Where store and pages may go.
    """
    logs, register = fleet / "logs", fleet / "register"
    one = work / "steps.duckdb"
    other = work / "other.duckdb"
    pages = ["--out", str(work / "pages")]
    from_logs = [str(logs), "--register", str(register), "--store"]
    first = min(logs.iterdir())

    def anew() -> None:
        one.unlink(missing_ok=True)
        shutil.rmtree(work / "pages", ignore_errors=True)

    def new_other() -> None:
        other.unlink(missing_ok=True)
        shutil.rmtree(work / "pages", ignore_errors=True)

    load = [TOOL, "load", *from_logs, str(one)]
    scan = [TOOL, "scan", "--store"]
    steps = {
        "bytes alone (cat)": Step(["sh", "-c", 'cat "$1"/* > /dev/null', "sh", str(logs)]),
        READ: Step(script("floors.py", "logs", logs)),
        "same, types found out": Step(script("floors.py", "found-out", logs)),
        "load": Step(load, anew),
        "load again, nothing new": Step(load),
        "load one file again (start-up)": Step(
            [TOOL, "load", str(first), *from_logs[1:], str(one)]
        ),
        STORE_SUM: Step(script("floors.py", "store", one)),
        "measure and judge (scan)": Step([*scan, str(other)], lambda: shutil.copy(one, other)),
        "measure alone": Step(script("measure_only.py", "--store", one)),
        "judge alone": Step([*scan, str(one)]),
        "pages": Step([TOOL, "pages", "--store", str(one), *pages]),
        "weekly, all in one": Step([TOOL, "weekly", *from_logs, str(other), *pages], new_other),
        "weekly again, nothing new": Step([TOOL, "weekly", *from_logs, str(other), *pages]),
    }
    if first.suffix == ".parquet":
        del steps["same, types found out"]
        left = [*from_logs, str(other), "--in-place"]
        steps["load, left in place"] = Step([TOOL, "load", *left], new_other)
        steps["weekly, left in place"] = Step([TOOL, "weekly", *left, *pages], new_other)
    return time_in_turn(steps, repeats)


def print_week(title: str, used: dict[str, Used]) -> None:
    """Print what each step took, in floors of reading the files and of reading the store."""
    print_table(title, used, COLUMNS)
