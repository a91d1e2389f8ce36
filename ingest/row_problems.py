"""What can be wrong with a row of a log, as bits of one number a row.

A channel has two bits: its cell is no number, or its value is not plausible. In a needed channel
either costs the row; elsewhere the cell is left blank. The other problems cost the row.
"""

from ingest.layout import NEEDED_CHANNELS
from ingest.samples import CHANNELS


def not_a_number_bit(channel: str) -> int:
    """Bit of "the cell is no number"."""
    return 1 << (2 * CHANNELS.index(channel))


def not_plausible_bit(channel: str) -> int:
    """Bit of "the value is outside the plausible range"."""
    return 2 << (2 * CHANNELS.index(channel))


_FIRST = 2 * len(CHANNELS)
TOO_FEW_CELLS = 1 << _FIRST
TOO_MANY_CELLS = 2 << _FIRST
TIME_UNREADABLE = 4 << _FIRST
PUMP_UNKNOWN = 8 << _FIRST
CLOCK_LOST = 16 << _FIRST
TIME_TOO_FAR = 32 << _FIRST
HOUR_SKIPPED = 64 << _FIRST
UNIT_WRONG = 128 << _FIRST
TIME_AGAIN = 256 << _FIRST
SECONDS_LOST = 512 << _FIRST
NO_VALUE = 1024 << _FIRST
HAS_NAN = 2048 << _FIRST  # "not a number" as floating-point logs write a blank: no problem

COSTS_ROW = (
    (NO_VALUE << 1)
    - TOO_FEW_CELLS
    + sum(not_a_number_bit(channel) | not_plausible_bit(channel) for channel in NEEDED_CHANNELS)
)
"""Any of these bits keeps the row out."""

COSTS_CELL = (TOO_FEW_CELLS - 1) & ~COSTS_ROW
"""Any of these bits leaves a cell blank."""
