"""What was usual for a pump before: the habit that a week is compared with."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.case import Case
from analysis.few import median_of, quantile_of
from analysis.limits import (
    BASELINE_DAYS,
    DAY_OBSERVED_SHARE,
    FALL_CHANGE,
    RUN_AS_EVER,
    SAME_INTERVAL_RATIO,
)
from analysis.records import PumpDay, PumpWeek

DAY_S = 86_400.0
_USUAL_SHARE = 0.25  # of the past days: a fault that began weeks ago is not its own baseline
_RANGE_SHARE = 0.9  # of the past days: one party is no habit
_SATURDAY = 5
_MIN_S = 60.0
_WEEK_LEAST_S = BASELINE_DAYS.value * DAY_OBSERVED_SHARE.value * DAY_S  # a stub is no week
_WAY_STEPS = 4  # of the resolution: a shorter way is rounding


@dataclass(frozen=True, kw_only=True)
class OwnPast:
    """Usual values of earlier weeks; ``None`` where too few days in use were seen.

    From the days and weeks whose log was about as fast as this week's, or faster: a slower log
    misses starts and short stops, and what it missed would look like a change. What tells a tank
    that one draw empties (`gradual_fall`, `fall_p50_kpa_per_min`, `refill_over_f0_hz`) is from
    before it last began to, as no tank gets its charge back by itself.

    Attributes
    ----------
    starts_per_day, slowest_starts_per_day : float or None
        Usual starts, and the same over all earlier weeks whatever their log interval; those of
        weekdays where they tell. [1/d]
    weekend_starts_per_day : float or None
        Usual starts of a Saturday or Sunday; an office draws a tenth then. [1/d]
    top_starts_per_day : float or None
        Top of the pump's own range: 90th percentile of starts up to the last usual day. What
        was reached and gone again before is use; a lasting fault is not in it. [1/d]
    fall_p90_kpa_per_min : float or None
        Usual steep falls. [kPa/min]
    draw_change : float or None
        Steep falls of the week's draws as a multiple of the usual ones.
    stop_s_p10 : float or None
        Usual short stops; shorter ones where such a week passed and the stops came back, as no
        tank gets its charge back by itself. [s]
    run_s : float or None
        Usual run. [s]
    gradual_fall : float or None
        Usual `gradual_fall` of a week.
    is_emptied : bool
        One draw had begun to empty the tank and it has not come back since.
    overshoot_kpa : float or None
        Usual overshoot at a stop. [kPa]
    fall_p50_kpa_per_min : float or None
        Usual median fall of a day. [kPa/min]
    refill_over_f0_hz : float or None
        Usual speed over that of no flow at which a start fills the tank. [Hz]
    """

    starts_per_day: float | None
    slowest_starts_per_day: float | None
    weekend_starts_per_day: float | None
    top_starts_per_day: float | None
    fall_p90_kpa_per_min: float | None
    draw_change: float | None
    stop_s_p10: float | None
    run_s: float | None
    gradual_fall: float | None
    is_emptied: bool
    overshoot_kpa: float | None
    fall_p50_kpa_per_min: float | None
    refill_over_f0_hz: float | None

    def usual_starts(self, day: PumpDay) -> float | None:
        """Usual starts of a day of this kind: weekdays and weekends are not alike."""
        return self.weekend_starts_per_day if _is_weekend(day) else self.starts_per_day


def own_past(case: Case) -> OwnPast:
    """Gather a pump's usual values from its earlier weeks."""
    weeks = [
        week
        for week in case.past
        if _is_as_fast(week.log_interval_s, case) and week.observed_s >= _WEEK_LEAST_S
    ]
    in_use = [day for day in usable_days(case.past_days) if day.n_starts >= BASELINE_DAYS.value]
    days = [day for day in in_use if _is_as_fast(day.log_interval_s, case)]
    stops = [week.stop_s_p10 for week in weeks if week.stop_s_p10 is not None]
    overshoots = [week.overshoot_kpa for week in weeks if week.overshoot_kpa is not None]
    falls = [day.fall_p90_kpa_per_min for day in _weekdays(days)]
    runs = [week.run_s_median for week in weeks if week.run_s_median is not None]
    whole = _before_one_draw_emptied(weeks, case.week)
    emptied = {week.week for week in weeks[len(whole) :]}
    middle = [day.fall_p50_kpa_per_min for day in days if day.week not in emptied]
    refills = [week.refill_over_f0_hz for week in whole if week.refill_over_f0_hz is not None]
    usual = _usual([starts_per_day(day) for day in _weekdays(days)])
    return OwnPast(
        starts_per_day=usual,
        slowest_starts_per_day=_usual([starts_per_day(day) for day in _weekdays(in_use)]),
        weekend_starts_per_day=_usual([starts_per_day(day) for day in _weekends(days)]),
        top_starts_per_day=_top([starts_per_day(day) for day in _weekdays(days)], usual),
        fall_p90_kpa_per_min=_usual([fall for fall in falls if fall is not None]),
        draw_change=_draw_change(case, days),
        stop_s_p10=_shortest_that_came_back(stops),
        run_s=median_of(runs) if runs else None,
        gradual_fall=_usual_gradual_fall(whole),
        is_emptied=bool(emptied),
        overshoot_kpa=median_of(overshoots) if overshoots else None,
        fall_p50_kpa_per_min=_usual([fall for fall in middle if fall is not None]),
        refill_over_f0_hz=quantile_of(refills, 1 - _USUAL_SHARE) if refills else None,
    )


