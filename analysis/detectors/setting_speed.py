"""Settings of speed and pressure: least speed, ramp, and a pressure the pump cannot make."""

from statistics import median

from analysis.case import Case
from analysis.detectors.load_evidence import may_be_held_by_current
from analysis.detectors.own_past import DAY_S, own_past
from analysis.detectors.register_contradictions import is_pinned_at_min
from analysis.detectors.setting_rule import Broken
from analysis.limits import (
    BEYOND_PUMP_CURVE_SHARE,
    BEYOND_PUMP_RISE_HZ,
    BEYOND_PUMP_SHARE,
    BEYOND_PUMP_SPREAD_HZ,
    BEYOND_PUMP_STARTS,
    MIN_HZ_CLEAR_HZ,
    MIN_HZ_LOW_SUCTION,
    MIN_HZ_NEAR_SUCTION,
    MIN_HZ_SLACK_HZ,
    MIN_HZ_SUBMERSIBLE,
    OVER_PRESSURE_PCT,
    RAMP_BAND_KPA,
    RAMP_DIPS,
    RAMP_FLOW_LPM,
    RAMP_NEW_RATIO,
    RAMP_OVERSHOOT_PCT,
    RAMP_RUN_S,
    RAMP_RUN_SHARE,
    RAMP_STARTS,
    RAMP_STOP_S,
    RAMP_TANK_L,
    SHORT_AT_MAX_SHARE,
    SUCTION_NEAR_KPA,
    TOP_SPEED_HZ,
    Limit,
)
from analysis.physics.pump import WATER_KPA_PER_M, no_flow_hz
from analysis.physics.tank import drawdown_l
from analysis.records import PumpWeek
from analysis.wording import count_text, duration_text, frequency_text, pressure_text

HOUSEKEEPING, WEAR, MONTHS = 1, 2, 3
PRESSURE_ROUNDING_KPA = 0.5  # a suction written in whole psi is not known closer


def expected_min_hz(case: Case) -> Limit | None:
    """Least speed that common practice asks of this pump; None where suction is not known.

    Well, lift and tank suction, and any suction more than 20 psi below the set pressure, ask
    for 30 Hz; within 20 psi (20 itself included) 10 Hz will do.
    """
    pump = case.pump
    if pump.suction == "well":
        return MIN_HZ_SUBMERSIBLE
    if pump.suction in ("lift", "tank"):
        return MIN_HZ_LOW_SUCTION
    if pump.suction_kpa is None or pump.pressure_setting_kpa is None:
        return None
    below_kpa = pump.pressure_setting_kpa - pump.suction_kpa
    near = below_kpa <= SUCTION_NEAR_KPA.value + PRESSURE_ROUNDING_KPA
    return MIN_HZ_NEAR_SUCTION if near else MIN_HZ_LOW_SUCTION


def knows_suction(case: Case) -> bool:
    """Whether the register tells enough of the suction to expect a least speed."""
    return expected_min_hz(case) is not None


def min_hz_low(case: Case) -> Broken | None:
    """Minimum speed below what bearing or suction ask for."""
    expected, min_hz = expected_min_hz(case), case.pump.min_hz
    if expected is None or min_hz >= expected.value - MIN_HZ_SLACK_HZ.value:
        return None
    well = expected is MIN_HZ_SUBMERSIBLE
    why = (
        "a submersible motor's bearing needs that much to carry"
        if well
        else "with suction this far below the set pressure it moves no water there"
    )
    return Broken(
        setting=min_hz,
        expected=f"{frequency_text(expected.value)} or more",
        consequence=MONTHS if well else HOUSEKEEPING,
        confidence=0.85 if well else 0.6,
        summary=(
            f"Minimum speed is {frequency_text(min_hz)}, expected"
            f" {frequency_text(expected.value)}: {why}."
        ),
        limit_source=expected.source,
    )


