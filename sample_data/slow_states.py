"""What builds up over minutes and holds a pump back: a drawn-down well, a hot drive, low volts."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from sample_data.catalogue import PumpSet
from sample_data.ills import RECOVERED, Well
from sample_data.plant import Floats, Motor
from sample_data.supply import MINUTE_S

KPA_PER_M = 9.79
HEAT_TAU_S = 480.0  # of a drive's heat sink: a few minutes, ours
LOADED_RISE_C = 12.0  # of a sound drive at full load over the air: ours
LEAST_FLUX = 0.95  # below it the drive slows down rather than starve the motor: ours
OVER_MODULATION = 1.05
STEP_S = 300.0


def well_states(edges: Floats, draw_lpm: Floats, well: Well) -> tuple[NDArray[np.bool_], Floats]:
    """Where the pump sucks air, and the lift that draw-down adds.

    Parameters
    ----------
    edges, draw_lpm : ndarray, shape (n,)
        Beginnings of stretches of steady demand. [s, L/min]
    well : Well
        What the well can give.

    Returns
    -------
    is_dry : ndarray of bool, shape (n,)
    lift_kpa : ndarray, shape (n,)
    """
    is_dry, down_m = np.zeros(len(edges), bool), np.zeros(len(edges))
    level, dry = 0.0, False
    for n in range(len(edges) - 1):
        dry = level >= (RECOVERED if dry else 1.0) * well.intake_m and edges[n] >= well.from_s
        is_dry[n], down_m[n] = dry, level
        steady = 0.0 if dry else draw_lpm[n] * well.rise_m_per_lpm
        level = steady + (level - steady) * np.exp(-(edges[n + 1] - edges[n]) / well.recovery_s)
    return is_dry, down_m * KPA_PER_M


def ambient_c(pump: PumpSet, at_s: Floats) -> Floats:
    """Temperature about the drive: warmest at three in the afternoon, more so in a hot house."""
    swing = 4 + 0.35 * pump.log.hot_c
    hour = pump.cal.local_hour(at_s) % 24
    warmth: Floats = 19 + pump.log.hot_c + swing * np.cos((hour - 15) / 24 * 2 * np.pi)
    return warmth


def loaded_rise_c(pump: PumpSet, at_s: Floats) -> Floats:
    """Rise of the drive over the air at full load [C]."""
    rise = np.full(len(at_s), LOADED_RISE_C)
    for ill in pump.heating:
        during = (at_s >= ill.from_s) & (at_s < ill.to_s)
        rise = np.where(during, np.interp(at_s, (ill.from_s, ill.to_s), ill.rise_c), rise)
    return rise


def lagged(at_s: Floats, target: Floats) -> Floats:
    """Follow a target with the time constant of the drive's heat sink."""
    keep = np.exp(-np.diff(at_s, prepend=at_s[:1]) / HEAT_TAU_S).tolist()
    value, values = float(target[0]) if len(target) else 0.0, []
    for share, aim in zip(keep, target.tolist(), strict=True):
        value = aim + (value - aim) * share
        values.append(value)
    return np.array(values)


def heat_ceilings(pump: PumpSet, motor: Motor, edges: Floats, draw_lpm: Floats) -> Floats:
    """Top speed that a drive at its fold-back temperature leaves [Hz]."""
    ceiling = np.full(len(edges), np.inf)
    if pump.fold_back_c is None:
        return ceiling
    hz, power = _duty_power(pump, motor, draw_lpm)
    air, rise = ambient_c(pump, edges), loaded_rise_c(pump, edges)
    over = 0.0
    for n in range(len(edges) - 1):
        room = pump.fold_back_c - air[n]
        steady = rise[n] * power[n]
        share = np.exp(-(edges[n + 1] - edges[n]) / HEAT_TAU_S)
        if over >= room and steady > room:
            ceiling[n] = hz[n] * (room / steady) ** (1 / 3)
        over = min(steady + (over - steady) * share, max(room, 0.0))
    return ceiling


def _duty_power(pump: PumpSet, motor: Motor, draw_lpm: Floats) -> tuple[Floats, Floats]:
    """Speed and share of full power that a demand takes, none without demand."""
    curve = pump.model.curve
    head = np.maximum(pump.duty_boost_kpa + curve.bend * draw_lpm**2, 0.0)
    hz = np.minimum(curve.rated_hz * np.sqrt(head / curve.shutoff_kpa), pump.max_hz)
    drawn = motor.input_kw(curve.torque_share(draw_lpm, hz), hz)
    full = float(motor.input_kw(1.0, curve.rated_hz))
    return hz, np.where(draw_lpm > 0, drawn / full, 0.0)


def volts_ceilings(pump: PumpSet, edges: Floats, source_v: Floats) -> Floats:
    """Top speed that the line's volts leave a motor which must keep its flux [Hz]."""
    if not pump.needs_volts:
        return np.full(len(edges), np.inf)
    volts = np.interp(edges, np.arange(len(source_v)) * MINUTE_S, source_v)
    share = OVER_MODULATION * volts / (LEAST_FLUX * pump.motor_volts)
    ceiling: Floats = np.where(share < 1, share * pump.model.curve.rated_hz, np.inf)
    return ceiling


def low_volts_spans(pump: PumpSet, source_v: Floats) -> list[tuple[float, float]]:
    """When the drive stands because the volts are too low for it [s, s]."""
    trip = pump.volts_trip
    if trip is None:
        return []
    low = np.concatenate(([False], source_v < trip.share * pump.supply_volts, [False]))
    first = np.flatnonzero(low[1:] & ~low[:-1]) * MINUTE_S
    last = np.flatnonzero(~low[1:] & low[:-1]) * MINUTE_S + trip.wait_s
    return joined(zip(first.tolist(), last.tolist(), strict=True))


def joined(spans: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans in order of time, those that touch made one."""
    whole: list[tuple[float, float]] = []
    for from_s, to_s in sorted(spans):
        if whole and from_s <= whole[-1][1]:
            whole[-1] = (whole[-1][0], max(whole[-1][1], to_s))
        else:
            whole.append((from_s, to_s))
    return whole
