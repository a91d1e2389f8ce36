"""Where the register and the log cannot both be right: volts, amps, pressure and speed.

A contradiction is a finding of its own (``setting``) and holds back what rests on the figure,
because a judgement made with a wrong nameplate is worse than none.
"""

from dataclasses import dataclass

from analysis.case import Case
from analysis.limits import (
    AMPS_OFF_P95_RATIO,
    AMPS_OFF_RATIO,
    PRESSURE_OFF_PCT,
    PRESSURE_OFF_RUN_MEDIAN_S,
    PRESSURE_OFF_RUN_S,
    PRESSURE_OFF_RUN_SAMPLES,
    PRESSURE_OFF_STOP_PCT,
    SHORT_AT_MAX_SHARE,
    SPEED_OFF_HZ,
    SPEED_OFF_PEAK_HZ,
    SUPPLY_OFF_ALWAYS_PCT,
    SUPPLY_OFF_FAR_PCT,
    SUPPLY_OFF_PCT,
    SUPPLY_ONCE_RIGHT_PCT,
    SUPPLY_STEADY_PCT,
)
from analysis.wording import amps_text, frequency_text, pressure_text, volts_text

NOMINAL_SUPPLY_V = (115.0, 120.0, 208.0, 230.0, 240.0, 277.0, 400.0, 460.0, 480.0)
"""Supplies a controller is commonly fed with; common practice. [V]"""

PRESSURE_UNIT_RATIOS = ((6.895, "psi and kPa"), (14.504, "psi and bar"), (100.0, "bar and kPa"))


@dataclass(frozen=True, kw_only=True)
class Contradiction:
    """One figure of the register that the log does not bear out.

    Attributes
    ----------
    column : str
        Register column.
    registered, seen : float
        In the column's inner unit.
    text : str
        One sentence for people, in the site's units.
    limit_source : str
        Where the limit comes from.
    """

    column: str
    registered: float
    seen: float
    text: str
    limit_source: str

    @property
    def reason(self) -> str:
        """Why something that rests on the figure is not assessed."""
        return f"register and log contradict: {self.text}"


def supply_contradiction(case: Case) -> Contradiction | None:
    """``supply_volts`` against the volts at rest (running, where the pump never rests)."""
    week, nominal_v = case.week, case.pump.supply_volts
    seen_v = week.idle_v_median or week.running_v_median
    if not nominal_v or not seen_v:
        return None
    off_pct = 100 * (seen_v / nominal_v - 1)
    if abs(off_pct) <= SUPPLY_OFF_PCT.value or not _stays_off(case, nominal_v, off_pct):
        return None
    likely_v = min(NOMINAL_SUPPLY_V, key=lambda v: abs(v - seen_v))
    return Contradiction(
        column="supply_volts",
        registered=nominal_v,
        seen=seen_v,
        text=(
            f"supply_volts is {volts_text(nominal_v)} in the register, the log shows"
            f" {volts_text(seen_v)} at rest, nearer a {likely_v:.0f} V supply"
        ),
        limit_source=SUPPLY_OFF_PCT.source,
    )


def _stays_off(case: Case, nominal_v: float, off_pct: float) -> bool:
    """Tell a wrong figure (steady, always so) from a supply that sags (it moves, it once held)."""
    if abs(off_pct) > SUPPLY_OFF_FAR_PCT.value:
        return True
    was_right = any(
        past.idle_v_median is not None
        and abs(100 * (past.idle_v_median / nominal_v - 1)) <= SUPPLY_ONCE_RIGHT_PCT.value
        for past in case.past
    )
    low_v, high_v = case.week.idle_v_p05, case.week.idle_v_p95
    if was_right or low_v is None or high_v is None:
        return False
    nearest_v = high_v if off_pct < 0 else low_v
    nearest_off_pct = abs(100 * (nearest_v / nominal_v - 1))
    spread_pct = 100 * (high_v - low_v) / nominal_v
    return nearest_off_pct > SUPPLY_OFF_ALWAYS_PCT.value and spread_pct <= SUPPLY_STEADY_PCT.value


def amps_contradiction(case: Case) -> Contradiction | None:
    """``service_factor_amps`` against the usual running current."""
    limit_a, usual_a = case.pump.service_factor_amps, case.week.current_p50_a
    p95_a = case.week.current_p95_a
    if not limit_a or usual_a is None or p95_a is None:
        return None
    always = usual_a > AMPS_OFF_RATIO.value * limit_a
    mostly = usual_a > limit_a and p95_a > AMPS_OFF_P95_RATIO.value * limit_a
    if not always and not mostly:
        return None
    return Contradiction(
        column="service_factor_amps",
        registered=limit_a,
        seen=usual_a,
        text=(
            f"service_factor_amps is {amps_text(limit_a)} in the register, the motor usually"
            f" runs at {amps_text(usual_a)}"
        ),
        limit_source=AMPS_OFF_RATIO.source,
    )


