"""What a week's motor current says: margin, clipping, and whether the load rose like for like."""

from statistics import median

from analysis.case import Case, CurrentDrift
from analysis.detectors.spells import days_seen
from analysis.limits import (
    CEILING_NEAR_SHARE,
    CLIP_DAY_S,
    CLIP_WEEK_S,
    DRIFT_FAST_PCT_PER_WEEK,
    DRIFT_PCT_PER_WEEK,
    DRIFT_SURE_PCT_PER_WEEK,
    DRIFT_TOTAL_PCT,
    LOAD_STEP_HZ,
    LOAD_STEP_PCT,
    MARGIN_DAYS,
    MARGIN_HEALTHY_PCT,
    TOP_SPEED_SHARE,
)


def margin_pct(case: Case) -> float:
    """Service-factor amps less the 95th percentile of settled current, in percent of the former.

    NaN where either is unknown.
    """
    limit_a, p95_a = case.pump.service_factor_amps, case.week.current_p95_a
    if not limit_a or p95_a is None:
        return float("nan")
    return 100 * (limit_a - p95_a) / limit_a


def clips(case: Case) -> bool:
    """Whether the drive holds current at a ceiling, short of pressure, on several days.

    A ceiling far below every registered limit is no current limit of this motor's: current that
    no demand varies piles up too.
    """
    if (case.week.clip_s or 0.0) < CLIP_WEEK_S.value or case.week.ceiling_a is None:
        return False
    if not (ceiling_is_a_limit(case) or margin_pct(case) < MARGIN_HEALTHY_PCT.value):
        return False
    days = [day for day in case.days if (day.clip_s or 0.0) > CLIP_DAY_S.value]
    return len(days) >= min(MARGIN_DAYS.value, len(days_seen(case)))


def ceiling_is_a_limit(case: Case) -> bool:
    """Whether the ceiling is one of the registered limits, as a drive's own limit would be."""
    ceiling_a, pump = case.week.ceiling_a, case.pump
    limits_a = (pump.overload_setting_amps, pump.service_factor_amps, pump.rated_amps)
    return ceiling_a is not None and any(
        limit_a and abs(ceiling_a / limit_a - 1) <= CEILING_NEAR_SHARE.value
        for limit_a in limits_a
    )


def may_be_held_by_current(case: Case) -> bool:
    """Whether the usual high current stands at a limit a drive slows down at.

    A log's own ceiling shows it, or a 95th percentile at the overload setting or the nameplate's
    service-factor amps: then the speed that is left cannot be used.
    """
    pump, p95_a = case.pump, case.week.current_p95_a or 0.0
    limits_a = [a for a in (pump.overload_setting_amps, pump.service_factor_amps) if a]
    at_limit = bool(limits_a) and p95_a >= (1 - CEILING_NEAR_SHARE.value) * min(limits_a)
    return at_limit or ceiling_is_a_limit(case)


def drift_is_real(drift: CurrentDrift) -> bool:
    """Whether current at like frequency and pressure rises by more than chance and season."""
    return (
        drift.pct_per_week >= DRIFT_PCT_PER_WEEK.value
        and drift.low_pct_per_week >= DRIFT_SURE_PCT_PER_WEEK.value
        and drift.total_pct >= DRIFT_TOTAL_PCT.value
    )


def excludes_rise(drift: CurrentDrift | None) -> bool:
    """Whether the weeks are enough to rule out a rise that would matter."""
    return drift is not None and drift.high_pct_per_week < DRIFT_FAST_PCT_PER_WEEK.value


def rose_at_like_speed(case: Case) -> bool:
    """Whether this week stands above at least two earlier weeks that ran as fast.

    A step too recent for a drift to show; judged on the 95th percentiles of current and
    frequency.
    """
    step_a = like_speed_step_a(case)
    return step_a is not None and (case.week.current_p95_a or 0.0) > step_a


def like_speed_step_a(case: Case) -> float | None:
    """Current [A] above which it has gone up, beside earlier weeks that ran as fast.

    None where fewer than two did.
    """
    p95_hz = case.week.frequency_p95_hz
    if p95_hz is None:
        return None
    like_a = [
        past.current_p95_a
        for past in case.past
        if past.current_p95_a is not None
        and past.frequency_p95_hz is not None
        and abs(past.frequency_p95_hz - p95_hz) <= LOAD_STEP_HZ.value
    ]
    return (1 + LOAD_STEP_PCT.value / 100) * median(like_a) if len(like_a) >= 2 else None


def at_top_speed(case: Case) -> bool:
    """Whether the highest current goes with top speed."""
    p95_hz = case.week.frequency_p95_hz
    return p95_hz is not None and p95_hz >= TOP_SPEED_SHARE.value * case.pump.max_hz


def off_expectation(case: Case) -> tuple[float, float] | None:
    """How far the week's current lies off what earlier weeks let expect, and how sure that is.

    Returns
    -------
    tuple of (deviation, half width of its 95 % interval), or None where there is too little past,
    or the week judged is itself part of what was learned. [%]
    """
    expected = case.expected_current
    if expected is None or expected.includes_week_judged:
        return None
    cells = [cell for week in case.op_map for cell in week if cell.week == case.week.week]
    return expected.residual_pct(cells)
