"""Demand that keeps a calendar, beside findings that such demand could be taken for."""

from datetime import date

from analysis.case import Case
from analysis.limits import QUIET_HOURS

_LINES = 3
_FILLS_SHARE = 0.5


def demand_texts(case: Case) -> tuple[str, ...]:
    """What is recognised of this pump's demand, at most three."""
    return tuple(demand.text for demand in case.rhythm.demands[:_LINES])


def demand_lines(case: Case) -> tuple[str, ...]:
    """Recognised demand of this pump as evidence, at most three lines."""
    return tuple(f"Known demand: {text}" for text in demand_texts(case))


def is_scheduled_night(case: Case, on: date) -> bool:
    """Demand with a calendar takes half or more of that date's quiet window."""
    from_hour = case.week.quiet_from_hour
    if from_hour is None:
        return False
    window_min = 60.0 * QUIET_HOURS.value
    return case.rhythm.scheduled_min(on, from_hour) >= _FILLS_SHARE * window_min
