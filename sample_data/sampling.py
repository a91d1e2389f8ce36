"""From a built pump set to what it truly did at the logger's instants."""

from dataclasses import replace

import numpy as np

from sample_data.catalogue import PumpSet
from sample_data.control import DRY_TORQUE, SETTLE_S, simulate
from sample_data.ills import Hunting
from sample_data.logger import Signals, averaged, logged
from sample_data.phases import COLUMNS, Phases
from sample_data.plant import (
    PIPE_L_PER_KPA,
    Floats,
    Motor,
    flux_share,
    input_current_a,
    input_power_factor,
    pressure_of_stored_kpa,
    terminal_volts,
)
from sample_data.rig import Controller, Rig
from sample_data.segments import MOST_DRAW, segments_of
from sample_data.slow_states import ambient_c, lagged, loaded_rise_c
from sample_data.supply import CONTACT_OHM, MINUTE_S, wire_loop_ohm

WEEK_S = 7 * 86400.0
MAGNETISING_SHARE = 0.33  # of rated current, small two-pole motors: low end of common practice
AVERAGING_STEP_S = 3.0
FLICKER = 0.0012  # of nominal volts from sample to sample
RESTLESS = 0.25  # spread of torque from sample to sample while the pump turns in froth: ours
LOOP_LAG_S = 1.5  # of pressure behind speed, which sets how far apart the two swing: ours
EMPTY_SUCTION_KPA = -3.0  # a suction pipe full of froth: ours
LEAST_SUCTION_KPA = -85.0  # then water boils in the eye, and head goes instead: ours
BACK_RISE_KPA = 22.0  # suction pipe and its small tank, filled back by a leaking check valve


def motor_of(pump: PumpSet) -> Motor:
    """The motor that takes ``load_share`` of its service-factor amps at the most that is drawn."""
    curve = pump.model.curve
    most = MOST_DRAW * pump.large_lpm
    hz = curve.speed_hz(most, pump.duty_boost_kpa)
    torque = float(curve.torque_share(most, hz))
    weak = max(1.0, hz / curve.rated_hz)
    magnetising = MAGNETISING_SHARE * pump.rated_amps
    target = pump.load_share * pump.service_factor_amps
    load = float(np.sqrt(max(target**2 - (magnetising / weak) ** 2, 0.0))) / (torque * weak)
    return Motor(float(pump.motor_volts), curve.rated_hz, magnetising, load)


def controller_of(pump: PumpSet) -> Controller:
    """The drive's pressure control as set, without the overload of its motor."""
    return Controller(
        pump.set_kpa,
        pump.band_kpa,
        pump.boost_kpa,
        pump.min_hz,
        pump.max_hz,
        pump.ramp_s,
        pump.no_flow_s,
        pump.sleep_lpm,
        pump.limit_a,
        dry_trip_s=pump.dry_trip_s or np.inf,
        dry_wait_s=pump.dry_wait_s,
    )


def run_pump(pump: PumpSet, source_v: Floats, rng: np.random.Generator) -> Phases:
    """Simulate a pump set through all its weeks."""
    motor = motor_of(pump)
    controller = controller_of(pump)
    if pump.overload_tau_s:
        setting = float(str(pump.register["overload_setting_amps"]))
        controller = replace(controller, overload_a=setting, overload_tau_s=pump.overload_tau_s)
    rig = Rig(pump.model.curve, pump.suction_kpa, motor.magnetising_a, motor.load_a, controller)
    return simulate(rig, segments_of(pump, motor, source_v, rng), rng)


def grid_s(pump: PumpSet, rng: np.random.Generator) -> Floats:
    """The logger's instants, whole seconds, with its gaps and a few lost rows [s]."""
    log, end = pump.log, pump.cal.length_s
    ends = [at for at, _ in log.intervals[1:]] + [end]
    parts = []
    for (from_s, step), to_s in zip(log.intervals, ends, strict=True):
        first = from_s + float(rng.integers(0, max(1, int(step))))
        parts.append(np.arange(first, to_s, step))
    at = np.concatenate(parts)
    keep = rng.random(len(at)) > 0.0004
    for from_s, to_s in [*log.gaps, *pump.outages]:
        keep &= (at < from_s) | (at >= to_s)
    result: Floats = at[keep]
    return result


