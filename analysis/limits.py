"""Every threshold once, with its unit and source; detectors and pages take them from here."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A threshold, what it counts, and where it comes from.

    ``source`` names a published source, or says "common practice", or "ours:" and the reason.
    """

    value: float
    unit: str
    source: str


VOLTAGE_TOLERANCE_PCT = Limit(10, "% of rated volts", "NEMA MG 1-12.44")
