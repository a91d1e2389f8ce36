"""Which weeks of a pump's past its week is compared with, however many are stored.

Every week of the recent past counts. Of what lies further back one week a quarter stands for the
others, as wear and drift are slow; of a pump that was silent all through the recent past, the last
week before it.
"""

from collections.abc import Sequence
from functools import lru_cache

from analysis.limits import LONG_PAST_STEP_WEEKS, LONG_PAST_WEEKS, PAST_WEEKS
from analysis.records import PumpWeek
from ingest.weeks import Week, parse_week


@lru_cache
def recent_since(week: str) -> str:
    """First week of the recent past of a week."""
    return str(parse_week(week).plus(-int(PAST_WEEKS.value)))


@lru_cache
def long_past(week: str) -> frozenset[str]:
    """Weeks before the recent past that stand for theirs.

    They are the same ones whichever week is judged, so that nothing jumps from week to week.
    """
    since, step = parse_week(recent_since(week)), int(LONG_PAST_STEP_WEEKS.value)
    behind = range(1, int(LONG_PAST_WEEKS.value - PAST_WEEKS.value) + 1)
    return frozenset(str(one) for n in behind if _number(one := since.plus(-n)) % step == 0)


def up_to_week(weeks: Sequence[PumpWeek], week: str) -> list[PumpWeek]:
    """Weeks of a pump up to one that count when that one is judged.

    Parameters
    ----------
    weeks : sequence of PumpWeek
        At least those that count, oldest first.
    """
    since, long = recent_since(week), long_past(week)
    past = [one for one in weeks if one.week < week]
    counted = [one for one in past if one.week >= since or one.week in long]
    if past and not (counted and counted[-1].week >= since) and past[-1] not in counted[-1:]:
        counted.append(past[-1])
    return counted + [one for one in weeks if one.week == week]


def recent(weeks: Sequence[PumpWeek], week: str) -> tuple[PumpWeek, ...]:
    """Those of the recent past alone; the last one where there are none."""
    since = recent_since(week)
    return tuple(one for one in weeks if one.week >= since) or tuple(weeks[-1:])


def _number(week: Week) -> int:
    return week.monday.toordinal() // 7
