"""Measure what is new in a store, as a scan does, and judge nothing.

python tests/benchmark/measure_only.py --store STORE [--workers N]
"""

from pathlib import Path

import click

from analysis.measure_new import measure_apart, measure_new
from analysis.scan import report_week
from analysis.workers import Here
from dashboards.cli_options import DEFAULT_MEMORY, store_option, workers_option
from dashboards.load_steps import session
from dashboards.steps import spread_over


@click.command()
@store_option
@workers_option
def main(store: Path, workers: int) -> None:
    """Measure the pump-weeks up to the one a scan would report."""
    with spread_over(workers, Here(), store, DEFAULT_MEMORY) as spread:
        with session(store) as con:
            week = str(report_week(con))
            if workers == 1:
                measure_new(con, week)
        if workers > 1:
            measure_apart(spread, week)


if __name__ == "__main__":
    main()
