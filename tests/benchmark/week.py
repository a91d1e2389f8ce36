"""Time one week from logs to pages against what DuckDB alone needs to read and sum the files.

    python tests/benchmark/week.py [--pumps 100] [--interval 6] [--format csv] [--repeats 3]

Floors and steps run on the very same files, in turn, each in a fresh process. The table gives
medians of wall and processor seconds and of peak memory (of the largest process), and their ratio
to two floors: the files read and summed, types given, and the week's samples summed in the store.
"""

import tempfile
from pathlib import Path

import click
from timing import run, script
from week_steps import print_week, time_week


@click.command()
@click.option("--pumps", default=100, show_default=True, help="Pumps, one week each.")
@click.option("--interval", default=6.0, show_default=True, help="Log interval in seconds.")
@click.option("--format", "file_format", type=click.Choice(["csv", "parquet"]), default="csv")
@click.option("--repeats", default=3, show_default=True)
def main(pumps: int, interval: float, file_format: str, repeats: int) -> None:
    """Print how long each step of a week takes, in floors."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        run(script("logs.py", folder, pumps, interval, file_format))
        used = time_week(folder, folder, repeats)
    n_samples = pumps * int(7 * 86400 / interval)
    print_week(f"{pumps} pumps, {n_samples:,} samples ({file_format})", used)


if __name__ == "__main__":
    main()
