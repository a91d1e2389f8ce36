"""What a week's starts, stops and falls amount to, beside the pump's own past and its tank."""

from dataclasses import dataclass

import numpy as np

from analysis.case import Case
from analysis.detectors.nights import NightSays, leak_spell, read_nights
from analysis.detectors.own_past import OwnPast, is_emptied_by_one_draw, own_past, usable_days
from analysis.detectors.trusted_tank import trusted_tank
from analysis.limits import (
    COUNT_FLIP_SHARE,
    COUNT_INTERVAL_S,
    FALL_CHANGE,
    LARGE_MOTOR_HP,
    LEAK_NIGHTS,
    NEXT_RUN_FLOW_HZ,
    RESTART_SAMPLES,
    RUN_AS_EVER,
    STARTS_PER_DAY,
    STARTS_PER_HOUR_KEPT_UP,
)
from analysis.physics.motor import (
    HP_KW,
    allowed_starts_per_hour,
    submersible_starts_per_day,
)
from analysis.physics.tank import drawdown_l
from ingest.installed_base import Pump

_TABLE_FROM_HP, _TABLE_TO_HP = 1.0, 25.0
_SIZE_ROUNDING = 0.02  # 0.75 kW and 1 hp are one size on a nameplate, 0.6 % apart


@dataclass(frozen=True, kw_only=True)
class StartLimits:
    """How often this motor may start, and where that stands."""

    per_day: float
    per_hour_kept_up: float
    source: str


@dataclass(frozen=True, kw_only=True)
class CycleFacts:
    """One pump-week's cycling in numbers; ``None`` where log, register or past do not tell.

    Attributes
    ----------
    past : OwnPast
        What was usual for the pump.
    starts_before, starts_change : float or None
        The pump's own usual starts on a weekday, and this week's as a multiple of those usual
        on like days.
    starts_change_at_most : float or None
        The same beside all earlier weeks, also those whose slower log missed some.
    fall_change, stop_change : float or None
        90th percentile of fall slopes as a multiple of the past; the past's short (10th
        percentile) stops as a multiple of this week's.
    overshoot_rise_share : float or None
        Overshoot over that of the past, as a share of the held pressure.
    first_draw_empties : bool
        Pressure stands through the stops and is gone within the first draw, where it used to
        sink draw by draw, with runs as long as ever and nights that hold flat; and starts do not
        fill the tank as ever.
    refills_less, refills_as_ever : bool
        A start used to speed the pump up to fill the tank, and hardly does any more; still does.
    tank_water_l, sleep_draw_lpm : float or None
        Water the registered tank gives between stop and restart; the flow that would empty it in
        the median stop that no large draw ended, which a drive that found no flow before and
        finds none after cannot be feeding. [L, L/min]
    short_stop_draw_lpm : float or None
        The same for short (10th percentile) stops. [L/min]
    fall_draw_lpm : float or None
        Flow that the steep (90th percentile) falls mean on the registered tank. [L/min]
    quiet_starts : float or None
        Starts a night in the quiet window.
    holds_flat, leaks_at_night : bool
        Most nights hold flat; nights fall as with a leak.
    evenness : float or None
        Starts in the calmest hours of the day (10th percentile) over the mean of all hours.
    quiet_restart_cv : float or None
        Scatter of the restart interval, where the log is fast enough to trust it.
    """

    past: OwnPast
    is_lower_bound: bool
    starts_before: float | None
    starts_change: float | None
    starts_change_at_most: float | None
    fall_change: float | None
    overshoot_rise_share: float | None
    stop_change: float | None
    first_draw_empties: bool
    refills_less: bool
    refills_as_ever: bool
    tank_water_l: float | None
    sleep_draw_lpm: float | None
    short_stop_draw_lpm: float | None
    fall_draw_lpm: float | None
    quiet_starts: float | None
    holds_flat: bool
    leaks_at_night: bool
    evenness: float | None
    quiet_restart_cv: float | None


def start_limits(pump: Pump) -> StartLimits:
    """Starts a motor of this size is given by published tables.

    They are about motors started at full voltage (the submersible one allows some more behind a
    drive); a drive's start heats the motor less, so they are comparisons. A motor behind a drive
    is taken as three-phase where its phases are not registered.
    """
    hp = None if pump.motor_kw is None else (1 - _SIZE_ROUNDING) * pump.motor_kw / HP_KW
    per_hour = float("nan") if hp is None else _nema_per_hour(hp)
    per_day = STARTS_PER_DAY.value
    source = STARTS_PER_DAY.source
    if pump.suction == "well":
        if hp is not None:
            table = submersible_starts_per_day(hp, pump.motor_phases or 3, is_soft_started=True)
            per_day = float(np.nan_to_num(table, nan=STARTS_PER_DAY.value))
        source = "submersible motor starts table; compare, as the drive starts softly"
    elif hp is not None and np.isfinite(per_hour):
        if hp > LARGE_MOTOR_HP.value:
            per_day = min(per_day, 24 * per_hour)
        source = (
            f"{source}; compare NEMA MG 10 Table 2-3, full voltage, 2-pole:"
            f" {per_hour:g} starts an hour"
        )
    return StartLimits(
        per_day=per_day, per_hour_kept_up=STARTS_PER_HOUR_KEPT_UP.value, source=source
    )


def _nema_per_hour(hp: float) -> float:
    if hp > _TABLE_TO_HP:
        return float("nan")
    return float(allowed_starts_per_hour(max(hp, _TABLE_FROM_HP), poles=2))


