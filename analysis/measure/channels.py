"""What each logged channel itself looks like: readings that stand still, and impossible ones.

Lists have one entry for each channel, in the order of ``ingest.samples.CHANNELS``.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    ODD_AMPS_OVER,
    ODD_HZ_OVER,
    ODD_PRESSURE_OVER,
    ODD_PRESSURE_UNDER_KPA,
    ODD_SUCTION_UNDER_KPA,
    ODD_TEMPERATURE_HIGH_C,
    ODD_TEMPERATURE_LOW_C,
    STILL_HZ,
    STILL_MIN_S,
    STILL_SAMPLES_MIN,
    VOLTAGE_INTERRUPTED_PCT,
    VOLTAGE_SENTINEL_PCT,
)
from analysis.measure.quantiles import median
from analysis.measure.segments import RUNNING, STOPPED
from analysis.measure.trace import Trace
from ingest.samples import CHANNELS

_AWAY_SHARE = 0.03  # of the setting: further off than a control holds
_FAR_SHORT = 0.8  # of the setting: what reads less for most of a week is not held
_PSI_KPA = 6.894757
_KPA_UNITS = (1.0, _PSI_KPA, 100.0)  # kPa, psi, bar
_MARKS = (-999.0, 999.0, 9999.0, 3276.7, 32767.0, 6553.5, 65535.0)
_MINUS_ONE = -1.0
_MARK_WITHIN = 1e-3
_RESTLESS = ("pressure_kpa", "voltage_v", "suction_kpa")
_AFAR_SHARE = 0.2  # of the setting

_FIELDS = (
    "still_s", "still_value", "still_from_s", "still_edges", "still_range_hz", "still_run_share",
    "restless_share", "odd_samples", "odd_value", "odd_s", "odd_run_share", "odd_from_s",
    "odd_to_s",
)  # fmt: skip

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class _Still:
    """A stretch in which a reading did not change."""

    first: int
    last: int
    edges: int
    range_hz: float


def channel_measures(week: Trace, held_kpa: float | None) -> dict[str, Any]:
    """Fields of `PumpWeek` on the channels themselves.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure. [kPa]

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    columns: dict[str, list[float | None]] = {f"channel_{name}": [] for name in _FIELDS}
    edge_rows = week.cut.first[week.cut.is_start | week.cut.is_stop]
    for channel in CHANNELS:
        found: dict[str, float | None] = {}
        if channel in week.logged:
            values: Floats = getattr(week.samples, channel)
            found = _of_channel(week, channel, values, edge_rows, held_kpa)
        for name in columns:
            columns[name].append(found.get(name))
    return dict(columns)


def _of_channel(
    week: Trace,
    channel: str,
    values: Floats,
    edge_rows: NDArray[np.int64],
    held_kpa: float | None,
) -> dict[str, float | None]:
    lowest, highest = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    found: dict[str, float | None] = {}
    still = _most_telling(week, channel, values, edge_rows, held_kpa)
    if still is not None:
        t_s, held_s = week.time.t_s, week.time.held_s
        rows = slice(still.first, still.last + 1)
        running = week.state[rows] == RUNNING
        total_s = float(held_s[rows].sum())
        found = {
            "channel_still_s": total_s,
            "channel_still_value": float(values[still.first]),
            "channel_still_from_s": float(t_s[still.first]),
            "channel_still_edges": float(still.edges),
            "channel_still_range_hz": still.range_hz,
            "channel_still_run_share": float(held_s[rows][running].sum()) / total_s,
        }
    if channel in _RESTLESS:
        found["channel_restless_share"] = _restless_share(week, values, still)
    return found | _odd(week, channel, values, lowest, highest)