def gradual_fall(week: PumpWeek, *, is_resolved_before: bool = False) -> float | None:
    """Share of the way from stop to restart that the median fall goes over the median stop.

    Near 1 where water leaves bit by bit, as with a leak or with many small draws on a good tank;
    near 0 where pressure stands through the stop and the first draw takes all the tank holds: even
    between the last sample and the start, where the way is known from before to be longer than the
    sensor's rounding.
    """
    fall, stop_s = week.fall_p50_kpa_per_min, week.stop_s_median
    if None in (fall, stop_s, week.stop_pressure_kpa, week.restart_pressure_kpa):
        return None
    way_kpa = (week.stop_pressure_kpa or 0.0) - (week.restart_pressure_kpa or 0.0)
    if way_kpa <= _WAY_STEPS * (week.pressure_step_kpa or 0.0) or way_kpa <= 0:
        return 0.0 if is_resolved_before else None
    return max(0.0, (fall or 0.0) * (stop_s or 0.0) / _MIN_S / way_kpa)


def is_emptied_by_one_draw(week: PumpWeek, usual: float) -> bool:
    """Whether pressure sinks a third as far through the stops as the usual `gradual_fall`."""
    now = gradual_fall(week, is_resolved_before=True)
    return now is not None and FALL_CHANGE.value * now <= min(1.0, usual)


def usable_days(days: Sequence[PumpDay]) -> list[PumpDay]:
    """Days seen for long enough that a daily rate means something."""
    return [day for day in days if day.observed_s >= DAY_OBSERVED_SHARE.value * DAY_S]


def starts_per_day(day: PumpDay) -> float:
    """Starts of a day, carried over to a whole one."""
    return day.n_starts * DAY_S / day.observed_s


def _before_one_draw_emptied(weeks: Sequence[PumpWeek], now: PumpWeek) -> Sequence[PumpWeek]:
    """Weeks before one draw began to empty the tank; all where it did not, or came back since."""
    for n in range(1, len(weeks)):
        usual = _usual_gradual_fall(weeks[:n])
        if usual is None or not is_emptied_by_one_draw(weeks[n], usual):
            continue
        if not any(_sinks_as_ever(week, usual) for week in (*weeks[n + 1 :], now)):
            return weeks[:n]
    return weeks


def _sinks_as_ever(week: PumpWeek, usual: float) -> bool:
    now = gradual_fall(week, is_resolved_before=True)
    return now is not None and RUN_AS_EVER.value * now >= min(1.0, usual)


def _usual_gradual_fall(weeks: Sequence[PumpWeek]) -> float | None:
    known = [share for share in map(gradual_fall, weeks) if share is not None]
    return quantile_of(known, 1 - _USUAL_SHARE) if known else None


def _is_as_fast(interval_s: float | None, case: Case) -> bool:
    most_s = SAME_INTERVAL_RATIO.value * case.week.log_interval_s
    return interval_s is not None and interval_s <= most_s


def _is_weekend(day: PumpDay) -> bool:
    return day.local_date.weekday() >= _SATURDAY


def _weekdays(days: Sequence[PumpDay]) -> Sequence[PumpDay]:
    """Those from Monday to Friday; all where these are too few."""
    found = [day for day in days if not _is_weekend(day)]
    return found if len(found) >= BASELINE_DAYS.value else days


def _weekends(days: Sequence[PumpDay]) -> Sequence[PumpDay]:
    """Saturdays and Sundays; all days where these are too few."""
    found = [day for day in days if _is_weekend(day)]
    return found if len(found) >= BASELINE_DAYS.value else days


def _draw_change(case: Case, past_days: Sequence[PumpDay]) -> float | None:
    """How much steeper draws pull the pressure down: like draws on a smaller store of water."""
    now = [day.draw_fall_kpa_per_min for day in usable_days(case.days)]
    seen = [fall for fall in now if fall is not None]
    before = [day.draw_fall_kpa_per_min for day in past_days]
    usual = _usual([fall for fall in before if fall is not None])
    if not seen or not usual or usual <= 0:
        return None
    return median_of(seen) / usual


def _top(values: Sequence[float], usual: float | None) -> float | None:
    if usual is None:
        return None
    last = max(n for n, value in enumerate(values) if value <= usual)
    return quantile_of(values[: last + 1], _RANGE_SHARE)


def _shortest_that_came_back(stops: Sequence[float]) -> float | None:
    if not stops:
        return None
    usual = median_of(stops)
    last = max(n for n, stop_s in enumerate(stops) if stop_s >= usual)
    return min(usual, *stops[: last + 1])


def _usual(values: Sequence[float]) -> float | None:
    if len(values) < BASELINE_DAYS.value:
        return None
    return quantile_of(values, _USUAL_SHARE)
