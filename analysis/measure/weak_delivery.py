"""Spells short of the setting with no speed left to give, and what was known meanwhile."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    AT_MAX_WITHIN_HZ,
    GONE_BRIDGE_S,
    HELD_SHARE,
    SHORT_OF_SETTING_SHARE,
    VOLTAGE_LOW_PCT,
    WEAK_FILL_S,
    WEAK_MIN_S,
)
from analysis.measure.current import settled_of
from analysis.measure.quantiles import held_quantile
from analysis.measure.trace import Trace
from analysis.measure.voltage import Volts

_PCT = 100.0


@dataclass(frozen=True)
class Weak:
    """Settled samples short of the setting for long, in spells that are no start-up.

    Attributes
    ----------
    at : ndarray of int64
        Their places among the settled samples.
    spell : ndarray of int64
        Which spell each belongs to, from 0.
    same_held : ndarray of int64
        Places at the same speed or more that hold the setting.
    setting_kpa : float or None
        What they are short of. [kPa]
    """

    at: NDArray[np.int64]
    spell: NDArray[np.int64]
    same_held: NDArray[np.int64]
    setting_kpa: float | None


def weak_spells(week: Trace, held_kpa: float | None, clip_rows: NDArray[np.int64]) -> Weak:
    """Find the spells: over 60 s more than 10 % short of the setting.

    A control that is so short for so long keeps no speed back: it is at its top, or at what low
    volts or heat leave of it. Samples at a current ceiling are told as such, not here. A spell
    that began with its run and was over within 5 min filled something.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure, in place of a setting where none is registered. [kPa]
    clip_rows : ndarray of int64
        Rows at a current ceiling.
    """
    nothing = np.empty(0, dtype=np.int64)
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    settled = week.settled
    if setting_kpa is None or setting_kpa <= 0.0 or settled.rows.size == 0:
        return Weak(nothing, nothing, nothing, None)
    short_kpa = (1.0 - SHORT_OF_SETTING_SHARE.value) * setting_kpa
    short = np.flatnonzero(settled.pressure_kpa < np.float32(short_kpa))
    short = short[~np.isin(settled.rows[short], clip_rows, assume_unique=True)]
    kept, spell = _long_ones(week, short) if short.size else (short, short)
    if kept.size == 0:
        return Weak(kept, spell, nothing, setting_kpa)
    same_hz = float(np.median(settled.frequency_hz[kept])) - AT_MAX_WITHIN_HZ.value
    held = settled.pressure_kpa >= HELD_SHARE.value * setting_kpa
    same_held = np.flatnonzero(held & (settled.frequency_hz >= same_hz))
    return Weak(kept, spell, same_held, setting_kpa)


def _long_ones(
    week: Trace, short: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    settled, t_s = week.settled, week.time.t_s
    rows, held_s = settled.rows[short], settled.held_s[short]
    run = np.searchsorted(settled.first, rows, side="right")
    silence_s = t_s[rows[1:]] - (t_s[rows[:-1]] + held_s[:-1])
    bridge_s = max(GONE_BRIDGE_S.value, week.time.interval_s)
    breaks = np.flatnonzero((np.diff(run) != 0) | (silence_s > bridge_s)) + 1
    first = np.concatenate(([0], breaks))
    length_s = np.add.reduceat(held_s, first)
    count = np.diff(np.append(first, rows.size))
    began_with_run = rows[first] == settled.first[run[first] - 1]
    keep = (length_s > WEAK_MIN_S.value) & (count >= 2)
    keep &= ~began_with_run | (length_s > WEAK_FILL_S.value)
    is_kept = np.repeat(keep, count)
    return short[is_kept], np.repeat(np.cumsum(keep) - 1, count)[is_kept]


def weak_measures(
    week: Trace, of: Weak, volts: Volts | None, windows_s: NDArray[np.float64] | None
) -> dict[str, Any]:
    """Fields of `PumpWeek` on weak delivery.

    Parameters
    ----------
    windows_s : ndarray of float64, shape (7, 2), or None
        The quiet window of each night. [s]

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    if of.setting_kpa is None:
        return {}
    settled, samples = week.settled, week.samples
    held_s, rows = settled.held_s[of.at], settled.rows[of.at]
    if rows.size == 0:
        return {"weak_s": 0.0, "n_weak_spells": 0, "weak_quiet_s": 0.0} | _held_volts(
            of, week, volts
        )

    def middle(channel: NDArray[np.float32]) -> float | None:
        return held_quantile(channel[rows], held_s, 0.5)

    pressure_kpa = held_quantile(settled.pressure_kpa[of.at], held_s, 0.5)
    return {
        "weak_s": float(held_s.sum()),
        "n_weak_spells": int(of.spell[-1]) + 1,
        "weak_longest_s": float(np.bincount(of.spell, weights=held_s).max()),
        "weak_last_at": week.clock.at(float(week.time.t_s[rows[-1]])),
        "weak_quiet_s": _inside_s(week, rows, held_s, windows_s),
        "weak_pressure_pct": None
        if pressure_kpa is None
        else _PCT * pressure_kpa / of.setting_kpa,
        "weak_hz": held_quantile(settled.frequency_hz[of.at], held_s, 0.5),
        "weak_current_a": held_quantile(settled.current_a[of.at], held_s, 0.5),
        "weak_suction_kpa": middle(samples.suction_kpa),
        "weak_flow_lpm": middle(samples.flow_lpm),
        **_weak_volts(week, volts, rows, held_s),
        **_held_volts(of, week, volts),
    }


