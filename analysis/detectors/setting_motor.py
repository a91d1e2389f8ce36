"""Settings that guard the motor: overload, rated amps, top speed, volts, output filter."""

from analysis.case import Case
from analysis.detectors.load_evidence import clips, margin_pct
from analysis.detectors.setting_rule import Broken
from analysis.limits import (
    LEAD_HIGH_V,
    LEAD_HIGH_V_M,
    LEAD_LOW_V_M,
    MARGIN_HEALTHY_PCT,
    OVERLOAD_FAR_OVER_SFA,
    OVERLOAD_OVER_RATED,
    OVERLOAD_OVER_SFA,
    OVERLOAD_OVER_USE,
    RATED_OVER_PCT,
    RATED_OVER_RUN_SHARE,
    RATED_OVER_WELL_PCT,
    SPEED_OFF_HZ,
    SUPPLY_MISMATCH_HIGH,
    SUPPLY_MISMATCH_LOW,
    TOP_SPEED_HZ,
    TOP_SPEED_SHARE,
)
from analysis.wording import (
    amps_text,
    frequency_text,
    length_text,
    percent_text,
    volts_text,
)

HOUSEKEEPING, WEAR, MONTHS, DAYS = 1, 2, 3, 4


def overload_above_sfa(case: Case) -> Broken | None:
    """The motor overload is set above what the nameplate lets the motor carry."""
    setting_a, limit_a = case.pump.overload_setting_amps or 0.0, case.pump.service_factor_amps
    if not limit_a:
        return _overload_above_rated(case, setting_a)
    if setting_a <= OVERLOAD_OVER_SFA.value * limit_a:
        return None
    far = setting_a > OVERLOAD_FAR_OVER_SFA.value * limit_a
    return Broken(
        setting=setting_a,
        expected=f"{amps_text(limit_a)} or the next lower setting",
        consequence=DAYS if far else WEAR,
        confidence=0.9,
        summary=(
            f"Overload is set to {amps_text(setting_a)}, the motor's service-factor amps are"
            f" {amps_text(limit_a)}: it is not protected above that."
        ),
        limit_source=(OVERLOAD_FAR_OVER_SFA if far else OVERLOAD_OVER_SFA).source,
        grounds=(f"Setting is {percent_text(100 * (setting_a / limit_a - 1))} over",),
        alternatives=("The motor was changed and the register holds the old nameplate",),
    )


def _overload_above_rated(case: Case, setting_a: float) -> Broken | None:
    rated_a = case.pump.rated_amps
    if not rated_a or setting_a <= OVERLOAD_OVER_RATED.value * rated_a:
        return None
    return Broken(
        setting=setting_a,
        expected=f"at most {amps_text(OVERLOAD_OVER_RATED.value * rated_a)}, less where the"
        " motor has no service factor",
        consequence=MONTHS,
        confidence=0.8,
        summary=(
            f"Overload is set to {amps_text(setting_a)}, over 125 % of the motor's rated"
            f" {amps_text(rated_a)}."
        ),
        limit_source=OVERLOAD_OVER_RATED.source,
        grounds=("No service_factor_amps in the register: judged by rated amps",),
        alternatives=("The motor was changed and the register holds the old nameplate",),
    )


def overload_too_low(case: Case) -> Broken | None:
    """Normal use runs close to the overload although the motor itself has room.

    Where the motor has no room either it is the load, not the setting: that is left to the
    overload margin.
    """
    setting_a, p95_a = case.pump.overload_setting_amps or 0.0, case.week.current_p95_a or 0.0
    if setting_a >= OVERLOAD_OVER_USE.value * p95_a or margin_pct(case) < MARGIN_HEALTHY_PCT.value:
        return None
    limited = clips(case)
    return Broken(
        setting=setting_a,
        expected=f"usual current under {amps_text(setting_a / OVERLOAD_OVER_USE.value)}:"
        " check what loads the motor first",
        consequence=WEAR,
        confidence=0.7 if limited else 0.6,
        summary=(
            f"Overload is set to {amps_text(setting_a)} and the motor usually runs up to"
            f" {amps_text(p95_a)}: it will trip or slow down in normal use; check the load first."
        ),
        limit_source=OVERLOAD_OVER_USE.source,
        grounds=("The controller slows down at its current limit",) if limited else (),
        alternatives=("The load has risen and the setting is right",),
    )


def sf_on_drive(case: Case) -> Broken | None:
    """Runs above rated amps, in a service factor that some motors do not have on a drive."""
    rated_a, p95_a = case.pump.rated_amps or 0.0, case.week.current_p95_a or 0.0
    is_well = case.pump.suction == "well"
    over_pct = (RATED_OVER_WELL_PCT if is_well else RATED_OVER_PCT).value
    often = (case.week.over_rated_s or 0.0) > RATED_OVER_RUN_SHARE.value * case.week.run_s
    thin = margin_pct(case) < MARGIN_HEALTHY_PCT.value
    if thin or not often or p95_a <= (1 + over_pct / 100) * rated_a:
        return None
    return Broken(
        setting=rated_a,
        expected=f"usual current up to {amps_text(rated_a)}, unless the motor's instructions"
        " allow its service factor on a drive",
        consequence=WEAR if is_well else HOUSEKEEPING,
        confidence=0.6 if is_well else 0.5,
        summary=(
            f"Runs in the service factor: {amps_text(p95_a)} against {amps_text(rated_a)} rated;"
            " on a drive some motors allow none."
        ),
        limit_source=(RATED_OVER_WELL_PCT if is_well else RATED_OVER_PCT).source,
        alternatives=("Rated amps recorded wrong",),
    )


