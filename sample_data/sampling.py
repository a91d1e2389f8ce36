"""From a built pump set to what its logger wrote: simulate, sample, add noise, round."""

from dataclasses import dataclass, replace

import numpy as np

from sample_data.catalogue import PumpSet
from sample_data.control import Phases, simulate
from sample_data.demand import EXTRAS, Draws, everyday, join
from sample_data.plant import (
    PIPE_L_PER_KPA,
    Floats,
    Motor,
    PumpCurve,
    Tank,
    input_current_a,
    input_power_factor,
    pressure_of_stored_kpa,
    terminal_volts,
)
from sample_data.rig import Controller, Rig, Segment
from sample_data.supply import MINUTE_S, wire_loop_ohm

WEEK_S = 7 * 86400.0
MOST_DRAW = 1.05  # of the large flow: what taps together can pass
MAGNETISING_SHARE = 0.33  # of rated current, small two-pole motors: low end of common practice
AVERAGING_STEP_S = 3.0
CONTACT_OHM = 0.03
FLICKER = 0.0012  # of nominal volts from sample to sample
LOADED_RISE_C = 9.0  # of the drive at full load
BACK_RISE_KPA = 22.0  # suction pipe and its small tank, filled back by a leaking check valve
LIFT_WANDER = 0.012  # of the duty's boost: well level, street pressure


@dataclass(frozen=True)
class Signals:
    """What a pump set did at the logger's instants, true values, shape (n,) each."""

    at_s: Floats
    pressure_kpa: Floats
    frequency_hz: Floats
    current_a: Floats
    voltage_v: Floats
    input_current_a: Floats
    flow_lpm: Floats
    suction_kpa: Floats
    drive_temp_c: Floats


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


def _draws(pump: PumpSet, rng: np.random.Generator) -> Draws:
    parts = [everyday(rng, pump.cal, pump.profile, pump.large_lpm, pump.use_factor)]
    parts += [EXTRAS[name](rng, pump.cal, pump.large_lpm) for name in pump.extras]
    start, length, flow = join(parts)
    here = np.ones(len(start), bool)
    for from_s, to_s in pump.quiet:
        here &= (start + length < from_s) | (start > to_s)
    return start[here], length[here], flow[here]


def segments_of(pump: PumpSet, rng: np.random.Generator) -> list[Segment]:
    """Stretches in which demand, leaks, tank, power and level stay the same."""
    end = pump.cal.length_s
    start, length, flow = _draws(pump, rng)
    steps = [(start, flow), (start + length, -flow)]
    leaks = np.array([(leak.from_s, leak.to_s, leak.lpm) for leak in pump.leaks]).reshape(-1, 3)
    marks = [
        *(g.from_s for g in pump.gas),
        *(x for c in pump.check for x in (c.from_s, c.to_s)),
        *(x for o in pump.outages for x in o),
        *leaks[:, 0],
        *leaks[:, 1],
    ]
    day_s = np.arange(0.0, end, 6 * 3600.0)
    edges = np.unique(
        np.clip(
            np.concatenate(
                [np.array([0.0, end]), *(s for s, _ in steps), np.array(marks, float), day_s]
            ),
            0.0,
            end,
        )
    )
    total = np.zeros(len(edges))
    for at, change in steps:
        np.add.at(total, np.searchsorted(edges, np.clip(at, 0.0, end)), change)
    draw = np.clip(np.cumsum(total), 0.0, MOST_DRAW * pump.large_lpm)
    draw[draw < 1e-9] = 0.0
    for from_s, to_s, lpm in leaks:
        draw[(edges >= from_s) & (edges < to_s)] += lpm
    level = rng.normal(0.0, 0.5 * LIFT_WANDER, len(day_s)) * pump.duty_boost_kpa
    lift = pump.lift_kpa + level[np.clip(np.searchsorted(day_s, edges, "right") - 1, 0, None)]
    return _segments(pump, edges, draw, lift)