def _most_telling(
    week: Trace,
    channel: str,
    values: Floats,
    edge_rows: NDArray[np.int64],
    held_kpa: float | None,
) -> _Still | None:
    """The unchanged stretch that outlasted most starts and stops, else most speed, else longest.

    Of the pressure, stretches away from setting and held pressure come first: a control that
    holds its pressure shows it unchanged where the sensor is coarse.
    """
    is_change = values[1:] != values[:-1]
    if not _has_in_a_row(~is_change, int(STILL_SAMPLES_MIN.value) - 1):
        return None
    changes = np.flatnonzero(is_change)
    ends = np.concatenate(([-1], changes, [values.size - 1]))
    many = np.flatnonzero(np.diff(ends) >= STILL_SAMPLES_MIN.value)
    first, last = ends[many] + 1, ends[many + 1]
    t_s = week.time.t_s
    length_s = t_s[last] - t_s[first]
    long = np.flatnonzero(length_s >= STILL_MIN_S.value - week.time.interval_s)
    if long.size == 0:
        return None
    first, last, length_s = first[long], last[long], length_s[long]
    edges = np.searchsorted(edge_rows, last, side="right") - np.searchsorted(
        edge_rows, first, side="right"
    )
    range_hz = _range_hz(week, first, last)
    score = edges + STILL_HZ.value * (range_hz > STILL_HZ.value) + length_s / 1e7
    if channel == "pressure_kpa":
        score = np.where(_is_away(week, values[first], held_kpa), 1e3 * score, score)
    at = int(np.argmax(score))
    return _Still(int(first[at]), int(last[at]), int(edges[at]), float(range_hz[at]))


def _has_in_a_row(flags: NDArray[np.bool_], n: int) -> bool:
    """Whether so many neighbours are all true: pairs first, then pairs of pairs."""
    reach = 1
    while reach < n:
        step = min(reach, n - reach)
        flags = flags[step:] & flags[:-step]
        reach += step
    return bool(flags.any())


def _range_hz(
    week: Trace, first: NDArray[np.int64], last: NDArray[np.int64]
) -> NDArray[np.float64]:
    """How far the running speed moved in each stretch; 0 where it hardly ran.

    Between the tenth lowest and the tenth highest sample: a ramp's one or two, equal by rounding
    to a long rest beside it, are no change of speed.
    """
    speed = week.running_rows
    frequency_hz = week.samples.frequency_hz
    low, high = np.searchsorted(speed, first), np.searchsorted(speed, last, side="right")
    spans = np.zeros(first.size)
    each_end = int(STILL_SAMPLES_MIN.value)
    for n in np.flatnonzero(high - low >= 2 * each_end).tolist():
        of = frequency_hz[speed[low[n] : high[n]]]
        of = of[of >= week.pump.min_hz]
        if of.size >= 2 * each_end:
            parted = np.partition(of, (each_end - 1, of.size - each_end))
            spans[n] = float(parted[of.size - each_end] - parted[each_end - 1])
    return spans


def _is_away(week: Trace, values: Floats, held_kpa: float | None) -> NDArray[np.bool_]:
    """Which readings are neither the setting nor, unless far short of it, the held pressure."""
    setting_kpa = week.pump.pressure_setting_kpa
    levels = [level for level in (setting_kpa, held_kpa) if level is not None]
    if setting_kpa is not None:
        levels = [level for level in levels if level >= _FAR_SHORT * setting_kpa]
    away = np.ones(values.shape, dtype=np.bool_)
    for level_kpa in levels:
        near_kpa = max(_AWAY_SHARE * level_kpa, week.pressure_step_kpa or 0.0)
        away &= np.abs(values - level_kpa) > near_kpa
    return away


def _restless_share(week: Trace, values: Floats, still: _Still | None) -> float | None:
    """Moves at rest, outside the stretch, that go on the way of one a few samples before.

    Twice the rarer way, per pair of neighbouring samples there. A reading that only tips over the
    edge between two steps goes back after each move, and a slow fall goes one way alone. Only
    noise wider than its rounding goes on both ways, and that shows at any level.
    """
    at_rest = (week.state[1:] == STOPPED) & (week.state[:-1] == STOPPED)
    if still is not None:
        at_rest[still.first : still.last] = False
    n = int(np.count_nonzero(at_rest))
    if n < STILL_SAMPLES_MIN.value:
        return None
    step = np.diff(values)
    moves = np.flatnonzero(at_rest & ((step > 0.0) | (step < 0.0)))
    is_up = step[moves] > 0.0
    goes_on = (np.diff(moves) <= STILL_SAMPLES_MIN.value) & (is_up[1:] == is_up[:-1])
    n_up = int(np.count_nonzero(goes_on & is_up[1:]))
    n_down = int(np.count_nonzero(goes_on)) - n_up
    return 2 * min(n_up, n_down) / n