def nameplate(case: Case) -> Broken | None:
    """Service-factor amps below rated amps: one of the two is recorded wrong."""
    limit_a, rated_a = case.pump.service_factor_amps or 0.0, case.pump.rated_amps or 0.0
    if limit_a * OVERLOAD_OVER_SFA.value >= rated_a:
        return None
    return Broken(
        setting=limit_a,
        expected=f"at least the rated {amps_text(rated_a)}",
        consequence=HOUSEKEEPING,
        confidence=0.9,
        summary=(
            f"Register has {amps_text(limit_a)} service-factor amps below {amps_text(rated_a)}"
            " rated amps: one of them is wrong."
        ),
        limit_source="NEMA MG 1-12.51: a service factor is 1 or more",
    )


def max_hz_high(case: Case) -> Broken | None:
    """Top speed above the usual one, where the motor would carry more than its limit.

    Current is carried to ``max_hz`` with the square of speed from the 95th percentiles of both:
    it reads high where much of the current is magnetising.
    """
    max_hz, limit_a = case.pump.max_hz, case.pump.service_factor_amps or 0.0
    seen_hz, p95_a = case.week.frequency_p95_hz or 0.0, case.week.current_p95_a or 0.0
    if max_hz <= TOP_SPEED_HZ.value + SPEED_OFF_HZ.value or seen_hz <= 0:
        return None
    predicted_a = p95_a * max(1.0, max_hz / seen_hz) ** 2
    if predicted_a <= limit_a:
        return None
    near = seen_hz >= TOP_SPEED_SHARE.value * TOP_SPEED_HZ.value
    power_pct = 100 * ((max_hz / TOP_SPEED_HZ.value) ** 3 - 1)
    return Broken(
        setting=max_hz,
        expected=f"{frequency_text(TOP_SPEED_HZ.value)}, or what the motor's label allows",
        consequence=MONTHS if near else WEAR,
        confidence=0.8 if near else 0.6,
        summary=(
            f"Maximum speed is {frequency_text(max_hz)}, which takes {power_pct:.0f} % more power"
            f" than {frequency_text(TOP_SPEED_HZ.value)}; about {amps_text(predicted_a)} against"
            f" {amps_text(limit_a)} service-factor amps."
        ),
        limit_source=f"{TOP_SPEED_HZ.source}; affinity laws",
        grounds=(f"Seen {amps_text(p95_a)} at {frequency_text(seen_hz)}",),
        alternatives=("The motor's label allows this speed",),
    )


def supply_vs_motor(case: Case) -> Broken | None:
    """The motor's nameplate volts do not go with the supply: a drive cannot make more volts."""
    supply_v, motor_v = case.pump.supply_volts or 0.0, case.pump.motor_volts or 1.0
    ratio = supply_v / motor_v
    if SUPPLY_MISMATCH_LOW.value <= ratio <= SUPPLY_MISMATCH_HIGH.value:
        return None
    low = ratio < SUPPLY_MISMATCH_LOW.value
    effect = "full-speed torque is short" if low else "the motor sees more than its tolerance"
    return Broken(
        setting=supply_v,
        expected=f"95 to 110 % of the motor's {volts_text(motor_v)}",
        consequence=WEAR,
        confidence=0.85,
        summary=(
            f"{volts_text(motor_v)} motor on a {volts_text(supply_v)} supply,"
            f" {percent_text(100 * ratio)}: {effect}."
        ),
        limit_source=(SUPPLY_MISMATCH_LOW if low else SUPPLY_MISMATCH_HIGH).source,
        alternatives=(
            "Motor or supply volts recorded wrong",
            "The controller doubles a low supply by its own design",
        ),
    )


def lead_filter(case: Case) -> Broken | None:
    """Long motor leads without an output filter: the drive's pulses reflect at the motor."""
    if case.pump.output_filter is not False:
        return None
    lead_m, motor_v = case.pump.motor_lead_m or 0.0, case.pump.motor_volts or 0.0
    high = motor_v > LEAD_HIGH_V.value
    limit = LEAD_HIGH_V_M if high else LEAD_LOW_V_M
    if lead_m <= limit.value:
        return None
    units = case.site.units
    return Broken(
        setting="no",
        expected=f"a filter or reactor checked above {length_text(limit.value, units)} at"
        f" {volts_text(motor_v)}",
        consequence=DAYS if high else WEAR,
        confidence=0.8 if high else 0.6,
        summary=(
            f"{length_text(lead_m, units)} of motor lead at {volts_text(motor_v)} without an"
            " output filter: voltage reflection at the motor ages its winding."
        ),
        limit_source=limit.source,
        alternatives=("A filter is fitted and not recorded", "The motor is made for drive duty"),
    )
