"""Hunting: the pressure control swings about its set point instead of settling on it.

Reads    swings of speed and pressure in settled running, five and more in a row; register ramp.
Causes   ramp_too_fast: the ramp is set fast. Else empty: the log does not tell the reason.
Misses   swings faster than four samples; a control whose gain, sensor place or tank is at fault
         looks the same. A draw that pulses evenly and smoothly, where flow is not logged.
"""

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.spells import clear_if_seen, days_seen, spell_bounds
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import (
    HUNTING_DAYS,
    HUNTING_FAST_S,
    HUNTING_FLOW_RATIO,
    HUNTING_INTERVAL_S,
    HUNTING_LONG_RUN_S,
    HUNTING_MOST_SHARE,
    HUNTING_PERIOD_MAX_S,
    HUNTING_PERIOD_SAMPLES,
    HUNTING_RUN_SHARE,
    HUNTING_SPELLS,
    HUNTING_SWING_SHARE,
    HUNTING_WEEK_S,
    KNEE_SHARE_TOLD,
)
from analysis.records import PumpDay
from analysis.wording import duration_text, figures_text, percent_text, pressure_text

KIND = Kind.HUNTING
NEEDS = Needs(log=("pressure_kpa", "frequency_hz"), observed_min_share=0.05)

WEAR = 2
RAMP = "ramp_too_fast"


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    if case.week.hunting_s is None:
        return NotAssessed(reason=_why_not_measured(case))
    if not _hunts(case):
        return _answer_without(case)
    cause = RAMP if case.pump.ramp == "fast" else ""
    confidence, texts = weigh(0.6, _grounds(case))
    since_at, until_at = spell_bounds(case, _shows)
    return (
        Judged(
            kind=KIND,
            cause=cause,
            consequence=WEAR,
            confidence=confidence,
            since_at=since_at,
            until_at=until_at,
            measures=_measures(case),
            summary=_summary(case, cause),
            limit_source=HUNTING_SWING_SHARE.source,
            grounds=texts,
            alternatives=_alternatives(case),
        ),
    )


def _interval_s(case: Case) -> float:
    """Time between samples while running; the log's own where the pump hardly ran."""
    return case.week.run_interval_s or case.week.log_interval_s


def _why_not_measured(case: Case) -> str:
    slowest_s = HUNTING_PERIOD_MAX_S.value / HUNTING_PERIOD_SAMPLES.value
    interval_s = _interval_s(case)
    if interval_s > slowest_s:
        return (
            f"this log has one sample every {interval_s:.0f} s; hunting needs one every"
            f" {HUNTING_INTERVAL_S.value:.0f} s or faster (slow swings show up to"
            f" {slowest_s:.1f} s)"
        )
    return "no settled running with pressure and speed this week"


def _answer_without(case: Case) -> Verdict:
    """Clear only where hunting would have shown."""
    week, interval_s = case.week, _interval_s(case)
    if interval_s > HUNTING_INTERVAL_S.value:
        return NotAssessed(
            reason=f"no slow swings, but this log has one sample every {interval_s:.0f} s; ruling"
            f" out hunting needs one every {HUNTING_INTERVAL_S.value:.0f} s or faster"
        )
    if (week.fast_swing_s or 0.0) >= HUNTING_FAST_S.value:
        return NotAssessed(
            reason=f"speed and pressure swing faster than one sample every {interval_s:.0f} s can"
            " show; telling hunting from noise needs four samples a swing"
        )
    if (week.long_run_s or 0.0) < HUNTING_LONG_RUN_S.value:
        return NotAssessed(
            reason=f"only {duration_text(week.long_run_s or 0.0)} of running long enough to show"
            f" five swings; this needs {duration_text(HUNTING_LONG_RUN_S.value)}"
        )
    return clear_if_seen(case)


def _hunts(case: Case) -> bool:
    """Enough swings, on several days, in a share of running that no appliance makes."""
    week = case.week
    hunting_s = week.hunting_s or 0.0
    days = [day for day in case.days if _shows(day)]
    return (
        hunting_s >= HUNTING_WEEK_S.value
        and (week.hunting_n_spells or 0) >= HUNTING_SPELLS.value
        and len(days) >= min(HUNTING_DAYS.value, len(days_seen(case)))
        and hunting_s >= HUNTING_RUN_SHARE.value * week.run_s
        and not _draw_pulses(case)
    )


