"""How the invented drive runs its pump: holds the set pressure, sleeps at no flow, restarts.

Works from event to event: between two changes of demand the state follows a closed form (stored
water changes linearly, or pressure and speed settle exponentially), so weeks cost milliseconds.
The result is a table of phases that ``sampling`` evaluates at the logger's instants.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_data.plant import Tank, pressure_of_stored_kpa
from sample_data.rig import Rig, Segment

SETTLE_S = 1.5  # how fast pressure and speed settle after a change of demand
SHORT_DIP_SHARE = 0.30  # a dead tank lets pressure dip by no more than this share of the setting
REFILL_SHARE = 0.25  # of best flow: what the controller pumps into the tank after a restart


COLUMNS = (
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


@dataclass(frozen=True)
class Phases:
    """What the pump set did: one row per phase, columns as in ``COLUMNS``.

    A phase with ``stored_l`` follows stored water; one with NaN there settles to ``pressure_kpa``
    from ``dip_kpa`` beside it. Speed settles to ``frequency_hz`` from ``lead_hz`` beside it.
    """

    table: NDArray[np.float64]

    def column(self, name: str) -> NDArray[np.float64]:
        """One column of the table."""
        return self.table[:, COLUMNS.index(name)]


class _Run:
    """The state carried from segment to segment while a pump set is simulated."""

    def __init__(self, rig: Rig, tank: Tank, rng: np.random.Generator) -> None:
        self.rig, self.rng = rig, rng
        self.rows: list[tuple[float, ...]] = []
        self.t = 0.0
        self.running = False
        self.hz = 0.0
        self.flow = 0.0
        self.quiet_s = 0.0
        self.back_fast, self.back_slow, self.back_until = 0.0, 0.0, 0.0
        self.back_l = 0.0
        self.stored = tank.stored_l(rig.controller.stop_kpa(tank))
        self.set_tank(tank)

    def set_tank(self, tank: Tank) -> None:
        c = self.rig.controller
        self.tank = tank
        self.stored_set = tank.stored_l(c.set_kpa)
        self.stored_restart = tank.stored_l(c.set_kpa - c.band_kpa)
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
        self.stored = tank.stored_l(pressure)

    def follow_stored(
        self,
        rate_l_s: float,
        duty: tuple[float, float, float, float],
        runs: bool,
        back_lpm: float = 0.0,
    ) -> None:
        hz, lead, tau, flow = duty
        self.rows.append(
            (
                self.t,
                self.stored,
                rate_l_s,
                self.tank.volume_l,
                self.tank.gas,
                0.0,
                0.0,
                hz,
                lead,
                tau,
                flow,
                float(runs),
                back_lpm,
                self.back_l,
            )
        )

    def settle(self, pressure: float, dip: float, duty: tuple[float, float, float, float]) -> None:
        hz, lead, tau, flow = duty
        self.rows.append(
            (
                self.t,
                np.nan,
                0.0,
                self.tank.volume_l,
                self.tank.gas,
                pressure,
                dip,
                hz,
                lead,
                tau,
                flow,
                1.0,
                0.0,
                0.0,
            )
        )

    def rest(self, seg: Segment) -> None:
        """Stand still until demand brings the pressure to the restart, or the segment ends."""
        fast = self.t < self.back_until
        limit = min(seg.to_s, self.back_until) if fast else seg.to_s
        back = self.back_fast if fast else self.back_slow
        out = (seg.draw_lpm + back) / 60
        spare = self.stored - self.stored_restart
        hit = self.t + max(spare, 0.0) / out if out > 1e-9 else np.inf
        starts = seg.has_power and (hit < limit or spare <= 0)
        end = hit + 0.5 * self.rig.controller.ramp_s if starts else limit
        self.follow_stored(-out, (0.0, 0.0, 1.0, 0.0), False, back)
        self.stored = max(self.stored_least, self.stored - out * (end - self.t))
        self.back_l += back / 60 * (end - self.t)
        self.t = end
        if starts:
            self.start(seg)

    def start(self, seg: Segment) -> None:
        """Ramp up and refill the tank to what the duty can hold."""
        rig, c = self.rig, self.rig.controller
        duty = rig.duty(seg.draw_lpm, seg.lift_kpa)
        target = self.tank.stored_l(duty.pressure_kpa)
        refill = rig.duty(seg.draw_lpm + REFILL_SHARE * rig.curve.best_flow_lpm, seg.lift_kpa)
        net = max(refill.flow_lpm - duty.flow_lpm, 0.05 * rig.curve.best_flow_lpm) / 60
        lasts = 0.5 * c.ramp_s + max(0.0, target - self.stored) / net
        self.back_l = 0.0
        self.follow_stored(
            (target - self.stored) / lasts,
            (refill.frequency_hz, c.min_hz - refill.frequency_hz, c.ramp_s / 3, refill.flow_lpm),
            True,
        )
        self.t += lasts
        self.stored, self.hz, self.flow = target, refill.frequency_hz, duty.flow_lpm
        self.running, self.quiet_s = True, 0.0

    def run(self, seg: Segment) -> None:
        """Hold pressure; after no flow for long enough, boost and stop."""
        c = self.rig.controller
        duty = self.rig.duty(seg.draw_lpm, seg.lift_kpa)
        step = (duty.flow_lpm - self.flow) / 60 * 0.5 * SETTLE_S / self.capacity
        most = SHORT_DIP_SHARE * c.set_kpa
        dip = -min(most, max(-0.3 * most, step))
        state = (duty.frequency_hz, self.hz - duty.frequency_hz, SETTLE_S, duty.flow_lpm)
        self.settle(duty.pressure_kpa, dip, state)
        self.hz, self.flow = duty.frequency_hz, duty.flow_lpm
        self.stored = self.tank.stored_l(duty.pressure_kpa)
        if seg.draw_lpm > self.sleep_lpm:
            self.t, self.quiet_s = seg.to_s, 0.0
            return
        slow = (1 + seg.draw_lpm / self.sleep_lpm) * (c.sleep_lpm / self.sleep_lpm) ** 0.5
        need = c.no_flow_s * slow * float(self.rng.uniform(0.92, 1.08)) - self.quiet_s
        if self.t + need > seg.to_s:
            self.quiet_s += seg.to_s - self.t
            self.t = seg.to_s
            return
        self.t += max(need, 0.0)
        self.sleep(seg)

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
        """Lose power: the pump stops where it is."""
        self.running, self.hz, self.flow = False, 0.0, 0.0
        self.back_fast = self.back_slow = 0.0
        self.rest(seg)


def simulate(rig: Rig, segments: Sequence[Segment], rng: np.random.Generator) -> Phases:
    """Run a pump set through its segments.

    Parameters
    ----------
    rig : Rig
        Pump, pressures and controller.
    segments : sequence of Segment
        In order of time, without holes, from 0 s.
    rng : numpy Generator
        For the jitter of the no-flow timer and the seating of the check valve.

    Returns
    -------
    Phases, in order of time.
    """
    run = _Run(rig, segments[0].tank, rng)
    for seg in segments:
        if seg.tank is not run.tank:
            run.change_tank(seg.tank)
        while run.t < seg.to_s:
            if not seg.has_power:
                run.cut(seg)
            elif run.running:
                run.run(seg)
            else:
                run.rest(seg)
    return Phases(np.array(run.rows))
