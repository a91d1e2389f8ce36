"""What a simulated pump set did, as a table of phases that ``sampling`` evaluates at instants."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    "torque",
    "code",
    "lift_kpa",
)


@dataclass(frozen=True)
class Phases:
    """What the pump set did: one row per phase, columns as in ``COLUMNS``.

    A phase with ``stored_l`` follows stored water; one with NaN there settles to ``pressure_kpa``
    from ``dip_kpa`` beside it. Speed settles to ``frequency_hz`` from ``lead_hz`` beside it.
    ``torque`` is the share of the published shaft torque, ``code`` what the drive shows,
    ``lift_kpa`` how much of the boost goes into lift and low suction.
    """

    table: NDArray[np.float64]

    def column(self, name: str) -> NDArray[np.float64]:
        """One column of the table."""
        return self.table[:, COLUMNS.index(name)]
