"""Since when a fault shows, from the days of this week and of the weeks before."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from analysis.case import Case
from analysis.limits import SPELL_BREAK_DAYS
from analysis.records import PumpDay


def days_seen(case: Case) -> tuple[PumpDay, ...]:
    """Days of the week with any sample, oldest first."""
    return tuple(day for day in case.days if day.observed_s > 0)


def spell_bounds(case: Case, shows: Callable[[PumpDay], bool]) -> tuple[datetime, datetime]:
    """First and last evidence of the present spell.

    The spell ends at the last day of this week that shows the fault, and reaches back over
    earlier weeks as long as no more than ``SPELL_BREAK_DAYS`` pass without such a day. Without
    any such day it is the observed week.

    Returns
    -------
    since_at, until_at : datetime
        UTC. Never before the first sample of this week's record if it starts there, never after
        its last.
    """
    now = [day for day in case.days if shows(day)]
    if not now:
        return case.week.first_at, case.week.last_at
    earliest = _reach_back([*case.past_days, *case.days], now[-1], shows)
    since_at = max(earliest.from_at, case.week.first_at) if earliest in now else earliest.from_at
    return since_at, min(now[-1].from_at + timedelta(days=1), case.week.last_at)


def _reach_back(
    days: Sequence[PumpDay], last: PumpDay, shows: Callable[[PumpDay], bool]
) -> PumpDay:
    earliest = last
    for day in sorted(days, key=lambda d: d.local_date, reverse=True):
        if (earliest.local_date - day.local_date).days > SPELL_BREAK_DAYS.value:
            break
        if day.local_date <= last.local_date and shows(day):
            earliest = day
    return earliest
