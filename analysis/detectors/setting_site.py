"""Settings of tank and supply wire: pre-charge, tank size, conductor."""

from analysis.case import Case
from analysis.detectors.load_evidence import at_top_speed
from analysis.detectors.setting_rule import Broken
from analysis.detectors.supply_evidence import wire_loop_ohm
from analysis.limits import (
    PRECHARGE_HIGH_SHARE,
    PRECHARGE_LOW_SHARE,
    PRECHARGE_USUAL_SHARE,
    RAMP_BAND_KPA,
    SETTING_FAST_LOG_S,
    TRICKLE_L,
    WIRE_COLD_C,
    WIRING_DROP_PCT,
    WIRING_DROP_TOTAL_PCT,
)
from analysis.physics.electrical import supply_current_band_ratios
from analysis.physics.tank import drawdown_l
from analysis.supply_current import estimated_supply_a
from analysis.wording import (
    amps_text,
    length_text,
    percent_text,
    pressure_text,
    volts_text,
    volume_text,
)

HOUSEKEEPING, WEAR, MONTHS = 1, 2, 3


def precharge(case: Case) -> Broken | None:
    """Pre-charge out of what a drive's tank wants, or not below the restart pressure."""
    charge_kpa = case.pump.precharge_kpa or 0.0
    setting_kpa = case.pump.pressure_setting_kpa or 1.0
    share = charge_kpa / setting_kpa
    empty = share > PRECHARGE_USUAL_SHARE.value and _at_restart(case, charge_kpa)
    if PRECHARGE_LOW_SHARE.value <= share <= PRECHARGE_HIGH_SHARE.value and not empty:
        return None
    units = case.site.units
    high = share > PRECHARGE_USUAL_SHARE.value
    effect = (
        "the tank is empty before the pump restarts"
        if high
        else "the tank gives little water between stop and restart"
    )
    return Broken(
        setting=charge_kpa,
        expected=f"about 65 to 75 % of the set {pressure_text(setting_kpa, units)}",
        consequence=WEAR,
        confidence=0.85 if not high or empty else 0.75,
        summary=(
            f"Tank pre-charge is {pressure_text(charge_kpa, units)} for a set"
            f" {pressure_text(setting_kpa, units)}, {percent_text(100 * share)}: {effect}."
        ),
        limit_source=(PRECHARGE_HIGH_SHARE if high else PRECHARGE_LOW_SHARE).source,
        grounds=("It is not below the restart pressure in the log",) if empty else (),
        alternatives=("Pre-charge as recorded is out of date",),
    )


def _at_restart(case: Case, charge_kpa: float) -> bool:
    restart_kpa = case.week.restart_pressure_kpa
    fast = case.week.log_interval_s <= SETTING_FAST_LOG_S.value
    return fast and restart_kpa is not None and charge_kpa >= restart_kpa


def tank_small(case: Case) -> Broken | None:
    """The tank gives less between stop and restart than a trickle draws in ten seconds.

    With the band seen in the log where it is wider than the usual 5 psi, which favours the tank.
    """
    setting_kpa, tank_l = case.pump.pressure_setting_kpa or 0.0, case.pump.tank_l or 0.0
    seen_kpa = setting_kpa - (case.week.restart_pressure_kpa or setting_kpa)
    band_kpa = max(RAMP_BAND_KPA.value, seen_kpa)
    water_l = float(
        drawdown_l(tank_l, case.pump.precharge_kpa or 0.0, setting_kpa - band_kpa, setting_kpa)
    )
    if water_l >= TRICKLE_L.value:
        return None
    units = case.site.units
    return Broken(
        setting=tank_l,
        expected=f"a tank that gives {volume_text(TRICKLE_L.value, units)} from stop to restart",
        consequence=HOUSEKEEPING,
        confidence=0.7,
        summary=(
            f"The {volume_text(tank_l, units)} tank gives"
            f" {volume_text(water_l, units)} between stop and restart, less than ten seconds of a"
            " trickle: its size, not its charge."
        ),
        limit_source=TRICKLE_L.source,
        alternatives=("A second tank that is not recorded", "Pre-charge recorded wrong"),
    )


def wire_drop(case: Case) -> Broken | None:
    """The recorded conductor loses too much at full speed, by supply amps, not motor amps."""
    amps, low_share, basis = full_speed_supply_a(case)
    supply_v = case.pump.supply_volts or 1.0
    loop_ohm = _loop_ohm(case)
    if loop_ohm is None:
        return None
    drop_v = amps * loop_ohm
    low_pct = 100 * drop_v * low_share / supply_v
    if low_pct <= WIRING_DROP_PCT.value:
        return None
    much = low_pct > WIRING_DROP_TOTAL_PCT.value
    wire = f"{length_text(case.pump.supply_wire_m or 0.0, case.site.units)} of the recorded supply"
    wire = (
        f"{wire} wire lose"
        if at_top_speed(case)
        else f"At full load, which this week did not reach, {wire} wire would lose"
    )
    limit = WIRING_DROP_TOTAL_PCT if much else WIRING_DROP_PCT
    return Broken(
        setting=case.pump.supply_wire_mm2,
        expected=f"a conductor that loses at most {percent_text(WIRING_DROP_PCT.value)}",
        consequence=MONTHS if much else WEAR,
        confidence=0.85 if low_share == 1.0 else 0.65,
        summary=(
            f"{wire} {volts_text(drop_v)} at {amps_text(amps)},"
            f" {percent_text(100 * drop_v / supply_v)} of {volts_text(supply_v)}."
        ),
        limit_source=limit.source,
        grounds=(basis,),
        alternatives=("Conductor recorded smaller or longer than it is",),
    )


def full_speed_supply_a(case: Case) -> tuple[float, float, str]:
    """Supply current at full speed [A], the low end of its band over it, and its basis.

    A log that never reaches full speed says too little of it: the nameplate's amps tell. What was
    logged below full speed is what it takes at the least.
    """
    pump, week = case.pump, case.week
    if week.input_current_p95_a is not None and at_top_speed(case):
        return week.input_current_p95_a, 1.0, "Supply amps as logged at full speed"
    motor_a = week.current_p95_a if at_top_speed(case) else None
    basis = "the logged motor amps at full speed"
    if motor_a is None:
        motor_a, basis = pump.rated_amps, "the motor's rated amps"
    if motor_a is None:
        motor_a, basis = pump.service_factor_amps or 0.0, "the motor's service-factor amps"
    supply_v = pump.supply_volts or float("nan")
    amps = float(estimated_supply_a(pump, motor_a, pump.max_hz, supply_v))
    load_share = motor_a / pump.rated_amps if pump.rated_amps else 1.0
    low_share = float(supply_current_band_ratios(pump.supply_phases, load_share)[0])
    logged_a = week.input_current_p95_a or 0.0
    if logged_a >= amps:
        return logged_a, 1.0, "Supply amps as logged below full speed"
    return amps, max(low_share, logged_a / amps), f"Supply amps are estimated from {basis}"


def _loop_ohm(case: Case) -> float | None:
    """Loop resistance of the recorded wire, no more than what the log shows of it.

    None where the log shows less than that wire has in the cold: the record is doubtful then. A
    wire that runs seldom stays cooler than tables of wire state, so less than their figure alone
    doubts nothing.
    """
    warm_ohm, cold_ohm = wire_loop_ohm(case), wire_loop_ohm(case, WIRE_COLD_C.value)
    high_ohm = case.week.loop_resistance_high_ohm
    if warm_ohm is None or cold_ohm is None or high_ohm is None:
        return warm_ohm
    return None if high_ohm < cold_ohm else min(warm_ohm, high_ohm)
