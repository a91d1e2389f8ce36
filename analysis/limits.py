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

# -- memory over weeks
CLEAN_WEEKS_TO_CLOSE = Limit(
    2, "clear weeks", "ours: 14 clean days, so that a fault that rests a week is not called new"
)
WORSE_SHARE = Limit(
    0.25, "share of the last size", "ours: less is within a week's own scatter of use"
)

MEMORY_WEEKS = Limit(
    26, "weeks", "ours: half a year back decides between 'back' and 'new'; more is only history"
)

# -- choosing the week to report
REPORT_WEEK_SHARE = Limit(
    0.5, "share of the pumps that ever sent data", "ours: 'most pumps' read as half or more"
)

# -- supply of a neighbourhood
IDLE_LOW_PCT = Limit(
    95, "% of supply_volts at the 5th percentile of idle volts", "ANSI C84.1 Range A service"
)

# -- drift of current over weeks
DRIFT_MIN_WEEKS = Limit(3, "weeks that share bins", "common practice: fewer are weather or use")
DRIFT_BIN_MIN_SAMPLES = Limit(
    10, "settled samples a bin and week", "ours: the mean of fewer hangs on single readings"
)
DRIFT_BIN_MIN_HELD_S = Limit(
    300, "s a bin and week", "ours: less is passing through the bin, not running in it"
)