def weak_of_day(week: Trace, of: Weak, day: int) -> dict[str, Any]:
    """Fields of `PumpDay` on weak delivery."""
    if of.setting_kpa is None:
        return {}
    settled = week.settled
    part = settled_of(week, day)
    low, high = np.searchsorted(
        of.at, (part.start or 0, settled.rows.size if part.stop is None else part.stop)
    )
    total_s = float(settled.held_s[part].sum())
    held = settled.pressure_kpa[part] >= HELD_SHARE.value * of.setting_kpa
    return {
        "weak_s": float(settled.held_s[of.at[low:high]].sum()),
        "settled_s": total_s,
        "at_setting_share": (
            float(settled.held_s[part][held].sum()) / total_s if total_s > 0.0 else None
        ),
    }


def _inside_s(
    week: Trace,
    rows: NDArray[np.int64],
    held_s: NDArray[np.float64],
    windows_s: NDArray[np.float64] | None,
) -> float | None:
    if windows_s is None:
        return None
    edges = np.searchsorted(week.time.t_s[rows], windows_s)
    return float(sum(held_s[low:high].sum() for low, high in edges.tolist()))


def _weak_volts(
    week: Trace, volts: Volts | None, rows: NDArray[np.int64], held_s: NDArray[np.float64]
) -> dict[str, float | None]:
    """Volts while short, and how much of that time they were under 90 % of nominal.

    Nominal is the motor's nameplate where registered, as the drive can give no more than the
    line has; else the supply's.
    """
    nominal_v = week.pump.motor_volts or week.pump.supply_volts
    if volts is None:
        return {}
    of_v = volts.volts[rows]
    middle_v = held_quantile(of_v, held_s, 0.5)
    if nominal_v is None or middle_v is None:
        return {"weak_voltage_v": middle_v}
    low = of_v < VOLTAGE_LOW_PCT.value / _PCT * nominal_v
    return {
        "weak_voltage_v": middle_v,
        "weak_low_volts_share": float(held_s[low].sum() / held_s.sum()),
    }


def _held_volts(of: Weak, week: Trace, volts: Volts | None) -> dict[str, float | None]:
    """Volts at the same speed with the setting held, and the time so."""
    held_s = week.settled.held_s[of.same_held]
    total: dict[str, float | None] = {"same_held_s": float(held_s.sum())}
    if volts is None or held_s.size == 0:
        return total
    return total | {
        "same_held_voltage_v": held_quantile(
            volts.volts[week.settled.rows[of.same_held]], held_s, 0.5
        )
    }
