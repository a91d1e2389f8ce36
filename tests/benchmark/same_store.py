"""Runs, starts, slopes and voltage statistics by this program's own functions, from a store.

    python tests/benchmark/same_store.py --store STORE --out OUT [--workers N]
    python tests/benchmark/same_store.py --store STORE --out OUT --from-records

The like of `same_pandas.py` and `same_polars.py`: nothing else of the record is measured. Slopes
are of all whole stops; the program itself splits some and leaves out others. Or else the same
figures as the store's records have them, where they do.
"""

import json
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import click
import numpy as np

from analysis.limits import FALL_SAMPLES_MIN
from analysis.measure.falls import fall_points, fit_falls, stop_ranges
from analysis.measure.local_clock import local_clock
from analysis.measure.quantiles import held_quantiles, median, quantile
from analysis.measure.runs import events
from analysis.measure.trace import Trace, lay_out
from analysis.measure.voltage import sorted_out
from analysis.record_reading import read_week
from analysis.records import PumpWeek
from analysis.scan import report_week
from analysis.workers import Here
from dashboards.cli_options import DEFAULT_MEMORY, store_option, workers_option
from dashboards.steps import spread_over
from ingest.installed_base import Pump, Site
from ingest.samples import read_samples
from ingest.store import opened_store, read_register
from ingest.weeks import Week, week_bounds

PUMPS_A_JOB = 10
NOTHING = np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Job:
    """Pumps of one time zone."""

    store: Path
    week: Week
    pumps: list[tuple[Pump, Site]]


def measure(week: Trace) -> dict[str, Any]:
    """The figures of one pump's week."""
    cut, seen = week.cut, events(week)
    run_s = cut.duration_s[cut.runs]
    max_a = np.maximum.reduceat(week.samples.current_a, cut.first)[cut.runs]
    slope = slopes_kpa_per_min(week)
    current_a, voltage_v = (
        channel[week.running_rows].astype(np.float64)
        for channel in (week.samples.current_a, week.samples.voltage_v)
    )
    volts_per_a, volts_at_0_a = np.polyfit(current_a, voltage_v, 1)
    return {
        "n_starts": seen.start_s.size,
        "run_s": run_s.sum(),
        "run_s_longest": run_s.max(),
        "run_s_median": median(seen.run_s),
        "run_s_p90": quantile(seen.run_s, 0.9),
        "stop_s_median": median(seen.stop_s),
        "n_slopes": slope.size,
        "slope_p10_kpa_per_min": quantile(slope, 0.1),
        "slope_p50_kpa_per_min": quantile(slope, 0.5),
        "slope_p90_kpa_per_min": quantile(slope, 0.9),
        **volts(week),
        "volts_per_a": volts_per_a,
        "volts_at_0_a": volts_at_0_a,
        "run_max_a_median": median(max_a),
        "run_max_a_highest": max_a.max(),
    }


def volts(week: Trace) -> dict[str, float]:
    """Quantiles of the volts, stopped and in settled running."""
    of = sorted_out(week)
    found: dict[str, float] = {}
    if of is not None:
        for name, rows in (("idle_v", of.idle_rows), ("running_v", week.settled.rows)):
            quantiles = held_quantiles(of.volts[rows], week.time.held_s[rows], (0.05, 0.5, 0.95))
            names = (f"{name}_p05", f"{name}_median", f"{name}_p95")
            found |= dict(zip(names, quantiles or (), strict=True))
    return found


def slopes_kpa_per_min(week: Trace) -> Any:
    """Least-squares fall of pressure in each whole stop of five samples past its settling."""
    stops = stop_ranges(week, unseen=NOTHING)
    stops = stops.only(stops.is_whole & (stops.end - stops.first >= FALL_SAMPLES_MIN.value))
    return fit_falls(fall_points(week, stops), step_kpa=0.0).slope_kpa_per_min


def measure_job(job: Job) -> dict[str, dict[str, Any]]:
    """The figures of some pumps; runs in a worker."""
    of_id = {pump.pump_id: (pump, site) for pump, site in job.pumps}
    timezone = job.pumps[0][1].timezone
    clock = local_clock(job.week, timezone)
    with opened_store(job.store, read_only=True, threads=1) as con:
        return {
            samples.pump_id: measure(lay_out(samples, of_id[samples.pump_id][0], clock))
            for samples in read_samples(con, list(of_id), *week_bounds(job.week, timezone))
        }


def from_records(store: Path) -> dict[str, dict[str, Any]]:
    """All fields of the last week's records, by pump."""
    with opened_store(store, read_only=True) as con:
        weeks = read_week(con, str(report_week(con)))
    return {
        pump_id: {
            field.name: value
            for field in fields(PumpWeek)
            if isinstance(value := getattr(week, field.name), int | float)
        }
        for pump_id, week in weeks.items()
    }


@click.command()
@store_option
@click.option("--out", type=click.Path(path_type=Path), required=True)
@click.option("--from-records", "is_from_records", is_flag=True)
@workers_option
def main(store: Path, out: Path, is_from_records: bool, workers: int) -> None:
    """Write the figures of the last week of all pumps, which are of one time zone."""
    if is_from_records:
        found = from_records(store)
    else:
        with opened_store(store, read_only=True) as con:
            register, week = read_register(con), report_week(con)
        pumps = [(pump, register.sites[pump.site_id]) for pump in register.pumps.values()]
        jobs = [
            Job(store, week, pumps[at : at + PUMPS_A_JOB])
            for at in range(0, len(pumps), PUMPS_A_JOB)
        ]
        found = {}
        with spread_over(workers, Here(), store, DEFAULT_MEMORY) as spread:
            for of_job in spread.measurers.map(measure_job, jobs):
                found |= of_job
    out.write_text(json.dumps(found, default=float))


if __name__ == "__main__":
    main()
