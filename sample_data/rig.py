"""The invented drive as set, and where pump and system meet at a demand."""

from dataclasses import dataclass, replace

import numpy as np

from sample_data.plant import PumpCurve, Tank

STIFF_L_PER_KPA = 0.012  # below this the drive overshoots into its own sleep test
CLIP_STEPS = 24
NONE_A = 1e9  # a current limit that never acts
RELIEF_KPA = 170.0  # above the setting, where the relief valve is full open: ours


@dataclass(frozen=True)
class Controller:
    """A drive's pressure control as set.

    Attributes
    ----------
    set_kpa, band_kpa, boost_kpa : float
        Set pressure, how far below it the drive restarts, how far above it goes before sleep.
    min_hz, max_hz : float
        Speed limits. [Hz]
    ramp_s : float
        Time from rest to speed. [s]
    no_flow_s : float
        How long no flow must last before sleep. [s]
    sleep_lpm : float
        Flow that still counts as none. [L/min]
    limit_a : float
        Current the drive will not exceed: it holds speed back instead. [A]
    overload_a, overload_tau_s : float
        A motor overload that trips, and its heating time; an endless one never does. [A, s]
    dry_trip_s, dry_wait_s : float
        Dry run until the drive stops, and how long until it tries again. [s]
    """

    set_kpa: float
    band_kpa: float
    boost_kpa: float
    min_hz: float
    max_hz: float
    ramp_s: float
    no_flow_s: float
    sleep_lpm: float
    limit_a: float = NONE_A
    overload_a: float = NONE_A
    overload_tau_s: float = 300.0
    dry_trip_s: float = np.inf
    dry_wait_s: float = 1200.0

    def sleep_limit_lpm(self, tank: Tank) -> float:
        """Flow below which the drive goes to sleep with this tank [L/min].

        A stiff system overshoots while water is still drawn, the drive slows to nothing and
        sleeps, and pressure is gone at once: up to six times the flow of a good tank. Common
        experience with lost charge; the numbers are ours.
        """
        stiff = STIFF_L_PER_KPA / tank.l_per_kpa(self.set_kpa)
        return self.sleep_lpm * min(6.0, max(1.0, stiff + 0.5))

    def stop_kpa(self, tank: Tank) -> float:
        """Pressure left by the stop: the boost plus what the last turns push in [kPa]."""
        return (
            self.set_kpa
            + self.boost_kpa
            + min(0.12 * self.set_kpa, 0.02 / tank.l_per_kpa(self.set_kpa))
        )


@dataclass(frozen=True)
class Segment:
    """A stretch of time in which nothing outside the pump set changes.

    ``curve`` is the pump end as it then is (``None``: as published), ``ceiling_hz`` what heat or
    low volts leave of the top speed, ``offset_kpa`` what the drive's sensor reads too much.
    ``code`` is a trip the drive shows while it has no power to the motor. ``is_full`` and
    ``is_idle``: the sensor reads nothing, so that the drive runs flat out, or always a little
    too much, so that it slows down and stays off.
    """

    from_s: float
    to_s: float
    draw_lpm: float
    tank: Tank
    has_power: bool
    lift_kpa: float
    check_loss_lpm: float
    check_share: float
    curve: PumpCurve | None = None
    ceiling_hz: float = np.inf
    offset_kpa: float = 0.0
    code: int = 0
    is_dry: bool = False
    is_full: bool = False
    is_idle: bool = False


@dataclass(frozen=True)
class Duty:
    """Where pump and system meet for a demand."""

    frequency_hz: float
    pressure_kpa: float
    flow_lpm: float


@dataclass(frozen=True)
class Rig:
    """The pump with its pressures and the motor's current at a duty."""

    curve: PumpCurve
    suction_kpa: float
    magnetising_a: float
    load_a: float
    controller: Controller

    def current_a(self, flow_lpm: float, frequency_hz: float) -> float:
        """Motor current at a duty, without drag [A]."""
        torque = float(self.curve.torque_share(flow_lpm, frequency_hz))
        torque *= self.curve.torque_share_left
        weak = max(1.0, frequency_hz / self.curve.rated_hz)
        return float(np.hypot(self.magnetising_a / weak, self.load_a * torque * weak))

    def duty(self, draw_lpm: float, lift_kpa: float) -> Duty:
        """Speed, pressure and flow the drive settles at for a demand at set pressure."""
        c = self.controller
        boost = c.set_kpa - self.suction_kpa + lift_kpa
        hz = self.curve.speed_hz(draw_lpm, boost)
        duty = Duty(hz, c.set_kpa, draw_lpm)
        if hz > c.max_hz:
            duty = self.held_back(draw_lpm, lift_kpa, c.max_hz)
        if c.limit_a < NONE_A and self.current_a(duty.flow_lpm, duty.frequency_hz) > c.limit_a:
            low, high = c.min_hz, duty.frequency_hz
            for _ in range(CLIP_STEPS):
                middle = (low + high) / 2
                trial = self.held_back(draw_lpm, lift_kpa, middle)
                if self.current_a(trial.flow_lpm, middle) > c.limit_a:
                    high = middle
                else:
                    low = middle
            duty = self.held_back(draw_lpm, lift_kpa, low)
        return duty

    def in_segment(self, seg: Segment) -> "Rig":
        """The rig as a segment leaves it."""
        c = self.controller
        control = replace(
            c, set_kpa=c.set_kpa - seg.offset_kpa, max_hz=min(c.max_hz, seg.ceiling_hz)
        )
        return replace(self, curve=seg.curve or self.curve, controller=control)

    def flat_out(self, draw_lpm: float, lift_kpa: float) -> Duty:
        """The duty at top speed with a relief valve that opens above the setting."""
        c = self.controller
        relief = c.set_kpa + RELIEF_KPA
        boost = relief - self.suction_kpa + lift_kpa
        flow = self.curve.flow_lpm(boost, c.max_hz)
        if flow > draw_lpm:
            return Duty(c.max_hz, relief, flow)
        free = replace(c, set_kpa=relief)
        return replace(self, controller=free).held_back(draw_lpm, lift_kpa, c.max_hz)

    def held_back(self, draw_lpm: float, lift_kpa: float, frequency_hz: float) -> Duty:
        """The duty at a speed too low to hold the setting.

        Taps give less as pressure sinks, ``q ~ sqrt(p)``, which keeps the balance linear in p.
        """
        c = self.controller
        head = self.curve.shutoff_kpa * (frequency_hz / self.curve.rated_hz) ** 2
        ease = 1 + self.curve.bend * draw_lpm**2 / c.set_kpa
        pressure = max(0.0, min(c.set_kpa, (head + self.suction_kpa - lift_kpa) / ease))
        return Duty(frequency_hz, pressure, draw_lpm * (pressure / c.set_kpa) ** 0.5)
