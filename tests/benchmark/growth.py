"""Time a week's load and scan by how many rows it has and by how many weeks the store has had.

    python tests/benchmark/growth.py [--pumps 40] [--interval 20] [--repeats 3]
    python tests/benchmark/growth.py --weeks 26 --weeks 104        # two ages of the store

Each step is a fresh process on a fresh copy of the store, in turn; medians. First the week of so
many pumps, of twice and of four times as many goes into an empty store: what a million rows more
cost stays the same where the cost is linear. Then the same logs of one week go into an empty
store, into one of so many weeks, and into one of which all but two weeks were archived: the ratio,
to the empty store's, stays near 1 where the cost does not hang on the years stored. Ratios are of
processor seconds, which other work on the machine disturbs less.
"""

import shutil
import tempfile
from functools import partial
from pathlib import Path

import click
from timing import TOOL, Step, Used, run, script, time_in_turn

TIMES_MORE = (1, 2, 4)


@click.command()
@click.option("--pumps", default=40, show_default=True)
@click.option("--interval", default=20.0, show_default=True, help="Log interval in seconds.")
@click.option(
    "--weeks",
    "ages",
    multiple=True,
    default=[26],
    show_default=True,
    help="Weeks in the store beforehand.",
)
@click.option("--repeats", default=3, show_default=True)
def main(pumps: int, interval: float, ages: tuple[int, ...], repeats: int) -> None:
    """Print what a week costs by its rows, and by the age of the store."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        by_rows(folder / "rows", pumps, interval, repeats)
        by_age(folder / "age", pumps, interval, sorted(ages), repeats)


def by_rows(folder: Path, pumps: int, interval_s: float, repeats: int) -> None:
    """Print what more pumps cost."""
    folder.mkdir()
    million_rows: dict[str, float] = {}
    steps: dict[tuple[str, str], Step] = {}
    for times in TIMES_MORE:
        title = f"{times * pumps} pumps"
        fleet = folder / f"{times}"
        run(script("logs.py", fleet, times * pumps, interval_s, "csv"))
        million_rows[title] = _million_rows(times * pumps, interval_s)
        steps |= _steps(title, fleet / "logs", fleet / "register", folder / "used.duckdb", None)
    used = time_in_turn(steps, repeats)
    click.echo("By rows of the week, into an empty store:")
    head = f"{'M rows':>8}{'wall s':>8}{'cpu s':>8}{'peak MB':>9}{'cpu s for 1 M more':>20}"
    click.echo(f"  {'':<36}{head}")
    for step in dict.fromkeys(step for step, _ in steps):
        before: tuple[float, float] | None = None
        for title, rows in million_rows.items():
            of = used[step, title]
            more = "" if before is None else f"{(of.cpu_s - before[1]) / (rows - before[0]):.2f}"
            click.echo(f"  {step:<12}{title:<24}{rows:>8.2f}{_figures(of)}{more:>20}")
            before = rows, of.cpu_s


def by_age(folder: Path, pumps: int, interval_s: float, ages: list[int], repeats: int) -> None:
    """Print what one more week costs in stores of so many weeks."""
    folder.mkdir()
    register, following = folder / "next" / "register", folder / "next" / "logs"
    run(script("logs.py", folder / "next", pumps, interval_s, "csv", "--week", max(ages)))
    run(script("logs.py", folder, pumps, interval_s, "parquet", "--weeks", max(ages)))
    stores = {"empty": None} | _stores(folder, register, ages)
    steps: dict[tuple[str, str], Step] = {}
    for title, store in stores.items():
        steps |= _steps(title, following, register, folder / "used.duckdb", store)
    used = time_in_turn(steps, repeats)
    click.echo(f"By age of the store, {_million_rows(pumps, interval_s):.2f} M rows a week:")
    for title, store in stores.items():
        if store is not None:
            archive_mb = _bytes(Path(f"{store}.archive")) / 1e6
            click.echo(f"  {title:<36}{_bytes(store) / 1e6:>8.1f} MB, archive {archive_mb:.1f} MB")
    click.echo(f"  {'':<44}{'wall s':>8}{'cpu s':>8}{'peak MB':>9}{'ratio':>20}")
    for (step, title), of in used.items():
        ratio = of.cpu_s / used[step, "empty"].cpu_s
        click.echo(f"  {step:<12}{title:<32}{_figures(of)}{ratio:>20.2f}")


def _stores(folder: Path, register: Path, ages: list[int]) -> dict[str, Path | None]:
    """Stores of so many weeks, scanned; each also with all but two of them archived."""
    growing = folder / "growing.duckdb"
    stores: dict[str, Path | None] = {}
    loaded = 0
    for age in ages:
        weeks = [str(folder / f"{week}") for week in range(loaded, age)]
        loaded = age
        store = ["--store", str(growing)]
        run([TOOL, "load", *weeks, "--register", str(register), *store])
        run([TOOL, "scan", *store])
        full, thinned = folder / f"full-{age}.duckdb", folder / f"thinned-{age}.duckdb"
        shutil.copy(growing, full)
        shutil.copy(growing, thinned)
        run([TOOL, "archive", "--store", str(thinned), "--keep-raw", "2w"])
        stores |= {f"{age} weeks": full, f"{age} weeks, archived": thinned}
    return stores


def _steps(
    title: str, logs: Path, register: Path, used: Path, store: Path | None
) -> dict[tuple[str, str], Step]:
    """Load, load again and scan, on a copy of a store."""
    load = [TOOL, "load", str(logs), "--register", str(register), "--store", str(used)]
    return {
        ("load", title): Step(load, partial(_copy, store, used)),
        ("load again", title): Step(load),
        ("scan", title): Step([TOOL, "scan", "--store", str(used)]),
    }


def _copy(store: Path | None, used: Path) -> None:
    archive = Path(f"{used}.archive")
    used.unlink(missing_ok=True)
    shutil.rmtree(archive, ignore_errors=True)
    if store is not None:
        shutil.copy(store, used)
        if Path(f"{store}.archive").is_dir():
            shutil.copytree(f"{store}.archive", archive)


def _million_rows(pumps: int, interval_s: float) -> float:
    return pumps * int(7 * 86400 / interval_s) / 1e6


def _figures(of: Used) -> str:
    return f"{of.wall_s:>8.2f}{of.cpu_s:>8.2f}{of.peak_mb:>9.0f}"


def _bytes(path: Path) -> int:
    inside = path.rglob("*") if path.is_dir() else [path]
    return sum(one.stat().st_size for one in inside if one.exists())


if __name__ == "__main__":
    main()
