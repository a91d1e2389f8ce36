"""What is said of a short supply: its summary, the grounds of its confidence, what else it is."""

from datetime import datetime
from typing import TypeGuard

from analysis.case import Case
from analysis.detectors.certainty import Ground
from analysis.detectors.spells import since_words
from analysis.detectors.supply_evidence import SupplyEvidence, undervoltage_days
from analysis.limits import (
    DAILY_SHAPE_PCT,
    DROP_STEADY_SHARE,
    NEIGHBOURS_MIN,
    NEIGHBOURS_SHARE,
    PAIRS_MIN,
    UNDERVOLTAGE_DAYS,
    VOLTAGE_RANGE_A_PCT,
    WIRE_RESISTANCE_RATIO,
    WIRING_DROP_PCT,
)
from analysis.wording import (
    count_text,
    duration_text,
    figures_text,
    length_text,
    ohms_text,
    percent_text,
    volts_text,
)


def summary(
    case: Case, evidence: SupplyEvidence, cause: str, since_at: datetime, *, is_low: bool
) -> str:
    """One sentence with volts, both parts and since when."""
    if cause == "supply_wiring":
        return _wiring_summary(case, evidence, since_at, is_low=is_low)
    since = since_words(case, since_at)
    own = (
        f"; the pump's own load takes {volts_text(evidence.own_part_v)} of it"
        if evidence.own_part_v is not None
        else ""
    )
    if cause == "supply_source" and _is_short(evidence.idle_low_v, evidence):
        hours = _low_hours_text(case, evidence)
        own = own.replace(" of it", " more")
        return (
            f"Supply is short before the pump even starts: {volts_text(evidence.idle_low_v)} at"
            f" rest{hours}, {_of_nominal(evidence, evidence.idle_low_v)}, {since}{own}."
        )
    n_days, usual_v = len(undervoltage_days(case)), case.week.idle_v_median
    if cause == "supply_source" and n_days and usual_v is not None:
        spent = duration_text(case.week.undervoltage_s or 0.0)
        return (
            f"Supply falls short at times: under 90 % for {spent} on {count_text(n_days, 'day')},"
            f" {since}, to {_lowest(case, evidence)}; at rest it is usually {volts_text(usual_v)}."
        )
    return f"Volts at the controller are short, {_lowest(case, evidence)}, {since}{own}."


def _wiring_summary(
    case: Case, evidence: SupplyEvidence, since_at: datetime, *, is_low: bool
) -> str:
    drop = volts_text(evidence.own_part_v or 0.0)
    parts = [f"Volts at the controller fall {drop} when the pump runs"]
    if is_low:
        since = since_words(case, since_at)
        parts.append(f", to {_lowest(case, evidence)}, {since}")
    elif case.week.running_v_median is not None:
        parts.append(f", to {volts_text(case.week.running_v_median)}")
    length_m = case.pump.supply_wire_m
    if evidence.wire_drop_v is not None and length_m is not None:
        expected = volts_text(evidence.wire_drop_v)
        length = length_text(length_m, case.site.units)
        parts.append(f"; about {expected} is what {length} of the recorded wire would take")
    if evidence.growth is not None:
        before = volts_text(evidence.growth.from_drop_v)
        weeks, heat = evidence.growth.n_weeks - 1, figures_text(evidence.growth.heat_w)
        parts.append(f"; it was {before} {weeks} weeks ago, so a joint may be heating")
        parts.append(f" (about {heat} W at heavy draws)")
    return "".join(parts) + "."


def _lowest(case: Case, evidence: SupplyEvidence) -> str:
    """Usual worst volts of running; where these hold up, the lowest seen."""
    usual_v, seen_v = case.week.running_v_p05, case.week.voltage_min_v
    volts = seen_v if usual_v is None or not _is_short(usual_v, evidence) else usual_v
    return "low" if volts is None else f"{volts_text(volts)}, {_of_nominal(evidence, volts)}"


def _is_short(volts: float | None, evidence: SupplyEvidence) -> TypeGuard[float]:
    return volts is not None and evidence.pct(volts) < VOLTAGE_RANGE_A_PCT.value


def _of_nominal(evidence: SupplyEvidence, volts: float) -> str:
    return f"{percent_text(evidence.pct(volts))} of {volts_text(evidence.nominal_v)}"


def _low_hours_text(case: Case, evidence: SupplyEvidence) -> str:
    by_hour = case.week.idle_v_by_hour or []
    known = [(volts, hour) for hour, volts in enumerate(by_hour) if volts is not None]
    if not known or not _has_daily_shape(case, evidence):
        return ""
    _, worst = min(known)
    return f" around {worst:02d}:00"


def _has_daily_shape(case: Case, evidence: SupplyEvidence) -> bool:
    known = [volts for volts in case.week.idle_v_by_hour or [] if volts is not None]
    return len(known) > 1 and evidence.pct(max(known) - min(known)) >= DAILY_SHAPE_PCT.value


