"""How the invented drive runs its pump: holds the set pressure, sleeps at no flow, restarts.

From event to event: between two changes of demand the state follows a closed form (stored water
changes linearly, or pressure and speed settle exponentially), so weeks cost milliseconds.
"""

from collections.abc import Sequence

import numpy as np

from sample_data.phases import Phases
from sample_data.protection import DRY
from sample_data.rig import Rig, Segment
from sample_data.run_state import RunState

SETTLE_S = 1.5  # how fast pressure and speed settle after a change of demand
SHORT_DIP_SHARE = 0.30  # a dead tank lets pressure dip by no more than this share of the setting
REFILL_SHARE = 0.25  # of best flow: what the controller pumps into the tank after a restart
REACHED_SHARE = 0.985  # of the setting: below it the drive does not take no flow for an end
SLOWING_S = 10.0  # how slowly a drive comes down while it reads a little too much: ours
DRY_TORQUE = 0.30  # of the torque at no flow, when the pump turns in air and froth: ours


class _Run(RunState):
    """What the drive does next."""

    def rest(self, seg: Segment) -> None:
        """Stand still until demand brings the pressure to the restart, or the segment ends."""
        fast = self.t < self.back_until
        limit = min(seg.to_s, self.back_until) if fast else seg.to_s
        back = self.back_fast if fast else self.back_slow
        out = (seg.draw_lpm + back) / 60
        spare = self.stored - self.stored_restart
        hit = self.t + max(spare, 0.0) / out if out > 1e-9 else np.inf
        starts = seg.has_power and (hit < limit or spare <= 0)
        begins = hit if spare > 0 else self.t
        end = begins + 0.5 * self.rig.controller.ramp_s if starts else limit
        self.let_out(seg, end, back)
        if not starts:
            return
        self.running, self.quiet_s, self.hz = True, 0.0, self.rig.controller.min_hz
        if not seg.is_dry:
            self.fill(seg, 0.5 * self.rig.controller.ramp_s)

    def fill(self, seg: Segment, at_least_s: float) -> None:
        """Speed up and fill the tank to what the duty can hold."""
        rig, c = self.rig, self.rig.controller
        duty = rig.duty(seg.draw_lpm, seg.lift_kpa)
        target = self.tank.stored_l(duty.pressure_kpa)
        refill = rig.duty(seg.draw_lpm + REFILL_SHARE * rig.curve.best_flow_lpm, seg.lift_kpa)
        net = max(refill.flow_lpm - duty.flow_lpm, 0.05 * rig.curve.best_flow_lpm) / 60
        lasts = at_least_s + max(0.0, target - self.stored) / net
        self.back_l = 0.0
        self.follow_stored(
            (target - self.stored) / lasts,
            (refill.frequency_hz, self.hz - refill.frequency_hz, c.ramp_s / 3, refill.flow_lpm),
            rig.curve.torque_share_left,
        )
        began, before = self.t, self.stored
        self.hz, self.flow = refill.frequency_hz, duty.flow_lpm
        self.load_until(began + lasts, self.amps(refill))
        self.stored = before + (target - before) * (self.t - began) / lasts

    def run(self, seg: Segment) -> None:
        """Hold pressure; after no flow for long enough, boost and stop."""
        self.dry_s = 0.0
        rig, c = self.rig, self.rig.controller
        duty = rig.duty(seg.draw_lpm, seg.lift_kpa)
        reached = duty.pressure_kpa >= REACHED_SHARE * c.set_kpa
        if reached and self.stored < self.stored_refill:
            self.fill(seg, 0.0)
        if not self.running:
            return
        step = (duty.flow_lpm - self.flow) / 60 * 0.5 * SETTLE_S / self.capacity
        most = SHORT_DIP_SHARE * c.set_kpa
        dip = -min(most, max(-0.3 * most, step))
        state = (duty.frequency_hz, self.hz - duty.frequency_hz, SETTLE_S, duty.flow_lpm)
        self.settle(duty.pressure_kpa, dip, state)
        self.hz, self.flow = duty.frequency_hz, duty.flow_lpm
        self.stored = self.tank.stored_l(duty.pressure_kpa)
        amps = self.amps(duty)
        if seg.draw_lpm > self.sleep_lpm or not reached:
            self.quiet_s = 0.0
            self.load_until(seg.to_s, amps)
            return
        slow = (1 + seg.draw_lpm / self.sleep_lpm) * (c.sleep_lpm / self.sleep_lpm) ** 0.5
        need = c.no_flow_s * slow * float(self.rng.uniform(0.92, 1.08)) - self.quiet_s
        if self.t + need > seg.to_s:
            self.quiet_s += seg.to_s - self.t
            self.load_until(seg.to_s, amps)
            return
        self.load_until(self.t + max(need, 0.0), amps)
        if self.running:
            self.sleep(seg)

    def run_dry(self, seg: Segment) -> None:
        """Turn without water: pressure goes with demand, speed to the top; trip where guarded."""
        c = self.rig.controller
        if seg.draw_lpm <= 0 and self.stored > self.stored_restart:
            self.running, self.hz, self.flow, self.dry_s = False, 0.0, 0.0, 0.0
            return
        trips = self.t + c.dry_trip_s - self.dry_s
        end = min(seg.to_s, trips)
        out = seg.draw_lpm / 60
        speed = (c.max_hz, self.hz - c.max_hz, c.ramp_s / 2, 0.0)
        self.follow_stored(-out, speed, DRY_TORQUE)
        self.stored = max(self.stored_least, self.stored - out * (end - self.t))
        self.dry_s += end - self.t
        self.t, self.hz, self.flow = end, c.max_hz, 0.0
        if end >= trips:
            self.dry_s = 0.0
            self.trip(DRY, c.dry_wait_s)

    def run_flat_out(self, seg: Segment) -> None:
        """Run at top speed against the relief valve, as the reading says there is no pressure."""
        duty = self.rig.flat_out(seg.draw_lpm, seg.lift_kpa)
        lead = self.hz - duty.frequency_hz
        self.settle(duty.pressure_kpa, 0.0, (duty.frequency_hz, lead, SETTLE_S, duty.flow_lpm))
        self.running, self.hz, self.flow = True, duty.frequency_hz, duty.flow_lpm
        self.stored = self.tank.stored_l(duty.pressure_kpa)
        self.t = seg.to_s

    def stay_off(self, seg: Segment) -> None:
        """Slow down and stop, as the reading says there is pressure enough, whatever is drawn."""
        if not self.running:
            self.let_out(seg, seg.to_s)
            return
        c = self.rig.controller
        end = min(seg.to_s, self.t + 3 * SLOWING_S)
        speed = (c.min_hz, self.hz - c.min_hz, SLOWING_S, 0.0)
        self.follow_stored(-seg.draw_lpm / 60, speed, self.rig.curve.torque_share_left)
        lost = seg.draw_lpm / 60 * (end - self.t)
        self.stored = max(self.stored_least, self.stored - lost)
        self.t, self.running, self.hz, self.flow = end, False, 0.0, 0.0

    def sleep(self, seg: Segment) -> None:
        """Boost a little, ramp down to the least speed and let go."""
        c = self.rig.controller
        stop = c.stop_kpa(self.tank)
        boosted = self.rig.curve.speed_hz(seg.draw_lpm, stop - self.rig.suction_kpa + seg.lift_kpa)
        boosted = min(boosted, c.max_hz)
        self.settle(stop, c.set_kpa - stop, (boosted, self.hz - boosted, 0.8, seg.draw_lpm))
        self.t += 2.5
        self.settle(stop, 0.0, (c.min_hz, boosted - c.min_hz, 0.4, seg.draw_lpm))
        self.t += 0.8
        self.stored = self.tank.stored_l(stop)
        self.running, self.hz, self.flow = False, 0.0, 0.0
        self.seat_check_valve(seg)

    def seat_check_valve(self, seg: Segment) -> None:
        """Draw how the check valve seats at this stop: it leaks on a share of stops only."""
        self.back_fast = self.back_slow = 0.0
        if seg.check_loss_lpm <= 0:
            return
        loss = seg.check_loss_lpm * float(self.rng.lognormal(0.0, 0.45))
        if self.rng.random() > seg.check_share:
            loss *= float(self.rng.uniform(0.0, 0.06))
        self.back_fast, self.back_slow = 2.5 * loss, loss
        stored = self.stored - self.stored_restart
        self.back_until = self.t + 0.25 * stored / max(2.5 * loss / 60, 1e-6)

    def cut(self, seg: Segment) -> None:
        """Lose power, or trip for a reason outside: the pump stops where it is."""
        self.running, self.hz, self.flow = False, 0.0, 0.0
        self.back_fast = self.back_slow = 0.0
        self.code = seg.code
        self.rest(seg)
        self.code = 0

    def step(self, seg: Segment) -> None:
        """Do whatever comes next in a segment."""
        if not seg.has_power:
            self.cut(seg)
        elif self.code:
            self.stand_tripped(seg)
        elif seg.is_idle:
            self.stay_off(seg)
        elif seg.is_full:
            self.run_flat_out(seg)
        elif not self.running:
            self.rest(seg)
        elif seg.is_dry:
            self.run_dry(seg)
        else:
            self.run(seg)


def simulate(rig: Rig, segments: Sequence[Segment], rng: np.random.Generator) -> Phases:
    """Run a pump set through its segments.

    Parameters
    ----------
    rig : Rig
        Pump, pressures and controller.
    segments : sequence of Segment
        In order of time, without holes.
    rng : numpy Generator
        For the jitter of the no-flow timer and the seating of the check valve.

    Returns
    -------
    Phases, in order of time.
    """
    run = _Run(rig, segments[0].tank, rng)
    run.t = segments[0].from_s
    for seg in segments:
        run.enter(seg)
        while run.t < seg.to_s:
            run.step(seg)
    return Phases(np.array(run.rows))
