"""One register cell becomes a typed value in the inner unit, or says what was expected of it."""

import re
from collections.abc import Callable
from datetime import date
from math import isfinite
from zoneinfo import ZoneInfo

from ingest.columns import Column, Kind
from ingest.units import awg_mm2, conversion

Value = str | float | int | bool | date

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_YES_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}


class CellError(ValueError):
    """The cell is not what its column holds; the text says what was expected."""


def read_cell(column: Column, unit: str, text: str) -> Value:
    """Value of a cell that is not blank.

    Parameters
    ----------
    column : Column
    unit : str
        Unit of the column's name in this file.
    text : str
        The cell, without surrounding spaces.

    Raises
    ------
    CellError
        The text cannot be read as the column's kind, or its value is outside the plausible range.
    """
    return _READERS[column.kind](column, unit, text)


def range_text(column: Column, unit: str) -> str:
    """Plausible range of a column in an outer unit, in words."""
    if unit == "awg":
        return "40 to 4/0"
    scale = conversion(unit)
    suffix = f" {unit}" if unit else ""
    return f"{_short(scale.outer(column.low))} to {_short(scale.outer(column.high))}{suffix}"


def _short(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def _text(column: Column, unit: str, text: str) -> str:
    return text


def _number(column: Column, unit: str, text: str) -> float:
    if not _PLAIN_NUMBER.fullmatch(text):
        raise CellError("a number such as 5 or 7.5, without its unit")
    value = conversion(unit).inner(float(text))
    if not (isfinite(value) and column.low <= value <= column.high):
        raise CellError(range_text(column, unit))
    return value


def _wire(column: Column, unit: str, text: str) -> float:
    if unit != "awg":
        return _number(column, unit, text)
    try:
        return awg_mm2(text)
    except ValueError:
        raise CellError("a wire gauge such as 12 or 1/0") from None


def _choice(column: Column, unit: str, text: str) -> str:
    value = text.lower()
    if value not in column.choices:
        raise CellError(" or ".join(column.choices))
    return value


def _phases(column: Column, unit: str, text: str) -> int:
    if text not in {"1", "3", "1.0", "3.0"}:
        raise CellError("1 or 3")
    return int(text[0])


def _yes_no(column: Column, unit: str, text: str) -> bool:
    try:
        return _YES_NO[text.lower()]
    except KeyError:
        raise CellError("yes or no") from None


def _date(column: Column, unit: str, text: str) -> date:
    try:
        if _ISO_DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass  # said below, in the same words as for any other text
    raise CellError("a date such as 2026-11-16")


def _timezone(column: Column, unit: str, text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise CellError("an IANA time zone such as America/Chicago") from None
    return text


_READERS: dict[Kind, Callable[[Column, str, str], Value]] = {
    Kind.ID: _text,
    Kind.TEXT: _text,
    Kind.NUMBER: _number,
    Kind.WIRE_GAUGE: _wire,
    Kind.CHOICE: _choice,
    Kind.PHASES: _phases,
    Kind.YES_NO: _yes_no,
    Kind.DATE: _date,
    Kind.TIMEZONE: _timezone,
}