def _odd(
    week: Trace, channel: str, values: Floats, lowest: float, highest: float
) -> dict[str, float | None]:
    """Samples that cannot be a reading of this channel on this pump."""
    low, high = _bounds(week, channel)
    marks = _marks(channel)
    slack = 1.0 + _MARK_WITHIN
    marks = tuple(m for m in marks if lowest <= max(m * slack, m / slack) and m <= highest * slack)
    if lowest >= low and highest <= high and not marks:
        return {"channel_odd_samples": 0.0}
    is_odd = (values < low) | (values > high)
    for mark in marks:
        is_mark = np.abs(values - mark) <= _MARK_WITHIN * abs(mark)
        if mark > 0.0 or _comes_from_afar(week, values, is_mark):
            is_odd |= is_mark
    if channel == "voltage_v":
        is_odd &= (values > high) | (week.state == RUNNING)  # 0 V at rest is an outage
    rows = np.flatnonzero(is_odd)
    if rows.size == 0:
        return {"channel_odd_samples": 0.0}
    t_s, held_s = week.time.t_s, week.time.held_s[rows]
    running_s = float(held_s[week.state[rows] == RUNNING].sum())
    return {
        "channel_odd_run_share": running_s / float(held_s.sum()),
        "channel_odd_samples": float(rows.size),
        "channel_odd_value": median(values[rows]),
        "channel_odd_s": float(held_s.sum()),
        "channel_odd_from_s": float(t_s[rows[0]]),
        "channel_odd_to_s": float(t_s[rows[-1]]),
    }


def _bounds(week: Trace, channel: str) -> tuple[float, float]:
    """Lowest and highest reading that this pump can make, in the channel's unit."""
    pump, none = week.pump, (-np.inf, np.inf)
    setting_kpa, supply_v = pump.pressure_setting_kpa, pump.supply_volts
    limit_a = pump.service_factor_amps or pump.rated_amps
    bounds = {
        "pressure_kpa": (
            ODD_PRESSURE_UNDER_KPA.value,
            ODD_PRESSURE_OVER.value * setting_kpa if setting_kpa else np.inf,
        ),
        "frequency_hz": (-np.inf, ODD_HZ_OVER.value * pump.max_hz),
        "current_a": (-np.inf, ODD_AMPS_OVER.value * limit_a if limit_a else np.inf),
        "voltage_v": (
            (
                VOLTAGE_INTERRUPTED_PCT.value / 100 * supply_v,
                VOLTAGE_SENTINEL_PCT.value / 100 * supply_v,
            )
            if supply_v
            else none
        ),
        "suction_kpa": (ODD_SUCTION_UNDER_KPA.value, np.inf),
        "drive_temp_c": (ODD_TEMPERATURE_LOW_C.value, ODD_TEMPERATURE_HIGH_C.value),
    }
    return bounds.get(channel, none)


def _marks(channel: str) -> tuple[float, ...]:
    """Values by which loggers and converters say that there is no reading.

    Of pressures in each unit a log may carry; 999 kPa may be a reading, -1 bar and -1 psi none
    at a pump's outlet.
    """
    if channel == "pressure_kpa":
        marks = [mark * unit for unit in _KPA_UNITS for mark in _MARKS if mark * unit > 1e3]
        return (*marks, *(_MINUS_ONE * unit for unit in _KPA_UNITS[1:]))
    if channel in ("current_a", "flow_lpm", "input_current_a"):
        return (999.0, 9999.0, 3276.7, 32767.0, 6553.5, 65535.0, -999.0)
    return ()


def _comes_from_afar(week: Trace, values: Floats, is_mark: NDArray[np.bool_]) -> bool:
    """Whether no other reading comes near a mark just below zero: a drained line may."""
    setting_kpa = week.pump.pressure_setting_kpa
    others = values[~is_mark]
    if setting_kpa is None or others.size == 0:
        return False
    return bool(np.fmin.reduce(others) > _AFAR_SHARE * setting_kpa)
