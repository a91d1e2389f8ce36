"""Centrifugal pumps: what speed does to a curve, and what pressure and flow cost in power.

Speed is taken as proportional to the drive's output frequency; the motor's slip is left out.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

GRAVITY_M_PER_S2 = 9.80665
"""Standard gravity. [m/s2]"""

WATER_KPA_PER_M = 998.2071 * GRAVITY_M_PER_S2 / 1000.0
"""Pressure of one metre of water at 20 C. [kPa/m]"""

_LPM_KPA_W = 1.0 / 60.0  # one L/min through one kPa, in watts


class CurveAtSpeed(NamedTuple):
    """A pump's flow, head and shaft power carried to another speed."""

    flow: NDArray[np.float64]
    head: NDArray[np.float64]
    power: NDArray[np.float64]


def affinity(
    flow: ArrayLike, head: ArrayLike, power: ArrayLike, from_hz: ArrayLike, to_hz: ArrayLike
) -> CurveAtSpeed:
    """Carry points of a pump's curve from one speed to another.

    Flow goes with speed, head with its square, power with its cube, same impeller. The laws move
    a curve, not the duty point: against a static head a system's power does not fall with the
    cube.

    Parameters
    ----------
    flow, head, power : array-like
        Points of the curve at ``from_hz``, any unit.
    from_hz, to_hz : array-like
        Drive output frequencies (or speeds). [Hz]

    Returns
    -------
    CurveAtSpeed
        In the units given; NaN where an input is or ``from_hz`` is not positive.

    References
    ----------
    .. [1] Affinity laws, any pump text-book.
    """
    ratio = np.asarray(to_hz, dtype=np.float64) / _positive(from_hz)
    return CurveAtSpeed(
        np.asarray(np.multiply(flow, ratio)),
        np.asarray(np.multiply(head, ratio**2)),
        np.asarray(np.multiply(power, ratio**3)),
    )


def no_flow_hz(
    boost_kpa: ArrayLike, shutoff_kpa: ArrayLike, rated_hz: ArrayLike = 60.0
) -> NDArray[np.float64]:
    """Least speed that holds a boost with no water drawn.

    ``rated * sqrt(boost / shutoff boost at rated speed)``, from the affinity laws.

    Parameters
    ----------
    boost_kpa : array-like
        Discharge less suction pressure, static lift included. [kPa]
    shutoff_kpa : array-like
        Boost of the pump at no flow and ``rated_hz``. [kPa]
    rated_hz : array-like
        Frequency of the published curve. [Hz]

    Returns
    -------
    ndarray
        0 where the suction alone holds the pressure (boost not positive); over ``rated_hz``
        where the pump cannot; NaN where an input is or the shutoff boost is not positive. [Hz]

    References
    ----------
    .. [1] Affinity laws, any pump text-book.
    """
    ratio = np.asarray(boost_kpa, dtype=np.float64) / _positive(shutoff_kpa)
    return np.asarray(np.multiply(rated_hz, np.sqrt(np.maximum(ratio, 0.0))))


def flow_from_curve_lpm(
    curve_flow_lpm: ArrayLike,
    curve_head_m: ArrayLike,
    frequency_hz: ArrayLike,
    boost_kpa: ArrayLike,
    rated_hz: float = 60.0,
) -> NDArray[np.float64]:
    """Estimate a pump's flow from its published curve, its speed and its boost.

    The boost is carried to rated speed by the affinity laws, the curve read there by straight
    lines between its points, and the flow carried back. An estimate only: near shutoff the
    curve is flat, so a small error of pressure or lift moves the flow much, and a worn pump
    looks like less flow.

    Parameters
    ----------
    curve_flow_lpm, curve_head_m : array-like, shape (m,)
        Published points at ``rated_hz``; head falling as flow rises. [L/min], [m]
    frequency_hz, boost_kpa : array-like
        Speed, and discharge less suction pressure (lift included). [Hz], [kPa]
    rated_hz : float
        Frequency of the published curve. [Hz]

    Returns
    -------
    ndarray
        0 at a boost over the shutoff's and at standstill; NaN where an input is, and below the
        lowest published head (run-out, where the curve says nothing). [L/min]

    References
    ----------
    .. [1] Affinity laws, any pump text-book.
    """
    flow_points = np.asarray(curve_flow_lpm, dtype=np.float64)
    head_points = np.asarray(curve_head_m, dtype=np.float64)
    order = np.argsort(head_points, kind="stable")
    ratio = np.asarray(frequency_hz, dtype=np.float64) / rated_hz
    turning = np.where(ratio == 0.0, 1.0, ratio)
    head_m = np.asarray(boost_kpa, dtype=np.float64) / WATER_KPA_PER_M / np.square(turning)
    rated_flow = np.interp(head_m, head_points[order], flow_points[order], left=np.nan, right=0.0)
    return np.asarray(np.where((ratio == 0.0) & ~np.isnan(head_m), 0.0, rated_flow * ratio))


def hydraulic_power_w(flow_lpm: ArrayLike, boost_kpa: ArrayLike) -> NDArray[np.float64]:
    """Power put into the water: flow times pressure rise.

    Parameters
    ----------
    flow_lpm : array-like
        Flow. [L/min]
    boost_kpa : array-like
        Discharge less suction pressure. [kPa]

    Returns
    -------
    ndarray
        NaN where an input is. [W]

    References
    ----------
    .. [1] ``P = Q dp``, any pump text-book (hp = gpm x psi / 1714).
    """
    return np.asarray(np.multiply(flow_lpm, np.multiply(boost_kpa, _LPM_KPA_W)))


def shaft_power_w(
    flow_lpm: ArrayLike, boost_kpa: ArrayLike, efficiency: ArrayLike
) -> NDArray[np.float64]:
    """Power at the pump's shaft: hydraulic power over the pump's efficiency.

    Parameters
    ----------
    flow_lpm : array-like
        Flow. [L/min]
    boost_kpa : array-like
        Discharge less suction pressure. [kPa]
    efficiency : array-like
        Pump efficiency, 0 to 1.

    Returns
    -------
    ndarray
        NaN where an input is or the efficiency is not positive. [W]

    References
    ----------
    .. [1] Any pump text-book.
    """
    return np.asarray(hydraulic_power_w(flow_lpm, boost_kpa) / _positive(efficiency))


def _positive(values: ArrayLike) -> NDArray[np.float64]:
    """The values, NaN where they are not positive: nothing to divide by."""
    array = np.asarray(values, dtype=np.float64)
    return np.where(array > 0.0, array, np.nan)