def cycle_facts(case: Case) -> CycleFacts:
    """Gather the facts of one case."""
    week = case.week
    past = own_past(case)
    water_l = _tank_water_l(case)
    nights = read_nights(case)
    n_seen = sum(night.says is not NightSays.UNSEEN for night in nights)
    n_holds = sum(night.says is NightSays.HOLDS for night in nights)
    leaks = bool(leak_spell(nights))
    quiet_starts = week.quiet_n_starts / week.n_nights if week.n_nights else None
    by_hour = np.asarray(week.starts_by_hour, dtype=np.float64)
    mean_hour = float(by_hour.mean()) if by_hour.size else 0.0
    interval_s = week.quiet_restart_s_median
    is_trusted = (
        interval_s is not None and interval_s >= RESTART_SAMPLES.value * week.log_interval_s
    )
    holds_flat = n_holds >= LEAK_NIGHTS.value and 2 * n_holds > n_seen and not leaks
    refills_as_ever = _refills_as_ever(case, past)
    return CycleFacts(
        past=past,
        is_lower_bound=(
            week.flip_share > COUNT_FLIP_SHARE.value
            or week.log_interval_s > COUNT_INTERVAL_S.value
        ),
        starts_before=past.starts_per_day,
        starts_change=_ratio(week.starts_per_day, _usual_of_like_days(case, past)),
        starts_change_at_most=_ratio(week.starts_per_day, past.slowest_starts_per_day),
        fall_change=_ratio(week.fall_p90_kpa_per_min, past.fall_p90_kpa_per_min),
        overshoot_rise_share=(
            (week.overshoot_kpa - past.overshoot_kpa) / week.held_pressure_kpa
            if week.overshoot_kpa is not None
            and past.overshoot_kpa is not None
            and week.held_pressure_kpa
            else None
        ),
        stop_change=_ratio(past.stop_s_p10, week.stop_s_p10),
        first_draw_empties=(
            holds_flat and not refills_as_ever and _first_draw_empties(case, past)
        ),
        refills_less=_refills_less(case, past),
        refills_as_ever=refills_as_ever,
        tank_water_l=water_l,
        sleep_draw_lpm=_draw_lpm(water_l, week.idle_stop_s_median),
        short_stop_draw_lpm=_draw_lpm(water_l, week.idle_stop_s_p10),
        quiet_starts=quiet_starts,
        fall_draw_lpm=(
            _ratio(week.fall_p90_kpa_per_min, week.stored_kpa_per_l)
            if trusted_tank(case) is not None
            else None
        ),
        holds_flat=holds_flat,
        leaks_at_night=leaks,
        evenness=float(np.percentile(by_hour, 10)) / mean_hour if mean_hour > 0 else None,
        quiet_restart_cv=week.quiet_restart_cv if is_trusted else None,
    )


def _usual_of_like_days(case: Case, past: OwnPast) -> float | None:
    usual = [past.usual_starts(day) for day in usable_days(case.days)]
    known = [value for value in usual if value is not None]
    return float(np.mean(known)) if known else past.starts_per_day


def _first_draw_empties(case: Case, past: OwnPast) -> bool:
    """Whether the tank spans one draw, where it spanned several.

    A change of use does the opposite: more small draws or a leak fill the stops with falls, and
    fewer, larger draws come with longer runs and fewer starts.
    """
    if past.gradual_fall is None or past.run_s is None:
        return False
    week = case.week
    return (
        week.log_interval_s <= COUNT_INTERVAL_S.value
        and (past.is_emptied or is_emptied_by_one_draw(week, past.gradual_fall))
        and (week.run_s_median or 0.0) <= RUN_AS_EVER.value * past.run_s
    )


def _refills_less(case: Case, past: OwnPast) -> bool:
    """Whether a start no longer has to fill a tank: use alone cannot do that.

    However small the draw that ended a stop, the water between restart and stop pressure has to
    be pumped again.
    """
    now_hz, before_hz = case.week.refill_over_f0_hz, past.refill_over_f0_hz
    if now_hz is None or before_hz is None:
        return False
    least_hz = max(now_hz, NEXT_RUN_FLOW_HZ.value)
    return before_hz >= FALL_CHANGE.value * least_hz


def _refills_as_ever(case: Case, past: OwnPast) -> bool:
    """Whether a start still fills the tank, where an empty one would show by now."""
    now_hz, before_hz = case.week.refill_over_f0_hz, past.refill_over_f0_hz
    if now_hz is None or before_hz is None:
        return False
    shows = before_hz >= FALL_CHANGE.value * NEXT_RUN_FLOW_HZ.value
    return shows and RUN_AS_EVER.value * now_hz >= before_hz


def _draw_lpm(water_l: float | None, stop_s: float | None) -> float | None:
    return None if water_l is None or not stop_s else water_l / stop_s * 60.0


def _ratio(value: float | None, base: float | None) -> float | None:
    return None if value is None or base is None or base <= 0 else value / base


def _tank_water_l(case: Case) -> float | None:
    tank, week = trusted_tank(case), case.week
    stop_kpa = week.stop_pressure_kpa or week.held_pressure_kpa
    restart_kpa = week.restart_pressure_kpa
    if tank is None or stop_kpa is None or restart_kpa is None:
        return None
    water_l = float(drawdown_l(tank.tank_l, tank.precharge_kpa, restart_kpa, stop_kpa))
    return water_l if water_l > 0 else None
