"""Conductors and power: resistance of copper, volts lost on the way, amperes a drive takes.

A drive's motor current is not its supply current. `drive_supply_current_a` turns the one into
the other with assumed power factors, and `drive_supply_current_band_a` says how far off that
can be.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

COPPER_OHM_MM2_PER_M = 1.0 / 58.0
"""Annealed copper at 20 C, IEC 60028. [ohm mm2/m]"""

COPPER_PER_K = 0.00393
"""Rise of copper's resistance from its value at 20 C, IEC 60028. [1/K]"""

COPPER_REFERENCE_C = 20.0

STRANDED_RATIO = 1.02
"""Lay of the strands: stranded wire over solid of the same section; 1.019 to 1.025 in
NEC Chapter 9 Table 8, sizes 14 to 8 AWG."""

SQRT3 = float(np.sqrt(3.0))


@dataclass(frozen=True)
class DriveAssumption:
    """A figure the supply current of a drive rests on, with the range it may lie in."""

    value: float
    low: float
    high: float
    source: str


MOTOR_POWER_FACTOR = DriveAssumption(
    0.80,
    0.70,
    0.85,
    "common practice: small induction motor at its rated amps; lighter, see MAGNETISING_SHARE",
)
MAGNETISING_SHARE = DriveAssumption(
    0.45,
    0.33,
    0.55,
    "common practice: no-load over rated amps of two-pole induction motors of this size",
)
"""Of the rated amps; the drive's volts per hertz keep it about the same at every speed."""

LEAST_POWER_FACTOR_RATIO = 0.5
"""Least power factor of a pump's motor over the one at rated amps, ours: at three quarters of its
speed against a closed valve a pump takes about a quarter of rated torque (affinity, 0.45 of full
power at no flow), and a quarter of the working current on 0.45 magnetising makes a half."""

LIGHT_LOAD_SUPPLY_POWER_FACTOR_FALL = 0.10
"""From full load to none, common practice: a rectifier's pulses grow narrower. Taken off the low
end of ``SUPPLY_POWER_FACTOR`` only, since a choke keeps it up."""

DRIVE_EFFICIENCY = DriveAssumption(
    0.96, 0.94, 0.97, "common practice: small drive near rated load"
)
SUPPLY_POWER_FACTOR = {
    1: DriveAssumption(
        0.70, 0.65, 0.75, "common practice: single-phase rectifier without a reactor"
    ),
    3: DriveAssumption(
        0.80, 0.70, 0.92, "common practice: six-pulse rectifier, small or no reactor"
    ),
}
"""True power factor at the drive's input (harmonics included), by supply phases."""


def awg_mm2(gauge: ArrayLike) -> NDArray[np.float64]:
    """Section of a round solid conductor by its American wire gauge number.

    Diameter ``0.127 mm * 92 ** ((36 - n) / 39)`` [1]_.

    Parameters
    ----------
    gauge : array-like
        Gauge number; 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0.

    Returns
    -------
    ndarray
        The input's shape; NaN where it is. [mm2]

    References
    ----------
    .. [1] ASTM B258.
    """
    diameter_mm = 0.127 * np.power(92.0, (36.0 - np.asarray(gauge, dtype=np.float64)) / 39.0)
    return np.asarray(np.pi / 4.0 * np.square(diameter_mm))


def copper_ohm_per_m(mm2: ArrayLike, temperature_c: ArrayLike = 75.0) -> NDArray[np.float64]:
    """Direct-current resistance of one solid copper conductor, per metre of its length.

    Annealed copper [1]_. Stranded wire has about ``STRANDED_RATIO`` times this.

    Parameters
    ----------
    mm2 : array-like
        Section. [mm2]
    temperature_c : array-like
        Temperature of the conductor; 75 C is what tables of branch-circuit wire state, a lightly
        loaded wire is cooler. [C]

    Returns
    -------
    ndarray
        NaN where an input is or the section is not positive. [ohm/m]

    References
    ----------
    .. [1] IEC 60028: 1/58 ohm mm2/m at 20 C and 0.00393 /K.
    """
    warmth = 1.0 + COPPER_PER_K * np.subtract(temperature_c, COPPER_REFERENCE_C)
    return np.asarray(COPPER_OHM_MM2_PER_M * warmth / _positive(mm2))