def _shows(day: PumpDay) -> bool:
    return (day.hunting_s or 0.0) > 0.0


def _draw_pulses(case: Case) -> bool:
    """Logged flow swings far more than pressure can drive it through a fixed opening."""
    ratio = _flow_ratio(case)
    return ratio is not None and ratio > HUNTING_FLOW_RATIO.value


def _flow_ratio(case: Case) -> float | None:
    """Relative swing of flow over half the relative swing of pressure; None without flow."""
    week = case.week
    swing_lpm, flow_lpm = week.hunting_swing_lpm, week.hunting_flow_lpm
    set_kpa = case.pump.pressure_setting_kpa or week.held_pressure_kpa
    if not swing_lpm or not flow_lpm or not week.hunting_swing_kpa or not set_kpa:
        return None
    return (swing_lpm / flow_lpm) / (0.5 * week.hunting_swing_kpa / set_kpa)


def _run_share(case: Case) -> float:
    return (case.week.hunting_s or 0.0) / case.week.run_s if case.week.run_s else 0.0


def _grounds(case: Case) -> list[Ground]:
    week = case.week
    days = [day for day in case.days if _shows(day)]
    share, period_s = _run_share(case), week.hunting_period_s or 0.0
    return [
        Ground(
            True,
            0.0,
            f"{week.hunting_n_swings} swings in {week.hunting_n_spells} spells of running,"
            f" {len(days)} of {len(days_seen(case))} days",
        ),
        Ground(
            share >= HUNTING_MOST_SHARE.value,
            0.15,
            f"It swings in {percent_text(100 * share)} of its running time",
        ),
        Ground(len(days) >= 5, 0.1, "It swings on most days, whatever is drawn"),
        Ground(
            period_s >= 2 * HUNTING_PERIOD_SAMPLES.value * _interval_s(case),
            0.05,
            "The log has eight samples a swing or more",
        ),
        Ground(_flow_ratio(case) is not None, 0.1, "Logged flow keeps steady while it swings"),
        Ground(case.pump.ramp == "fast", 0.05, "The ramp is registered as fast"),
        Ground(case.pump.ramp is None, 0.0, "No ramp in the register, so the cause is left open"),
    ]


def _alternatives(case: Case) -> tuple[str, ...]:
    told = []
    if (case.week.knee_share or 0.0) >= KNEE_SHARE_TOLD.value:
        told.append("Falls show a knee: the pre-charge may lie too high for the restart")
    if case.pump.ramp == "fast":
        told.append("The tank may have lost its charge: then a slow ramp swings as well")
    told.append("Sensor far from the pump, or behind a filter or check valve")
    if _flow_ratio(case) is None:
        told.append("A draw that pulses evenly: ask what runs at those times")
    return tuple(told)


def _measures(case: Case) -> dict[str, MeasureValue]:
    week = case.week
    set_kpa = case.pump.pressure_setting_kpa or week.held_pressure_kpa
    swing_pct = 100 * (week.hunting_swing_kpa or 0.0) / set_kpa if set_kpa else None
    values: dict[str, float | None] = {
        "swing_kpa": week.hunting_swing_kpa,
        "period_s": week.hunting_period_s,
        "swing_pct_setting": swing_pct,
        "swing_hz": week.hunting_swing_hz,
        "lag_s": week.hunting_lag_s,
        "hunting_s": week.hunting_s,
        "hunting_run_share": _run_share(case),
    }
    measures: dict[str, MeasureValue] = {
        name: None if value is None else round(value, 3) for name, value in values.items()
    }
    measures["n_swings"] = week.hunting_n_swings
    measures["n_spells"] = week.hunting_n_spells
    return measures


def _summary(case: Case, cause: str) -> str:
    week = case.week
    days = [day for day in case.days if _shows(day)]
    swing = pressure_text(week.hunting_swing_kpa or 0.0, case.site.units)
    period = figures_text(week.hunting_period_s or 0.0)
    why = "; the ramp is set fast" if cause == RAMP else ""
    return (
        f"Pressure and speed of pump {case.pump.pump_id} swing together by {swing} and"
        f" {figures_text(week.hunting_swing_hz or 0.0)} Hz every {period} s, in"
        f" {percent_text(100 * _run_share(case))} of its running on {len(days)} of"
        f" {len(days_seen(case))} days{why}."
    )
