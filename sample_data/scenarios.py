"""All scenarios of the invented fleet.

To add a fault: write its effect in ``faults``, then a row in ``sick_pumps``; for a pump that only
looks odd, a row in ``healthy_pumps``. The seed varies the rest.
"""

from sample_data.healthy_pumps import ODD, PLAIN
from sample_data.scenario import Scenario
from sample_data.sick_pumps import SICK

SCENARIOS: tuple[Scenario, ...] = SICK + ODD + PLAIN
