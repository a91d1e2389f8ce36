"""What can be built into an invented pump set: faults with their causes and sizes, and oddities.

Sizes, mild and strong, and why:

- Lost tank charge: 15-21 % of the gas left (falls about 5 times faster; a valve core that weeps)
  or 3-5.5 % (20 to 30 times; a torn bladder with a little trapped air).
- Leak that restarts the pump from a sound tank: 0.14-0.24 L/min (a silent toilet leaks from
  about 0.08 L/min) or, never letting it stop, 25-35 % of best flow (a broken sprinkler passes
  20-75 L/min).
- Leak that short-cycles: one start every 210-250 s (15 to 17 an hour) or every 75-95 s.
- Check valve: restart after 25-40 min or after 3-6 min on the stops that leak.
- Supply wiring: 7.5-8.5 % of nominal volts lost at the large flow, or a joint that starts at 1.5 %
  and reaches 10-11.5 % (design practice allows 3 % for a branch and 5 % in all).
- Supply source: evenings 7.5-8.5 % or 12.5-14 % under nominal (tolerable range ends near -8 %).
- Rising load: 0.8-1.0 or 1.8-2.0 % of current a week (from 1 % a week it is worth a visit).
- High load: 94.5-97.5 or 104-108 % of service-factor amps at the large flow.
- Data gap: silences of 6-9 h on three days, or silence from some days before the end.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sample_data.catalogue import CheckLoss, GasLoss, Leak, PumpSet
from sample_data.plant import PSI, Tank, input_current_a, input_power_factor
from sample_data.sampling import controller_of, motor_of
from sample_data.supply import Generator, Sag, wire_loop_ohm

HOUR_S = 3600.0
DAY_S = 86400.0
RESTART_OVERHEAD_S = 16.0  # ramp, refill, no-flow time and ramp down of one short run


@dataclass(frozen=True)
class Span:
    """When a fault acts, and its size, ``mild`` or ``strong``."""

    from_s: float
    to_s: float
    size: str


Effect = Callable[[PumpSet, Span, np.random.Generator], None]


def pick(
    rng: np.random.Generator, span: Span, mild: tuple[float, float], strong: tuple[float, float]
) -> float:
    """Draw a size from its band."""
    return float(rng.uniform(*(strong if span.size == "strong" else mild)))


def stop_to_restart_l(pump: PumpSet) -> float:
    """Water a whole tank gives from the stop down to the restart [L]."""
    tank = Tank(pump.tank_l, pump.charge_kpa)
    control = controller_of(pump)
    return tank.drawdown_l(control.stop_kpa(tank), pump.set_kpa - pump.band_kpa)


def lose_charge(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Leave little gas in the tank."""
    pump.gas.append(GasLoss(span.from_s, pick(rng, span, (0.15, 0.21), (0.03, 0.055))))
    if span.to_s < pump.cal.length_s:
        pump.gas.append(GasLoss(span.to_s, 1.0))


