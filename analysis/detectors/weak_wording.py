"""What is said of weak delivery: summary, grounds of the confidence, what else it could be."""

from collections.abc import Sequence
from datetime import datetime

from analysis.case import Case
from analysis.detectors.certainty import Ground
from analysis.detectors.gone_spells import Gone, Spell
from analysis.detectors.pump_wear import creep_of, fall_of_amps
from analysis.detectors.spells import since_words
from analysis.detectors.weak_evidence import (
    WeakEvidence,
    curve_says_it_can,
    follows_a_gap,
    volts_recover,
)
from analysis.limits import VOLTAGE_LOW_PCT, WEAK_DAY_S
from analysis.wording import (
    amps_text,
    duration_text,
    frequency_text,
    local_date_text,
    local_time_text,
    percent_text,
    pressure_text,
    volts_text,
)


def summary(case: Case, evidence: WeakEvidence, cause: str, since_at: datetime) -> str:
    """One sentence with pressure, time, speed and what points to the cause."""
    since = since_words(case, since_at)
    if not evidence.is_short:
        return f"{_f0_words(case)} {since}: pump worn or blocked, pressure still holds."
    return f"{_short_words(case)} {since}{_cause_words(case, evidence, cause)}."


def _short_words(case: Case) -> str:
    week, units = case.week, case.site.units
    setting_kpa = case.pump.pressure_setting_kpa or week.held_pressure_kpa or 0.0
    at_kpa = setting_kpa * (week.weak_pressure_pct or 0.0) / 100
    return (
        f"At {frequency_text(week.weak_hz or case.pump.max_hz)} it makes"
        f" {pressure_text(at_kpa, units)} of {pressure_text(setting_kpa, units)} set, for"
        f" {duration_text(week.weak_s or 0.0)} this week"
    )


def _cause_words(case: Case, evidence: WeakEvidence, cause: str) -> str:
    week, fall = case.week, fall_of_amps(case)
    if cause == "low_voltage":
        return f", only while the supply is down to {volts_text(week.weak_voltage_v or 0.0)}"
    if cause == "wrong_rotation":
        sure = "three-phase" if case.pump.motor_phases == 3 else "if the motor is three-phase"
        return f", and never reaches it, day or night: turning backward is likely ({sure})"
    if cause == "worn_or_blocked" and creep_of(case) is not None:
        return f"; {_f0_words(case)[0].lower()}{_f0_words(case)[1:]}"
    if cause == "worn_or_blocked" and fall is not None:
        return (
            f", and at like speed and pressure the motor takes"
            f" {percent_text(-fall.total_pct)} less than it did"
        )
    if cause == "worn_or_blocked" and evidence.current_pct is not None:
        return f", with the motor at {percent_text(evidence.current_pct)} of its usual current"
    if cause == "worn_or_blocked":
        return ", and no longer reaches it at all"
    return ", at full current: more water leaves than the pump can give"


def _f0_words(case: Case) -> str:
    creep = creep_of(case)
    if creep is None:
        return ""
    return (
        f"Speed at no flow went from {frequency_text(creep.first_hz)} to"
        f" {frequency_text(creep.last_hz)}"
    )


def gone_summary(case: Case, spells: Sequence[Spell]) -> str:
    """One sentence on a site left without pressure while the drive runs."""
    first, zone = spells[0], case.site.timezone
    when = f"{local_date_text(first.from_at, zone)} {local_time_text(first.from_at, zone)}"
    setting_kpa = case.pump.pressure_setting_kpa or case.week.held_pressure_kpa or 0.0
    at = pressure_text(setting_kpa * spells[-1].share_of_setting, case.site.units)
    amps = amps_text(spells[-1].current_a or 0.0)
    speed = frequency_text(first.frequency_hz)
    if first.what is Gone.OPEN:
        return (
            f"Drive runs at {speed} since {when} but the motor takes {amps} and pressure is {at}:"
            " the motor circuit is open."
        )
    return (
        f"Pressure is {at} at {speed} since {when} with the motor at {amps}, that of a pump"
        " moving water: burst, open hydrant or pressure sensor."
    )


