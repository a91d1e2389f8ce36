"""How findings are weighed and what a dispatcher is asked to do about one: all weights, once.

A finding scores ``consequence x confidence x trend``. A site scores as its worst finding, plus a
little for what else it has. The weights are ours: none is published; they put what stops the
water or burns before what wears, what is getting worse before what is steady, and never let many
small things outrank one large one.
"""

from collections.abc import Mapping
from enum import StrEnum

from analysis.findings import Finding, Kind
from analysis.limits import Limit


class Action(StrEnum):
    """What is asked of the dispatcher, most urgent first."""

    GO_TODAY = "go today"
    PHONE_TODAY = "phone today"
    THIS_WEEK = "this week"
    NEXT_ROUND = "next round"
    PHONE = "phone"
    DESK = "desk"


URGENCY: Mapping[Action, int] = {action: order for order, action in enumerate(Action)}
"""0 is the most urgent."""

TRUCK_ACTIONS = frozenset({Action.GO_TODAY, Action.THIS_WEEK, Action.NEXT_ROUND})
"""Actions that take a visit and therefore room in the week."""

TREND_WEIGHTS: Mapping[str, Limit] = {
    "better": Limit(0.8, "x", "ours: it can wait a little, it is not gone"),
    "same": Limit(1.0, "x", "ours: the measure of the others"),
    "worse": Limit(1.25, "x", "ours: a growing fault costs more next week than this"),
    "new": Limit(1.25, "x", "ours: nobody has looked at it yet"),
    "back": Limit(1.5, "x", "ours: a second visit for one fault is at the company's cost"),
}

OTHER_FINDING_SHARE = Limit(0.05, "of its score", "ours: what else a site has breaks ties only")
OTHER_FINDINGS_MAX = Limit(0.2, "score", "ours: ten trifles stay under one serious finding")

EMERGENCY_CONSEQUENCE = Limit(5, "consequence", "ours: no water, fire or burst")
DAMAGE_CONSEQUENCE = Limit(4, "consequence", "ours: damage within days")
WEAR_CONSEQUENCE = Limit(3, "consequence", "ours: damage within months, or poor service")

GO_TODAY_CONFIDENCE = Limit(0.6, "confidence", "ours: below it a phone call comes first")
VISIT_CONFIDENCE = Limit(0.5, "confidence", "ours: below it half of the trips would be wasted")
THIS_WEEK_SCORE = Limit(3.0, "score", "ours: wear that is likely and new, worse or back")
UTILITY_CALL_SITES = Limit(3, "sites of a region", "ours: two sites low at once may be chance")


def trend_weight(state: str) -> float:
    """Return the weight of what changed since last week; an unknown state counts as ``same``."""
    return TREND_WEIGHTS.get(state, TREND_WEIGHTS["same"]).value


def finding_score(finding: Finding) -> float:
    """Return consequence x confidence x trend of one finding."""
    return finding.consequence * finding.confidence * trend_weight(finding.state)


def is_emergency(finding: Finding) -> bool:
    """Say whether it is about no water, fire or burst: never below "phone today"."""
    return finding.consequence >= EMERGENCY_CONSEQUENCE.value


def action_for(finding: Finding) -> Action:
    """Return what one finding, taken alone, asks of the dispatcher."""
    if is_emergency(finding):
        return _emergency_action(finding)
    if finding.kind == Kind.DATA_GAP:
        return Action.PHONE
    does_damage = finding.consequence >= DAMAGE_CONSEQUENCE.value
    if finding.cause == "supply_source":
        return Action.PHONE_TODAY if does_damage else Action.PHONE
    if does_damage:
        return _visit_or_phone(finding, Action.THIS_WEEK)
    if finding.kind == Kind.SETTING:
        return Action.DESK
    if finding.kind == Kind.LEAK:
        return Action.PHONE
    if finding.consequence >= WEAR_CONSEQUENCE.value:
        soon = finding_score(finding) >= THIS_WEEK_SCORE.value
        return _visit_or_phone(finding, Action.THIS_WEEK if soon else Action.NEXT_ROUND)
    return Action.NEXT_ROUND


def then_for(finding: Finding) -> str:
    """Return what follows the action, as a short clause; "" where nothing does."""
    action = action_for(finding)
    if action in TRUCK_ACTIONS:
        return ""
    if action == Action.DESK:
        return "settle it with the register; change it on the next visit"
    if finding.kind == Kind.DATA_GAP:
        return "ask about the logger, its power and its link"
    if finding.kind == Kind.LEAK:
        return "ask about toilets, softener, irrigation and stock water before sending a truck"
    if finding.cause == "supply_source":
        return "call the utility with the plot; no truck for low supply"
    if is_emergency(finding) and finding.kind == Kind.UNDERVOLTAGE:
        return "then go this week: a joint may be heating; look at it with the power off"
    if finding.kind == Kind.DRY_RUNNING:
        return "ask for water at a tap; have the pump switched off until there is some"
    if is_emergency(finding) and finding.kind == Kind.SENSOR_FAULT:
        return "ask whether the pump runs without stopping; have it switched off if it does"
    return "ask what is noticed there, then decide on a visit"


def _emergency_action(finding: Finding) -> Action:
    """A joint heats over weeks, so its call can come before the trip; no water cannot wait."""
    heats = finding.kind == Kind.UNDERVOLTAGE
    sure = finding.confidence >= GO_TODAY_CONFIDENCE.value
    return Action.GO_TODAY if sure and not heats else Action.PHONE_TODAY


def _visit_or_phone(finding: Finding, visit: Action) -> Action:
    return visit if finding.confidence >= VISIT_CONFIDENCE.value else Action.PHONE
