"""What the invented pump sets obey: gas law, affinity laws, motor and drive currents.

Pressures are gauge and in kPa unless named ``_abs_kpa``; flows in L/min; volumes in L.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

AIR_KPA = 101.325
PSI = 6.894757
GAL = 3.785412

Floats = NDArray[np.float64]

HEAD_LOSS_AT_BEST = 0.28  # share of shutoff head lost at best flow: common for small multistages
SHUTOFF_TORQUE = 0.45  # share of best-flow torque taken at no flow: common practice, 0.4 to 0.5
TORQUE_RISE = 0.65  # linear and square terms of torque over flow; with the above they sum to 1
TORQUE_BEND = -0.10
RUNOUT = 1.6  # flow beyond which the torque curve is not continued, in best flows
ACTIVE_SHARE = 0.95  # of the load part that becomes power: slip and phase, ours
DRIVE_EFFICIENCY = 0.96  # common practice
RUNNING_W, STANDBY_W = 25.0, 10.0  # the drive's own fan and supply: ours
PIPE_L_PER_KPA = 0.0011  # 100 to 150 ft of plastic pipe: about 0.002 gal per psi, derived


@dataclass(frozen=True)
class Tank:
    """A pressure tank and the pipe around it.

    Attributes
    ----------
    volume_l : float
        Whole volume. [L]
    charge_kpa : float
        Pre-charge as set, gauge, with no water in. [kPa]
    gas_share : float
        Gas left, 1 when the charge is whole.
    pipe_l_per_kpa : float
        Stretch of the pipes. [L/kPa]
    """

    volume_l: float
    charge_kpa: float
    gas_share: float = 1.0
    pipe_l_per_kpa: float = PIPE_L_PER_KPA

    @property
    def gas(self) -> float:
        """Pressure times volume of the gas, constant by Boyle's law [kPa L]."""
        return self.volume_l * (self.charge_kpa + AIR_KPA) * self.gas_share

    def stored_l(self, pressure_kpa: float) -> float:
        """Water in tank and pipe above that at zero absolute pressure [L]."""
        absolute = max(pressure_kpa + AIR_KPA, 1e-6)
        return (
            self.volume_l
            - min(self.volume_l, self.gas / absolute)
            + (self.pipe_l_per_kpa * absolute)
        )

    def drawdown_l(self, high_kpa: float, low_kpa: float) -> float:
        """Water given between two pressures [L]."""
        return self.stored_l(high_kpa) - self.stored_l(low_kpa)

    def l_per_kpa(self, pressure_kpa: float) -> float:
        """Water given per kPa at a pressure [L/kPa]."""
        absolute = pressure_kpa + AIR_KPA
        from_gas = self.gas / absolute**2 if self.gas / absolute < self.volume_l else 0.0
        return from_gas + self.pipe_l_per_kpa


def pressure_of_stored_kpa(
    stored_l: ArrayLike, volume_l: ArrayLike, gas: ArrayLike, pipe_l_per_kpa: ArrayLike
) -> Floats:
    """Gauge pressure at which tank and pipe hold that much water.

    The inverse of ``Tank.stored_l``: with ``s = V - K/p + c p`` the pressure is the positive
    root of ``c p^2 + (V - s) p - K = 0`` while the tank holds water, ``s / c`` below.
    """
    stored, volume = np.asarray(stored_l, float), np.asarray(volume_l, float)
    gas_arr, pipe = np.asarray(gas, float), np.asarray(pipe_l_per_kpa, float)
    room = volume - stored
    absolute = 2 * gas_arr / (room + np.sqrt(room**2 + 4 * pipe * gas_arr))
    empty = absolute * volume <= gas_arr
    result: Floats = np.where(empty, stored / pipe, absolute) - AIR_KPA
    return result


@dataclass(frozen=True)
class PumpCurve:
    """A centrifugal pump at its rated speed; other speeds by the affinity laws.

    ``bend_share`` and ``torque_share_left`` are 1 for a sound pump end with open screens.
    """

    shutoff_kpa: float
    best_flow_lpm: float
    rated_hz: float = 60.0
    bend_share: float = 1.0
    torque_share_left: float = 1.0

    @property
    def bend(self) -> float:
        """Boost lost per square of flow, the same at every speed [kPa/(L/min)^2]."""
        return self.bend_share * HEAD_LOSS_AT_BEST * self.shutoff_kpa / self.best_flow_lpm**2

    def worn(self, head: float, bend: float, torque: float) -> "PumpCurve":
        """The same pump with shares of its head, its loss with flow and its torque."""
        return replace(
            self,
            shutoff_kpa=head * self.shutoff_kpa,
            bend_share=bend / head,
            torque_share_left=torque,
        )

    def boost_kpa(self, flow_lpm: ArrayLike, frequency_hz: ArrayLike) -> Floats:
        """Pressure rise at a flow and speed [kPa]."""
        speed = np.asarray(frequency_hz, float) / self.rated_hz
        return self.shutoff_kpa * speed**2 - self.bend * np.asarray(flow_lpm, float) ** 2

    def speed_hz(self, flow_lpm: float, boost_kpa: float) -> float:
        """Speed that gives a flow at a boost [Hz]."""
        share = max(0.0, (boost_kpa + self.bend * flow_lpm**2) / self.shutoff_kpa)
        return float(self.rated_hz * share**0.5)

    def flow_lpm(self, boost_kpa: float, frequency_hz: float) -> float:
        """Flow at a boost and speed, 0 where the boost cannot be reached [L/min]."""
        spare = self.shutoff_kpa * (frequency_hz / self.rated_hz) ** 2 - boost_kpa
        return float(max(0.0, spare / self.bend) ** 0.5)

    def torque_share(self, flow_lpm: ArrayLike, frequency_hz: ArrayLike) -> Floats:
        """Shaft torque over that at best flow and rated speed."""
        speed = np.maximum(np.asarray(frequency_hz, float) / self.rated_hz, 1e-3)
        flow = np.clip(np.asarray(flow_lpm, float) / (speed * self.best_flow_lpm), 0, RUNOUT)
        shape: Floats = SHUTOFF_TORQUE + TORQUE_RISE * flow + TORQUE_BEND * flow**2
        return speed**2 * shape


