"""Trips of the controller: each burst of a fault code with what came before and after it.

A code that comes up and stops the pump is a trip. The controller's own retries, each ended by the
same code before a run could end as usual, are one event with it. A code over a pump that runs on
is a warning or an old display, and no trip. A week without any code is looked through for abrupt
stops that nothing followed, which are told as inferred.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    LATCHED_S,
    LATCHED_SILENT_S,
    RETRY_GAP_S,
    TRIP_BEFORE_S,
    TRIP_CODE_LEAD_S,
    TRIP_LOW_SHARE,
)
from analysis.measure.inferred_trips import inferred_stops
from analysis.measure.quantiles import median
from analysis.measure.segments import RUNNING, STOPPED
from analysis.measure.trace import Trace
from analysis.records import TripEvent

_PCT = 100.0
_INTERVALS = 1.5


@dataclass(frozen=True)
class _Stop:
    """A stop that a code marks: which segment, and the row at which the trip shows."""

    code: str
    segment: int
    row: int


@dataclass(frozen=True)
class _Burst:
    """A trip and the retries that ended alike.

    Attributes
    ----------
    first : _Stop
        The first trip.
    rows : tuple of int
        Row of each trip.
    last_segment : int
        The last stop, or the piece of it after a gap.
    """

    first: _Stop
    rows: tuple[int, ...]
    last_segment: int


def trips(week: Trace, held_kpa: float | None) -> tuple[TripEvent, ...]:
    """Trip events of a week, oldest first.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    """
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    codes = week.samples.fault_code
    if codes is None:
        rows = [(at, int(week.cut.first[at])) for at in inferred_stops(week, setting_kpa)]
        stops = [_Stop("", segment, row) for segment, row in rows]
    else:
        stops = _coded_stops(week, codes, setting_kpa)
    return tuple(_event(week, burst, setting_kpa) for burst in _bursts(week, stops))


def _coded_stops(
    week: Trace, codes: NDArray[np.object_], setting_kpa: float | None
) -> list[_Stop]:
    """Stops that a code marks, in order, each with its first code."""
    marked: dict[int, _Stop] = {}
    for code, first, end in _spans(week, codes):
        for segment in _stops_of(week, first, end, setting_kpa):
            row = max(first, int(week.cut.first[segment]))
            marked.setdefault(segment, _Stop(code, segment, row))
    return [marked[segment] for segment in sorted(marked)]


def _spans(week: Trace, codes: NDArray[np.object_]) -> list[tuple[str, int, int]]:
    """Neighbouring samples with one code: the code, first row and the row after the last."""
    at = np.flatnonzero(codes != np.array(None))
    if at.size == 0:
        return []
    of = codes[at]
    is_new = np.concatenate(([True], (np.diff(at) > 1) | (of[1:] != of[:-1])))
    is_new[1:] |= week.time.is_gap[at[1:] - 1]
    first = np.flatnonzero(is_new)
    last = np.append(first[1:], at.size) - 1
    return [(str(of[a]), int(at[a]), int(at[b]) + 1) for a, b in zip(first, last, strict=True)]


def _stops_of(week: Trace, first: int, end: int, setting_kpa: float | None) -> list[int]:
    """Stops that a code in these rows marks as trips."""
    cut, t_s = week.cut, week.time.t_s
    low, high = np.searchsorted(cut.first, (first, end - 1), side="right") - 1
    if high + 1 < cut.first.size and cut.is_stop[high + 1]:
        high += 1  # the code was last seen on the run's last sample
    lead_max_s = max(TRIP_CODE_LEAD_S.value, _INTERVALS * week.time.interval_s)
    found = []
    for segment in range(int(low), int(high) + 1):
        if cut.state[segment] != STOPPED:
            continue
        stop_row = int(cut.first[segment])
        lead_s = float(t_s[stop_row] - t_s[first])
        if lead_s <= lead_max_s or (
            stop_row < end and _is_low(week, slice(stop_row, stop_row + 1), setting_kpa)
        ):
            found.append(segment)
    return found


def _is_low(week: Trace, rows: slice, setting_kpa: float | None) -> bool:
    """Pressure was under what any controller restarts at."""
    if not setting_kpa:
        return False
    pressure_kpa = week.samples.pressure_kpa[rows]
    return bool((pressure_kpa < TRIP_LOW_SHARE.value * setting_kpa).any())


def _bursts(week: Trace, stops: Sequence[_Stop]) -> list[_Burst]:
    """Join each trip with its retries, and a stop's pieces on both sides of a gap."""
    bursts: list[_Burst] = []
    for stop in stops:
        last = bursts[-1] if bursts else None
        if last is None or stop.code != last.first.code:
            bursts.append(_Burst(stop, (stop.row,), stop.segment))
        elif _goes_on(week, last, stop):
            bursts[-1] = replace(last, last_segment=stop.segment)
        elif _is_retry(week, last, stop):
            bursts[-1] = _Burst(last.first, (*last.rows, stop.row), stop.segment)
        else:
            bursts.append(_Burst(stop, (stop.row,), stop.segment))
    return bursts