def grounds(case: Case, evidence: SupplyEvidence, cause: str) -> tuple[Ground, ...]:
    """Reasons for and against, with what each adds to the confidence."""
    return (
        *_shared_grounds(case, evidence),
        *(_source_grounds(case, evidence) if cause == "supply_source" else ()),
        *(_wiring_grounds(case, evidence) if cause == "supply_wiring" else ()),
    )


def _shared_grounds(case: Case, evidence: SupplyEvidence) -> tuple[Ground, ...]:
    n_days = len(undervoltage_days(case))
    idle, own = evidence.idle_part_v, evidence.own_part_v
    known = idle is not None and own is not None
    close = known and abs((idle or 0.0) - (own or 0.0)) < 0.2 * max(idle or 0.0, own or 0.0)
    spent_s = case.week.undervoltage_s or 0.0
    return (
        Ground(
            known,
            0.0,
            f"Idle part {volts_text(idle or 0.0)} below {volts_text(evidence.nominal_v)},"
            f" own-load part {volts_text(own or 0.0)}",
        ),
        Ground(close, -0.1, "Both parts are nearly equal, so both causes are at work"),
        Ground(not known, -0.1, "Not enough volts at rest to take the two parts apart"),
        Ground(
            n_days > UNDERVOLTAGE_DAYS.value,
            0.1,
            f"Under 90 % on {n_days} days, {duration_text(spent_s)} in all",
        ),
    )


def _source_grounds(case: Case, evidence: SupplyEvidence) -> tuple[Ground, ...]:
    near = case.neighbours
    n_low = near.n_sites_low if near is not None else 0
    n_sites = near.n_sites if near is not None else 0
    many = n_low >= NEIGHBOURS_MIN.value and n_low >= NEIGHBOURS_SHARE.value * n_sites
    alone = n_sites > NEIGHBOURS_MIN.value and n_low == 0
    return (
        Ground(
            _has_daily_shape(case, evidence),
            0.1,
            "The volts at rest follow the hours of the day",
        ),
        Ground(many, 0.2, f"{n_low} of {n_sites} other sites in the region were low at rest too"),
        Ground(
            near is not None and near.same_site_pumps_low > 0,
            0.1,
            "Another pump of this site was low at rest too",
        ),
        Ground(alone, -0.05, f"None of {n_sites} other sites in the region was low at rest"),
    )


def _wiring_grounds(case: Case, evidence: SupplyEvidence) -> tuple[Ground, ...]:
    week, growth, ratio = case.week, evidence.growth, evidence.wire_ratio or 0.0
    logged = bool(week.supply_current_is_logged)
    seen = "measured" if logged else "estimated from motor amps"
    return (
        Ground(
            ratio >= WIRE_RESISTANCE_RATIO.value,
            0.15 if logged else 0.1,
            f"Loop resistance {ohms_text(week.loop_resistance_ohm or 0.0)} ({seen}) against"
            f" {ohms_text(evidence.wire_ohm or 0.0)} of the recorded wire",
        ),
        Ground(_is_steady(case), 0.1, "The drop is the same at night and in the evening"),
        Ground(
            growth is not None,
            0.15,
            f"Loop resistance grew {growth.ratio:.1f} times over {growth.n_weeks} weeks"
            if growth
            else "",
        ),
        Ground(
            week.n_voltage_pairs < PAIRS_MIN.value,
            -0.15,
            f"Only {week.n_voltage_pairs} starts with volts before and after",
        ),
    )


def _is_steady(case: Case) -> bool:
    night, evening = case.week.own_drop_night_v, case.week.own_drop_evening_v
    if night is None or evening is None:
        return False
    return abs(night - evening) <= DROP_STEADY_SHARE.value * max(night, evening)


def alternatives(case: Case, evidence: SupplyEvidence, cause: str) -> tuple[str, ...]:
    """What else gives the same volts."""
    own, idle = evidence.own_part_v or 0.0, evidence.idle_part_v or 0.0
    told = []
    if cause == "supply_wiring":
        told.append("Wire smaller or longer than recorded, or none recorded")
        if case.week.supply_current_is_logged is False:
            told.append("Supply amps are estimated from motor amps; measure them")
        if evidence.pct(idle) >= WIRING_DROP_PCT.value:
            told.append(f"The supply itself is {volts_text(idle)} short at rest as well")
    else:
        told.append("Panel, transformer, service drop or another load: all lower volts at rest")
        if evidence.pct(own) >= WIRING_DROP_PCT.value:
            told.append(f"The own wiring takes another {volts_text(own)}")
    if (case.week.overvoltage_s or 0.0) > 0:
        high_s = duration_text(case.week.overvoltage_s or 0.0)
        told.append(f"Volts were over 110 % for {high_s} too: generator, or an open neutral")
    told.append("The logged volts read low: compare with a meter")
    return tuple(told)