@dataclass(frozen=True)
class Motor:
    """A three-phase motor behind a drive: a magnetising part and a load part at right angles.

    Attributes
    ----------
    volts : float
        Nameplate volts. [V]
    rated_hz : float
        Nameplate frequency. [Hz]
    magnetising_a : float
        Current without load. [A]
    load_a : float
        Load part of the current at the pump's best-flow torque. [A]
    """

    volts: float
    rated_hz: float
    magnetising_a: float
    load_a: float

    def current_a(
        self,
        torque_share: ArrayLike,
        frequency_hz: ArrayLike,
        drag_a: ArrayLike = 0.0,
        flux: ArrayLike = 1.0,
    ) -> Floats:
        """Motor current; 0 when stopped. Above rated speed or short of volts flux is less [A]."""
        hz = np.asarray(frequency_hz, float)
        weak = np.maximum(1.0, hz / self.rated_hz) / np.asarray(flux, float)
        torque = np.asarray(torque_share, float)
        load = (self.load_a * torque + np.asarray(drag_a, float)) * weak
        current: Floats = np.where(hz > 0, np.hypot(self.magnetising_a / weak, load), 0.0)
        return current

    def input_kw(
        self, torque_share: ArrayLike, frequency_hz: ArrayLike, drag_a: ArrayLike = 0.0
    ) -> Floats:
        """Power the drive takes from the supply, its own losses included [kW]."""
        hz = np.asarray(frequency_hz, float)
        load = self.load_a * np.asarray(torque_share, float) + np.asarray(drag_a, float)
        out_w = np.sqrt(3) * self.volts * (hz / self.rated_hz) * ACTIVE_SHARE * load
        drawn: Floats = np.where(hz > 0, out_w / DRIVE_EFFICIENCY + RUNNING_W, STANDBY_W) / 1000
        return drawn


def flux_share(volts: ArrayLike, motor_volts: float, speed_share: ArrayLike) -> Floats:
    """Flux that the line leaves the motor: output volts cannot exceed line volts for long.

    A drive over-modulates by some 5 %: ours.
    """
    wanted = motor_volts * np.clip(np.asarray(speed_share, float), 0.05, 1.0)
    share: Floats = np.clip(1.05 * np.asarray(volts, float) / wanted, 0.5, 1.0)
    return share


def input_power_factor(load_share: ArrayLike) -> Floats:
    """Power factor of a small rectifier input: peaky at light load, better when loaded.

    0.56 at no load to 0.76 at full load for single-phase input without a choke: common practice.
    """
    factor: Floats = 0.56 + 0.20 * np.clip(np.asarray(load_share, float), 0.0, 1.0)
    return factor


def terminal_volts(
    source_v: ArrayLike,
    power_kw: ArrayLike,
    power_factor: ArrayLike,
    loop_ohm: ArrayLike,
    phases: int,
) -> Floats:
    """Volts left at a drive that takes constant power through a resistance [V].

    ``V = E - R I`` with ``I = P/(V pf)``; for three phases ``I = P/(sqrt(3) V pf)`` and the
    drop between lines is ``sqrt(3) R I``, so that the same square root serves both.
    """
    source = np.asarray(source_v, float)
    drawn_va = np.asarray(power_kw, float) * 1000 / np.asarray(power_factor, float)
    burden = np.asarray(loop_ohm, float) * drawn_va
    if phases == 3:
        burden = burden / 2  # one way only: loop_ohm counts both
    left: Floats = 0.5 * (source + np.sqrt(np.maximum(source**2 - 4 * burden, 0.25 * source**2)))
    return left


def input_current_a(
    power_kw: ArrayLike, power_factor: ArrayLike, volts: ArrayLike, phases: int
) -> Floats:
    """Supply current into the drive [A]."""
    lines = np.sqrt(3) if phases == 3 else 1.0
    volts_arr = np.maximum(np.asarray(volts, float), 1.0)
    result: Floats = np.asarray(power_kw, float) * 1000 / (lines * volts_arr * power_factor)
    return result


def orifice_lpm(diameter_mm: float, pressure_kpa: float) -> float:
    """Flow of water through a small round hole to the open air, discharge coefficient 0.62."""
    area_m2 = np.pi * (diameter_mm / 1000) ** 2 / 4
    return float(0.62 * area_m2 * np.sqrt(2 * pressure_kpa * 1000 / 998.2) * 60_000)