def _goes_on(week: Trace, last: _Burst, stop: _Stop) -> bool:
    """The same stop, cut in two by a gap."""
    return stop.segment == last.last_segment + 1 and not bool(week.cut.is_stop[stop.segment])


def _is_retry(week: Trace, last: _Burst, stop: _Stop) -> bool:
    """One run lies between, and it ended in the same code soon enough."""
    between = last.last_segment + 1
    since_s = float(week.time.t_s[stop.row] - week.time.t_s[last.rows[-1]])
    return (
        stop.segment == between + 1
        and week.cut.state[between] == RUNNING
        and since_s <= RETRY_GAP_S.value
    )


def _event(week: Trace, burst: _Burst, setting_kpa: float | None) -> TripEvent:
    cut, time, clock = week.cut, week.time, week.clock
    last_row, last = burst.rows[-1], burst.last_segment
    stopped_s = float(cut.to_s[last] - time.t_s[last_row])
    is_open = last + 1 >= cut.first.size or not bool(cut.is_start[last + 1])
    gap_s = np.diff(time.t_s[list(burst.rows)])
    return TripEvent(
        pump_id=week.samples.pump_id,
        week=str(clock.week),
        tripped_at=clock.at(float(time.t_s[burst.first.row])),
        until_at=clock.at(float(cut.to_s[last])),
        code=burst.first.code,
        n_retries=len(burst.rows) - 1,
        retry_s=median(gap_s),
        **_before(week, burst.first, setting_kpa),
        stopped_s=stopped_s,
        is_carried=burst.first.row == 0,
        is_open=is_open,
        is_latched=_is_latched(week, burst, stopped_s, setting_kpa, is_open=is_open),
    )


def _is_latched(
    week: Trace, burst: _Burst, stopped_s: float, setting_kpa: float | None, *, is_open: bool
) -> bool:
    """Stayed out for longer than a retry takes, with water wanted or the code still up."""
    least_s = LATCHED_SILENT_S.value if is_open else LATCHED_S.value
    if stopped_s < least_s:
        return False
    end, codes = int(week.cut.end[burst.last_segment]), week.samples.fault_code
    is_up = codes is not None and codes[end - 1] is not None
    return is_up or _is_low(week, slice(burst.rows[-1], end), setting_kpa)


def _before(week: Trace, trip: _Stop, setting_kpa: float | None) -> dict[str, Any]:
    """What the channels showed in the last half minute before a trip.

    A trip well into a stop has no run before it, and no motor current to tell of.
    """
    cut, samples, pump, t_s = week.cut, week.samples, week.pump, week.time.t_s
    stop_row = int(cut.first[trip.segment])
    waited_s = float(t_s[trip.row] - t_s[stop_row])
    from_run = bool(cut.is_stop[trip.segment]) and waited_s <= TRIP_BEFORE_S.value
    end = stop_row if from_run else trip.row
    first = int(np.searchsorted(t_s, t_s[end] - TRIP_BEFORE_S.value))
    if from_run:
        first = max(first, int(cut.first[trip.segment - 1]))
    rows = slice(max(0, min(first, end - 1)), end)
    limit_a = pump.overload_setting_amps or pump.service_factor_amps
    current_a = _highest(samples.current_a[rows]) if from_run else None
    volts = _lowest(samples.voltage_v[rows.start : trip.row + 1])
    pressure_kpa = _lowest(samples.pressure_kpa[rows])
    return {
        "ran_s": float(cut.duration_s[trip.segment - 1]) if from_run else None,
        "current_before_a": current_a,
        "current_before_pct": _share_pct(current_a, limit_a),
        "voltage_before_pct": _share_pct(volts, pump.supply_volts),
        "pressure_before_pct": _share_pct(pressure_kpa, setting_kpa),
        "frequency_before_hz": median(samples.frequency_hz[rows]) if from_run else None,
        "drive_temp_before_c": _highest(samples.drive_temp_c[rows]),
    }


def _highest(values: NDArray[np.float32]) -> float | None:
    return None if np.isnan(values).all() else float(np.nanmax(values))


def _lowest(values: NDArray[np.float32]) -> float | None:
    return None if np.isnan(values).all() else float(np.nanmin(values))


def _share_pct(value: float | None, whole: float | None) -> float | None:
    return None if value is None or not whole else _PCT * value / whole
