"""One module per fault kind; each judges a pump's week from its record alone."""

from types import ModuleType

from analysis.detectors import (
    data_gap,
    leak,
    overload_margin,
    setting,
    short_cycling,
    undervoltage,
)

DETECTORS: tuple[ModuleType, ...] = (
    short_cycling,
    undervoltage,
    overload_margin,
    leak,
    data_gap,
    setting,
)
"""Every detector, in the order of `Kind`; each has ``KIND``, ``NEEDS`` and ``judge(case)``."""