def loop_resistance_ohm(
    mm2: ArrayLike,
    one_way_m: ArrayLike,
    temperature_c: ArrayLike = 75.0,
    phases: ArrayLike = 1,
) -> NDArray[np.float64]:
    """Volts lost per ampere along a copper circuit: what its wire alone should show.

    Single phase there and back, ``2 R L``; three phase, line-to-line volts per line ampere,
    ``sqrt(3) R L``. Resistance only: joints, breakers and the supply upstream come on top.

    Parameters
    ----------
    mm2 : array-like
        Section of one conductor. [mm2]
    one_way_m : array-like
        Length one way. [m]
    temperature_c : array-like
        Temperature of the conductor. [C]
    phases : array-like of int
        1 or 3.

    Returns
    -------
    ndarray
        NaN where an input is or the phases are neither 1 nor 3. [ohm]

    References
    ----------
    .. [1] Ohm's law; `copper_ohm_per_m`.
    """
    return voltage_drop_v(1.0, copper_ohm_per_m(mm2, temperature_c), one_way_m, phases)


def voltage_drop_v(
    current_a: ArrayLike, ohm_per_m: ArrayLike, one_way_m: ArrayLike, phases: ArrayLike = 1
) -> NDArray[np.float64]:
    """Volts lost between two ends of a circuit.

    ``2 I R L`` for single phase and direct current, ``sqrt(3) I R L`` for three phase;
    resistance only, which is right for the small conductors of a pump's branch circuit.

    Parameters
    ----------
    current_a : array-like
        Current in the circuit's conductors: supply current, not a drive's motor current. [A]
    ohm_per_m : array-like
        Resistance of one conductor. [ohm/m]
    one_way_m : array-like
        Length one way. [m]
    phases : array-like of int
        1 or 3.

    Returns
    -------
    ndarray
        NaN where an input is or the phases are neither 1 nor 3. [V]

    References
    ----------
    .. [1] Ohm's law; the common form of trade tables and calculators.
    """
    factor = _phase_factor(phases, single=2.0)
    return np.asarray(factor * np.multiply(current_a, np.multiply(ohm_per_m, one_way_m)))


def supply_line(current_a: ArrayLike, voltage_v: ArrayLike) -> tuple[float, float]:
    """No-load volts and loop resistance from pairs of supply current and voltage.

    Least squares of ``V = V0 - R I`` over the pairs without NaN.

    Parameters
    ----------
    current_a : array-like, shape (n,)
        Supply current. [A]
    voltage_v : array-like, shape (n,)
        Voltage at the same instants. [V]

    Returns
    -------
    no_load_v : float
        Intercept. [V]
    loop_ohm : float
        Slope with its sign reversed. [ohm]
        Both NaN with fewer than two different currents.

    References
    ----------
    .. [1] Ohm's law.
    """
    current = np.asarray(current_a, dtype=np.float64)
    voltage = np.asarray(voltage_v, dtype=np.float64)
    both = ~(np.isnan(current) | np.isnan(voltage))
    if not both.any():
        return float("nan"), float("nan")
    current, voltage = current[both], voltage[both]
    centred = current - current.mean()
    spread = float(centred @ centred)
    if spread == 0.0:
        return float("nan"), float("nan")
    loop_ohm = -float(centred @ voltage) / spread
    return float(voltage.mean() + loop_ohm * current.mean()), loop_ohm


def electrical_power_w(
    voltage_v: ArrayLike, current_a: ArrayLike, power_factor: ArrayLike, phases: ArrayLike = 1
) -> NDArray[np.float64]:
    """Real power: ``V I pf``, times sqrt(3) with line-to-line volts of three phases.

    Parameters
    ----------
    voltage_v, current_a : array-like
        Line-to-line (three phase) volts, line amperes. [V], [A]
    power_factor : array-like
        True power factor, 0 to 1.
    phases : array-like of int
        1 or 3.

    Returns
    -------
    ndarray
        NaN where an input is or the phases are neither 1 nor 3. [W]

    References
    ----------
    .. [1] Text-book power formula.
    """
    apparent = _phase_factor(phases, single=1.0) * np.multiply(voltage_v, current_a)
    return np.asarray(np.multiply(apparent, power_factor))