def leak(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Leak steadily downstream."""
    best = pump.model.curve.best_flow_lpm
    lpm = pick(rng, span, (0.14, 0.24), (0.25 * best, 0.35 * best))
    pump.leaks.append(Leak(span.from_s, span.to_s, lpm))


def cycling_leak(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Leak so much that the pump starts too often, with a sound tank."""
    every_s = pick(rng, span, (210, 250), (75, 95)) - RESTART_OVERHEAD_S
    lpm = min(stop_to_restart_l(pump) / every_s * 60, 0.9 * pump.sleep_lpm)
    pump.leaks.append(Leak(span.from_s, span.to_s, lpm))


def check_valve(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let water back through the idle pump on two stops of three."""
    after_s = pick(rng, span, (25 * 60, 40 * 60), (3 * 60, 6 * 60))
    lpm = stop_to_restart_l(pump) / after_s * 60
    pump.check.append(CheckLoss(span.from_s, span.to_s, lpm, 2 / 3))


def full_input_a(pump: PumpSet) -> float:
    """Supply current at the large flow and nominal volts [A]."""
    motor, curve = motor_of(pump), pump.model.curve
    hz = min(curve.speed_hz(pump.large_lpm, pump.duty_boost_kpa), pump.max_hz)
    power = motor.input_kw(curve.torque_share(pump.large_lpm, hz), hz)
    pf = input_power_factor(power / motor.input_kw(1.0, curve.rated_hz))
    return float(input_current_a(power, pf, pump.supply_volts, pump.supply_phases))


def _ohm_for_drop(pump: PumpSet, share: float) -> float:
    return share * pump.supply_volts / full_input_a(pump)


def thin_wire(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Run the branch circuit in a wire too thin for its length; the register knows it."""
    ohm = _ohm_for_drop(pump, pick(rng, span, (0.075, 0.085), (0.11, 0.13)))
    pump.wire_mm2 = 3.309
    pump.wire_m = round(pump.wire_m * ohm / wire_loop_ohm(pump.wire_mm2, pump.wire_m), 1)


def loose_joint(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Add a steady contact resistance."""
    ohm = _ohm_for_drop(pump, pick(rng, span, (0.06, 0.07), (0.11, 0.13)))
    pump.joints.append((span.from_s, ohm, 0.0))


def heating_joint(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Add a contact resistance that grows from week to week."""
    first = _ohm_for_drop(pump, 0.015)
    last = _ohm_for_drop(pump, pick(rng, span, (0.06, 0.07), (0.10, 0.115)))
    lasts = max(span.to_s - span.from_s, DAY_S)
    pump.joints.append((span.from_s, first, (last - first) / lasts))


def low_evenings(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let the source sag every evening, alike at all sites of the region."""
    depth = pick(rng, span, (0.085, 0.095), (0.13, 0.14))
    pump.sags.append(Sag(span.from_s, span.to_s, depth, seed=7))


def drag(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let mechanical drag grow: a share of the current at the large flow each week."""
    pump.load_share = float(rng.uniform(0.85, 0.87))
    per_week = pick(rng, span, (0.008, 0.010), (0.018, 0.020))
    motor = motor_of(pump)
    at_large = pump.load_share * pump.service_factor_amps
    load_part = float(np.sqrt(at_large**2 - motor.magnetising_a**2))
    pump.drag.append((span.from_s, per_week * at_large**2 / load_part))


def overloaded(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Load the motor near or over its service-factor amps at the large flow."""
    pump.load_share = pick(rng, span, (0.945, 0.975), (1.04, 1.08))


def clipped(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Need more current than the overload setting: the drive holds speed back."""
    pump.load_share = pick(rng, span, (1.06, 1.08), (1.10, 1.14))
    setting = round(0.98 * pump.service_factor_amps, 1)
    pump.register["overload_setting_amps"] = setting
    pump.limit_a = setting


def short_silences(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Lose some hours of log on three days of the last week."""
    for back in rng.choice(np.arange(1, 7), 3, replace=False):
        start = pump.cal.at(float(back), float(rng.uniform(5, 14)))
        pump.log.gaps.append((start, start + float(rng.uniform(6, 9)) * HOUR_S))


def silence(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Lose the log from a time on."""
    pump.log.gaps.append((span.from_s, span.to_s + DAY_S))


def overload_over_set(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Set the motor overload above the service-factor amps."""
    factor = pick(rng, span, (1.06, 1.10), (1.20, 1.28))
    pump.register["overload_setting_amps"] = round(pump.service_factor_amps * factor, 1)


def charge_over_set(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Charge the tank above 90 % of the set pressure: it is empty before the restart."""
    pump.charge_kpa = (
        round(pick(rng, span, (0.87, 0.89), (0.945, 0.965)) * pump.set_kpa / PSI) * PSI
    )


def charge_under_set(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Charge the tank to well under half of the set pressure."""
    pump.charge_kpa = round(pick(rng, span, (0.40, 0.45), (0.2, 0.3)) * pump.set_kpa / PSI) * PSI


def low_least_speed(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Allow a well motor to turn slower than its thrust bearing stands."""
    pump.min_hz = 20.0 if span.size == "mild" else 10.0


def over_speed(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let the motor run above its nameplate frequency, and need it."""
    pump.max_hz = 1.1 * pump.model.curve.rated_hz
    need = 1.045 * pump.model.curve.rated_hz
    pump.large_lpm = pump.model.curve.flow_lpm(pump.duty_boost_kpa, need)
    pump.load_share = float(rng.uniform(0.985, 1.0))


def fast_ramp(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Set the fast ramp where little water is used and the tank is small."""
    pump.ramp_s, pump.no_flow_s = 1.5, float(rng.uniform(4.5, 6.0))
    pump.register["ramp"] = "fast"


def long_bare_lead(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Run a long motor lead without an output filter."""
    pump.lead_m, pump.has_filter = round(float(rng.uniform(28, 45)), 0), False


def thin_wire_rule(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Nothing more: the thin wire itself is what the register shows."""


def wrong_motor(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Register the nameplate of another, far smaller motor."""
    share = pick(rng, span, (0.50, 0.52), (0.40, 0.44))
    pump.register |= {
        "motor_kw": 0.7457,
        "rated_amps": round(pump.rated_amps * share, 1),
        "service_factor_amps": round(pump.service_factor_amps * share, 1),
        "overload_setting_amps": round(pump.service_factor_amps * share, 1),
    }
    pump.load_share = 0.84


def motor_for_higher_volts(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Nothing more: a 230 V motor stands on a 208 V supply by the scenario's choice of volts."""


def winterised(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Drain the system and switch off: every channel reads zero."""
    pump.log.shut_from_s = span.from_s


def vacant(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Nobody draws water."""
    pump.quiet.append((span.from_s, span.to_s))


def outage(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Lose the supply for some minutes, then live on a generator for some hours."""
    dark = float(rng.uniform(240, 600))
    pump.outages.append((span.from_s, span.from_s + dark))
    until = span.from_s + dark + float(rng.uniform(5, 8)) * HOUR_S
    pump.generators.append(Generator(span.from_s + dark, until, 0.99, 0.03))


def new_pump(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Replace the pump: speed and current at like pressure step at once."""
    pump.replaced = (span.from_s, float(rng.uniform(1.025, 1.04)), float(rng.uniform(1.06, 1.10)))


def hot_house(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Stand in a hot tin pump house; the drive never folds back."""
    pump.log.hot_c = 18.0


def low_by_nature(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Nothing more: the trickle and the small tank are the scenario's own."""


CORE: tuple[Effect, ...] = (
    lose_charge,
    leak,
    cycling_leak,
    check_valve,
    thin_wire,
    loose_joint,
    heating_joint,
    low_evenings,
    drag,
    overloaded,
    clipped,
    short_silences,
    silence,
    overload_over_set,
    charge_over_set,
    charge_under_set,
    low_least_speed,
    over_speed,
    fast_ramp,
    long_bare_lead,
    thin_wire_rule,
    wrong_motor,
    motor_for_higher_volts,
    winterised,
    vacant,
    outage,
    new_pump,
    hot_house,
    low_by_nature,
)
