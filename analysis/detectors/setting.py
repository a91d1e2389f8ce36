"""Setting: what is set or recorded does not go with motor, tank, wire, pump or log.

Reads    the register and, where a rule needs it, the week's measures; one finding per column.
Causes   the register column a rule is about, or the one that the log contradicts.
Misses   the rules that lack a figure: `unassessed` names them.
"""

from collections.abc import Sequence

from analysis.case import Case, Verdict
from analysis.detectors.register_contradictions import Contradiction, contradictions
from analysis.detectors.setting_rule import Broken, Rule
from analysis.detectors.setting_rules import RULES
from analysis.findings import Judged, Kind, Needs, NotAssessed

KIND = Kind.SETTING
NEEDS = Needs(interval_max_s=float("inf"))

HOUSEKEEPING = 1
NAMEPLATE = ("service_factor_amps", "rated_amps", "overload_setting_amps")
HELD_BACK_BY = {
    "service_factor_amps": NAMEPLATE,
    "supply_volts": ("supply_volts",),
    "max_hz": ("max_hz",),
    "pressure_setting": ("pressure_setting_kpa",),
}
"""Fields of ``Pump`` that cannot be trusted while the register contradicts the log there."""


def judge(case: Case) -> Verdict:
    """Audit one pump's settings; returns one finding per register column in question."""
    conflicts = contradictions(case)
    assessed = [
        rule for rule in RULES if rule.applies(case) and not _why_not(rule, case, conflicts)
    ]
    if not assessed and not conflicts:
        return NotAssessed(reason="; ".join(unassessed(case)))
    found = [_contradicted(case, conflict) for conflict in conflicts]
    for rule in assessed:
        broken = rule.test(case)
        if broken is not None:
            found.append(_judged(case, rule, broken))
    first_of_cause = {judged.cause: judged for judged in reversed(found)}
    return tuple(first_of_cause[cause] for cause in sorted(first_of_cause))


def unassessed(case: Case) -> tuple[str, ...]:
    """Rules that could not be judged on this pump, each with its reason."""
    conflicts = contradictions(case)
    told = [
        f"{rule.name}: {reason}"
        for rule in RULES
        if rule.applies(case) and (reason := _why_not(rule, case, conflicts))
    ]
    if not any(rule.name == "min_hz_low" and rule.applies(case) for rule in RULES):
        told.append("min_hz_low: no suction or suction_kpa in the register")
    if case.pump.supply_phases == 1 and case.pump.motor_phases == 3:
        told.append("phase_input: the register has no rating of the controller")
    return tuple(told)


def _why_not(rule: Rule, case: Case, conflicts: Sequence[Contradiction]) -> str:
    missing = rule.missing(case)
    if missing:
        return missing
    fields = {name for names in rule.register for name in names.split(" or ")}
    if rule.cause == "max_hz":
        fields.add("max_hz")
    held = next((c for c in conflicts if fields & {*HELD_BACK_BY[c.column]}), None)
    return f"held back, {held.column} contradicts the log" if held is not None else ""


def _contradicted(case: Case, conflict: Contradiction) -> Judged:
    return Judged(
        kind=KIND,
        cause=conflict.column,
        consequence=HOUSEKEEPING,
        confidence=0.85,
        since_at=case.week.first_at,
        until_at=case.week.last_at,
        measures={
            "rule": "register_vs_log",
            "setting": round(conflict.registered, 3),
            "expected": f"as logged, about {conflict.seen:.4g}",
            "seen": round(conflict.seen, 3),
        },
        summary=f"Register or log is wrong: {conflict.text}. What rests on it is held back.",
        limit_source=conflict.limit_source,
        alternatives=("A log profile with a wrong unit or scale", "A sensor that reads wrong"),
    )


def _judged(case: Case, rule: Rule, broken: Broken) -> Judged:
    setting = broken.setting
    return Judged(
        kind=KIND,
        cause=rule.cause,
        consequence=broken.consequence,
        confidence=broken.confidence,
        since_at=case.week.first_at,
        until_at=case.week.last_at,
        measures={
            "rule": rule.name,
            "setting": round(setting, 3) if isinstance(setting, float) else setting,
            "expected": broken.expected,
        },
        summary=broken.summary,
        limit_source=broken.limit_source,
        grounds=broken.grounds,
        alternatives=broken.alternatives,
    )
