"""Time and disk that a fleet of any size needs, from a few measured constants.

    python tests/benchmark/capacity.py [--set measure_rows_s=3e6 ...]

Every constant says the command that measures it; with others the table is another.
"""

from dataclasses import dataclass, fields, replace

import click

WEEK_S = 7 * 86_400
FLEETS = (1_000, 10_000, 100_000)
INTERVALS_S = (60, 5, 1)
CORES = (2, 16, 64)
WEEKS_A_YEAR = 52


@dataclass(frozen=True)
class Constants:
    """What was measured; seconds are processor seconds of one core."""

    csv_bytes: float = 43.0  # a row of a log; `du` of the logs week.py makes
    parquet_bytes: float = 8.6  # a row; the same with --format parquet
    store_bytes: float = 5.7  # a row in the store; size of the file after load
    record_bytes: float = 2_900.0  # a pump-week's records and answers; coordinator.py
    page_bytes: float = 190_000.0  # a site's page; `du` of the pages week.py makes
    csv_rows_s: float = 2.4e6  # loaded from CSV; `pumprounds load`, user + sys, start-up taken off
    parquet_rows_s: float = 4.8e6  # loaded from Parquet; the same
    measure_rows_s: float = 6.9e6  # measure_only.py --workers 1, the same
    pump_measure_s: float = 0.0115  # what a pump-week costs whatever its rows: the same at 60 s
    judge_s: float = 0.0035  # a pump, compared with its peers; coordinator.py
    page_s: float = 0.045  # a site's page; `pumprounds pages --workers 1`
    alone_s: float = 0.0018  # a pump, in one process: ranks, files, fleet's pages; coordinator.py
    pumps_a_site: float = 1.6  # the demo fleet's


MEASURED = Constants()


@dataclass(frozen=True)
class Need:
    """What one fleet at one interval needs a week."""

    pumps: int
    interval_s: int
    rows: float
    csv_gb: float
    parquet_gb: float
    store_gb: float
    record_gb: float
    page_gb: float
    spread_core_h: float
    alone_h: float

    def wall_h(self, cores: int) -> float:
        """Hours from logs to pages: what is spread over the cores, then what one process does."""
        return self.spread_core_h / cores + self.alone_h


def need_of(pumps: int, interval_s: int, c: Constants = MEASURED) -> Need:
    """What a fleet needs a week, its logs being CSV and its samples kept in the store."""
    rows = pumps * WEEK_S / interval_s
    sites = pumps / c.pumps_a_site
    spread_s = (
        rows / c.csv_rows_s
        + rows / c.measure_rows_s
        + pumps * (c.pump_measure_s + c.judge_s)
        + sites * c.page_s
    )
    return Need(
        pumps=pumps,
        interval_s=interval_s,
        rows=rows,
        csv_gb=rows * c.csv_bytes / 1e9,
        parquet_gb=rows * c.parquet_bytes / 1e9,
        store_gb=rows * c.store_bytes / 1e9,
        record_gb=pumps * c.record_bytes / 1e9,
        page_gb=sites * c.page_bytes / 1e9,
        spread_core_h=spread_s / 3600,
        alone_h=pumps * c.alone_s / 3600,
    )


def table(c: Constants = MEASURED) -> list[str]:
    """Lines of the table, as DEVELOPERS.md shows it."""
    lines = [
        "| pumps | every | rows a week | CSV in | store | records | a year's store | core-hours |"
        + "".join(f" {cores} cores |" for cores in CORES),
        "|" + "---|" * (8 + len(CORES)),
    ]
    for pumps in FLEETS:
        for interval_s in INTERVALS_S:
            need = need_of(pumps, interval_s, c)
            a_year_gb = WEEKS_A_YEAR * (need.store_gb + need.record_gb)
            cells = [
                f"{pumps:,}",
                f"{interval_s} s",
                _count(need.rows),
                _size(need.csv_gb),
                _size(need.store_gb),
                _size(need.record_gb),
                _size(a_year_gb),
                _two(need.spread_core_h + need.alone_h),
                *(_hours(need.wall_h(cores)) for cores in CORES),
            ]
            lines.append(f"| {' | '.join(cells)} |")
    return lines


def _count(rows: float) -> str:
    return f"{rows / 1e9:.3g} G" if rows >= 1e9 else f"{rows / 1e6:.3g} M"


def _size(gb: float) -> str:
    if gb >= 1000.0:
        return f"{_two(gb / 1000.0)} TB"
    return f"{_two(gb)} GB" if gb >= 1.0 else f"{_two(1000.0 * gb)} MB"


def _two(value: float) -> str:
    """Two figures of a number."""
    rounded = float(f"{value:.1e}")
    return f"{rounded:.0f}" if rounded >= 10.0 else f"{rounded:.2g}"


def _hours(hours: float) -> str:
    if hours >= 1.0:
        return f"{_two(hours)} h"
    return f"{60.0 * hours:.0f} min" if hours >= 1.0 / 60.0 else f"{3600.0 * hours:.0f} s"


@click.command()
@click.option("--set", "changed", multiple=True, metavar="NAME=VALUE", help="Another constant.")
def main(changed: tuple[str, ...]) -> None:
    """Print constants and table."""
    known = {field.name for field in fields(Constants)}
    values = dict(one.partition("=")[::2] for one in changed)
    if not values.keys() <= known:
        raise click.UsageError(f"The constants are: {', '.join(sorted(known))}.")
    constants = replace(MEASURED, **{name: float(value) for name, value in values.items()})
    for field in fields(constants):
        click.echo(f"{field.name:<18}{getattr(constants, field.name):>14,.5g}")
    for line in table(constants):
        click.echo(line)


if __name__ == "__main__":
    main()