def grounds(
    case: Case, evidence: WeakEvidence, cause: str, since_at: datetime
) -> tuple[Ground, ...]:
    """Reasons for and against, with what each adds to the confidence."""
    week = case.week
    if cause == "low_voltage":
        return (
            Ground(
                True,
                0.0,
                f"Under {VOLTAGE_LOW_PCT.value:.0f} % of nominal volts for"
                f" {percent_text(100 * (week.weak_low_volts_share or 0.0))} of the time short",
            ),
            Ground(
                volts_recover(case),
                0.15,
                f"At {volts_text(week.same_held_voltage_v or 0.0)} that speed holds the setting",
            ),
        )
    if cause == "wrong_rotation":
        return _rotation_grounds(case, evidence, since_at)
    return _pump_grounds(case, evidence)


def _rotation_grounds(
    case: Case, evidence: WeakEvidence, since_at: datetime
) -> tuple[Ground, ...]:
    return (
        Ground(evidence.came_at_once, 0.15, "It held its setting until the day before"),
        Ground(follows_a_gap(case, since_at), 0.1, "It began around a silence of the log"),
        Ground(
            (case.week.weak_quiet_s or 0.0) >= WEAK_DAY_S.value,
            0.1,
            "Short in the quiet hours too, when nobody draws",
        ),
        Ground(
            curve_says_it_can(case) is True, 0.1, "By its published curve it should reach it"
        ),
        Ground(evidence.takes_little, 0.05, "Motor current is low for this speed"),
        Ground(
            case.pump.motor_phases is None,
            -0.1,
            "No motor_phases in the register: only a three-phase motor can turn backward",
        ),
        Ground(
            not evidence.held_before,
            0.0,
            "It has not held its setting in any week of the record",
        ),
    )  # fmt: skip


def _pump_grounds(case: Case, evidence: WeakEvidence) -> tuple[Ground, ...]:
    creep, fall, pct = creep_of(case), fall_of_amps(case), evidence.current_pct
    return (
        Ground(
            creep is not None,
            0.2,
            ""
            if creep is None
            else f"{_f0_words(case)} over {creep.n_weeks} weeks:"
            f" {percent_text(creep.head_lost_pct)} less head at like speed",
        ),
        Ground(
            creep is not None and creep.is_step,
            -0.1,
            "The speed at no flow stepped rather than crept",
        ),
        Ground(
            fall is not None,
            0.15,
            ""
            if fall is None
            else f"Current at like speed and pressure fell {percent_text(-fall.total_pct)} over"
            f" {fall.n_weeks} weeks",
        ),
        Ground(
            evidence.takes_little,
            0.15,
            "" if pct is None else f"Motor current is {percent_text(pct)} of what it should be",
        ),
        Ground(evidence.is_new, 0.05, "Earlier weeks were not short"),
        Ground(
            case.pump.suction == "well" and not (creep is not None and creep.level_is_known),
            -0.1,
            "The well's level is not known, and a lower level looks the same",
        ),
    )


def alternatives(case: Case, evidence: WeakEvidence, cause: str) -> tuple[str, ...]:
    """What else gives the same picture."""
    if cause == "low_voltage":
        return ("A pump that is only just large enough, which low volts show first",)
    if cause == "wrong_rotation":
        return (
            "A setting this pump cannot make",
            "A hole in the drop pipe, or an idle pump's check valve letting water back",
            "A pump end worn through, a broken shaft or coupling",
        )
    told = ["A lower water level or less street pressure"]
    if evidence.is_short:
        told.append("More demand than before, with the pump as it was")
    told.append("A hole in the drop pipe or a check valve that lets water back")
    creep = creep_of(case)
    if creep is not None and creep.is_step:
        told.append("A pressure sensor that now reads low")
    return tuple(told)
