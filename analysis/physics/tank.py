"""Water and gas in a pressure tank: what it gives, how stiff it is, what a pressure fall means.

Pressures are gauge [kPa] and volumes litres; the gas obeys Boyle's law at steady temperature.
Fast changes (under about a minute) are nearer adiabatic: the tank then gives up to
``ADIABATIC_RATIO`` times less water for the same fall, so a flow worked out here is then the
upper end of a band.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

ATMOSPHERE_KPA = 101.325
"""Standard atmosphere at sea level, absolute. [kPa]"""

ADIABATIC_RATIO = 1.4
"""Ratio of specific heats of air: how much stiffer a fast-changing gas is than a slow one."""

ORIFICE_COEFFICIENT = 0.62
"""Discharge coefficient of a sharp-edged hole (text-books give 0.60 to 0.62)."""

WATER_KG_PER_M3 = 998.2071
"""Density of water at 20 C. [kg/m3]"""

_MIN_S = 60.0
_LITRE_PER_M3 = 1000.0


def _gas_share(
    precharge_kpa: ArrayLike, pressure_kpa: ArrayLike, atmosphere_kpa: ArrayLike
) -> NDArray[np.float64]:
    """Share of the tank filled by gas, 0 to 1; 1 below the pre-charge: the tank is empty."""
    gas_abs = np.add(precharge_kpa, atmosphere_kpa, dtype=np.float64)
    share = gas_abs / _positive(np.add(pressure_kpa, atmosphere_kpa, dtype=np.float64))
    return np.asarray(np.minimum(1.0, share))


def drawdown_l(
    tank_l: ArrayLike,
    precharge_kpa: ArrayLike,
    cut_in_kpa: ArrayLike,
    cut_out_kpa: ArrayLike,
    atmosphere_kpa: ArrayLike = ATMOSPHERE_KPA,
) -> NDArray[np.float64]:
    """Water a pressure tank gives from cut-out down to cut-in.

    Boyle's law [1]_ at steady temperature: the gas fills ``tank * precharge / p``, all absolute,
    and the whole tank at or below the pre-charge. With a pre-charge above cut-in the tank is
    empty before the pump restarts and gives ``tank * (1 - precharge / cut_out)``.

    Parameters
    ----------
    tank_l : array-like
        Whole volume of the tank. [L]
    precharge_kpa : array-like
        Gauge pressure of the gas as read with no water in the tank. [kPa]
    cut_in_kpa, cut_out_kpa : array-like
        Gauge pressures at which the pump starts and stops. [kPa]
    atmosphere_kpa : array-like
        Absolute pressure of the air outside. [kPa]

    Returns
    -------
    ndarray
        The inputs' shape broadcast together; NaN where an input is; negative where cut-out lies
        below cut-in (the tank fills). [L]

    References
    ----------
    .. [1] "How to Calculate and Control Pressure Tank Drawdown", The Driller, Feb. 2006.
    """
    share_in = _gas_share(precharge_kpa, cut_in_kpa, atmosphere_kpa)
    share_out = _gas_share(precharge_kpa, cut_out_kpa, atmosphere_kpa)
    return np.asarray(np.multiply(tank_l, share_in - share_out))


def acceptance_share(
    precharge_kpa: ArrayLike,
    cut_out_kpa: ArrayLike,
    atmosphere_kpa: ArrayLike = ATMOSPHERE_KPA,
) -> NDArray[np.float64]:
    """Share of a tank that water fills at cut-out; not the drawdown, which ends at cut-in.

    Parameters
    ----------
    precharge_kpa, cut_out_kpa : array-like
        Gauge pressures. [kPa]
    atmosphere_kpa : array-like
        Absolute pressure of the air outside. [kPa]

    Returns
    -------
    ndarray
        0 to 1; 0 at or below the pre-charge; NaN where an input is.

    References
    ----------
    .. [1] Boyle's law; acceptance factor as a well-water trade body's tank sheet defines it
       (Jan. 2007).
    """
    return np.asarray(1.0 - _gas_share(precharge_kpa, cut_out_kpa, atmosphere_kpa))


def compliance_l_per_kpa(
    tank_l: ArrayLike,
    precharge_kpa: ArrayLike,
    pressure_kpa: ArrayLike,
    atmosphere_kpa: ArrayLike = ATMOSPHERE_KPA,
) -> NDArray[np.float64]:
    """Water a tank gives for each kPa its pressure falls, at one pressure.

    ``C = tank * precharge / p**2``, all absolute: the slope of Boyle's law. Below the pre-charge
    the tank is empty and gives nothing (0): what little the pipes hold is not counted. Over a
    wide fall use `leak_lpm_from_fall`, which is exact; this one reads low there.

    Parameters
    ----------
    tank_l : array-like
        Whole volume of the tank. [L]
    precharge_kpa, pressure_kpa : array-like
        Gauge pressures. [kPa]
    atmosphere_kpa : array-like
        Absolute pressure of the air outside. [kPa]

    Returns
    -------
    ndarray
        The inputs' shape broadcast together; NaN where an input is. [L/kPa]

    References
    ----------
    .. [1] Boyle's law, differentiated.
    """
    gas_abs = np.add(precharge_kpa, atmosphere_kpa, dtype=np.float64)
    water_abs = _positive(np.add(pressure_kpa, atmosphere_kpa, dtype=np.float64))
    per_litre = np.where(water_abs < gas_abs, 0.0, gas_abs / np.square(water_abs))
    return np.asarray(np.multiply(tank_l, per_litre))


def leak_lpm_from_fall(
    tank_l: ArrayLike,
    precharge_kpa: ArrayLike,
    from_kpa: ArrayLike,
    to_kpa: ArrayLike,
    duration_s: ArrayLike,
    atmosphere_kpa: ArrayLike = ATMOSPHERE_KPA,
) -> NDArray[np.float64]:
    """Mean flow out of a tank while its pressure falls with the pump stopped.

    Exact between two pressures under Boyle's law at steady temperature [1]_. It counts the
    tank's water only: a tank that has lost charge gives less than this, and other gas or
    stretch in the system (a heater's expansion tank, hoses) more.

    Parameters
    ----------
    tank_l : array-like
        Whole volume of the tank. [L]
    precharge_kpa : array-like
        Gauge pressure of the gas with no water in the tank. [kPa]
    from_kpa, to_kpa : array-like
        Gauge pressures at the start and the end of the fall. [kPa]
    duration_s : array-like
        Time the fall took. [s]
    atmosphere_kpa : array-like
        Absolute pressure of the air outside. [kPa]

    Returns
    -------
    ndarray
        Positive out of the tank, negative where the pressure rose; NaN where an input is or the
        duration is not positive. [L/min]

    References
    ----------
    .. [1] Boyle's law between two states; see `drawdown_l`.
    """
    water_l = drawdown_l(tank_l, precharge_kpa, to_kpa, from_kpa, atmosphere_kpa)
    return np.asarray(water_l * _MIN_S / _positive(duration_s))


def pressure_at_steady_draw_kpa(
    from_kpa: ArrayLike,
    to_kpa: ArrayLike,
    share: ArrayLike,
    atmosphere_kpa: ArrayLike = ATMOSPHERE_KPA,
) -> NDArray[np.float64]:
    """Pressure of a tank on its way between two pressures, water drawn at a steady rate.

    The gas grows evenly with time, so by Boyle's law [1]_ ``1 / p`` (absolute) does: the curve
    between the two ends is the same for every tank and charge, as long as water is left in it.

    Parameters
    ----------
    from_kpa, to_kpa : array-like
        Gauge pressures at the start and the end of the fall. [kPa]
    share : array-like
        Share of the fall's time that has passed, 0 to 1.
    atmosphere_kpa : array-like
        Absolute pressure of the air outside. [kPa]

    Returns
    -------
    ndarray
        Gauge pressure, the inputs' shape broadcast together; NaN where an input is. [kPa]

    References
    ----------
    .. [1] Boyle's law; see `drawdown_l`.
    """
    from_abs = _positive(np.add(from_kpa, atmosphere_kpa, dtype=np.float64))
    to_abs = _positive(np.add(to_kpa, atmosphere_kpa, dtype=np.float64))
    passed = np.asarray(share, dtype=np.float64)
    inverse = (1.0 - passed) / from_abs + passed / to_abs
    return np.asarray(1.0 / inverse - np.asarray(atmosphere_kpa, dtype=np.float64))


def cycle_time_s(
    demand_lpm: ArrayLike, pump_lpm: ArrayLike, drawdown_l: ArrayLike
) -> NDArray[np.float64]:
    """Start-to-start time of a pump that fills a tank against a steady demand.

    Emptying takes ``V / q``, filling ``V / (Q - q)`` [1]_. The same time comes back at ``q`` and
    ``Q - q``, and the shortest is ``4 V / Q`` at ``q = Q / 2``.

    Parameters
    ----------
    demand_lpm : array-like
        Steady demand ``q``. [L/min]
    pump_lpm : array-like
        Flow of the running pump ``Q``, constant speed. [L/min]
    drawdown_l : array-like
        Water between cut-out and cut-in ``V``. [L]

    Returns
    -------
    ndarray
        Infinite where the pump never restarts (no demand) or never stops (demand at or over its
        flow); NaN where an input is. [s]

    References
    ----------
    .. [1] MIL-HDBK-1005/9A, equations 1 and 2; US Army EI 11C201 (1997).
    """
    demand = np.asarray(demand_lpm, dtype=np.float64)
    spare = np.subtract(pump_lpm, demand)
    water = np.multiply(drawdown_l, _MIN_S)
    cycles = (demand > 0.0) & (spare > 0.0)
    time_s = water / np.where(cycles, demand, 1.0) + water / np.where(cycles, spare, 1.0)
    never = (demand <= 0.0) | (spare <= 0.0)
    return np.asarray(
        np.where(never & ~np.isnan(time_s), np.inf, np.where(cycles, time_s, np.nan))
    )


def orifice_lpm(
    diameter_mm: ArrayLike,
    pressure_kpa: ArrayLike,
    coefficient: ArrayLike = ORIFICE_COEFFICIENT,
    density_kg_per_m3: ArrayLike = WATER_KG_PER_M3,
) -> NDArray[np.float64]:
    """Flow of water through a round sharp-edged hole into the open.

    ``Q = Cd A sqrt(2 p / rho)`` (Torricelli). Holds for a hole that does not open with pressure;
    splits and joints do (`leak_exponent`).

    Parameters
    ----------
    diameter_mm : array-like
        Diameter of the hole. [mm]
    pressure_kpa : array-like
        Gauge pressure behind it. [kPa]
    coefficient : array-like
        Discharge coefficient, 0 to 1.
    density_kg_per_m3 : array-like
        Density of the water. [kg/m3]

    Returns
    -------
    ndarray
        NaN where an input is or the pressure is negative. [L/min]

    References
    ----------
    .. [1] Torricelli's law, any hydraulics text-book.
    """
    pressure = np.asarray(pressure_kpa, dtype=np.float64)
    pascal = np.where(pressure >= 0.0, pressure, np.nan) * 1000.0
    speed_m_per_s = np.sqrt(2.0 * pascal / np.asarray(density_kg_per_m3, dtype=np.float64))
    area_m2 = np.pi / 4.0 * np.square(np.divide(diameter_mm, 1000.0))
    return np.asarray(np.multiply(coefficient, area_m2 * speed_m_per_s) * (_LITRE_PER_M3 * _MIN_S))


def leak_at_pressure_lpm(
    leak_lpm: ArrayLike, at_kpa: ArrayLike, to_kpa: ArrayLike, exponent: ArrayLike = 0.5
) -> NDArray[np.float64]:
    """Carry a leak seen at one pressure over to another.

    ``L1 / L0 = (P1 / P0) ** N1`` [1]_: N1 is 0.5 for a fixed hole, up to 1.5 where the opening
    grows with pressure, about 1 for large mixed systems.

    Parameters
    ----------
    leak_lpm : array-like
        Leak at ``at_kpa``. [L/min]
    at_kpa, to_kpa : array-like
        Gauge pressures. [kPa]
    exponent : array-like
        N1.

    Returns
    -------
    ndarray
        NaN where an input is or a pressure is not positive. [L/min]

    References
    ----------
    .. [1] J. May, "Pressure dependent leakage", 1994; A. Lambert (FAVAD).
    """
    return np.asarray(
        np.multiply(leak_lpm, np.power(_positive(to_kpa) / _positive(at_kpa), exponent))
    )


def leak_exponent(
    leak_lpm: ArrayLike, other_leak_lpm: ArrayLike, at_kpa: ArrayLike, other_kpa: ArrayLike
) -> NDArray[np.float64]:
    """N1 of a leak seen at two pressures (see `leak_at_pressure_lpm`).

    Parameters
    ----------
    leak_lpm, other_leak_lpm : array-like
        Leak at the one and the other pressure. [L/min]
    at_kpa, other_kpa : array-like
        The two gauge pressures. [kPa]

    Returns
    -------
    ndarray
        NaN where an input is, or is not positive, or the pressures are equal.

    References
    ----------
    .. [1] J. May, "Pressure dependent leakage", 1994; A. Lambert (FAVAD).
    """
    pressure_log = np.log(_positive(other_kpa) / _positive(at_kpa))
    leak_log = np.log(_positive(other_leak_lpm) / _positive(leak_lpm))
    return np.asarray(leak_log / np.where(pressure_log == 0.0, np.nan, pressure_log))


def _positive(values: ArrayLike) -> NDArray[np.float64]:
    """The values, NaN where they are not positive: no such pressure, flow or time."""
    array = np.asarray(values, dtype=np.float64)
    return np.where(array > 0.0, array, np.nan)
