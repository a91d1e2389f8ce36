"""Faults of what a pump delivers: it runs dry, gives too little, or hunts; and their like.

Sizes, mild and strong, and why:

- Well that gives less than is asked: runs dry late in a long watering and comes back (the level
  would settle 15-25 % below the intake), or soon after its start (60-90 % below).
- Prime lost for a day; one gulp of air of 15 s.
- Wrong rotation: 84-88 % or 60-70 % of the setting at top speed without any draw (a pump turned
  backwards gives about half its head or less: common practice).
- Worn pump end, blocked suction screen: 80-86 % or 64-72 % of the setting at the large flow (a
  technician calls a tenth short a complaint).
- Low volts: evenings at about 83 % or 77 % of nominal hold the drive back to 91 or 85 % of speed.
- Hunting: swings of 4.5-5.5 % (14-20 s) or 10-13 % of the setting (8-12 s).
"""

import numpy as np

from sample_data.catalogue import Leak, PumpSet
from sample_data.faults import HOUR_S, Effect, Span, pick
from sample_data.ills import Gulps, Hunting, PumpEnd, Well
from sample_data.supply import Sag

INTAKE_M = 8.0
WELL_TAU_S = 1500.0
WATERING_SHARE = 0.85  # of the large flow


def weak_well(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Give less than a long watering takes, from a day on; the drive guards against dry run."""
    below = pick(rng, span, (1.15, 1.25), (1.6, 1.9))
    rise = below * INTAKE_M / (WATERING_SHARE * pump.large_lpm)
    pump.well = Well(span.from_s, rise, WELL_TAU_S, INTAKE_M)
    pump.dry_trip_s, pump.dry_wait_s = pick(rng, span, (20, 30), (40, 60)), 600.0


def lost_prime(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Suck air from a start on until somebody primes the pump."""
    pump.dry.append((span.from_s, span.to_s))
    pump.dry_trip_s, pump.dry_wait_s = float(rng.uniform(15, 25)), 1800.0


def gulp(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Suck air once for 15 s in a long draw."""
    pump.gulps.append(Gulps(span.from_s, span.to_s, 1, 15.0))


def _head_at(pump: PumpSet, share: float, flow_lpm: float) -> float:
    """Share of shut-off head that leaves so much of the setting at top speed and a demand."""
    curve = pump.model.curve
    eases = 1 + curve.bend * flow_lpm**2 / pump.set_kpa
    return (share * pump.set_kpa * eases - pump.suction_kpa + pump.lift_kpa) / curve.shutoff_kpa


def wrong_rotation(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Turn backwards: some head is left, less flow, stable from the first start."""
    head = _head_at(pump, pick(rng, span, (0.84, 0.88), (0.60, 0.70)), 0.0)
    pump.ends.append(PumpEnd(span.from_s, span.to_s, (head, head), (1.4, 1.4), (0.8, 0.8)))


def worn(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Wear the pump end a little more every week: less head at the same speed, less load."""
    head = _head_at(pump, pick(rng, span, (0.80, 0.86), (0.64, 0.72)), pump.large_lpm)
    least = 1.03 * pump.duty_boost_kpa / pump.model.curve.shutoff_kpa
    last = max(head, least)
    torque = (0.99, 1 - 0.35 * (1 - last))
    pump.ends.append(PumpEnd(span.from_s, span.to_s, (0.97, last), (1.0, 1.0), torque))


def blocked_screen(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Block the suction screen more and more: fine at low flow, short at the large one."""
    share = pick(rng, span, (0.80, 0.86), (0.64, 0.72))
    curve = pump.model.curve
    room = curve.shutoff_kpa + pump.suction_kpa - pump.lift_kpa - share * pump.set_kpa
    bend = room / (share * curve.bend * pump.large_lpm**2)
    pump.ends.append(PumpEnd(span.from_s, span.to_s, bend=(1.0, bend)))


def starved_of_volts(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Need nearly full speed, at the end of a line that sags every evening."""
    curve = pump.model.curve
    pump.needs_volts = True
    pump.large_lpm = curve.flow_lpm(pump.duty_boost_kpa, 0.985 * curve.rated_hz)
    depth = pick(rng, span, (0.185, 0.20), (0.235, 0.25))
    pump.sags.append(Sag(span.from_s, span.to_s, depth, seed=7))


def hunts(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let the pressure loop swing, its ramp set too fast."""
    swing = pick(rng, span, (0.045, 0.055), (0.10, 0.13)) * pump.set_kpa
    period = pick(rng, span, (14, 20), (8, 12))
    pump.hunting.append(Hunting(span.from_s, span.to_s, swing, period))
    pump.ramp_s, pump.register["ramp"] = 1.5, "fast"


def open_hydrant(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Open a hydrant for half an hour: more than the pump can give."""
    lasts = float(rng.uniform(25, 40)) * 60
    pump.leaks.append(Leak(span.from_s, span.from_s + lasts, 3.5 * pump.model.curve.best_flow_lpm))


def fill_main(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Switch off and drain the main for work, then fill it."""
    back = span.from_s + float(rng.uniform(2, 3)) * HOUR_S
    filled = back + float(rng.uniform(11, 18)) * 60
    pump.off.append((span.from_s, back))
    pump.leaks.append(Leak(span.from_s, back, 9.0))
    pump.leaks.append(Leak(back, filled, 2.4 * pump.model.curve.best_flow_lpm))


def more_zones(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let more taps be open at a time than the pump can feed; its motor has room for that."""
    pump.most_draw = 1.8
    pump.load_share *= 0.72  # at the end of the curve it takes 1.3 to 1.4 times as much


def open_motor(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Leave the isolator between drive and motor open for some hours."""
    pump.open_motor.append((span.from_s, span.from_s + float(rng.uniform(4, 6)) * HOUR_S))


def off_by_hand(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Switch the pump off for some hours by day."""
    pump.off.append((span.from_s, span.from_s + float(rng.uniform(3, 4)) * HOUR_S))


def power_cut(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Lose the supply for two hours at night, the logger with it."""
    pump.outages.append((span.from_s, span.from_s + float(rng.uniform(1.5, 2.4)) * HOUR_S))


DELIVERY: tuple[Effect, ...] = (
    weak_well,
    lost_prime,
    gulp,
    wrong_rotation,
    worn,
    blocked_screen,
    starved_of_volts,
    hunts,
    open_hydrant,
    fill_main,
    more_zones,
    open_motor,
    off_by_hand,
    power_cut,
)
