"""What terminal and pages show, as JSON for another program: the same dataclasses, same order."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from math import isfinite
from typing import Any

import orjson

from analysis.brief_contents import Brief, PumpBrief
from analysis.fault_report import FaultReport
from dashboards.export import utc_text
from ingest.weeks import Week

_RAW_RECORDS = frozenset({"past", "days", "op_map"})
"""What a chart is drawn from and no reader asks for: earlier weeks, days, operating maps."""


def brief_json(brief: Brief) -> str:
    """Return the pre-read of one site as JSON."""
    return _text(brief)


def faults_json(report: FaultReport) -> str:
    """Return what recurs in the fleet, and its trends, as JSON."""
    return _text(report)


def _text(value: object) -> str:
    return orjson.dumps(_plain(value), option=orjson.OPT_INDENT_2).decode("utf-8")


def _plain(value: Any) -> Any:
    """Return what JSON has: instants as UTC, days as ISO dates, weeks as 2026-W47, NaN as null."""
    if isinstance(value, Week | Enum):
        return str(value)
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value if isfinite(value) else None
    if is_dataclass(value):
        left_out = _RAW_RECORDS if isinstance(value, PumpBrief) else frozenset()
        return {
            field.name: _plain(getattr(value, field.name))
            for field in fields(value)
            if field.name not in left_out
        }
    if isinstance(value, Mapping):
        return {str(key): _plain(value[key]) for key in sorted(value)}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value
