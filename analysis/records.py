"""The record a week of one pump's log is boiled down to: pump_week, pump_day, op_map, trips.

Everything that judges, compares, ranks or draws works from these; each field says its unit and
meaning, and the same table makes the store's columns and the documentation. ``None`` means the
log or the register does not tell.

Times are UTC instants without zone. "Night" is the quiet window: the site's own quietest three
hours of local time in that week (``quiet_from_hour``).
"""

from dataclasses import dataclass, field, fields
from datetime import date, datetime
from typing import Any


def col(unit: str, meaning: str) -> Any:
    """Declare a record column with its unit ("" for none) and meaning."""
    return field(metadata={"unit": unit, "meaning": meaning})


def opt(unit: str, meaning: str) -> Any:
    """Declare a record column that is ``None`` where the log or register does not tell."""
    return field(default=None, metadata={"unit": unit, "meaning": meaning})


@dataclass(frozen=True, kw_only=True)
class PumpWeek:
    """One pump, one ISO week of its site's local time: every weekly measure."""

    pump_id: str = col("", "pump")
    week: str = col("", "ISO week, 2026-W47")

    # -- what was observed
    n_samples: int = col("", "samples in the week")
    from_at: datetime = col("UTC", "start of the local week")
    to_at: datetime = col("UTC", "end of the local week")
    first_at: datetime = col("UTC", "first sample")
    last_at: datetime = col("UTC", "last sample")
    observed_s: float = col("s", "time held by samples; a silence longer than the gap is not held")
    gap_s: float = col("s", "week length less observed_s, from the week's start to its end")
    n_gaps: int = col("", "silences longer than the gap limit, edges of the week included")
    longest_gap_s: float = col("s", "longest single silence")
    longest_gap_from_at: datetime | None = opt("UTC", "start of the longest silence")
    silent_s: float = col("s", "from the last sample to the end of the week")
    share_missing: float = col("0-1", "gap_s over the week's length")
    gap_limit_s: float | None = opt("s", "a longer silence between samples is a gap")
    state_unknown_s: float | None = opt("s", "observed, but no frequency tells run or stop")
    log_interval_s: float = col("s", "median time between neighbouring samples")
    log_interval_p95_s: float = col("s", "95th percentile of the same, gaps left out")
    is_averaged: bool = col("", "frequency lies between 0 and min_hz too often for instants")
    flip_share: float = col("0-1", "share of neighbouring samples that switch run/stop")
    is_shut_down: bool = col("", "never ran and every pressure was flat near zero all week")
    pressure_step_kpa: float | None = opt("kPa", "resolution: smallest step between values")

    # -- runs and stops
    run_s: float = col("s", "time running")
    run_share: float = col("0-1", "run_s over the observed time with a known state")
    n_starts: int = col("", "starts seen; a lower bound when the log is slow")
    n_unseen_runs: int | None = opt(
        "", "pressure jumped up between two stopped samples: runs too short for the log"
    )
    starts_per_day: float = col("1/d", "n_starts per observed day")
    starts_per_hour_peak: int = col("", "most starts in one clock hour")
    starts_peak_at: datetime | None = opt("UTC", "start of that hour")
    run_s_median: float | None = opt("s", "median length of whole runs")
    run_s_p90: float | None = opt("s", "90th percentile of the same")
    run_s_longest: float | None = opt("s", "longest run, cut ones included")
    stop_s_median: float | None = opt("s", "median length of whole stops")
    stop_s_p10: float | None = opt("s", "10th percentile of the same")
    idle_stop_s_median: float | None = opt(
        "s",
        "median of whole stops, those whose next run goes over f0_hz by 1 Hz (it feeds a draw or"
        " fills a tank), or is too short for a slow log to show, counted as endless; None where"
        " endless",
    )
    idle_stop_s_p10: float | None = opt("s", "10th percentile of the same")
    refill_over_f0_hz: float | None = opt(
        "Hz",
        "25th percentile over whole stops of the next run's highest speed less f0_hz: what it"
        " takes to fill the tank again",
    )
    stop_s_cv: float | None = opt("", "robust coefficient of variation of whole stops")
    starts_by_hour: list[float] = col("1/h", "24 values: starts per observed hour, by local hour")
    run_share_by_hour: list[float | None] = col("0-1", "24 values: run share by local hour")
    n_days_cycling: int = col("", "local days whose starts exceed the pump's own daily median x2")

    # -- pressure and speed
    held_pressure_kpa: float | None = opt("kPa", "mode of pressure in settled running")
    stop_pressure_kpa: float | None = opt("kPa", "median pressure just after a stop")
    restart_pressure_kpa: float | None = opt("kPa", "median last pressure before a start")
    overshoot_kpa: float | None = opt("kPa", "median of highest pressure around a stop less held")
    pressure_p01_kpa: float | None = opt("kPa", "1st percentile of all pressures")
    pressure_p50_kpa: float | None = opt("kPa", "median of all pressures")
    pressure_max_kpa: float | None = opt("kPa", "highest pressure")
    dips_per_day: float | None = opt(
        "1/d",
        "running, past the settling time, over 10 % short of "
        "setting (of the held pressure where none is registered) for over 5 s, per observed day; "
        "None where the log is slower than 15 s",
    )
    short_of_setting_s: float | None = opt("s", "same, at maximum speed or a ceiling: time")
    f0_hz: float | None = opt("Hz", "no-flow speed: median last running frequency before a stop")
    f0_spread_hz: float | None = opt("Hz", "robust spread (1.4826 MAD) of the same")
    frequency_p05_hz: float | None = opt("Hz", "5th percentile, settled running")
    frequency_p95_hz: float | None = opt("Hz", "95th percentile, settled running")
    frequency_max_hz: float | None = opt("Hz", "highest")
    at_max_s: float = col("s", "running within 0.5 Hz of max_hz")

    # -- hunting: speed and pressure swing together, five swings and more, in settled running
    run_interval_s: float | None = opt("s", "time between samples of settled running, median")
    long_run_s: float | None = opt("s", "settled running in runs of 75 s or more")
    hunting_s: float | None = opt(
        "s", "time in such swings; None where the log is slower than a quarter of 30 s"
    )
    hunting_n_swings: int | None = opt("", "swings counted in it")
    hunting_n_spells: int | None = opt("", "unbroken series of swings")
    hunting_swing_kpa: float | None = opt("kPa", "median swing of pressure, top to bottom")
    hunting_swing_hz: float | None = opt("Hz", "the same of speed")
    hunting_swing_lpm: float | None = opt("L/min", "the same of logged flow")
    hunting_flow_lpm: float | None = opt("L/min", "median logged flow then")
    hunting_period_s: float | None = opt("s", "median period")
    hunting_lag_s: float | None = opt("s", "median time by which pressure follows speed")
    hunting_first_at: datetime | None = opt("UTC", "beginning of the first")
    hunting_last_at: datetime | None = opt("UTC", "end of the last")
    fast_swing_s: float | None = opt(
        "s", "speed and pressure swing as much, faster than four samples show"
    )

    # -- falls: pressure while stopped
    n_falls: int = col("", "whole stops with enough samples for a slope")
    fall_p10_kpa_per_min: float | None = opt(
        "kPa/min", "10th percentile of fall slopes, all stops"
    )
    fall_p50_kpa_per_min: float | None = opt("kPa/min", "median of the same")
    fall_p90_kpa_per_min: float | None = opt("kPa/min", "90th percentile of the same")
    knee_pressure_kpa: float | None = opt(
        "kPa", "median knee (gentle above, cliff below) of falls"
    )
    knee_share: float | None = opt("0-1", "share of falls that show a knee")
    suction_rise_kpa: float | None = opt("kPa", "median rise of suction during a fall")
    fall_first_over_last: float | None = opt(
        "", "median of slope in a fall's first third over its last third"
    )
    stored_kpa_per_l: float | None = opt(
        "kPa/L", "1/compliance at held pressure from tank_l and precharge_kpa (Boyle)"
    )

    # -- the quiet window, all nights together
    quiet_from_hour: int | None = opt("h", "local hour at which the quietest 3 h begin")
    n_nights: int = col("", "nights with at least 80 % of the window observed")
    quiet_n_starts: int = col("", "starts inside the window, all nights")
    quiet_n_unseen_runs: int | None = opt("", "of n_unseen_runs, those inside the window")
    quiet_run_share: float | None = opt("0-1", "run share inside the window")
    quiet_restart_s_median: float | None = opt(
        "s", "median start-to-start inside the window, unseen runs included"
    )
    quiet_restart_cv: float | None = opt("", "robust coefficient of variation of the same")
    quiet_n_falls: int = col("", "falls inside the window")
    quiet_fall_p10_kpa_per_min: float | None = opt("kPa/min", "10th percentile, quiet falls")
    quiet_fall_p50_kpa_per_min: float | None = opt("kPa/min", "median, quiet falls")
    quiet_fall_p90_kpa_per_min: float | None = opt("kPa/min", "90th percentile, quiet falls")
    quiet_fall_cv: float | None = opt("", "robust coefficient of variation of quiet falls")
    quiet_fall_first_over_last: float | None = opt(
        "", "fall_first_over_last of the quiet falls: an early quick fall is a valve that seats"
    )
    quiet_fall_early_over_late: float | None = opt(
        "",
        "median over quiet falls of the least ratio of a third's slope to a later third's: near 0"
        " where pressure stands and then falls on, as with draws",
    )
    quiet_flat_share: float | None = opt(
        "0-1", "share of quiet stopped time in stretches that hold flat within the resolution"
    )
    quiet_leak_lpm_p10: float | None = opt(
        "L/min", "10th percentile of tank-law flow, quiet falls"
    )
    quiet_leak_lpm_p50: float | None = opt("L/min", "median of the same")
    quiet_leak_lpm_p90: float | None = opt("L/min", "90th percentile of the same")
    quiet_never_stopped_nights: int = col("", "nights in which the pump ran all the window")
    quiet_floor_hz: float | None = opt(
        "Hz", "median over nights of the lowest settled frequency (5th percentile)"
    )
    quiet_flow_floor_lpm: float | None = opt(
        "L/min", "median over nights of the least 15-min mean of logged flow"
    )

    # -- when water is drawn; a draw is runs with stops of at most 5 min between them, the lists
    # -- have one entry a draw (of 15 min by night, 1 h by day, or more), the 40 longest in order
    run_share_by_week_hour: list[float | None] | None = opt(
        "0-1", "168 values: run share by hour of the local week, from Monday 00:00"
    )
    draw_from_min: list[float] | None = opt(
        "min", "when each began on the local clock, from Monday 00:00"
    )
    draw_min: list[float] | None = opt("min", "how long each took")
    draw_run_share: list[float] | None = opt("0-1", "share of each in which the pump ran")

    # -- supply voltage
    voltage_min_v: float | None = opt("V", "lowest seen (a lower sag between samples is unseen)")
    voltage_min_pct: float | None = opt("%", "the same, of supply_volts")
    idle_v_median: float | None = opt("V", "median, stopped: the no-load volts")
    idle_v_p05: float | None = opt("V", "5th percentile, stopped")
    idle_v_p95: float | None = opt("V", "95th percentile, stopped")
    running_v_median: float | None = opt("V", "median, settled running")
    running_v_p05: float | None = opt("V", "5th percentile, settled running")
    idle_v_by_hour: list[float | None] | None = opt(
        "V", "24 values: median idle volts, local hour"
    )
    undervoltage_s: float | None = opt("s", "below 90 % of supply_volts")
    undervoltage_run_s: float | None = opt("s", "same, while running")
    undervoltage_idle_s: float | None = opt("s", "same, while stopped")
    undervoltage_episodes: int | None = opt("", "spells below 90 %")
    n_undervoltage_days: int | None = opt("", "local days with over 60 s below 90 %")
    below_95_run_share: float | None = opt("0-1", "share of running time below 95 %")
    below_85_s: float | None = opt("s", "below 85 % of supply_volts")
    overvoltage_s: float | None = opt("s", "above 110 % of supply_volts")
    interruption_s: float | None = opt(
        "s", "under 10 % of supply_volts: interrupted or no reading; counted in no other measure"
    )
    motor_undervoltage_s: float | None = opt(
        "s", "below 90 % of motor_volts while running at 90 % of max_hz or more"
    )
    n_voltage_pairs: int = col("", "starts with idle volts just before and settled volts after")
    own_drop_v: float | None = opt("V", "median drop from idle to settled run, paired per start")
    own_drop_sd_v: float | None = opt("V", "robust spread of the same")
    own_drop_night_v: float | None = opt("V", "the same, starts in the quiet window")
    own_drop_evening_v: float | None = opt("V", "the same, starts 16:00-22:00 local")
    pair_supply_a: float | None = opt(
        "A", "median supply current of the settled runs in the pairs"
    )
    supply_current_is_logged: bool | None = opt(
        "", "input_current_a was logged (else estimated from motor amps, P-9)"
    )
    magnetising_share: float | None = opt(
        "0-1", "of rated_amps, where the drops tell it; supply amps are then estimated with it"
    )
    loop_resistance_ohm: float | None = opt("ohm", "median drop per supply ampere")
    loop_resistance_low_ohm: float | None = opt("ohm", "lower end of its band")
    loop_resistance_high_ohm: float | None = opt("ohm", "upper end of its band")
    apparent_resistance_ohm: float | None = opt(
        "V/A", "median drop per motor ampere (comparable only with itself)"
    )

    # -- motor current, settled running
    current_p50_a: float | None = opt("A", "median")
    current_p95_a: float | None = opt("A", "95th percentile")
    current_max_a: float | None = opt("A", "highest")
    over_limit_s: float | None = opt("s", "above service_factor_amps")
    over_rated_s: float | None = opt("s", "above rated_amps")
    over_setting_s: float | None = opt("s", "above overload_setting_amps")
    ceiling_a: float | None = opt("A", "current at which samples pile up with speed held back")
    clip_s: float | None = opt("s", "time at that ceiling, below max_hz and short of setting")
    thermal_max_pct: float | None = opt("%", "highest thermal state, IEC 60255-149; 100 is trip")
    thermal_max_at: datetime | None = opt("UTC", "when")
    input_current_p95_a: float | None = opt("A", "95th percentile of logged supply current")

    # -- pressure gone at speed; the lists have one entry a spell, the 50 longest in order of time
    no_flow_hz: float | None = opt(
        "Hz", "10th percentile of the last running frequency before stops at the setting"
    )
    no_flow_current_a: float | None = opt("A", "10th percentile of motor current there")
    top_held_hz: float | None = opt(
        "Hz", "95th percentile of settled speed with the setting held (95 to 110 %)"
    )
    top_held_current_a: float | None = opt("A", "median motor current within 1 Hz of that")
    at_setting_share: float | None = opt(
        "0-1", "share of settled running at 95 % of the setting or more"
    )
    n_gone: int | None = opt(
        "",
        "spells at no-flow speed or more (90 % of max_hz where that is not seen) with under half "
        "of the setting, over 10 s; in a log of 10 s or slower single samples too; also 10 % "
        "short with less than the no-flow current at 1.2 times that speed",
    )
    held_after_gone_s: float | None = opt("s", "settled running at the setting after the last")
    gone_from_s: list[float] | None = opt("s", "when each began, from the week's start")
    gone_s: list[float] | None = opt("s", "time held by the samples of each")
    gone_samples: list[float] | None = opt("", "samples of each")
    gone_hz: list[float | None] | None = opt("Hz", "median frequency of each")
    gone_current_a: list[float | None] | None = opt("A", "median motor current of each")
    gone_kpa: list[float | None] | None = opt("kPa", "median pressure of each")
    gone_kpa_range: list[float] | None = opt("kPa", "highest less lowest pressure of each")
    gone_current_cv: list[float | None] | None = opt(
        "", "robust coefficient of variation of the current in each"
    )
    gone_after_start_s: list[float | None] | None = opt(
        "s", "from the run's start to each; None where that start was not seen"
    )

    # -- weak delivery: over 10 % short of setting for over 60 s, at no current ceiling
    weak_s: float | None = opt("s", "time so, spells that only fill a line after a start left out")
    n_weak_spells: int | None = opt("", "spells")
    weak_longest_s: float | None = opt("s", "longest of them")
    weak_last_at: datetime | None = opt("UTC", "last sample of the last")
    weak_quiet_s: float | None = opt("s", "of weak_s, inside the quiet window")
    weak_pressure_pct: float | None = opt("%", "median pressure then, of the setting")
    weak_hz: float | None = opt("Hz", "median frequency then")
    weak_current_a: float | None = opt("A", "median motor current then")
    weak_suction_kpa: float | None = opt("kPa", "median suction then")
    weak_flow_lpm: float | None = opt("L/min", "median logged flow then")
    weak_voltage_v: float | None = opt("V", "median supply volts then")
    weak_low_volts_share: float | None = opt(
        "0-1", "share of weak_s under 90 % of motor_volts (of supply_volts where blank)"
    )
    same_held_s: float | None = opt("s", "time at that speed or more with the setting held")
    same_held_voltage_v: float | None = opt("V", "median supply volts then")

    # -- the channels themselves; lists in the order pressure, frequency, current, voltage,
    # -- suction, flow, drive temperature, input current; None where not logged
    channel_still_s: list[float | None] | None = opt(
        "s", "unchanged stretch (10 min or more) that outlasted most starts, stops and speeds"
    )
    channel_still_value: list[float | None] | None = opt("", "the reading in it, inner unit")
    channel_still_from_s: list[float | None] | None = opt("s", "its beginning in the week")
    channel_still_edges: list[float | None] | None = opt("", "starts and stops inside it")
    channel_still_range_hz: list[float | None] | None = opt(
        "Hz", "running speed in it: tenth highest less tenth lowest sample"
    )
    channel_still_run_share: list[float | None] | None = opt("0-1", "share of it running")
    channel_restless_share: list[float | None] | None = opt(
        "0-1", "moves on past a next step at rest outside it, twice the rarer way, per sample"
    )
    channel_odd_samples: list[float | None] | None = opt(
        "", "samples that no reading of this channel on this pump can be"
    )
    channel_odd_value: list[float | None] | None = opt("", "their median, inner unit")
    channel_odd_s: list[float | None] | None = opt("s", "time held by them")
    channel_odd_run_share: list[float | None] | None = opt("0-1", "share of that running")
    channel_odd_from_s: list[float | None] | None = opt("s", "first of them in the week")
    channel_odd_to_s: list[float | None] | None = opt("s", "last of them in the week")
    n_pressure_dropouts: int | None = opt(
        "", "falls to nothing and back within three samples; None where slower than 10 s"
    )
    current_at_rest_a: float | None = opt("A", "median motor current while stopped")
    no_current_run_share: float | None = opt(
        "0-1", "share of settled running without motor current"
    )
    suction_over_pressure_share: float | None = opt(
        "0-1", "share of settled running with suction over 20 kPa above the discharge pressure"
    )
    rest_below_suction_kpa: float | None = opt(
        "kPa", "median of suction less discharge pressure while stopped"
    )

    # -- other channels
    drive_temp_max_c: float | None = opt("C", "highest reading from -40 to 150 C")
    drive_temp_cool_c: float | None = opt(
        "C", "5th percentile of quarter hours at least half an hour into a stop"
    )
    drive_temp_p05_c: float | None = opt("C", "5th percentile of all quarter hours")
    hot_s: float | None = opt("s", "drive at 80 C or more")
    fold_back_s: float | None = opt(
        "s", "drive near its highest temperature, speed level below maximum and pressure short"
    )
    has_drive_temp: bool = col("", "drive_temp_c carried values")
    flow_p50_lpm: float | None = opt("L/min", "median logged flow while running")
    has_voltage: bool = col("", "voltage_v carried values")
    has_suction: bool = col("", "suction_kpa carried values")
    has_flow: bool = col("", "flow_lpm carried values")
    has_input_current: bool = col("", "input_current_a carried values")


