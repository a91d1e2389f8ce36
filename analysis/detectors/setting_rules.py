"""The settings audit as a table: each rule with the register columns and measures it needs."""

from analysis.detectors import setting_motor, setting_site, setting_speed
from analysis.detectors.setting_rule import Rule
from analysis.limits import RAMP_RUN_S, SETTING_DIP_LOG_S

RULES: tuple[Rule, ...] = (
    Rule(
        name="overload_above_sfa",
        cause="overload_setting_amps",
        register=("overload_setting_amps", "service_factor_amps or rated_amps"),
        test=setting_motor.overload_above_sfa,
    ),
    Rule(
        name="overload_too_low",
        cause="overload_setting_amps",
        register=("overload_setting_amps",),
        measures=("current_p95_a",),
        test=setting_motor.overload_too_low,
    ),
    Rule(
        name="sf_on_drive",
        cause="rated_amps",
        register=("rated_amps",),
        measures=("current_p95_a", "over_rated_s"),
        test=setting_motor.sf_on_drive,
    ),
    Rule(
        name="nameplate",
        cause="service_factor_amps",
        register=("service_factor_amps", "rated_amps"),
        test=setting_motor.nameplate,
    ),
    Rule(
        name="min_hz_low",
        cause="min_hz",
        register=("suction or suction_kpa",),
        applies=setting_speed.knows_suction,
        test=setting_speed.min_hz_low,
    ),
    Rule(
        name="min_hz_high",
        cause="min_hz",
        register=("pressure_setting_kpa",),
        measures=("held_pressure_kpa", "frequency_p05_hz"),
        test=setting_speed.min_hz_high,
    ),
    Rule(
        name="max_hz_high",
        cause="max_hz",
        register=("service_factor_amps",),
        measures=("current_p95_a", "frequency_p95_hz"),
        test=setting_motor.max_hz_high,
    ),
    Rule(
        name="ramp_fast",
        cause="ramp",
        register=("tank_l", "precharge_kpa", "pressure_setting_kpa"),
        measures=("run_s_median",),
        interval_max_s=RAMP_RUN_S.value / 4,
        applies=setting_speed.has_fast_ramp,
        test=setting_speed.ramp_fast,
    ),
    Rule(
        name="ramp_slow",
        cause="ramp",
        register=("pressure_setting_kpa",),
        measures=("dips_per_day",),
        interval_max_s=SETTING_DIP_LOG_S.value,
        applies=setting_speed.has_slow_ramp,
        test=setting_speed.ramp_slow,
    ),
    Rule(
        name="precharge",
        cause="precharge",
        register=("precharge_kpa", "pressure_setting_kpa"),
        test=setting_site.precharge,
    ),
    Rule(
        name="tank_small",
        cause="tank",
        register=("tank_l", "precharge_kpa", "pressure_setting_kpa"),
        test=setting_site.tank_small,
    ),
    Rule(
        name="lead_filter",
        cause="output_filter",
        register=("motor_volts", "motor_lead_m", "output_filter"),
        test=setting_motor.lead_filter,
    ),
    Rule(
        name="wire_drop",
        cause="supply_wire",
        register=(
            "supply_wire_mm2",
            "supply_wire_m",
            "supply_volts",
            "rated_amps or service_factor_amps",
        ),
        test=setting_site.wire_drop,
    ),
    Rule(
        name="set_beyond_pump",
        cause="pressure_setting",
        register=("pressure_setting_kpa",),
        measures=("frequency_p05_hz",),
        test=setting_speed.set_beyond_pump,
    ),
    Rule(
        name="supply_vs_motor",
        cause="supply_volts",
        register=("supply_volts", "motor_volts"),
        test=setting_motor.supply_vs_motor,
    ),
)
