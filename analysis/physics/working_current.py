"""The working part of a motor's current, told by the drops that its load makes in the supply.

A motor's current is a working and a magnetising part at right angles. Only the first takes power
from the supply, so the volts a pump loses in its wiring follow it: run by run at other loads they
tell how much of the motor's current is magnetising, which no nameplate says.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.physics.electrical import MAGNETISING_SHARE, MOTOR_POWER_FACTOR

LEAST_RUNS = 15
"""Five a third; a median of fewer hangs on single readings. Ours."""

LEAST_LOAD_RATIO = 1.15
"""Motor current of the heaviest third over that of the lightest, ours: at nearer loads a scatter
of 5 % of the drop moves the magnetising part by more than its usual range."""


def magnetising_part_a(
    drop_v: ArrayLike, supply_v: ArrayLike, frequency_hz: ArrayLike, motor_a: ArrayLike
) -> float | None:
    """Magnetising part of a motor's current behind a drive, from drops at several loads.

    Power balance: ``drop * supply_v`` goes with the power taken, ``frequency * working current``
    at the drive's constant volts per hertz. The square of ``drop * supply_v / frequency`` is
    therefore a straight line over the square of the motor current, and where it meets zero that
    square is the magnetising part's [1]_. The line is the resistant one through the medians of
    the outer thirds [2]_. A rectifier that takes its current at a lower power factor when it is
    lightly loaded, and the drive's own power, bend the line and make the part read less.

    Parameters
    ----------
    drop_v : array-like, shape (n,)
        Volts at rest less volts of the settled run. [V]
    supply_v : array-like, shape (n,)
        Volts of the run. [V]
    frequency_hz : array-like, shape (n,)
        Speed of the run, below the one at which the output volts end. [Hz]
    motor_a : array-like, shape (n,)
        Motor current of the run. [A]

    Returns
    -------
    float or None
        0 where the line meets zero below no current; None where fewer than ``LEAST_RUNS`` runs
        are known, their loads are too alike (``LEAST_LOAD_RATIO``) or the drop does not grow
        with the load. [A]

    References
    ----------
    .. [1] Equivalent circuit of the induction motor with its leakage left out; power balance.
    .. [2] Tukey, "Exploratory Data Analysis", 1977: resistant line.
    """
    speed = np.asarray(frequency_hz, dtype=np.float64)
    per_hz = np.multiply(drop_v, supply_v) / np.where(speed > 0.0, speed, np.nan)
    current = np.asarray(motor_a, dtype=np.float64)
    known = (per_hz > 0.0) & (current > 0.0)  # false of NaN
    if np.count_nonzero(known) < LEAST_RUNS:
        return None
    low, middle, high = (
        (float(np.median(current[rows])), float(np.median(per_hz[rows])))
        for rows in _thirds(current, np.flatnonzero(known))
    )
    if high[0] < LEAST_LOAD_RATIO * low[0]:
        return None
    slope = (high[1] ** 2 - low[1] ** 2) / (high[0] ** 2 - low[0] ** 2)
    if slope <= 0.0:
        return None
    zero = np.mean([amps**2 - drop**2 / slope for amps, drop in (low, middle, high)])
    return float(np.sqrt(max(0.0, float(zero))))


def rated_power_factor(magnetising_share: float) -> float:
    """Power factor at rated amps of a motor with this magnetising share of them.

    The assumed one belongs to the assumed share; what both leave is leakage, which is kept.

    References
    ----------
    .. [1] ``MOTOR_POWER_FACTOR`` and ``MAGNETISING_SHARE``; parts of a current at right angles.
    """
    assumed = np.sqrt(1.0 - MAGNETISING_SHARE.value**2)
    return float(MOTOR_POWER_FACTOR.value * np.sqrt(1.0 - magnetising_share**2) / assumed)


def _thirds(current: NDArray[np.float64], rows: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """The rows in three parts by their current, lightest first."""
    return np.array_split(rows[np.argsort(current[rows], kind="stable")], 3)
