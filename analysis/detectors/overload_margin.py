"""Overload margin: the motor runs close to its service-factor amps, or is getting there.

Reads    settled motor current, ceiling and clipping, thermal state; register service_factor_amps;
         drift at like frequency and pressure over weeks.
Causes   rising_load: current creeps up like for like (mechanical drag likely). high_load: it has
         been near the limit since the record begins.
Misses   whether bearing, sand or a rub makes the drag; a worn impeller, which lowers current.
"""

from datetime import datetime

from analysis.case import Case, CurrentDrift, Verdict
from analysis.detectors.certainty import Level, weigh
from analysis.detectors.load_evidence import (
    clips,
    drift_is_real,
    like_speed_step_a,
    margin_pct,
    off_expectation,
    rose_at_like_speed,
)
from analysis.detectors.load_wording import alternatives, grounds, summary
from analysis.detectors.register_contradictions import amps_contradiction
from analysis.detectors.spells import clear_if_seen, days_seen, spell_bounds
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    DRIFT_FAST_PCT_PER_WEEK,
    DRIFT_PCT_PER_WEEK,
    DRIFT_VISIT_PCT,
    MARGIN_DAYS,
    MARGIN_HEALTHY_PCT,
    MARGIN_THIN_PCT,
    OVER_LIMIT_DAY_S,
    OVER_LIMIT_RUN_SHARE,
    THERMAL_NEAR_TRIP_PCT,
)
from analysis.records import PumpDay

KIND = Kind.OVERLOAD_MARGIN
NEEDS = Needs(log=("current_a",), register=("service_factor_amps",), observed_min_share=0.05)

WEAR, MONTHS, DAYS = 2, 3, 4


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    limit_a, p95_a = case.pump.service_factor_amps, case.week.current_p95_a
    if not limit_a:
        return NotAssessed(reason="no service_factor_amps in the register")
    contradiction = amps_contradiction(case)
    if contradiction is not None:
        return NotAssessed(reason=contradiction.reason)
    if p95_a is None:
        return NotAssessed(reason="no settled running with motor current this week")
    level = _level(case)
    if level is None:
        return clear_if_seen(case)
    cause = _cause(case)
    confidence, texts = weigh(level.start_confidence, grounds(case, cause))
    since_at, until_at = _bounds(case, cause)
    return (
        Judged(
            kind=KIND,
            cause=cause,
            consequence=level.consequence,
            confidence=confidence,
            since_at=since_at,
            until_at=until_at,
            measures=_measures(case),
            summary=summary(case, cause, since_at),
            limit_source=level.limit.source,
            grounds=texts,
            alternatives=alternatives(case, cause),
        ),
    )


def _level(case: Case) -> Level | None:
    found = [
        level
        for level in (
            _over_level(case),
            _clip_level(case),
            _margin_level(case),
            _drift_level(case),
        )
        if level is not None
    ]
    if not found:
        return None
    worst = max(found, key=lambda level: level.consequence)
    hot = (case.week.thermal_max_pct or 0.0) >= THERMAL_NEAR_TRIP_PCT.value
    return Level(DAYS, worst.limit, worst.start_confidence) if hot else worst


def _over_level(case: Case) -> Level | None:
    """Over the service-factor amps on several days, for more than scattered readings."""
    week = case.week
    over_s = week.over_limit_s or 0.0
    days = [d for d in case.days if (d.over_limit_s or 0.0) > OVER_LIMIT_DAY_S.value]
    repeats = len(days) >= min(MARGIN_DAYS.value, len(days_seen(case)))
    if not days or not repeats or over_s <= OVER_LIMIT_RUN_SHARE.value * week.run_s:
        return None
    is_usual = margin_pct(case) < 0
    return Level(DAYS if is_usual else MONTHS, MARGIN_HEALTHY_PCT, 0.7 if is_usual else 0.6)


def _clip_level(case: Case) -> Level | None:
    """Current is held at a ceiling by cutting speed: the fault hides and pressure is short."""
    return Level(MONTHS, MARGIN_HEALTHY_PCT, 0.6) if clips(case) else None


def _margin_level(case: Case) -> Level | None:
    margin = margin_pct(case)
    if margin >= MARGIN_HEALTHY_PCT.value or not _thin_days(case):
        return None
    if margin >= MARGIN_THIN_PCT.value:
        return Level(WEAR, MARGIN_HEALTHY_PCT, 0.5)
    return Level(MONTHS, MARGIN_HEALTHY_PCT, 0.65)


