"""One module per fault kind; each judges a pump's week from its record alone."""

from types import ModuleType

from analysis.detectors import (
    controller_trip,
    data_gap,
    dry_running,
    hunting,
    leak,
    overheating,
    overload_margin,
    sensor_fault,
    setting,
    short_cycling,
    undervoltage,
    weak_delivery,
)

DETECTORS: tuple[ModuleType, ...] = (
    short_cycling,
    undervoltage,
    overload_margin,
    leak,
    dry_running,
    weak_delivery,
    sensor_fault,
    hunting,
    overheating,
    data_gap,
    controller_trip,
    setting,
)
"""Every detector, in the order of `Kind`; each has ``KIND``, ``NEEDS`` and ``judge(case)``."""
