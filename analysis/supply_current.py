"""The supply current of a registered pump, estimated from its motor's."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.physics.electrical import MAGNETISING_SHARE, drive_supply_current_a
from analysis.physics.working_current import rated_power_factor
from ingest.installed_base import Pump

_MOTOR_PHASES = 3  # common practice behind a drive, where the register does not say


def estimated_supply_a(
    pump: Pump,
    motor_a: ArrayLike,
    frequency_hz: ArrayLike,
    supply_v: ArrayLike,
    magnetising_share: float | None = None,
) -> NDArray[np.float64]:
    """Supply current behind a pump's motor current, by `drive_supply_current_a`.

    Parameters
    ----------
    pump : Pump
        Where its motor's volts are not registered, the motor is taken to be for the supply's.
    motor_a, frequency_hz, supply_v : array-like
        Motor current, output frequency, volts at the drive's input. [A, Hz, V]
    magnetising_share : float, optional
        Of the rated amps; the usual one without.

    Returns
    -------
    ndarray of float64. [A]
    """
    share = MAGNETISING_SHARE.value if magnetising_share is None else magnetising_share
    return drive_supply_current_a(
        motor_a,
        frequency_hz,
        pump.max_hz,
        supply_v,
        supply_v if pump.motor_volts is None else pump.motor_volts,
        pump.supply_phases,
        motor_phases=pump.motor_phases or _MOTOR_PHASES,
        rated_a=pump.rated_amps or None,
        magnetising_share=share,
        motor_power_factor=rated_power_factor(share),
    )
