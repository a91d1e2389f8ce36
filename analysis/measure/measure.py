"""Measure one week of one pump: from its samples to the record everything else works from.

Needs the samples, the pump's register row and its site's clock; no history and no other pump.
"""

from typing import Any

from analysis.measure.channels import channel_measures
from analysis.measure.cross_checks import cross_checks
from analysis.measure.current import ceiling, current_measures
from analysis.measure.days import pump_days
from analysis.measure.demand import demand_measures
from analysis.measure.falls import (
    fall_measures,
    fall_points,
    fit_falls,
    stop_ranges,
    stored_kpa_per_l,
    unseen_runs,
)
from analysis.measure.heat import heat
from analysis.measure.hunting import hunting
from analysis.measure.interval import observation
from analysis.measure.knee import knee_measures
from analysis.measure.local_clock import local_clock
from analysis.measure.night import night_measures, nights
from analysis.measure.op_map import op_map
from analysis.measure.pairs import pair_measures, voltage_pairs
from analysis.measure.pressure import held_pressure_kpa, last_running, pressure_measures
from analysis.measure.pressure_gone import pressure_gone_measures
from analysis.measure.runs import events, next_run_measures, run_measures
from analysis.measure.trace import Trace, lay_out
from analysis.measure.trips import trips
from analysis.measure.voltage import sorted_out, voltage_measures
from analysis.measure.weak_delivery import weak_measures, weak_spells
from analysis.records import PumpRecord, PumpWeek
from ingest.installed_base import Pump, Site
from ingest.samples import PumpSamples
from ingest.weeks import Week


def measure_week(samples: PumpSamples, pump: Pump, site: Site, week: Week) -> PumpRecord:
    """Boil a week of one pump's samples down to its record.

    Parameters
    ----------
    samples : PumpSamples
        The pump's samples of that local week, in time order, each instant once.
    pump : Pump
        Its register row.
    site : Site
        Its site, for the time zone.
    week : Week
        The ISO week in the site's local time.

    Returns
    -------
    PumpRecord

    Raises
    ------
    ValueError
        There is no sample, or one lies outside the week.
    """
    clock = local_clock(week, site.timezone)
    if samples.ts_us.size == 0:
        raise ValueError(f"{samples.pump_id}: no samples in {week}, nothing to measure")
    of_week = lay_out(samples, pump, clock)
    if of_week.time.t_s[0] < 0.0 or of_week.time.t_s[-1] >= clock.length_s:
        raise ValueError(f"{samples.pump_id}: samples outside {week} in {site.timezone}")
    return _record(of_week)


def _record(week: Trace) -> PumpRecord:
    step_kpa = week.pressure_step_kpa or 0.0
    seen = events(week)
    unseen = unseen_runs(week)
    stops = stop_ranges(week, unseen)
    whole = fall_points(week, stops.only(stops.is_whole))
    found = fit_falls(whole, step_kpa)
    quiet = nights(week, seen, stops, unseen)
    held_kpa = held_pressure_kpa(week)
    last = last_running(week)
    top = ceiling(week, held_kpa)
    pressures = pressure_measures(week, held_kpa, top.rows, last)
    weak = weak_spells(week, held_kpa, top.rows)
    swings, warm = hunting(week, held_kpa), heat(week, held_kpa)
    volts = sorted_out(week)
    pairs = None if volts is None else voltage_pairs(week, volts.volts)
    paired: dict[str, Any] = {"n_voltage_pairs": 0}
    windows_s = None if quiet is None else quiet.windows_s
    if volts is not None and pairs is not None:
        paired = pair_measures(week, pairs, volts.volts, windows_s)
    return PumpRecord(
        week=PumpWeek(
            pump_id=week.samples.pump_id,
            week=str(week.clock.week),
            n_unseen_runs=unseen.size,
            stored_kpa_per_l=stored_kpa_per_l(week, held_kpa),
            **observation(week),
            **run_measures(week, seen),
            **next_run_measures(week, pressures["f0_hz"]),
            **pressures,
            **fall_measures(week, whole, found),
            **knee_measures(week, whole, step_kpa),
            **night_measures(quiet),
            **demand_measures(week),
            **voltage_measures(week, volts),
            **paired,
            **current_measures(week, top),
            **pressure_gone_measures(week, held_kpa, last),
            **weak_measures(week, weak, volts, windows_s),
            **channel_measures(week, held_kpa),
            **cross_checks(week),
            **swings.fields,
            **warm.fields,
        ),
        days=pump_days(week, seen, whole, found, quiet, volts, pairs, top, weak, swings, warm),
        op_map=op_map(week, held_kpa),
        trips=trips(week, held_kpa),
    )
