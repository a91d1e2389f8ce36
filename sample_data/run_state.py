"""What a simulated pump set carries from moment to moment: water stored, motor heat, trips."""

import numpy as np

from sample_data.plant import PumpCurve, Tank, pressure_of_stored_kpa
from sample_data.protection import OVERLOAD, OVERLOAD_WAIT_S, Overload
from sample_data.rig import NONE_A, Duty, Rig, Segment

REFILL_BELOW = 0.7  # of the setting: from there up, filling the tank again takes its time

Speed = tuple[float, float, float, float]  # Hz, lead in Hz, time constant in s, flow in L/min


class RunState:
    """The state carried from segment to segment while a pump set is simulated.

    ``rows`` are the phases so far, ``t`` where they end. [s]
    """

    def __init__(self, rig: Rig, tank: Tank, rng: np.random.Generator) -> None:
        self.whole = self.rig = rig
        self.rng = rng
        self.rows: list[tuple[float, ...]] = []
        self.t = 0.0
        self.running = False
        self.hz = 0.0
        self.flow = 0.0
        self.quiet_s = 0.0
        self.back_fast, self.back_slow, self.back_until = 0.0, 0.0, 0.0
        self.back_l = 0.0
        self.lift_kpa = 0.0
        self.dry_s = 0.0
        self.code, self.code_until = 0, 0.0
        c = rig.controller
        self.overload = Overload(c.overload_a, c.overload_tau_s) if c.overload_a < NONE_A else None
        self.state: tuple[PumpCurve | None, float, float] = (None, np.inf, 0.0)
        self.stored = tank.stored_l(rig.controller.stop_kpa(tank))
        self.set_tank(tank)

    def enter(self, seg: Segment) -> None:
        """Take on what a segment changes: tank, pump end, top speed, sensor."""
        self.lift_kpa = seg.lift_kpa
        state = (seg.curve, seg.ceiling_hz, seg.offset_kpa)
        is_other = state != self.state
        if is_other:
            self.rig, self.state = self.whole.in_segment(seg), state
        if is_other or seg.tank is not self.tank:
            self.change_tank(seg.tank)

    def set_tank(self, tank: Tank) -> None:
        """Work out what a tank holds at the pressures that matter."""
        c = self.rig.controller
        self.tank = tank
        self.stored_set = tank.stored_l(c.set_kpa)
        self.stored_restart = tank.stored_l(c.set_kpa - c.band_kpa)
        self.stored_refill = tank.stored_l(REFILL_BELOW * c.set_kpa)
        self.stored_least = tank.stored_l(0.0)
        self.sleep_lpm = c.sleep_limit_lpm(tank)
        self.capacity = tank.l_per_kpa(c.set_kpa)

    def change_tank(self, tank: Tank) -> None:
        """Keep the pressure through a change of the tank's gas."""
        old = self.tank
        pressure = float(
            pressure_of_stored_kpa(self.stored, old.volume_l, old.gas, old.pipe_l_per_kpa)
        )
        self.set_tank(tank)
        self.stored = tank.stored_l(max(pressure, 0.0))

    def add_row(
        self,
        water: tuple[float, float],
        pressure: tuple[float, float],
        speed: Speed,
        runs: bool,
        back: tuple[float, float] = (0.0, 0.0),
        torque: float = 1.0,
    ) -> None:
        """Add a phase that begins now; columns as in ``phases.COLUMNS``."""
        gas = (self.tank.volume_l, self.tank.gas)
        end = (float(runs), *back, torque, float(self.code), self.lift_kpa)
        self.rows.append((self.t, *water, *gas, *pressure, *speed, *end))

    def follow_stored(self, rate_l_s: float, speed: Speed, torque: float = 1.0) -> None:
        """Run while stored water changes."""
        self.add_row((self.stored, rate_l_s), (0.0, 0.0), speed, True, torque=torque)

    def settle(self, pressure: float, dip: float, speed: Speed) -> None:
        """Run while pressure settles from a dip."""
        torque = self.rig.curve.torque_share_left
        self.add_row((np.nan, 0.0), (pressure, dip), speed, True, torque=torque)

    def let_out(self, seg: Segment, until: float, back_lpm: float = 0.0) -> None:
        """Give stored water to demand, and back through the pump, while the pump stands."""
        out = (seg.draw_lpm + back_lpm) / 60
        back = (back_lpm, self.back_l)
        self.add_row((self.stored, -out), (0.0, 0.0), (0.0, 0.0, 1.0, 0.0), False, back)
        self.stored = max(self.stored_least, self.stored - out * (until - self.t))
        self.back_l += back_lpm / 60 * (until - self.t)
        if self.overload:
            self.overload.pass_time(0.0, until - self.t)
        self.t = until

    def amps(self, duty: Duty) -> float:
        """Motor current at a duty, where an overload asks for it [A]."""
        return self.rig.current_a(duty.flow_lpm, duty.frequency_hz) if self.overload else 0.0

    def load_until(self, until: float, amps: float) -> None:
        """Carry a steady current until then, or until the overload trips."""
        began, trips = self.t, np.inf
        if self.overload:
            trips = began + self.overload.trips_after_s(amps)
        self.t = max(began, min(until, trips))
        if self.overload:
            self.overload.pass_time(amps, self.t - began)
        if trips < until:
            self.trip(OVERLOAD, OVERLOAD_WAIT_S)

    def trip(self, code: int, wait_s: float) -> None:
        """Stop at once with a code; try again after a fixed wait."""
        self.running, self.hz, self.flow, self.quiet_s = False, 0.0, 0.0, 0.0
        self.code, self.code_until = code, self.t + wait_s

    def stand_tripped(self, seg: Segment) -> None:
        """Wait until the drive may try again."""
        self.let_out(seg, min(seg.to_s, self.code_until))
        if self.t >= self.code_until:
            self.code = 0
