"""Whether volts stay under the range a service should keep, with a limit to close inside it.

What opened stays open while it lies within ``CLOSE_INSIDE_SHARE`` of the limits that opened it:
volts that hover at a limit are one fault, not one every other week.
"""

from collections.abc import Sequence

from analysis.case import Case
from analysis.detectors.certainty import Level
from analysis.detectors.supply_evidence import is_low_day
from analysis.limits import (
    CLEAN_OBSERVED_SHARE,
    CLEAN_WEEKS_TO_CLOSE,
    CLOSE_INSIDE_SHARE,
    LOW_VOLTAGE_CLEAR_PCT,
    LOW_VOLTAGE_HOURS,
    LOW_VOLTAGE_RUN_SHARE,
    UNDERVOLTAGE_DAYS,
    VOLTAGE_RANGE_A_PCT,
)
from analysis.records import PumpDay, PumpWeek

WEAR = 2


def range_level(case: Case, nominal_v: float) -> Level | None:
    """Under Range A for a good part of running, or at rest for hours or on several days."""
    opens = _level(case.week, case.days, nominal_v)
    if opens is not None or not _was_open(case, nominal_v):
        return opens
    return _level(case.week, case.days, nominal_v, CLOSE_INSIDE_SHARE.value)


def _was_open(case: Case, nominal_v: float) -> bool:
    """Whether an earlier week opened it, and no ``CLEAN_WEEKS_TO_CLOSE`` have closed it since."""
    n_clean = 0
    for week in reversed(case.past):
        days = [day for day in case.past_days if day.week == week.week]
        if _level(week, days, nominal_v) is not None:
            return True
        is_inside = _level(week, days, nominal_v, CLOSE_INSIDE_SHARE.value) is None
        is_seen = 1 - week.share_missing >= CLEAN_OBSERVED_SHARE.value and week.run_s > 0
        n_clean += is_inside and is_seen
        if n_clean >= CLEAN_WEEKS_TO_CLOSE.value:
            return False
    return False


def _level(
    week: PumpWeek, days: Sequence[PumpDay], nominal_v: float, inside: float = 0.0
) -> Level | None:
    """Level of a week by the limits that open, or by those a share ``inside`` them."""
    short_pct = (1 - inside) * (100 - LOW_VOLTAGE_CLEAR_PCT.value)
    clear_v = nominal_v * (1 - short_pct / 100)
    least_share = (1 - inside) * LOW_VOLTAGE_RUN_SHARE.value
    n_low = sum(map(is_low_day, days))
    n_seen = sum(day.observed_s > 0 for day in days)
    repeats = n_low > 0 and n_low >= min(UNDERVOLTAGE_DAYS.value, n_seen)
    runs_low = week.running_v_p05 is not None and week.running_v_p05 < clear_v
    if (week.below_95_run_share or 0.0) > least_share and runs_low and repeats:
        return Level(WEAR, VOLTAGE_RANGE_A_PCT, 0.65)
    hours = [v for v in week.idle_v_by_hour or [] if v is not None and v < clear_v]
    rests_low = week.idle_v_p05 is not None and week.idle_v_p05 < clear_v
    if rests_low and (repeats or len(hours) >= LOW_VOLTAGE_HOURS.value):
        return Level(WEAR, VOLTAGE_RANGE_A_PCT, 0.6)
    return None