def _segments(pump: PumpSet, edges: Floats, draw: Floats, lift: Floats) -> list[Segment]:
    whole = Tank(pump.tank_l, pump.charge_kpa)
    tanks = [whole, *(replace(whole, gas_share=g.share) for g in pump.gas)]
    tank_n = np.searchsorted(np.array([g.from_s for g in pump.gas]), edges, "right")
    power = np.ones(len(edges), bool)
    for from_s, to_s in pump.outages:
        power &= ~((edges >= from_s) & (edges < to_s))
    loss, share = np.zeros(len(edges)), np.ones(len(edges))
    for c in pump.check:
        on = (edges >= c.from_s) & (edges < c.to_s)
        loss[on], share[on] = c.lpm, c.share
    return [
        Segment(begin, end, lpm, tanks[n], on, head, back, of_stops)
        for begin, end, lpm, n, on, head, back, of_stops in zip(
            edges[:-1].tolist(),
            edges[1:].tolist(),
            draw.tolist(),
            tank_n.tolist(),
            power.tolist(),
            lift.tolist(),
            loss.tolist(),
            share.tolist(),
            strict=False,
        )
    ]


def run_pump(pump: PumpSet, rng: np.random.Generator) -> Phases:
    """Simulate a pump set through all its weeks."""
    motor = motor_of(pump)
    controller = Controller(
        pump.set_kpa,
        pump.band_kpa,
        pump.boost_kpa,
        pump.min_hz,
        pump.max_hz,
        pump.ramp_s,
        pump.no_flow_s,
        pump.sleep_lpm,
        pump.limit_a,
    )
    rig = Rig(pump.model.curve, pump.suction_kpa, motor.magnetising_a, motor.load_a, controller)
    return simulate(rig, segments_of(pump, rng), rng)


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
    pick = {
        name: phases.column(name)[row]
        for name in (
            "from_s",
            "stored_l",
            "stored_l_per_s",
            "volume_l",
            "gas",
            "pressure_kpa",
            "dip_kpa",
            "frequency_hz",
            "lead_hz",
            "speed_tau_s",
            "flow_lpm",
            "runs",
            "back_lpm",
            "back_l",
        )
    }
    since = at_s - pick["from_s"]
    stored = pick["stored_l"] + pick["stored_l_per_s"] * since
    settled = pick["pressure_kpa"] + pick["dip_kpa"] * np.exp(-since / 1.5)
    by_stored = np.isfinite(stored)
    safe = np.where(by_stored, stored, 1.0)
    sunk = pressure_of_stored_kpa(safe, pick["volume_l"], pick["gas"], PIPE_L_PER_KPA)
    pressure = np.maximum(np.where(by_stored, sunk, settled), 0.0)
    hz = pick["frequency_hz"] + pick["lead_hz"] * np.exp(-since / pick["speed_tau_s"])
    running = pick["runs"] > 0
    hz = np.where(running, np.clip(hz, min(pump.min_hz, 5.0), pump.max_hz), 0.0)
    flow = np.where(running, pick["flow_lpm"], 0.0)
    back_l = pick["back_l"] + pick["back_lpm"] / 60 * since
    return _electrical(pump, at_s, pressure, hz, flow, source_v, back_l, rng)


def _electrical(
    pump: PumpSet,
    at_s: Floats,
    pressure: Floats,
    hz: Floats,
    flow: Floats,
    source_v: Floats,
    back_l: Floats,
    rng: np.random.Generator,
) -> Signals:
    motor, curve = motor_of(pump), pump.model.curve
    factor = np.ones(len(at_s))
    if pump.replaced:
        hz = np.where(at_s < pump.replaced[0], hz * pump.replaced[1], hz)
        factor = np.where(at_s < pump.replaced[0], pump.replaced[2], 1.0)
    torque = _torque(curve, flow, hz)
    drag = np.zeros(len(at_s))
    for from_s, per_week in pump.drag:
        drag += np.maximum(at_s - from_s, 0.0) / WEEK_S * per_week
    current = motor.current_a(torque, hz, drag) * factor
    current = current * (1 + rng.normal(0.0, 0.006, len(at_s)))
    power = motor.input_kw(torque, hz, drag)
    full = float(motor.input_kw(1.0, curve.rated_hz))
    pf = input_power_factor(power / full)
    minutes = np.arange(len(source_v)) * MINUTE_S
    flicker = rng.normal(0, FLICKER, len(at_s)) * source_v.mean()
    source = np.interp(at_s, minutes, source_v) + flicker
    volts = terminal_volts(source, power, pf, _loop_ohm(pump, at_s, rng), pump.supply_phases)
    amps = input_current_a(power, pf, volts, pump.supply_phases)
    suction = pump.suction_kpa - 0.004 * flow**1.5 + BACK_RISE_KPA * (1 - np.exp(-back_l))
    temp = _ambient_c(pump, at_s) + LOADED_RISE_C * power / full
    return Signals(at_s, pressure, hz, current, volts, amps, flow, suction, temp)


