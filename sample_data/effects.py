"""All effects that can be built into a pump set, by name."""

from sample_data.faults import CORE, Effect
from sample_data.faults_delivery import DELIVERY
from sample_data.faults_drive import DRIVE

EFFECTS: dict[str, Effect] = {effect.__name__: effect for effect in (*CORE, *DELIVERY, *DRIVE)}