def _thin_days(case: Case) -> bool:
    """Whether the margin is thin on as many days as a single heavy day would not make."""
    known = [day for day in case.days if day.current_p95_a is not None]
    thin = [day for day in known if _is_thin(case, day)]
    return not known or len(thin) >= min(MARGIN_DAYS.value, len(known))


def _is_thin(case: Case, day: PumpDay) -> bool:
    limit_a, p95_a = case.pump.service_factor_amps or 0.0, day.current_p95_a
    return p95_a is not None and p95_a > (1 - MARGIN_HEALTHY_PCT.value / 100) * limit_a


def _drift_level(case: Case) -> Level | None:
    drift = case.drift
    if drift is None or not drift_is_real(drift):
        return None
    if drift.total_pct >= DRIFT_VISIT_PCT.value:
        return Level(MONTHS, DRIFT_VISIT_PCT, 0.6)
    return Level(WEAR, DRIFT_PCT_PER_WEEK, 0.6)


def _cause(case: Case) -> str:
    """Rising where the current moved like for like and that, not the first level, is the news."""
    drift = case.drift
    if drift is not None and drift_is_real(drift):
        return "rising_load" if _explains(case, drift) else "high_load"
    if rose_at_like_speed(case):
        return "rising_load"
    return "high_load"


def _explains(case: Case, drift: CurrentDrift) -> bool:
    """Whether margin was healthy before the drift, or the drift is fast whatever it was."""
    at_first_pct = margin_pct(case) + drift.total_pct
    fast = (
        drift.pct_per_week >= DRIFT_FAST_PCT_PER_WEEK.value
        or drift.total_pct >= DRIFT_VISIT_PCT.value
    )
    return fast or at_first_pct >= MARGIN_HEALTHY_PCT.value


def _bounds(case: Case, cause: str) -> tuple[datetime, datetime]:
    """First and last day of it; of a step up, the days above it: thin margin may be older."""
    drift, step_a = case.drift, like_speed_step_a(case)
    drifts = cause == "rising_load" and drift is not None and drift_is_real(drift)
    if cause == "rising_load" and not drifts and step_a is not None:
        return spell_bounds(case, lambda day: (day.current_p95_a or 0.0) > step_a)
    since_at, until_at = spell_bounds(
        case,
        lambda day: (
            _is_thin(case, day)
            or (day.over_limit_s or 0.0) > OVER_LIMIT_DAY_S.value
            or (day.clip_s or 0.0) > OVER_LIMIT_DAY_S.value
        ),
    )
    if drifts and drift is not None and case.past:
        first = case.past[-min(len(case.past), drift.n_weeks - 1)]
        since_at = min(since_at, first.first_at)
    return since_at, until_at


def _measures(case: Case) -> dict[str, MeasureValue]:
    week, pump, drift = case.week, case.pump, case.drift
    p95_a = week.current_p95_a or 0.0

    def margin_to(limit_a: float | None) -> float | None:
        return None if not limit_a else 100 * (limit_a - p95_a) / limit_a

    off = off_expectation(case)
    values: dict[str, float | None] = {
        "current_p95_a": p95_a,
        "overload_margin_pct": margin_pct(case),
        "over_limit_s": week.over_limit_s,
        "drift_pct_per_week": drift.pct_per_week if drift else None,
        "drift_low_pct_per_week": drift.low_pct_per_week if drift else None,
        "drift_high_pct_per_week": drift.high_pct_per_week if drift else None,
        "drift_total_pct": drift.total_pct if drift else None,
        "drift_weeks": drift.n_weeks if drift else None,
        "current_off_expected_pct": off[0] if off else None,
        "rated_margin_pct": margin_to(pump.rated_amps),
        "setting_margin_pct": margin_to(pump.overload_setting_amps),
        "current_max_a": week.current_max_a,
        "over_rated_s": week.over_rated_s,
        "over_setting_s": week.over_setting_s,
        "ceiling_a": week.ceiling_a,
        "clip_s": week.clip_s,
        "thermal_max_pct": week.thermal_max_pct,
        "frequency_p95_hz": week.frequency_p95_hz,
    }
    return {name: None if value is None else round(value, 3) for name, value in values.items()}
