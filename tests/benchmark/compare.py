"""Time runs, starts, slopes and voltage statistics of logs in pandas, in polars and by the tool.

    pip install -e '.[bench]'
    python tests/benchmark/compare.py [--pumps 200] [--interval 5] [--format csv] [--repeats 3]

All work on the very same files, in turn, each in a fresh process; the table gives medians. The
figures must be equal: pandas and polars to 1e-6 of each other and of what the tool's records say
(starts, run and stop lengths, volts), and of the tool's own functions applied to these figures
alone. Slopes may differ by 1e-4 kPa/min from the tool's, whose store holds pressure as 32-bit kPa.

Like for like: from files, ``load, then the same figures alone`` does what pandas and polars do,
and leaves a store behind; over data at hand, ``the same figures alone, from the store`` stands
against pandas and polars from Parquet; so does ``note, then the same figures alone``, which reads
the Parquet files themselves. ``measure`` is the whole record of every pump (some 200
figures, a map of operation, each day and trip).
"""

import json
import tempfile
from functools import partial
from pathlib import Path

import click
from timing import TOOL, Step, print_table, run, script, time_in_turn

READ, PANDAS, POLARS = "read and sum of the files", "pandas", "polars"
WHOLE = "pandas, whole folder in one frame"
LOAD, MEASURE, ALONE = "load", "measure", "the same figures alone, from store"
NOTE, IN_PLACE = "note logs left in place", "the same figures alone, in place"
STORE = "fleet.duckdb"
RELATIVE = 1e-6
SLOPE_KPA_PER_MIN = 1e-4

Figures = dict[str, dict[str, float]]


@click.command()
@click.option("--pumps", default=200, show_default=True, help="Pumps, one week each.")
@click.option("--interval", default=5.0, show_default=True, help="Log interval in seconds.")
@click.option("--format", "file_format", type=click.Choice(["csv", "parquet"]), default="csv")
@click.option("--repeats", default=3, show_default=True)
@click.option(
    "--fleet",
    type=click.Path(path_type=Path),
    help="Folder of the logs and register; made where it does not exist, and kept.",
)
def main(pumps: int, interval: float, file_format: str, repeats: int, fleet: Path | None) -> None:
    """Print what the same work takes in pandas, in polars and here."""
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        fleet = fleet or work / "fleet"
        if not fleet.exists():
            run(script("logs.py", fleet, pumps, interval, file_format))
        found = {
            step: work / f"{step}.json"
            for step in (PANDAS, WHOLE, POLARS, ALONE, IN_PLACE, MEASURE)
        }
        used = time_in_turn(the_steps(fleet, work, found), repeats)
        records = script("same_store.py", "--store", work / STORE, "--out", found[MEASURE])
        run([*records, "--from-records"])
        figures = {
            step: json.loads(path.read_text()) for step, path in found.items() if path.exists()
        }
    for step, of_step in figures.items():
        check_equal(figures[PANDAS], of_step, f"{PANDAS} and {step}")
    used["load, then the same figures alone"] = used[LOAD] + used[ALONE]
    if NOTE in used:
        used["note, then the same figures alone"] = used[NOTE] + used[IN_PLACE]
    used["load, then measure"] = used[LOAD] + used[MEASURE]
    compared = {"read": READ, "pandas": PANDAS, "polars": POLARS}
    print_table(f"{fleet / 'logs'} ({len(figures[PANDAS])} pumps)", used, compared)


def the_steps(fleet: Path, work: Path, found: dict[str, Path]) -> dict[str, Step]:
    """What is timed; figures go to the files of ``found``. Only Parquet can be left in place."""
    logs, store, noted = fleet / "logs", work / STORE, work / "noted.duckdb"
    load = [TOOL, "load", str(logs), "--register", str(fleet / "register"), "--store"]
    alone = script("same_store.py", "--store")
    steps = {
        "bytes alone (cat)": Step(["sh", "-c", 'cat "$1"/* > /dev/null', "sh", str(logs)]),
        READ: Step(script("floors.py", "logs", logs)),
        PANDAS: Step(script("same_pandas.py", logs, found[PANDAS])),
        WHOLE: Step(script("same_pandas.py", logs, found[WHOLE], "--whole")),
        POLARS: Step(script("same_polars.py", logs, found[POLARS])),
        LOAD: Step([*load, str(store)], partial(store.unlink, missing_ok=True)),
        ALONE: Step([*alone, str(store), "--out", str(found[ALONE])]),
        MEASURE: Step(script("measure_only.py", "--store", store)),
    }
    if next(logs.iterdir()).suffix == ".parquet":
        steps[NOTE] = Step(
            [*load, str(noted), "--in-place"], partial(noted.unlink, missing_ok=True)
        )
        steps[IN_PLACE] = Step([*alone, str(noted), "--out", str(found[IN_PLACE])])
    return steps


def check_equal(one: Figures, other: Figures, which: str) -> None:
    """Hold figures against others, as far as both have them.

    Raises
    ------
    ValueError
        Pumps or figures differ; all that do are listed.
    """
    wrong = [f"pumps: {sorted(one.keys() ^ other.keys())}"] if one.keys() != other.keys() else []
    for pump_id in one.keys() & other.keys():
        shared = one[pump_id].keys() & other[pump_id].keys()
        wrong += [
            f"{pump_id} {name}: {one[pump_id][name]} and {other[pump_id][name]}"
            for name in sorted(shared)
            if not _is_equal(name, one[pump_id][name], other[pump_id][name])
        ]
        if not shared:
            wrong.append(f"{pump_id}: nothing to compare")
    if wrong:
        raise ValueError(f"{which} differ:\n" + "\n".join(wrong))


def _is_equal(name: str, one: float, other: float) -> bool:
    within = RELATIVE * max(1.0, abs(one))
    return abs(one - other) <= max(within, SLOPE_KPA_PER_MIN * name.startswith("slope_"))


if __name__ == "__main__":
    main()