@dataclass(frozen=True, kw_only=True)
class PumpDay:
    """One pump, one local day of the week: what "since when" and "how many nights" need.

    A night belongs to the local date on which its quiet window begins.
    """

    pump_id: str = col("", "pump")
    week: str = col("", "ISO week")
    local_date: date = col("", "day at the site")
    from_at: datetime = col("UTC", "start of the local day")
    log_interval_s: float | None = opt("s", "median time between the day's neighbouring samples")
    observed_s: float = col("s", "time held by samples")
    n_starts: int = col("", "starts seen")
    starts_per_hour_peak: int = col("", "most starts in one clock hour")
    run_s: float = col("s", "time running")
    run_s_median: float | None = opt("s", "median whole run")
    stop_s_median: float | None = opt("s", "median whole stop")
    fall_p50_kpa_per_min: float | None = opt("kPa/min", "median fall slope, all stops")
    fall_p90_kpa_per_min: float | None = opt("kPa/min", "90th percentile of the same")
    draw_fall_kpa_per_min: float | None = opt(
        "kPa/min",
        "steepest fall between two samples of a stop, the fifth steepest stop of the day",
    )
    voltage_min_v: float | None = opt("V", "lowest seen")
    undervoltage_s: float | None = opt("s", "below 90 % of supply_volts")
    below_95_run_s: float | None = opt("s", "running below 95 %")
    idle_v_median: float | None = opt("V", "median, stopped")
    own_drop_v: float | None = opt("V", "median paired drop")
    hunting_s: float | None = opt("s", "time in swings of speed and pressure together")
    hot_s: float | None = opt("s", "drive at 80 C or more")
    drive_hot_c: float | None = opt("C", "drive's hottest quarter of an hour in which it ran")
    drive_load_a: float | None = opt("A", "mean current of that quarter and the one before")
    drive_cool_c: float | None = opt(
        "C", "coolest quarter of an hour at least half an hour into a stop: the surroundings"
    )
    drive_cool_max_c: float | None = opt("C", "warmest of the same")
    current_p95_a: float | None = opt("A", "95th percentile, settled running")
    over_limit_s: float | None = opt("s", "above service_factor_amps")
    clip_s: float | None = opt("s", "time at the current ceiling, short of setting")
    settled_s: float | None = opt("s", "settled running")
    at_setting_share: float | None = opt("0-1", "share of it at 95 % of the setting or more")
    weak_s: float | None = opt("s", "weak delivery, as of the week")
    night_observed_share: float = col("0-1", "share of the quiet window observed")
    night_n_starts: int = col("", "starts inside the window")
    night_run_s: float = col("s", "running inside the window")
    night_restart_s_median: float | None = opt("s", "median start-to-start inside the window")
    night_restart_cv: float | None = opt("", "robust coefficient of variation of the same")
    night_n_falls: int = col("", "falls inside the window")
    night_fall_floor_kpa_per_min: float | None = opt("kPa/min", "lowest fall slope in the window")
    night_fall_p50_kpa_per_min: float | None = opt("kPa/min", "median fall slope in the window")
    night_flat_s: float = col("s", "longest stretch that held flat within the resolution")
    night_leak_lpm: float | None = opt("L/min", "median tank-law flow of the window's falls")
    night_never_stopped: bool = col("", "ran all the window")
    night_floor_hz: float | None = opt(
        "Hz", "lowest settled running frequency in the window (5th percentile)"
    )
    night_flow_floor_lpm: float | None = opt("L/min", "least 15-min mean of logged flow")