def observe(
    pump: PumpSet, phases: Phases, at_s: Floats, source_v: Floats, rng: np.random.Generator
) -> Signals:
    """True values at the given instants."""
    row = np.clip(np.searchsorted(phases.column("from_s"), at_s, "right") - 1, 0, None)
    pick = {name: phases.column(name)[row] for name in COLUMNS}
    since = at_s - pick["from_s"]
    stored = pick["stored_l"] + pick["stored_l_per_s"] * since
    settled = pick["pressure_kpa"] + pick["dip_kpa"] * np.exp(-since / SETTLE_S)
    by_stored = np.isfinite(stored)
    safe = np.where(by_stored, stored, 1.0)
    sunk = pressure_of_stored_kpa(safe, pick["volume_l"], pick["gas"], PIPE_L_PER_KPA)
    pressure = np.maximum(np.where(by_stored, sunk, settled), 0.0)
    hz = pick["frequency_hz"] + pick["lead_hz"] * np.exp(-since / pick["speed_tau_s"])
    running = pick["runs"] > 0
    for ill in pump.hunting:
        swings = running & ~by_stored & (at_s >= ill.from_s) & (at_s < ill.to_s)
        swings &= pick["flow_lpm"] > pump.sleep_lpm
        kpa, of_hz = _swing(pump, ill, at_s, since, hz)
        pressure = np.where(swings, pressure + kpa, pressure)
        hz = np.where(swings, hz + of_hz, hz)
    hz = np.where(running, np.clip(hz, min(pump.min_hz, 5.0), pump.max_hz), 0.0)
    pick["flow_lpm"] = np.where(running, pick["flow_lpm"], 0.0)
    pick["back_l"] += pick["back_lpm"] / 60 * since
    return _electrical(pump, at_s, pressure, hz, source_v, pick, rng)


def _swing(
    pump: PumpSet, ill: Hunting, at_s: Floats, since_s: Floats, hz: Floats
) -> tuple[Floats, Floats]:
    """Pressure and speed of a loop that hunts: speed leads, pressure follows with its lag.

    Speed swings wider than pressure asks for at rest, by ``sqrt(1 + (w tau)**2)``: a first-order
    lag.
    """
    turn = 2 * np.pi / ill.period_s
    lag = turn * LOOP_LAG_S
    phase = turn * at_s
    size = ill.swing_kpa * (1 - np.exp(-since_s / ill.period_s))
    kpa_per_hz = 2 * pump.model.curve.shutoff_kpa * hz / pump.model.curve.rated_hz**2
    wide = size * np.sqrt(1 + lag**2) / np.maximum(kpa_per_hz, 1.0)
    return size * np.sin(phase), wide * np.sin(phase + np.arctan(lag))


