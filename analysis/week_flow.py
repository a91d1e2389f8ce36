"""What a pump moved in a week: flow, volume, energy per cubic metre; by meter or by estimate."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of
from analysis.flow import FlowBand, OwnCurve, own_curve
from analysis.limits import (
    FLOW_ENERGY_RATIO,
    FLOW_METER_APART_PCT,
    FLOW_MIN_WEEKS,
    FLOW_SEEN_SHARE,
)
from analysis.no_flow import no_flow_of
from analysis.physics.electrical import (
    DRIVE_EFFICIENCY,
    MOTOR_POWER_FACTOR,
    electrical_power_w,
)
from analysis.records import OpMapBin, PumpWeek
from analysis.wording import count_text, percent_text
from ingest.installed_base import CurvePoint, Pump

Floats = NDArray[np.float64]
Band = tuple[float, float, float]

METER, CURVE = "flow meter", "curve"

_L_PER_M3 = 1000.0
_WH_PER_KWH = 1000.0
_S_PER_MIN = 60.0
_S_PER_H = 3600.0


@dataclass(frozen=True, kw_only=True)
class MeterAgainstCurve:
    """What a flow meter shows over what the pump's curve of the first weeks lets expect.

    Attributes
    ----------
    ratio : float
        Metered over estimated volume, this week.
    change_pct : float or None
        How it moved since the first weeks; None where too few are known. [%]
    n_weeks : int
        Weeks it is known of.
    """

    ratio: float
    change_pct: float | None
    n_weeks: int

    @property
    def text(self) -> str:
        """What the change says, or "" where it is small or unknown.

        A growing difference is a pump that wears or a meter that is off; the log does not tell
        which.
        """
        change = self.change_pct
        if change is None or abs(change) < FLOW_METER_APART_PCT.value:
            return ""
        what = "less" if change < 0.0 else "more"
        return (
            f"The flow meter reads {percent_text(abs(change))} {what}"
            f" against the pump's curve than {count_text(self.n_weeks - 1, 'week')} ago: wear or"
            " the meter"
        )


@dataclass(frozen=True, kw_only=True)
class WeekFlow:
    """Flow of one week's settled running.

    Attributes
    ----------
    basis : str
        ``flow meter``, or ``curve``: an estimate. The meter wins where it is logged.
    median_lpm : tuple of (value, low, high)
        Median flow while running, by time; the three alike from a meter. [L/min]
    volume_l : tuple of (value, low, high) or None
        Pumped in the week: mean flow times the running time; None where too little of that is in
        the map. [L]
    kwh_per_m3 : tuple of (value, low, high) or None
        Energy into the drive per volume, from motor current with the usual power factors; None
        without the motor's volts, and near shut-off, where the band says nothing. [kWh/m3]
    quiet_floor_lpm : tuple of (value, low, high) or None
        By the curve: flow at the lowest speed of nights in which the pump never stopped.
        [L/min]
    meter : MeterAgainstCurve or None
        None where one of the two is missing.
    """

    basis: str
    median_lpm: Band
    volume_l: Band | None
    kwh_per_m3: Band | None
    quiet_floor_lpm: Band | None
    meter: MeterAgainstCurve | None = None


def week_flow(
    week: PumpWeek,
    pump: Pump,
    curve: Sequence[CurvePoint],
    op_map: Sequence[Sequence[OpMapBin]],
    past: Sequence[PumpWeek] = (),
) -> WeekFlow | None:
    """Flow of a week; None where neither a meter nor curve and speed tell it.

    Parameters
    ----------
    week : PumpWeek
        The week judged.
    curve : sequence of CurvePoint
        Published points of the pump's model; may be empty.
    op_map : sequence of sequence of OpMapBin
        Bins of this week and of ``past``, each week's together.
    past : sequence of PumpWeek
        Earlier weeks since the baseline, oldest first: for f0 where this week has none, and for
        the meter's change.
    """
    bins = {cells[0].week: tuple(cells) for cells in op_map if cells}
    cells = bins.get(week.week, ())
    if not cells:
        return None
    own = _curve_of_week((*past, week), pump, curve, bins)
    metered = [c for c in cells if c.flow_mean_lpm is not None]
    if metered:
        flow = np.array([c.flow_mean_lpm for c in metered], dtype=np.float64)
        band, seen, basis = FlowBand(flow, flow, flow), metered, METER
    elif own is not None:
        band, seen, basis = _estimate(own, cells), list(cells), CURVE
    else:
        return None
    is_told = ~np.isnan(band.lpm)
    if not is_told.any():
        return None
    held_s = np.array([c.held_s for c in seen]) * is_told
    means = _of_band(band, lambda lpm: float(np.average(np.nan_to_num(lpm), weights=held_s)))
    is_enough = held_s.sum() >= FLOW_SEEN_SHARE.value * sum(c.held_s for c in cells)
    return WeekFlow(
        basis=basis,
        median_lpm=_of_band(band, lambda lpm: _median(lpm[is_told], held_s[is_told])),
        volume_l=_times(means, week.run_s / _S_PER_MIN) if is_enough else None,
        kwh_per_m3=_specific_energy(seen, means, held_s, pump, week),
        quiet_floor_lpm=None if own is None else _quiet_floor(own, week),
        meter=_meter_against_curve((*past, week), pump, curve, bins),
    )


def _curve_of_week(
    weeks: Sequence[PumpWeek],
    pump: Pump,
    curve: Sequence[CurvePoint],
    bins: dict[str, tuple[OpMapBin, ...]],
) -> OwnCurve | None:
    """The pump's own curve by the last week that tells its no-flow speed."""
    if not curve:
        return None
    for week in reversed(weeks):
        no_flow = no_flow_of(week, pump, bins.get(week.week, ()))
        if no_flow is not None:
            return own_curve(curve, pump, no_flow)
    return own_curve(curve, pump, None)


