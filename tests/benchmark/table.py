"""Time a week from logs to pages at several sizes of fleet, from CSV and from Parquet.

    python tests/benchmark/table.py                              # 1 and 10 million rows
    python tests/benchmark/table.py --size 1 --size 10 --size 24 --size 60   # the whole table
    python tests/benchmark/table.py --size 24 --format parquet --repeats 1

As `week.py` does for one fleet. Logs once made can be kept for the next time (``--fleets DIR``);
60 million rows take 2.7 GB as CSV and as much again for a moment.
"""

import tempfile
from pathlib import Path

import click
from timing import run, script
from week_steps import print_week, time_week

SIZES = {"1": (50, 30), "10": (100, 6), "24": (200, 5), "60": (1000, 10)}
"""Pumps and log interval [s] by million rows a week."""
FORMATS = ("csv", "parquet")


@click.command()
@click.option(
    "--size",
    "sizes",
    multiple=True,
    type=click.Choice(list(SIZES)),
    default=["1", "10"],
    help="Million rows a week.",
)
@click.option("--format", "formats", multiple=True, type=click.Choice(FORMATS), default=FORMATS)
@click.option("--repeats", default=3, show_default=True)
@click.option(
    "--fleets", type=click.Path(path_type=Path), help="Folder in which the logs are kept."
)
def main(
    sizes: tuple[str, ...], formats: tuple[str, ...], repeats: int, fleets: Path | None
) -> None:
    """Print how long each step of a week takes, in floors, size by size."""
    for size in sizes:
        for file_format in formats:
            with tempfile.TemporaryDirectory() as name:
                fleet = (fleets or Path(name)) / f"{size}-{file_format}"
                pumps, interval_s = SIZES[size]
                if not fleet.exists():
                    run(script("logs.py", fleet, pumps, interval_s, file_format))
                used = time_week(fleet, Path(name), repeats)
            title = f"{size} million rows ({pumps} pumps, {interval_s} s), {file_format}"
            print_week(title, used)


if __name__ == "__main__":
    main()