def min_hz_high(case: Case) -> Broken | None:
    """At minimum speed the pump already makes the set pressure and cannot slow to no flow."""
    min_hz, no_flow = case.pump.min_hz, curve_no_flow_hz(case, TOP_SPEED_HZ.value)
    by_curve = no_flow is not None and no_flow <= min_hz - MIN_HZ_CLEAR_HZ.value
    stops_hz = case.week.f0_hz
    if by_curve and stops_hz is not None and stops_hz > min_hz + MIN_HZ_CLEAR_HZ.value:
        return None
    pinned = is_pinned_at_min(case) and _over_pressure(case)
    if not by_curve and not pinned:
        return None
    shown_hz = no_flow if by_curve and no_flow is not None else stops_hz
    grounds = []
    if by_curve and no_flow is not None:
        grounds.append(f"No-flow speed by the published curve is {frequency_text(no_flow)}")
    if pinned:
        grounds.append("It sits at minimum speed with the pressure over its setting")
    near = "" if shown_hz is None else f" (no flow at about {frequency_text(shown_hz)})"
    return Broken(
        setting=min_hz,
        expected="below the speed of no flow at the highest usual suction",
        consequence=WEAR,
        confidence=0.85 if by_curve and pinned else 0.65,
        summary=(
            f"At the minimum speed of {frequency_text(min_hz)} the pump already makes the set"
            f" pressure{near}: expect over-pressure or a pump that does not stop."
        ),
        limit_source=f"affinity laws; {MIN_HZ_NEAR_SUCTION.source}",
        grounds=tuple(grounds),
        alternatives=("Suction pressure higher than recorded",),
    )


def curve_no_flow_hz(case: Case, rated_hz: float) -> float | None:
    """No-flow speed from the published curve and the registered suction; None without them.

    Only where the pump sees its suction directly: of a well the lift is not known. The register
    does not tell the curve's own frequency, so each rule passes the one that favours the pump.
    """
    pump = case.pump
    known = pump.suction_kpa is not None and pump.pressure_setting_kpa is not None
    if not case.curve or not known or pump.suction == "well":
        return None
    shutoff_kpa = max(point.head_m for point in case.curve) * WATER_KPA_PER_M
    boost_kpa = (pump.pressure_setting_kpa or 0.0) - (pump.suction_kpa or 0.0)
    return float(no_flow_hz(boost_kpa, shutoff_kpa, rated_hz))


def _over_pressure(case: Case) -> bool:
    setting_kpa, held_kpa = case.pump.pressure_setting_kpa, case.week.held_pressure_kpa
    if not setting_kpa or held_kpa is None:
        return False
    return held_kpa > (1 + OVER_PRESSURE_PCT.value / 100) * setting_kpa


def has_fast_ramp(case: Case) -> bool:
    """Whether the register says a fast ramp."""
    return case.pump.ramp == "fast"


def has_slow_ramp(case: Case) -> bool:
    """Whether the register says a slow ramp."""
    return case.pump.ramp == "slow"


def ramp_fast(case: Case) -> Broken | None:
    """Fast ramp on little use and a small tank, and the log shows that it hurts."""
    week, pump = case.week, case.pump
    setting_kpa = pump.pressure_setting_kpa or 0.0
    tank_l = float(
        drawdown_l(
            pump.tank_l or 0.0,
            pump.precharge_kpa or 0.0,
            setting_kpa - RAMP_BAND_KPA.value,
            setting_kpa,
        )
    )
    runs_short = (week.run_s_median or RAMP_RUN_S.value) < RAMP_RUN_S.value
    little = week.run_share < RAMP_RUN_SHARE.value and runs_short
    flows = week.flow_p50_lpm is not None and week.flow_p50_lpm >= RAMP_FLOW_LPM.value
    overshoots = (week.overshoot_kpa or 0.0) > RAMP_OVERSHOOT_PCT.value / 100 * setting_kpa
    often = week.starts_per_day >= RAMP_STARTS.value
    small = tank_l < RAMP_TANK_L.value and little and not flows
    if not small or not (overshoots or often) or _cycles_newly(case):
        return None
    return Broken(
        setting="fast",
        expected="slow, or a larger tank",
        consequence=WEAR,
        confidence=0.75 if overshoots and often else 0.65,
        summary=(
            f"Fast ramp on little use: runs of {duration_text(week.run_s_median or 0.0)},"
            f" {count_text(week.starts_per_day, 'start')} a day on a small tank; try the slow"
            " ramp or a larger tank."
        ),
        limit_source=RAMP_FLOW_LPM.source,
        grounds=("Pressure overshoots its setting at stops",) if overshoots else (),
        alternatives=("The tank has lost charge",),
    )