def _electrical(
    pump: PumpSet,
    at_s: Floats,
    pressure: Floats,
    hz: Floats,
    source_v: Floats,
    pick: dict[str, Floats],
    rng: np.random.Generator,
) -> Signals:
    motor, curve, flow = motor_of(pump), pump.model.curve, pick["flow_lpm"]
    factor = np.ones(len(at_s))
    if pump.replaced:
        hz = np.where(at_s < pump.replaced[0], hz * pump.replaced[1], hz)
        factor = np.where(at_s < pump.replaced[0], pump.replaced[2], 1.0)
    torque = np.where(hz > 0, curve.torque_share(flow, hz), 0.0) * pick["torque"]
    in_air = (pick["torque"] == DRY_TORQUE) & (hz > 0)
    if in_air.any():
        torque[in_air] *= np.maximum(1 + rng.normal(0.0, RESTLESS, int(in_air.sum())), 0.2)
    drag = np.zeros(len(at_s))
    for from_s, per_week in pump.drag:
        drag += np.maximum(at_s - from_s, 0.0) / WEEK_S * per_week
    power = motor.input_kw(torque, hz, drag)
    full = float(motor.input_kw(1.0, curve.rated_hz))
    for from_s, to_s in pump.open_motor:
        power = np.where((at_s >= from_s) & (at_s < to_s), motor.input_kw(0.0, 0.0), power)
    pf = input_power_factor(power / full)
    noise = 1 + rng.normal(0.0, 0.006, len(at_s))
    minutes = np.arange(len(source_v)) * MINUTE_S
    flicker = rng.normal(0, FLICKER, len(at_s)) * source_v.mean()
    source = np.interp(at_s, minutes, source_v) + flicker
    volts = terminal_volts(source, power, pf, _loop_ohm(pump, at_s, rng), pump.supply_phases)
    flux = flux_share(volts, pump.motor_volts, hz / curve.rated_hz)
    current = motor.current_a(torque, hz, drag, flux) * factor * noise
    for from_s, to_s in pump.open_motor:
        current = np.where((at_s >= from_s) & (at_s < to_s), 0.0, current)
    amps = input_current_a(power, pf, volts, pump.supply_phases)
    suction = pump.suction_kpa + pump.lift_kpa - pick["lift_kpa"] - 0.004 * flow**1.5
    suction = suction + BACK_RISE_KPA * (1 - np.exp(-pick["back_l"]))
    suction = np.maximum(suction - _screen_kpa(pump, at_s, flow), LEAST_SUCTION_KPA)
    suction = np.where(in_air, EMPTY_SUCTION_KPA, suction)
    return Signals(
        at_s,
        pressure,
        hz,
        current,
        volts,
        amps,
        flow,
        suction,
        _drive_temp_c(pump, at_s, power / full),
        pick["code"],
    )


def _screen_kpa(pump: PumpSet, at_s: Floats, flow: Floats) -> Floats:
    """What a blocked suction screen takes, as a sensor behind it sees [kPa]."""
    lost = np.zeros(len(at_s))
    for end in pump.ends:
        during = (at_s >= end.from_s) & (at_s < end.to_s)
        more = np.interp(at_s, (end.from_s, end.to_s), end.bend) - 1
        lost += np.where(during, more * pump.model.curve.bend * flow**2, 0.0)
    return lost


def _drive_temp_c(pump: PumpSet, at_s: Floats, power_share: Floats) -> Floats:
    if "temp" not in pump.log.channels:
        return np.zeros(len(at_s))
    temp = ambient_c(pump, at_s) + lagged(at_s, loaded_rise_c(pump, at_s) * power_share)
    return temp if pump.fold_back_c is None else np.minimum(temp, pump.fold_back_c)


def _loop_ohm(pump: PumpSet, at_s: Floats, rng: np.random.Generator) -> Floats:
    ohm = np.full(len(at_s), wire_loop_ohm(pump.wire_mm2, pump.wire_m) + CONTACT_OHM)
    for from_s, extra, per_s in pump.joints:
        ohm += np.where(at_s >= from_s, extra + per_s * (at_s - from_s), 0.0)
        if per_s > 0:  # a joint that heats also makes poor and restless contact
            ohm *= np.where(at_s >= from_s, 1 + rng.normal(0, 0.04, len(at_s)), 1.0)
    loop: Floats = np.maximum(ohm, 0.0)
    return loop


def record(
    pump: PumpSet, source_v: Floats, water: np.random.SeedSequence, log: np.random.SeedSequence
) -> dict[str, Floats]:
    """Simulate a pump set and give its log, unrounded, in inner units.

    Parameters
    ----------
    pump : PumpSet
        As built.
    source_v : ndarray, shape (minutes,)
        Volts at the meter. [V]
    water, log : SeedSequence
        For demand and control, and for the logger and its sensors.
    """
    for_water, for_log = np.random.default_rng(water), np.random.default_rng(log)
    phases = run_pump(pump, source_v, for_water)
    if not pump.log.is_averaged:
        signals = observe(pump, phases, grid_s(pump, for_log), source_v, for_log)
        return logged(pump, signals, for_log)
    from_s, step = pump.log.intervals[0]
    fine = np.arange(from_s, pump.cal.length_s, AVERAGING_STEP_S)
    return logged(pump, averaged(observe(pump, phases, fine, source_v, for_log), step), for_log)