@dataclass(frozen=True, kw_only=True)
class OpMapBin:
    """One pump, one week, one cell of settled running by frequency and pressure."""

    pump_id: str = col("", "pump")
    week: str = col("", "ISO week")
    frequency_bin_hz: float = col("Hz", "lower edge of a 2 Hz bin")
    pressure_bin_pct: float = col(
        "%",
        "lower edge of a 5 % bin of the pressure setting (of the "
        "held pressure where no setting is registered)",
    )
    n: int = col("", "samples")
    held_s: float = col("s", "time held by them")
    frequency_mean_hz: float = col("Hz", "mean frequency")
    pressure_mean_kpa: float = col("kPa", "mean pressure")
    current_mean_a: float | None = opt("A", "mean motor current")
    current_sd_a: float | None = opt("A", "standard deviation of the same")
    voltage_mean_v: float | None = opt("V", "mean supply voltage")
    flow_mean_lpm: float | None = opt("L/min", "mean logged flow")
    suction_mean_kpa: float | None = opt("kPa", "mean suction")


@dataclass(frozen=True, kw_only=True)
class TripEvent:
    """One trip of a controller with its own retries: a burst, in the week in which it shows."""

    pump_id: str = col("", "pump")
    week: str = col("", "ISO week")
    tripped_at: datetime = col("UTC", "first trip of the burst")
    until_at: datetime = col("UTC", "end of its last stop, as far as seen")
    code: str = col("", 'fault code as logged; "" where the trip is inferred from the stop')
    n_retries: int = col("", "trips again before a run could end as usual; a lower bound")
    retry_s: float | None = opt("s", "median time from trip to trip")
    ran_s: float | None = opt("s", "length of the run that tripped; None where it tripped at rest")
    current_before_a: float | None = opt("A", "highest motor current in the last 30 s of it")
    current_before_pct: float | None = opt(
        "%", "the same, of overload_setting_amps (of service_factor_amps where blank)"
    )
    voltage_before_pct: float | None = opt(
        "%", "lowest volts of the last 30 s and the trip, of supply_volts"
    )
    pressure_before_pct: float | None = opt("%", "lowest pressure of the last 30 s, of setting")
    frequency_before_hz: float | None = opt("Hz", "median frequency of the last 30 s")
    drive_temp_before_c: float | None = opt("C", "highest drive temperature of the last 30 s")
    stopped_s: float = col("s", "from the last trip to the next run, or as far as seen")
    is_carried: bool = col("", "it was there when the week's log began")
    is_open: bool = col("", "no start was seen after it")
    is_latched: bool = col("", "stayed out past any retry, code up or pressure under a restart")


@dataclass(frozen=True, kw_only=True)
class PumpRecord:
    """All that one week of one pump leaves behind."""

    week: PumpWeek
    days: tuple[PumpDay, ...]
    op_map: tuple[OpMapBin, ...]
    trips: tuple[TripEvent, ...] = ()


def describe(record: type) -> list[tuple[str, str, str]]:
    """Name, unit and meaning of each column of a record type, in order."""
    return [(f.name, f.metadata["unit"], f.metadata["meaning"]) for f in fields(record)]