def _cycles_newly(case: Case) -> bool:
    """Whether starts rose against earlier weeks, or stops are those of a tank without charge."""
    usual = own_past(case).starts_per_day
    rose = usual is not None and case.week.starts_per_day > RAMP_NEW_RATIO.value * usual
    stop_s = case.week.stop_s_median
    return rose or (stop_s is not None and stop_s < RAMP_STOP_S.value)


def gone_per_day(week: PumpWeek) -> float:
    """Spells at speed with the pressure gone, a day seen."""
    return (week.n_gone or 0) * DAY_S / week.observed_s if week.observed_s > 0 else 0.0


def ramp_slow(case: Case) -> Broken | None:
    """Slow ramp, and pressure dips again and again without the pump at its end.

    Nor at a limit of its current, which holds the speed down as well. Spells with the pressure
    gone are no dips: a pump that runs dry or feeds a burst would have them at any ramp.
    """
    week = case.week
    dips = max(0.0, (week.dips_per_day or 0.0) - gone_per_day(week))
    held_back_s = week.at_max_s + (week.short_of_setting_s or 0.0) + (week.clip_s or 0.0)
    cannot = held_back_s > SHORT_AT_MAX_SHARE.value * week.run_s
    cannot = cannot or may_be_held_by_current(case)
    if dips < RAMP_DIPS.value or cannot or week.starts_per_day >= RAMP_STARTS.value:
        return None
    return Broken(
        setting="slow",
        expected="fast, where zones open and pressure dips",
        consequence=WEAR,
        confidence=0.55,
        summary=(
            f"Slow ramp: pressure dips over 10 % for more than 5 s about"
            f" {count_text(dips, 'time')} a day while the pump still has speed in hand."
        ),
        limit_source=RAMP_DIPS.source,
        alternatives=("Tank short of charge", "A valve that opens all at once"),
    )


def set_beyond_pump(case: Case) -> Broken | None:
    """The set pressure leaves the pump no reserve of speed, or is out of its reach."""
    max_hz = case.pump.max_hz
    no_flow = curve_no_flow_hz(case, min(TOP_SPEED_HZ.value, max_hz))
    by_curve = no_flow is not None and no_flow > BEYOND_PUMP_CURVE_SHARE.value * max_hz
    if no_flow is not None and not by_curve:
        return None
    seen_hz = _seen_no_flow_hz(case)
    if not by_curve and (seen_hz is None or _has_worn(case)):
        return None
    setting_kpa, units = case.pump.pressure_setting_kpa or 0.0, case.site.units
    shown_hz = seen_hz if seen_hz is not None else no_flow or max_hz
    return Broken(
        setting=setting_kpa,
        expected="a pressure the pump makes at no flow below 95 % of its top speed",
        consequence=WEAR,
        confidence=0.8 if by_curve and seen_hz is not None else 0.55,
        summary=(
            f"No reserve: holding {pressure_text(setting_kpa, units)} with no water drawn takes"
            f" {frequency_text(shown_hz)} of {frequency_text(max_hz)}."
        ),
        limit_source=BEYOND_PUMP_SHARE.source,
        grounds=("The published curve says the same",) if by_curve and seen_hz else (),
        alternatives=("Pump worn, blocked or turning backwards", "Water level or suction down"),
    )


def _seen_no_flow_hz(case: Case) -> float | None:
    """No-flow speed near top speed as logged, where all settled running agrees; else None."""
    week, least_hz = case.week, BEYOND_PUMP_SHARE.value * case.pump.max_hz
    f0_hz, low_hz = week.f0_hz, week.frequency_p05_hz
    if f0_hz is None or low_hz is None or week.n_starts < BEYOND_PUMP_STARTS.value:
        return None
    steady = (week.f0_spread_hz or 0.0) <= BEYOND_PUMP_SPREAD_HZ.value
    return f0_hz if f0_hz > least_hz and low_hz > least_hz and steady else None


def _has_worn(case: Case) -> bool:
    """Whether the no-flow speed rose over the weeks: then it is the pump, not its setting."""
    past_hz = [past.f0_hz for past in case.past if past.f0_hz is not None]
    now_hz = case.week.f0_hz
    return (
        bool(past_hz)
        and now_hz is not None
        and (now_hz - median(past_hz[: max(1, len(past_hz) // 2)]) >= BEYOND_PUMP_RISE_HZ.value)
    )