def constant_power_current_a(
    current_a: ArrayLike, at_v: ArrayLike, to_v: ArrayLike
) -> NDArray[np.float64]:
    """Current of the same load at other volts, to first order ``I ~ 1 / V``.

    Holds for a drive's input, and for a motor fed straight from the line at unchanged slip; a
    motor behind a drive keeps its current until the drive's output volts run out.

    Parameters
    ----------
    current_a : array-like
        Current at ``at_v``. [A]
    at_v, to_v : array-like
        The two voltages. [V]

    Returns
    -------
    ndarray
        NaN where an input is or ``to_v`` is not positive. [A]

    References
    ----------
    .. [1] Power balance at equal power factor and efficiency.
    """
    return np.asarray(np.multiply(current_a, at_v) / _positive(to_v))


def drive_supply_current_a(
    motor_a: ArrayLike,
    frequency_hz: ArrayLike,
    max_hz: ArrayLike,
    supply_v: ArrayLike,
    motor_v: ArrayLike,
    supply_phases: int = 1,
    *,
    motor_phases: int = 3,
    rated_a: float | None = None,
    magnetising_share: float = MAGNETISING_SHARE.value,
    motor_power_factor: float = MOTOR_POWER_FACTOR.value,
    efficiency: float = DRIVE_EFFICIENCY.value,
    supply_power_factor: float | None = None,
) -> NDArray[np.float64]:
    """Estimate the current a drive takes from the supply from its motor current.

    Power balance: output ``sqrt(3) V_out I_motor pf_motor`` (``V I pf`` for a single-phase
    motor), input the same over the drive's efficiency, over ``V pf`` (times sqrt(3) for a
    three-phase supply). The output volts rise with frequency to ``motor_v`` at ``max_hz`` and
    cannot pass the supply's; a supply under two thirds of the motor's volts can only feed it
    through an input that doubles them, and the ceiling is then twice the supply.

    The power factors and the efficiency are assumed (``MOTOR_POWER_FACTOR`` and the like). A
    motor's power factor falls at light load: with ``rated_a`` that is followed by
    `part_load_power_factor_ratio`, without it this reads high there. Take the band of
    `drive_supply_current_band_a` with it.

    Parameters
    ----------
    motor_a : array-like
        Motor current. [A]
    frequency_hz : array-like
        Output frequency. [Hz]
    max_hz : array-like
        Frequency at which the output reaches the motor's volts: the motor's rated one. [Hz]
    supply_v : array-like
        Volts at the drive's input. [V]
    motor_v : array-like
        Motor nameplate volts. [V]
    supply_phases, motor_phases : int
        1 or 3.
    rated_a : float, optional
        Motor nameplate amps. [A]
    magnetising_share : float
        Of ``rated_a``, 0 to 1.
    motor_power_factor, efficiency : float
        0 to 1; the former at rated amps.
    supply_power_factor : float, optional
        True power factor at the input; by default ``SUPPLY_POWER_FACTOR`` of the phases.

    Returns
    -------
    ndarray
        0 where the motor current or the frequency is; NaN where an input is, where the supply
        or ``max_hz`` is not positive, or the phases are neither 1 nor 3. [A]

    References
    ----------
    .. [1] Power balance, text-book; the assumed figures carry their own source.
    """
    if supply_power_factor is None:
        assumed = SUPPLY_POWER_FACTOR.get(supply_phases)
        supply_power_factor = float("nan") if assumed is None else assumed.value
    supply = _positive(supply_v)
    nameplate = np.asarray(motor_v, dtype=np.float64)
    doubles = supply < nameplate / 1.5
    ceiling_v = np.where(doubles, 2.0 * supply, supply)
    ramp = np.divide(frequency_hz, _positive(max_hz))
    output_v = np.minimum(nameplate * np.minimum(1.0, ramp), ceiling_v)
    part_load = (
        1.0
        if rated_a is None
        else part_load_power_factor_ratio(np.divide(motor_a, rated_a), magnetising_share)
    )
    power_factor = np.multiply(motor_power_factor, part_load)
    output_w = electrical_power_w(output_v, motor_a, power_factor, motor_phases)
    per_ampere_w = electrical_power_w(supply, 1.0, supply_power_factor, supply_phases)
    return np.asarray(output_w / (efficiency * per_ampere_w))