def pressure_contradiction(case: Case) -> Contradiction | None:
    """``pressure_setting`` against the pressure that is held while running and after stops."""
    week, setting_kpa = case.week, case.pump.pressure_setting_kpa
    held_kpa = week.held_pressure_kpa
    if not setting_kpa or held_kpa is None or not _holds_a_pressure(case):
        return None
    off_pct = 100 * (held_kpa / setting_kpa - 1)
    if abs(off_pct) <= PRESSURE_OFF_PCT.value or not _stops_agree(case, setting_kpa, off_pct):
        return None
    if off_pct < 0 and _may_fall_short(case):
        return None
    if off_pct > 0 and (is_pinned_at_min(case) or _boosts_before_it_stops(case, setting_kpa)):
        return None
    units = case.site.units
    return Contradiction(
        column="pressure_setting",
        registered=setting_kpa,
        seen=held_kpa,
        text=(
            f"the pressure setting is {pressure_text(setting_kpa, units)} in the register, the"
            f" pump holds {pressure_text(held_kpa, units)}{_unit_hint(held_kpa / setting_kpa)}"
        ),
        limit_source=PRESSURE_OFF_PCT.source,
    )


def _holds_a_pressure(case: Case) -> bool:
    """Whether the pump runs long enough to hold one, and the log is fast enough to show it.

    A restart above the stop before it is no pump's work but a log too slow for its cycles, and so
    are runs of one or two samples: those read the pressure of a restart.
    """
    week = case.week
    stop_kpa, restart_kpa = week.stop_pressure_kpa, week.restart_pressure_kpa
    in_order = stop_kpa is None or restart_kpa is None or restart_kpa <= stop_kpa
    least_run_s = max(
        PRESSURE_OFF_RUN_MEDIAN_S.value, PRESSURE_OFF_RUN_SAMPLES.value * week.log_interval_s
    )
    long_enough = week.run_s_median is None or week.run_s_median >= least_run_s
    return in_order and long_enough and week.run_s >= PRESSURE_OFF_RUN_S.value


def _stops_agree(case: Case, setting_kpa: float, off_pct: float) -> bool:
    stop_kpa = case.week.stop_pressure_kpa
    if stop_kpa is None:
        return True
    stop_off_pct = 100 * (stop_kpa / setting_kpa - 1)
    return stop_off_pct * off_pct > 0 and abs(stop_off_pct) >= PRESSURE_OFF_STOP_PCT.value


def _boosts_before_it_stops(case: Case, setting_kpa: float) -> bool:
    """Whether it restarts below the setting, as where a tank is filled above it before a rest."""
    restart_kpa = case.week.restart_pressure_kpa
    return restart_kpa is not None and restart_kpa < setting_kpa


def _may_fall_short(case: Case) -> bool:
    """A pump at top speed or a current ceiling holds less than its setting: no contradiction."""
    week = case.week
    held_back_s = week.at_max_s + (week.clip_s or 0.0) + (week.short_of_setting_s or 0.0)
    return held_back_s > SHORT_AT_MAX_SHARE.value * week.run_s


def is_pinned_at_min(case: Case) -> bool:
    """Whether the pump sits at its minimum speed, where it cannot help making more pressure.

    Below it there are only ramps, which do not tell where it sits.
    """
    low_hz, stop_hz = case.week.frequency_p05_hz, case.week.f0_hz
    min_hz, near_hz = case.pump.min_hz, SPEED_OFF_HZ.value
    sits_there = low_hz is not None and abs(low_hz - min_hz) <= near_hz
    return sits_there and (stop_hz is None or stop_hz <= min_hz + near_hz)


def _unit_hint(ratio: float) -> str:
    for factor, pair in PRESSURE_UNIT_RATIOS:
        for shown in (factor, 1 / factor):
            if abs(ratio / shown - 1) <= PRESSURE_OFF_PCT.value / 100:
                return f"; {pair} may be mixed up"
    return ""


def speed_contradiction(case: Case) -> Contradiction | None:
    """``max_hz`` against the frequencies that were logged."""
    week, max_hz = case.week, case.pump.max_hz
    p95_hz, peak_hz = week.frequency_p95_hz, week.frequency_max_hz
    usual = p95_hz is not None and p95_hz > max_hz + SPEED_OFF_HZ.value
    peaks = [peak_hz, *(past.frequency_max_hz for past in case.past[-1:])]
    often = len(peaks) > 1 and all(
        peak is not None and peak > max_hz + SPEED_OFF_PEAK_HZ.value for peak in peaks
    )
    if peak_hz is None or not (usual or often):
        return None
    return Contradiction(
        column="max_hz",
        registered=max_hz,
        seen=peak_hz,
        text=(
            f"max_hz is {frequency_text(max_hz)} in the register, the pump ran at"
            f" {frequency_text(peak_hz)}"
        ),
        limit_source=SPEED_OFF_HZ.source,
    )


def contradictions(case: Case) -> tuple[Contradiction, ...]:
    """Every contradiction of the week, in the register's order of columns."""
    found = (
        amps_contradiction(case),
        supply_contradiction(case),
        speed_contradiction(case),
        pressure_contradiction(case),
    )
    return tuple(one for one in found if one is not None)