def _loop_ohm(pump: PumpSet, at_s: Floats, rng: np.random.Generator) -> Floats:
    ohm = np.full(len(at_s), wire_loop_ohm(pump.wire_mm2, pump.wire_m) + CONTACT_OHM)
    for from_s, extra, per_s in pump.joints:
        ohm += np.where(at_s >= from_s, extra + per_s * (at_s - from_s), 0.0)
        if per_s > 0:  # a joint that heats also makes poor and restless contact
            ohm *= np.where(at_s >= from_s, 1 + rng.normal(0, 0.04, len(at_s)), 1.0)
    loop: Floats = np.maximum(ohm, 0.0)
    return loop


def _ambient_c(pump: PumpSet, at_s: Floats) -> Floats:
    """Temperature about the drive: warmest at three in the afternoon, more so in a hot house."""
    swing = 4 + 0.35 * pump.log.hot_c
    hour = pump.cal.local_hour(at_s) % 24
    warmth: Floats = 19 + pump.log.hot_c + swing * np.cos((hour - 15) / 24 * 2 * np.pi)
    return warmth


def _torque(curve: PumpCurve, flow: Floats, hz: Floats) -> Floats:
    return np.where(hz > 0, curve.torque_share(flow, hz), 0.0)


def averaged(signals: Signals, step_s: float) -> Signals:
    """Means over whole steps, stamped at the step's start, as some loggers write them."""
    block = np.floor(signals.at_s / step_s).astype(np.int64)
    first = np.flatnonzero(np.diff(block, prepend=block[0] - 1))
    count = np.diff(np.append(first, len(block)))
    means = {
        name: np.add.reduceat(getattr(signals, name), first) / count
        for name in signals.__dataclass_fields__
    }
    return replace(Signals(**means), at_s=(block[first] * step_s).astype(np.float64))


def logged(pump: PumpSet, signals: Signals, rng: np.random.Generator) -> dict[str, Floats]:
    """What the logger wrote: inner units, with sensor noise, not yet rounded.

    Returns
    -------
    dict of channel -> ndarray; ``at_s`` and the channels of the pump's ``LogSpec``.
    """
    n = len(signals.at_s)
    pressure = np.maximum(signals.pressure_kpa + rng.normal(0.0, 0.35, n), 0.0)
    channels = {
        "at_s": signals.at_s,
        "pressure": pressure,
        "frequency": np.where(
            signals.frequency_hz > 0, signals.frequency_hz + rng.normal(0.0, 0.05, n), 0.0
        ),
        "current": signals.current_a,
        "voltage": signals.voltage_v,
        "input_current": signals.input_current_a * (1 + rng.normal(0.0, 0.008, n)),
        "flow": signals.flow_lpm * (1 + rng.normal(0.0, 0.01, n)),
        "suction": np.maximum(signals.suction_kpa + rng.normal(0.0, 0.5, n), 0.0),
        "temp": signals.drive_temp_c + rng.normal(0.0, 0.2, n),
    }
    if pump.log.is_alternate is not None:
        leads = (pump.cal.local_hour(signals.at_s) // 24).astype(int) % 2 == pump.log.is_alternate
        for name in ("frequency", "current", "input_current", "flow"):
            channels[name] = np.where(leads, channels[name], 0.0)
    if pump.log.shut_from_s is not None:
        on = signals.at_s < pump.log.shut_from_s
        for name in ("pressure", "frequency", "current", "voltage", "input_current", "flow"):
            channels[name] = np.where(on, channels[name], 0.0)
    keep = ("at_s", *pump.log.channels)
    return {name: channels[name] for name in keep}


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
    phases = run_pump(pump, for_water)
    if not pump.log.is_averaged:
        signals = observe(pump, phases, grid_s(pump, for_log), source_v, for_log)
        return logged(pump, signals, for_log)
    step = pump.log.intervals[0][1]
    fine = np.arange(0.0, pump.cal.length_s, AVERAGING_STEP_S)
    return logged(pump, averaged(observe(pump, phases, fine, source_v, for_log), step), for_log)
