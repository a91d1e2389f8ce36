"""A healthy pump's week as a detector sees it, and the means to make one number of it sick.

Site in New York time, psi; 1.5 hp surface pump on 230 V, set to 60 psi, restarts at 55 psi from a
4.4 gal tank charged to 42 psi; logged every 5 s to 0.1 psi. Nobody draws at night and the
pressure holds flat. All of it is invented.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from analysis.case import Case, CurrentDrift, Neighbours
from analysis.expected_current import ExpectedCurrent
from analysis.no_flow import NoFlowDrift
from analysis.records import OpMapBin, PumpDay, PumpWeek, TripEvent
from ingest.installed_base import CurvePoint, FaultCode, Pump, Site
from ingest.left_out import LeftOutValues
from ingest.weeks import Week, week_bounds

PSI_KPA = 6.894757
GAL_L = 3.785412
REPORT_WEEK = Week(2026, 47)

Change = Mapping[str, Any]


def healthy_site(**change: Any) -> Site:
    values: dict[str, Any] = {
        "site_id": "S-01",
        "site_name": "Upper Meadow Farm",
        "timezone": "America/New_York",
        "region": "North",
        "units": "us",
    }
    return Site(**(values | change))


def healthy_pump(**change: Any) -> Pump:
    values: dict[str, Any] = {
        "pump_id": "P-01",
        "site_id": "S-01",
        "pump_model": "PM-A",
        "motor_model": "MM-A",
        "motor_kw": 1.1186,  # 1.5 hp
        "motor_volts": 230.0,
        "rated_amps": 6.0,
        "service_factor_amps": 6.9,
        "overload_setting_amps": 6.9,
        "supply_volts": 230.0,
        "supply_phases": 1,
        "motor_phases": 3,
        "max_hz": 60.0,
        "min_hz": 30.0,
        "ramp": "slow",
        "pressure_setting_kpa": 60 * PSI_KPA,
        "suction": "tank",
        "suction_kpa": 0.0,
        "tank_l": 4.4 * GAL_L,
        "precharge_kpa": 42 * PSI_KPA,
        "supply_wire_mm2": 3.31,  # 12 AWG
        "supply_wire_m": 24.4,
        "motor_lead_m": 10.0,
        "output_filter": False,
        "installed_on": date(2023, 4, 3),
    }
    return Pump(**(values | change))


def healthy_week(week: Week = REPORT_WEEK, **change: Any) -> PumpWeek:
    from_at, to_at = week_bounds(week, "America/New_York")
    by_day = [0.0] * 6 + [4.0] * 4 + [2.0] * 6 + [4.5] * 5 + [1.0] * 3
    values: dict[str, Any] = {
        "pump_id": "P-01",
        "week": str(week),
        "n_samples": 120_960,
        "from_at": from_at,
        "to_at": to_at,
        "first_at": from_at,
        "last_at": to_at - timedelta(seconds=5),
        "observed_s": 604_800.0,
        "gap_s": 0.0,
        "n_gaps": 0,
        "longest_gap_s": 0.0,
        "silent_s": 5.0,
        "share_missing": 0.0,
        "log_interval_s": 5.0,
        "log_interval_p95_s": 5.0,
        "is_averaged": False,
        "flip_share": 0.006,
        "is_shut_down": False,
        "pressure_step_kpa": 0.1 * PSI_KPA,
        "run_s": 37_800.0,
        "run_share": 0.0625,
        "n_starts": 378,
        "starts_per_day": 54.0,
        "starts_per_hour_peak": 7,
        "starts_peak_at": from_at + timedelta(hours=18),
        "run_s_median": 90.0,
        "run_s_p90": 240.0,
        "run_s_longest": 1_500.0,
        "stop_s_median": 600.0,
        "stop_s_p10": 60.0,
        "idle_stop_s_p10": 300.0,  # shorter ones end in a draw that the next run still feeds
        "refill_over_f0_hz": 0.5,  # a drive that fills slowly: tells nothing of the tank
        "stop_s_cv": 1.1,
        "starts_by_hour": by_day,
        "run_share_by_hour": [starts * 0.025 for starts in by_day],
        "n_days_cycling": 0,
        "held_pressure_kpa": 60 * PSI_KPA,
        "stop_pressure_kpa": 60 * PSI_KPA,
        "restart_pressure_kpa": 55 * PSI_KPA,
        "overshoot_kpa": 0.5 * PSI_KPA,
        "pressure_p01_kpa": 53 * PSI_KPA,
        "pressure_p50_kpa": 60 * PSI_KPA,
        "pressure_max_kpa": 62 * PSI_KPA,
        "dips_per_day": 0.1,
        "short_of_setting_s": 0.0,
        "f0_hz": 44.0,
        "f0_spread_hz": 0.3,
        "frequency_p05_hz": 44.2,
        "frequency_p95_hz": 53.0,
        "frequency_max_hz": 56.0,
        "at_max_s": 0.0,
        "n_falls": 300,
        "fall_p10_kpa_per_min": 0.01,  # flat, then a draw: the line through a stop is gentle
        "fall_p50_kpa_per_min": 0.5,
        "fall_p90_kpa_per_min": 10.0,
        "knee_share": 0.0,
        "fall_first_over_last": 0.05,
        "stored_kpa_per_l": 40.9,  # 1/C at 60 psi: P^2 / (V Ppre), absolute (gas law)
        "quiet_from_hour": 2,
        "n_nights": 7,
        "quiet_n_starts": 0,
        "quiet_run_share": 0.0,
        "quiet_n_falls": 7,
        "quiet_fall_p10_kpa_per_min": 0.0,
        "quiet_fall_p50_kpa_per_min": 0.0,
        "quiet_fall_p90_kpa_per_min": 0.01,
        "quiet_flat_share": 0.99,
        "quiet_leak_lpm_p10": 0.0,
        "quiet_leak_lpm_p50": 0.0,
        "quiet_leak_lpm_p90": 0.0,
        "quiet_never_stopped_nights": 0,
        "run_share_by_week_hour": [starts * 0.025 for starts in by_day] * 7,
        "draw_from_min": [],
        "draw_min": [],
        "draw_run_share": [],
        "voltage_min_v": 224.0,
        "voltage_min_pct": 97.4,
        "idle_v_median": 232.0,
        "idle_v_p05": 229.0,
        "idle_v_p95": 235.0,
        "running_v_median": 229.5,
        "running_v_p05": 227.0,
        "idle_v_by_hour": [232.0] * 24,
        "undervoltage_s": 0.0,
        "undervoltage_run_s": 0.0,
        "undervoltage_idle_s": 0.0,
        "undervoltage_episodes": 0,
        "n_undervoltage_days": 0,
        "below_95_run_share": 0.0,
        "below_85_s": 0.0,
        "overvoltage_s": 0.0,
        "motor_undervoltage_s": 0.0,
        "n_voltage_pairs": 350,
        "own_drop_v": 2.4,
        "own_drop_sd_v": 0.4,
        "own_drop_night_v": 2.4,
        "own_drop_evening_v": 2.4,
        "pair_supply_a": 8.0,
        "supply_current_is_logged": False,
        "loop_resistance_ohm": 0.30,
        "loop_resistance_low_ohm": 0.25,
        "loop_resistance_high_ohm": 0.36,
        "apparent_resistance_ohm": 0.50,
        "current_p50_a": 4.6,
        "current_p95_a": 5.2,
        "current_max_a": 5.9,
        "over_limit_s": 0.0,
        "over_rated_s": 0.0,
        "over_setting_s": 0.0,
        "clip_s": 0.0,
        "no_flow_hz": 44.0,
        "no_flow_current_a": 3.4,
        "top_held_hz": 53.0,
        "top_held_current_a": 5.2,
        "at_setting_share": 0.97,
        "n_gone": 0,
        "gone_from_s": [],
        "gone_s": [],
        "gone_samples": [],
        "gone_hz": [],
        "gone_current_a": [],
        "gone_kpa": [],
        "gone_kpa_range": [],
        "gone_current_cv": [],
        "gone_after_start_s": [],
        "weak_s": 0.0,
        "n_weak_spells": 0,
        "weak_quiet_s": 0.0,
        "n_pressure_dropouts": 0,
        "current_at_rest_a": 0.0,
        "no_current_run_share": 0.0,
        "thermal_max_pct": 52.0,
        "thermal_max_at": from_at + timedelta(hours=19),
        "run_interval_s": 5.0,
        "long_run_s": 15_000.0,
        "hunting_s": 0.0,
        "hunting_n_swings": 0,
        "hunting_n_spells": 0,
        "fast_swing_s": 0.0,
        "drive_temp_max_c": 41.0,
        "drive_temp_cool_c": 19.0,
        "drive_temp_p05_c": 19.0,
        "hot_s": 0.0,
        "fold_back_s": 0.0,
        "has_drive_temp": True,
        "has_voltage": True,
        "has_suction": False,
        "has_flow": False,
        "has_input_current": False,
    }
    return PumpWeek(**(values | change))


def healthy_days(
    week: Week = REPORT_WEEK,
    *,
    every_day: Change | None = None,
    each_day: Sequence[Change] = (),
) -> tuple[PumpDay, ...]:
    """Seven local days; ``every_day`` changes all, ``each_day`` one after another from Monday."""
    from_at, _ = week_bounds(week, "America/New_York")
    days = []
    for n in range(7):
        values: dict[str, Any] = {
            "pump_id": "P-01",
            "week": str(week),
            "local_date": week.monday + timedelta(days=n),
            "from_at": from_at + timedelta(days=n),
            "log_interval_s": 5.0,
            "observed_s": 86_400.0,
            "n_starts": 54,
            "starts_per_hour_peak": 7,
            "run_s": 5_400.0,
            "run_s_median": 90.0,
            "stop_s_median": 600.0,
            "fall_p50_kpa_per_min": 0.5,
            "fall_p90_kpa_per_min": 10.0,
            "voltage_min_v": 225.0,
            "undervoltage_s": 0.0,
            "below_95_run_s": 0.0,
            "idle_v_median": 232.0,
            "own_drop_v": 2.4,
            "hunting_s": 0.0,
            "hot_s": 0.0,
            "drive_hot_c": 36.0,
            "drive_load_a": 4.0,
            "drive_cool_c": 20.0,
            "drive_cool_max_c": 26.0,
            "current_p95_a": 5.2,
            "over_limit_s": 0.0,
            "clip_s": 0.0,
            "settled_s": 5_000.0,
            "at_setting_share": 0.97,
            "weak_s": 0.0,
            "night_observed_share": 1.0,
            "night_n_starts": 0,
            "night_run_s": 0.0,
            "night_n_falls": 1,
            "night_fall_floor_kpa_per_min": 0.0,
            "night_fall_p50_kpa_per_min": 0.0,
            "night_flat_s": 10_800.0,
            "night_leak_lpm": 0.0,
            "night_never_stopped": False,
        }
        own = each_day[n] if n < len(each_day) else {}
        days.append(PumpDay(**(values | dict(every_day or {}) | dict(own))))
    return tuple(days)


def make_case(
    *,
    week: Change | None = None,
    every_day: Change | None = None,
    each_day: Sequence[Change] = (),
    pump: Change | None = None,
    site: Change | None = None,
    past: Sequence[Change] | int = (),
    past_every_day: Change | None = None,
    curve: tuple[CurvePoint, ...] = (),
    drift: CurrentDrift | None = None,
    neighbours: Neighbours | None = None,
    op_map: tuple[tuple[OpMapBin, ...], ...] = (),
    no_flow_drift: NoFlowDrift | None = None,
    trips: tuple[TripEvent, ...] = (),
    fault_codes: tuple[FaultCode, ...] = (),
    left_out: tuple[LeftOutValues, ...] = (),
    expected_current: ExpectedCurrent | None = None,
) -> Case:
    """A healthy case with the given fields changed.

    ``past`` is so many healthy weeks before the report week, or one change per earlier week,
    oldest first; ``past_every_day`` changes all their days.
    """
    changes = [{}] * past if isinstance(past, int) else list(past)
    weeks = [REPORT_WEEK.plus(n - len(changes)) for n in range(len(changes))]
    return Case(
        site=healthy_site(**(site or {})),
        pump=healthy_pump(**(pump or {})),
        curve=curve,
        week=healthy_week(**(week or {})),
        days=healthy_days(every_day=every_day, each_day=each_day),
        past=tuple(healthy_week(w, **change) for w, change in zip(weeks, changes, strict=True)),
        past_days=tuple(day for w in weeks for day in healthy_days(w, every_day=past_every_day)),
        find_drift=lambda: drift,
        neighbours=neighbours,
        op_map=op_map,
        no_flow_drift=no_flow_drift,
        trips=trips,
        fault_codes=fault_codes,
        left_out=left_out,
        learn_current=lambda: expected_current,
    )
