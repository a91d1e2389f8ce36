"""Since when a fault shows, and whether enough was seen to say that none does."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from analysis.case import Case, Verdict
from analysis.findings import NotAssessed
from analysis.limits import CLEAR_OBSERVED_SHARE, SPELL_BREAK_DAYS
from analysis.records import PumpDay
from analysis.wording import local_date_text

_FIRST_DAY = timedelta(days=1)


def days_seen(case: Case) -> tuple[PumpDay, ...]:
    """Days of the week with any sample, oldest first."""
    return tuple(day for day in case.days if day.observed_s > 0)


def since_words(case: Case, since_at: datetime) -> str:
    """Since when, ``since Tue 17 Nov``; from the log's first day on nobody knows how much longer.

    A past that was cut at a known change begins there: before it the fault was not.
    """
    day = local_date_text(since_at, case.site.timezone)
    begins_at = (case.past[0] if case.past else case.week).first_at
    if case.baseline.cuts_past or since_at - begins_at >= _FIRST_DAY:
        return f"since {day}"
    return f"as far back as the log goes ({day})"


def clear_if_seen(case: Case) -> Verdict:
    """Answer for a week in which nothing was found: clear, unless too little of it was seen."""
    seen = 1 - case.week.share_missing
    if seen >= CLEAR_OBSERVED_SHARE.value:
        return ()
    return NotAssessed(
        reason=f"nothing found, but only {100 * seen:.0f} % of the week was logged; calling it"
        f" clear needs {100 * CLEAR_OBSERVED_SHARE.value:.0f} %"
    )


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
