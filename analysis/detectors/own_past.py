"""What was usual for a pump before: the habit that a week is compared with."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.case import Case
from analysis.limits import BASELINE_DAYS, DAY_OBSERVED_SHARE, SAME_INTERVAL_RATIO
from analysis.records import PumpDay

DAY_S = 86_400.0
_USUAL_SHARE = 0.25  # of the past days: a fault that began weeks ago is not its own baseline


@dataclass(frozen=True, kw_only=True)
class OwnPast:
    """Usual values of earlier weeks; ``None`` where too few days in use were seen.

    From the days and weeks whose log was about as fast as this week's, or faster: a slower log
    misses starts and short stops, and what it missed would look like a change.

    Attributes
    ----------
    starts_per_day, slowest_starts_per_day : float or None
        Usual starts, and the same over all earlier weeks whatever their log interval. [1/d]
    fall_p90_kpa_per_min : float or None
        Usual steep falls. [kPa/min]
    stop_s_p10 : float or None
        Usual short stops. [s]
    overshoot_kpa : float or None
        Usual overshoot at a stop. [kPa]
    """

    starts_per_day: float | None
    slowest_starts_per_day: float | None
    fall_p90_kpa_per_min: float | None
    stop_s_p10: float | None
    overshoot_kpa: float | None


def own_past(case: Case) -> OwnPast:
    """Gather a pump's usual values from its earlier weeks."""
    weeks = [week for week in case.past if _is_as_fast(week.log_interval_s, case)]
    in_use = [day for day in usable_days(case.past_days) if day.n_starts >= BASELINE_DAYS.value]
    days = [day for day in in_use if _is_as_fast(day.log_interval_s, case)]
    stops = [week.stop_s_p10 for week in weeks if week.stop_s_p10 is not None]
    overshoots = [week.overshoot_kpa for week in weeks if week.overshoot_kpa is not None]
    falls = [day.fall_p90_kpa_per_min for day in days]
    return OwnPast(
        starts_per_day=_usual([starts_per_day(day) for day in days]),
        slowest_starts_per_day=_usual([starts_per_day(day) for day in in_use]),
        fall_p90_kpa_per_min=_usual([fall for fall in falls if fall is not None]),
        stop_s_p10=float(np.median(stops)) if stops else None,
        overshoot_kpa=float(np.median(overshoots)) if overshoots else None,
    )


def usable_days(days: Sequence[PumpDay]) -> list[PumpDay]:
    """Days seen for long enough that a daily rate means something."""
    return [day for day in days if day.observed_s >= DAY_OBSERVED_SHARE.value * DAY_S]


def starts_per_day(day: PumpDay) -> float:
    """Starts of a day, carried over to a whole one."""
    return day.n_starts * DAY_S / day.observed_s


def _is_as_fast(interval_s: float | None, case: Case) -> bool:
    most_s = SAME_INTERVAL_RATIO.value * case.week.log_interval_s
    return interval_s is not None and interval_s <= most_s


def _usual(values: Sequence[float]) -> float | None:
    if len(values) < BASELINE_DAYS.value:
        return None
    return float(np.quantile(np.asarray(values, dtype=np.float64), _USUAL_SHARE))
