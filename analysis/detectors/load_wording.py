"""What is said of a motor's load: summary, grounds of the confidence, what else it could be."""

from datetime import datetime

from analysis.case import Case
from analysis.detectors.certainty import Ground
from analysis.detectors.load_evidence import (
    at_top_speed,
    ceiling_is_a_limit,
    clips,
    drift_is_real,
    excludes_rise,
    margin_pct,
    off_expectation,
    rose_at_like_speed,
)
from analysis.detectors.spells import since_words
from analysis.limits import (
    DRIFT_MIN_WEEKS,
    MARGIN_HEALTHY_PCT,
    MARGIN_THIN_PCT,
    SPEED_OFF_HZ,
    THERMAL_NEAR_TRIP_PCT,
    TOP_SPEED_HZ,
    UNDERVOLTAGE_DAY_S,
)
from analysis.wording import (
    amps_text,
    duration_text,
    frequency_text,
    percent_text,
)


def summary(case: Case, cause: str, since_at: datetime) -> str:
    """One sentence with amps, margin, drift and since when."""
    week, limit_a = case.week, case.pump.service_factor_amps or 0.0
    since = since_words(case, since_at)
    level = f"{amps_text(week.current_p95_a or 0.0)} of {amps_text(limit_a)} service-factor amps"
    parts = []
    drift = case.drift
    if cause == "rising_load" and drift is not None and drift_is_real(drift):
        parts.append(
            f"Motor current at like speed and pressure has risen"
            f" {percent_text(drift.total_pct)} {since}"
            f" ({percent_text(drift.pct_per_week)} a week), now {level}"
        )
    else:
        again = "has gone up to" if cause == "rising_load" else "is at"
        parts.append(f"Motor current {again} {level} {since}")
    parts.append(f", {_margin_words(margin_pct(case))}")
    if (week.over_limit_s or 0.0) > 0:
        parts.append(f"; over them for {duration_text(week.over_limit_s or 0.0)} this week")
    if clips(case):
        parts.append(
            f"; the controller holds it at {amps_text(week.ceiling_a or 0.0)} by slowing down and"
            " pressure is short"
        )
    return "".join(parts) + "."


def _margin_words(margin: float) -> str:
    if margin < 0:
        return f"{percent_text(-margin)} over the limit"
    return f"a margin of {percent_text(margin)}"


def grounds(case: Case, cause: str) -> tuple[Ground, ...]:
    """Reasons for and against, with what each adds to the confidence."""
    return (*_level_grounds(case), *_cause_grounds(case, cause), *_log_grounds(case))


def _level_grounds(case: Case) -> tuple[Ground, ...]:
    week, margin = case.week, margin_pct(case)
    thermal = week.thermal_max_pct or 0.0
    return (
        Ground(
            margin < MARGIN_THIN_PCT.value,
            0.1,
            f"95 % of settled readings stay under {amps_text(week.current_p95_a or 0.0)}",
        ),
        Ground(
            thermal >= THERMAL_NEAR_TRIP_PCT.value,
            0.1,
            f"Modelled thermal state reached {percent_text(thermal)} of trip",
        ),
        Ground(
            clips(case),
            0.1 if ceiling_is_a_limit(case) else 0.0,
            f"Current piles up at {amps_text(week.ceiling_a or 0.0)} below top speed, for"
            f" {duration_text(week.clip_s or 0.0)}",
        ),
    )


def _expected_ground(case: Case, cause: str) -> Ground:
    """Current against what the pump's own earlier weeks let expect at like speed and pressure."""
    off = off_expectation(case)
    if off is None:
        return Ground(False, 0.0, "")
    pct, give_or_take = off
    is_over = pct > give_or_take
    return Ground(
        is_over or cause == "high_load",
        0.05 if is_over == (cause == "rising_load") else 0.0,
        f"{percent_text(abs(pct))} {'over' if pct > 0.0 else 'under'} what its earlier weeks let"
        f" expect at like speed and pressure (give or take {percent_text(give_or_take)})",
    )


def _cause_grounds(case: Case, cause: str) -> tuple[Ground, ...]:
    drift, rising = case.drift, cause == "rising_load"
    real = drift is not None and drift_is_real(drift)
    band = (
        f"Like for like {percent_text(drift.pct_per_week)} a week"
        f" ({percent_text(drift.low_pct_per_week)} to {percent_text(drift.high_pct_per_week)})"
        f" over {drift.n_weeks} weeks"
        if drift is not None
        else ""
    )
    return (
        Ground(real, 0.15 if rising else 0.0, band),
        _expected_ground(case, cause),
        Ground(
            rising and not real and rose_at_like_speed(case),
            0.05,
            "Higher than in earlier weeks that ran as fast",
        ),
        Ground(
            not rising and not real and excludes_rise(drift),
            0.1,
            f"No rise over {drift.n_weeks} weeks: it has been so" if drift else "",
        ),
        Ground(
            not rising and drift is not None and not real and not excludes_rise(drift),
            -0.05,
            f"{band}: too wide to say whether it rises",
        ),
        Ground(
            drift is None,
            -0.05,
            f"Fewer than {DRIFT_MIN_WEEKS.value:.0f} weeks to compare: rising or not is unknown",
        ),
        Ground(
            not rising and at_top_speed(case),
            0.05,
            f"Only at top speed, {frequency_text(case.week.frequency_p95_hz or 0.0)}",
        ),
    )


def _log_grounds(case: Case) -> tuple[Ground, ...]:
    return (
        Ground(
            case.week.is_averaged,
            -0.1,
            "The logger averages: peaks are smoothed, so the true margin is smaller",
        ),
        Ground(
            margin_pct(case) >= MARGIN_HEALTHY_PCT.value,
            0.0,
            "The margin itself is still healthy",
        ),
    )


def alternatives(case: Case, cause: str) -> tuple[str, ...]:
    """What else gives the same current."""
    week, pump = case.week, case.pump
    told = []
    if cause == "rising_load":
        told.append("More flow or a higher water level at like pressure")
        told.append("Bearing, rub, sand or scale: the log cannot tell which drags")
    else:
        told.append("Service-factor amps recorded lower than the nameplate's")
        told.append("Pump curve too big for the motor, or run-out against low head")
    if pump.max_hz > TOP_SPEED_HZ.value + SPEED_OFF_HZ.value:
        told.append(f"max_hz is {frequency_text(pump.max_hz)}, above the usual top speed")
    if (week.motor_undervoltage_s or 0.0) > UNDERVOLTAGE_DAY_S.value:
        told.append("Low volts at full speed raise motor current: see the supply first")
    if not excludes_rise(case.drift):
        told.append("It may be rising: not enough earlier weeks at like speed and pressure")
    return tuple(told)
