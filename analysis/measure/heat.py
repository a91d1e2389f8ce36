"""Heat of the drive: how hot, how long, above what surroundings and at which load.

The drive's own temperature while it has long been stopped stands for the air around it. Means of
a quarter of an hour are compared, because a heat sink follows its load over minutes.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    CEILING_SHORT_SHARE,
    DRIVE_COOL_S,
    DRIVE_HOT_C,
    DRIVE_TEMP_MAX_C,
    DRIVE_TEMP_MIN_C,
    FOLD_BACK_BELOW_HZ,
    FOLD_BACK_FROM_C,
    FOLD_BACK_STEADY_HZ,
    FOLD_BACK_WITHIN_C,
)
from analysis.measure.quantiles import quantile
from analysis.measure.timeline import covered_s
from analysis.measure.trace import Trace

_BLOCK_S = 900.0
_MOSTLY = 0.9
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Heat:
    """A week's drive temperature.

    Attributes
    ----------
    fields : dict
        Fields of `PumpWeek` on the drive's temperature.
    by_day : list of dict
        Fields of `PumpDay` on it, one for each of the seven local days.
    """

    fields: dict[str, Any]
    by_day: list[dict[str, Any]]


@dataclass(frozen=True)
class _Blocks:
    """Means of quarters of an hour, in order; NaN where a channel is blank."""

    day: NDArray[np.int64]
    temp_c: Floats
    current_a: Floats
    is_cool: NDArray[np.bool_]  # long stopped throughout


def heat(week: Trace, held_kpa: float | None) -> Heat:
    """Measure the drive's temperature over a week.

    Readings outside ``DRIVE_TEMP_MIN_C`` to ``DRIVE_TEMP_MAX_C`` are no temperatures of a drive
    and are left out.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    """
    temp_c = week.samples.drive_temp_c
    none = Heat({"has_drive_temp": False}, [{} for _ in week.clock.dates])
    if "drive_temp_c" not in week.logged:
        return none
    with np.errstate(invalid="ignore"):
        is_real = (temp_c >= DRIVE_TEMP_MIN_C.value) & (temp_c <= DRIVE_TEMP_MAX_C.value)
    if not is_real.any():
        return none
    if not is_real.all():
        temp_c = np.where(is_real, temp_c, np.float32(np.nan))
    blocks = _blocks(week, temp_c)
    hot = np.flatnonzero(temp_c >= DRIVE_HOT_C.value)
    hot_s = np.bincount(
        week.day_of(week.time.t_s[hot]),
        weights=week.time.held_s[hot],
        minlength=len(week.clock.dates),
    )
    return Heat(
        fields={
            "has_drive_temp": True,
            "drive_temp_max_c": float(np.nanmax(temp_c)),
            "drive_temp_cool_c": quantile(blocks.temp_c[blocks.is_cool], 0.05),
            "drive_temp_p05_c": quantile(blocks.temp_c, 0.05),
            "hot_s": float(hot_s.sum()),
            "fold_back_s": _fold_back_s(week, temp_c, held_kpa),
        },
        by_day=[
            {"hot_s": float(hot_s[day]), **_day(blocks, day)}
            for day in range(len(week.clock.dates))
        ],
    )


def _blocks(week: Trace, temp_c: NDArray[np.float32]) -> _Blocks:
    t_s, held_s = week.time.t_s, week.time.held_s
    edges_s = np.append(np.arange(0.0, week.clock.length_s, _BLOCK_S), week.clock.length_s)
    first = np.searchsorted(t_s, edges_s)
    has_rows = np.flatnonzero(first[1:] > first[:-1])
    at = first[has_rows]
    is_blank = np.isnan(temp_c)
    has_blanks = bool(is_blank.any())
    weight_s = np.where(is_blank, 0.0, held_s) if has_blanks else held_s
    if has_blanks:
        temp_c = np.where(is_blank, np.float32(0.0), temp_c)
    current_a = week.samples.current_a
    if np.isnan(current_a).any():
        current_a = np.nan_to_num(current_a)
    seen_s = np.add.reduceat(weight_s, at)
    mean_c = np.full(at.size, np.nan)
    np.divide(np.add.reduceat(temp_c * weight_s, at), seen_s, out=mean_c, where=seen_s > 0.0)
    all_s = np.maximum(np.add.reduceat(held_s, at) if has_blanks else seen_s, 1e-9)
    return _Blocks(
        day=week.day_of(edges_s[has_rows]),
        temp_c=mean_c,
        current_a=np.asarray(np.add.reduceat(current_a * held_s, at) / all_s),
        is_cool=_cool_s(week, edges_s)[has_rows] >= _MOSTLY * _BLOCK_S,
    )


def _cool_s(week: Trace, edges_s: Floats) -> Floats:
    """Time at least ``DRIVE_COOL_S`` into a stop; a stop cut by a gap starts anew."""
    cut = week.cut
    stops = cut.stops[cut.duration_s[cut.stops] > DRIVE_COOL_S.value]
    return covered_s(cut.from_s[stops] + DRIVE_COOL_S.value, cut.to_s[stops], edges_s)


def _day(blocks: _Blocks, day: int) -> dict[str, float | None]:
    """Hottest quarter of an hour under load, its load, and the surroundings of one day.

    The load is the mean current of that quarter and the one before.
    """
    rows = np.flatnonzero((blocks.day == day) & ~np.isnan(blocks.temp_c))
    cool = rows[blocks.is_cool[rows]]
    loaded = rows[blocks.current_a[rows] > 0.0]
    made: dict[str, float | None] = {
        "drive_cool_c": float(blocks.temp_c[cool].min()) if cool.size else None,
        "drive_cool_max_c": float(blocks.temp_c[cool].max()) if cool.size else None,
        "drive_hot_c": None,
        "drive_load_a": None,
    }
    if loaded.size:
        at = int(loaded[np.argmax(blocks.temp_c[loaded])])
        made["drive_hot_c"] = float(blocks.temp_c[at])
        made["drive_load_a"] = float(blocks.current_a[max(0, at - 1) : at + 1].mean())
    return made


def _fold_back_s(week: Trace, temp_c: NDArray[np.float32], held_kpa: float | None) -> float | None:
    """Settled running in which a hot drive keeps its speed down and pressure falls short.

    Pressure over 5 % short of the setting, speed level and below what it reached in the week,
    temperature near the week's highest and at least ``FOLD_BACK_FROM_C``. None where no pressure
    is known.
    """
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    settled = week.settled
    if not setting_kpa or settled.rows.size < 2:
        return None
    here_c = temp_c[settled.rows]
    least_c = max(FOLD_BACK_FROM_C.value, float(np.nanmax(temp_c)) - FOLD_BACK_WITHIN_C.value)
    highest_hz = float(np.fmax.reduce(settled.frequency_hz))
    held_back = (
        (here_c >= least_c)
        & (settled.pressure_kpa < (1.0 - CEILING_SHORT_SHARE.value) * setting_kpa)
        & (settled.frequency_hz < highest_hz - FOLD_BACK_BELOW_HZ.value)
    )
    is_level = np.abs(np.diff(settled.frequency_hz)) <= FOLD_BACK_STEADY_HZ.value
    pair = held_back[1:] & held_back[:-1] & is_level & (np.diff(settled.rows) == 1)
    return float(settled.held_s[1:][pair].sum())