def part_load_power_factor_ratio(
    load_share: ArrayLike, magnetising_share: float = MAGNETISING_SHARE.value
) -> NDArray[np.float64]:
    """Power factor of an induction motor over the one it has at rated amps.

    Its current is a working and a magnetising part at right angles, the latter constant at a
    drive's constant volts per hertz: ``sqrt(I^2 - Im^2) / I``, over the same at rated amps [1]_.

    Parameters
    ----------
    load_share : array-like
        Motor amps over rated amps.
    magnetising_share : float
        ``Im`` over rated amps, 0 to 1.

    Returns
    -------
    ndarray
        At least ``LEAST_POWER_FACTOR_RATIO``; NaN where an input is.

    References
    ----------
    .. [1] Equivalent circuit of the induction motor with its leakage left out, text-book.
    """
    load = np.maximum(np.asarray(load_share, dtype=np.float64), max(magnetising_share, 1e-9))
    working = np.sqrt(1.0 - np.square(magnetising_share / load))
    ratio = working / np.sqrt(1.0 - magnetising_share**2)
    return np.asarray(np.maximum(LEAST_POWER_FACTOR_RATIO, ratio))


def drive_supply_current_band_a(
    motor_a: ArrayLike,
    frequency_hz: ArrayLike,
    max_hz: ArrayLike,
    supply_v: ArrayLike,
    motor_v: ArrayLike,
    supply_phases: int = 1,
    *,
    motor_phases: int = 3,
    rated_a: float | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Low and high ends of `drive_supply_current_a` over the ranges of its assumptions.

    Every assumption stands at the end of its range that moves the result the same way, so the
    band is wide: about -19 % to +17 % for a single-phase supply at rated amps, wider
    below them.

    Parameters
    ----------
    motor_a, frequency_hz, max_hz, supply_v, motor_v, supply_phases, motor_phases, rated_a
        As in `drive_supply_current_a`.

    Returns
    -------
    low_a, high_a : ndarray
        As in `drive_supply_current_a`. [A]
    """
    estimate = drive_supply_current_a(
        motor_a,
        frequency_hz,
        max_hz,
        supply_v,
        motor_v,
        supply_phases,
        motor_phases=motor_phases,
        rated_a=rated_a,
    )
    load_share = 1.0 if rated_a is None else np.divide(motor_a, rated_a)
    low, high = supply_current_band_ratios(supply_phases, load_share)
    return np.asarray(estimate * low), np.asarray(estimate * high)


def supply_current_band_ratios(
    supply_phases: int, load_share: ArrayLike = 1.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Low and high ends of an estimated supply current, as shares of the estimate.

    Parameters
    ----------
    supply_phases : int
        1 or 3.
    load_share : array-like
        Motor amps over rated amps; 1 where the estimate knows no rated amps.

    Returns
    -------
    low, high : ndarray
        The shape of ``load_share``; NaN where it is or the phases are neither 1 nor 3.

    References
    ----------
    .. [1] Ranges of ``MOTOR_POWER_FACTOR``, ``MAGNETISING_SHARE``, ``DRIVE_EFFICIENCY`` and
       ``SUPPLY_POWER_FACTOR``.
    """
    supply = SUPPLY_POWER_FACTOR.get(supply_phases)
    if supply is None:
        unknown = np.full(np.shape(load_share), np.nan)
        return unknown, unknown
    motor, drive = MOTOR_POWER_FACTOR, DRIVE_EFFICIENCY
    low = motor.low / motor.value * drive.value / drive.high * supply.value / supply.high
    high = motor.high / motor.value * drive.value / drive.low
    middle, *ends = (
        part_load_power_factor_ratio(load_share, share)
        for share in (MAGNETISING_SHARE.value, MAGNETISING_SHARE.low, MAGNETISING_SHARE.high)
    )
    working = np.minimum(1.0, np.multiply(load_share, middle))
    least_supply = supply.low - LIGHT_LOAD_SUPPLY_POWER_FACTOR_FALL * (1.0 - working)
    part_low, part_high = np.minimum(*ends) / middle, np.maximum(*ends) / middle
    return np.asarray(low * part_low), np.asarray(high * supply.value / least_supply * part_high)


def _phase_factor(phases: ArrayLike, *, single: float) -> NDArray[np.float64]:
    """``single`` for one phase, sqrt(3) for three, NaN for anything else."""
    count = np.asarray(phases)
    return np.where(count == 1, single, np.where(count == 3, SQRT3, np.nan))


def _positive(values: ArrayLike) -> NDArray[np.float64]:
    """The values, NaN where they are not positive: nothing to divide by."""
    array = np.asarray(values, dtype=np.float64)
    return np.where(array > 0.0, array, np.nan)
