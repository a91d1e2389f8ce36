"""All scenarios of the invented fleet.

To add a fault: write its effect in one of the ``faults`` modules, then a row in one of the tables
of sick pumps; for a pump that only looks odd, a row in ``healthy_pumps`` or ``lookalikes``. The
seed varies the rest.
"""

from sample_data.healthy_pumps import ODD, PLAIN
from sample_data.lookalikes import ALIKE, PLAIN_TOO
from sample_data.scenario import Scenario
from sample_data.sick_delivery import DELIVERS_WRONG
from sample_data.sick_drive import DRIVES_WRONG
from sample_data.sick_pumps import SICK

SCENARIOS: tuple[Scenario, ...] = (
    SICK + ODD + PLAIN + DELIVERS_WRONG + DRIVES_WRONG + ALIKE + PLAIN_TOO
)