def _estimate(own: OwnCurve, cells: Sequence[OpMapBin]) -> FlowBand:
    suction = [np.nan if c.suction_mean_kpa is None else c.suction_mean_kpa for c in cells]
    return own.flow(
        [c.frequency_mean_hz for c in cells],
        [c.pressure_mean_kpa for c in cells],
        np.array(suction, dtype=np.float64),
    )


def _quiet_floor(own: OwnCurve, week: PumpWeek) -> Band | None:
    """Flow at the nights' lowest speed, where the pump never stopped in them."""
    if (
        week.quiet_never_stopped_nights == 0
        or week.quiet_floor_hz is None
        or week.held_pressure_kpa is None
    ):
        return None
    band = own.flow([week.quiet_floor_hz], [week.held_pressure_kpa])
    floor = (float(band.lpm[0]), float(band.low_lpm[0]), float(band.high_lpm[0]))
    return None if np.isnan(floor[0]) else floor


def _specific_energy(
    cells: Sequence[OpMapBin], means_lpm: Band, held_s: Floats, pump: Pump, week: PumpWeek
) -> Band | None:
    """Mean power into the drive over mean flow; the band from flow and power factor."""
    if pump.motor_volts is None or not held_s.any():
        return None
    ramp = np.minimum(1.0, np.array([c.frequency_mean_hz for c in cells]) / pump.max_hz)
    current = np.array([c.current_mean_a for c in cells], dtype=np.float64)
    phases = pump.motor_phases or 3
    is_known = ~np.isnan(current) & (held_s > 0.0)
    if not is_known.any():
        return None

    def kwh_per_m3(power_factor: float, efficiency: float, lpm: float) -> float:
        watts = electrical_power_w(
            pump.motor_volts * ramp[is_known], current[is_known], power_factor, phases
        )
        mean_w = float(np.average(watts, weights=held_s[is_known])) / efficiency
        return mean_w / _WH_PER_KWH / (lpm * _S_PER_H / _S_PER_MIN / _L_PER_M3)

    pf, eff = MOTOR_POWER_FACTOR, DRIVE_EFFICIENCY
    if means_lpm[1] <= 0.0:
        return None
    value = kwh_per_m3(pf.value, eff.value, means_lpm[0])
    low = kwh_per_m3(pf.low, eff.high, means_lpm[2])
    high = kwh_per_m3(pf.high, eff.low, means_lpm[1])
    return (value, low, high) if high <= FLOW_ENERGY_RATIO.value * value else None


def _meter_against_curve(
    weeks: Sequence[PumpWeek],
    pump: Pump,
    curve: Sequence[CurvePoint],
    bins: dict[str, tuple[OpMapBin, ...]],
) -> MeterAgainstCurve | None:
    """Metered over estimated volume, week by week, by the curve of the first week with an f0.

    That curve is kept, so that wear shows as a change as a drifting meter does.
    """
    told = (no_flow_of(week, pump, bins.get(week.week, ())) for week in weeks)
    first = next((no_flow for no_flow in told if no_flow is not None), None)
    fixed = None if first is None else own_curve(curve, pump, first)
    if fixed is None:
        return None
    ratios = [_meter_ratio(fixed, bins.get(week.week, ())) for week in weeks]
    known = [ratio for ratio in ratios if ratio is not None]
    if ratios[-1] is None:
        return None
    change = None
    if len(known) >= FLOW_MIN_WEEKS.value:
        change = 100.0 * (ratios[-1] / median_of(known[: len(known) // 3]) - 1.0)
    return MeterAgainstCurve(ratio=ratios[-1], change_pct=change, n_weeks=len(known))


def _meter_ratio(own: OwnCurve, cells: Sequence[OpMapBin]) -> float | None:
    """Metered over estimated volume of the bins that have both; None where none flows."""
    both = [c for c in cells if c.flow_mean_lpm is not None]
    if not both:
        return None
    estimate = np.nan_to_num(_estimate(own, both).lpm)
    held_s = np.array([c.held_s for c in both]) * (estimate > 0.0)
    metered = np.array([c.flow_mean_lpm for c in both], dtype=np.float64)
    total = float((metered * held_s).sum())
    return total / float((estimate * held_s).sum()) if total > 0.0 else None


def _of_band(band: FlowBand, of: Callable[[Floats], float]) -> Band:
    return of(band.lpm), of(band.low_lpm), of(band.high_lpm)


def _times(band: Band, factor: float) -> Band:
    return band[0] * factor, band[1] * factor, band[2] * factor


def _median(values: Floats, weight: Floats) -> float:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weight[order])
    return float(values[order][int(np.searchsorted(reached, 0.5 * reached[-1]))])
