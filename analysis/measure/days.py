"""The week's seven local days: what "since when" and "how many nights" need."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.measure.current import Ceiling, over_s, settled_of
from analysis.measure.falls import Falls, Points, steepest_falls
from analysis.measure.heat import Heat
from analysis.measure.hunting import Hunting
from analysis.measure.night import Nights, night_of_day
from analysis.measure.pairs import Pairs
from analysis.measure.quantiles import held_quantile, median, quantile
from analysis.measure.runs import Events, running_s, starts_per_clock_hour
from analysis.measure.trace import Trace
from analysis.measure.voltage import Volts, day_voltage
from analysis.measure.weak_delivery import Weak, weak_of_day
from analysis.records import PumpDay

_DRAWS = 5  # a day in use has as many, and one slammed valve does not count


def pump_days(
    week: Trace,
    seen: Events,
    whole: Points,
    found: Falls,
    quiet: Nights | None,
    volts: Volts | None,
    pairs: Pairs | None,
    top: Ceiling,
    weak: Weak,
    swings: Hunting,
    warm: Heat,
) -> tuple[PumpDay, ...]:
    """One record for each local day that has samples.

    A run, stop, fall or pair belongs to the day on which it began.
    """
    edges_s = week.clock.day_edges_s
    hour_starts = starts_per_clock_hour(week, seen)
    observed_s, run_s = week.observed_in_s(edges_s), running_s(week, edges_s)
    steepest = steepest_falls(whole)
    days = []
    for day, local_date in enumerate(week.clock.dates):
        if week.day_rows[day + 1] == week.day_rows[day]:
            continue
        low_s, high_s = float(edges_s[day]), float(edges_s[day + 1])
        days.append(
            PumpDay(
                pump_id=week.samples.pump_id,
                week=str(week.clock.week),
                local_date=local_date,
                from_at=week.clock.at(low_s),
                log_interval_s=_interval_s(week, day),
                observed_s=float(observed_s[day]),
                run_s=float(run_s[day]),
                **_events_of(week, seen, hour_starts, low_s, high_s),
                **_falls_of(found, low_s, high_s),
                draw_fall_kpa_per_min=_draw_fall(_within(whole.from_s, steepest, low_s, high_s)),
                **_current_of(week, top, day),
                **weak_of_day(week, weak, day),
                hunting_s=_hunting_s(swings, low_s, high_s),
                **warm.by_day[day],
                **day_voltage(week, volts, day),
                own_drop_v=_drop_of(pairs, low_s, high_s),
                **night_of_day(quiet, day),
            )
        )
    return tuple(days)


def _interval_s(week: Trace, day: int) -> float | None:
    """Median step of a day, which need not be the week's: loggers are set anew."""
    rows = slice(week.day_rows[day], week.day_rows[day + 1])
    return median(np.diff(week.time.t_s[rows]))


def _within(
    at_s: NDArray[np.float64], values: NDArray[Any], low_s: float, high_s: float
) -> NDArray[Any]:
    """Values of events, in order of their time, that lie in a day."""
    low, high = np.searchsorted(at_s, (low_s, high_s))
    return values[low:high]


def _events_of(
    week: Trace, seen: Events, hour_starts: NDArray[np.int64], low_s: float, high_s: float
) -> dict[str, Any]:
    of_day = _within(week.clock.hour_edges_s[:-1], hour_starts, low_s, high_s)
    return {
        "n_starts": _within(seen.start_s, seen.start_s, low_s, high_s).size,
        "starts_per_hour_peak": int(of_day.max(initial=0)),
        "run_s_median": median(_within(seen.run_from_s, seen.run_s, low_s, high_s)),
        "stop_s_median": median(_within(seen.stop_from_s, seen.stop_s, low_s, high_s)),
    }


def _falls_of(found: Falls, low_s: float, high_s: float) -> dict[str, Any]:
    slope = _within(found.from_s, found.slope_kpa_per_min, low_s, high_s)
    return {
        "fall_p50_kpa_per_min": median(slope),
        "fall_p90_kpa_per_min": quantile(slope, 0.9),
    }


def _draw_fall(steepest: NDArray[np.float64]) -> float | None:
    """Fifth steepest of a day's stops, whatever number of stops a leak adds to those of use."""
    if steepest.size < _DRAWS:
        return None
    return float(np.partition(steepest, -_DRAWS)[-_DRAWS])


def _current_of(week: Trace, top: Ceiling, day: int) -> dict[str, Any]:
    part = settled_of(week, day)
    current_a, held_s = week.settled.current_a[part], week.settled.held_s[part]
    p95_a = held_quantile(current_a, held_s, 0.95) if current_a.size else None
    low, high = np.searchsorted(top.rows, week.day_rows[day : day + 2])
    return {
        "current_p95_a": p95_a,
        "over_limit_s": over_s(week, week.pump.service_factor_amps, day),
        "clip_s": (None if p95_a is None else float(week.time.held_s[top.rows[low:high]].sum())),
    }


def _hunting_s(swings: Hunting, low_s: float, high_s: float) -> float | None:
    """Time in swings of a day; None where the log could not show any."""
    if "hunting_s" not in swings.fields:
        return None
    return float(_within(swings.at_s, swings.held_s, low_s, high_s).sum())


def _drop_of(pairs: Pairs | None, low_s: float, high_s: float) -> float | None:
    if pairs is None:
        return None
    return median(_within(pairs.start_s, pairs.drop_v, low_s, high_s))
