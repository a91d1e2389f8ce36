"""How findings are weighed and what a dispatcher is asked to do about one.

A finding scores ``consequence x confidence x trend x who``; ``analysis.call_weights`` has every
weight. A site scores as its worst finding, plus a
little for what else it has. The weights are ours: none is published; they put what stops the
water or burns before what wears, what is getting worse before what is steady, and never let many
small things outrank one large one.
"""

from collections.abc import Mapping
from enum import StrEnum

from analysis.call_weights import DEFAULT_WEIGHTS, Weights
from analysis.findings import Finding, Kind
from analysis.limits import Limit
from ingest.installed_base import Site


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

EMERGENCY_CONSEQUENCE = Limit(5, "consequence", "ours: no water, fire or burst")
DAMAGE_CONSEQUENCE = Limit(4, "consequence", "ours: damage within days")
WEAR_CONSEQUENCE = Limit(3, "consequence", "ours: damage within months, or poor service")

CONSEQUENCES: Mapping[int, str] = {
    1: "housekeeping",
    2: "money or wear",
    3: "damage within months, or poor service",
    4: "damage within days",
    5: "no water, fire or burst",
}


def trend_weight(state: str, weights: Weights = DEFAULT_WEIGHTS) -> float:
    """Return the weight of what changed since last week; an unknown state counts as ``same``."""
    return weights.of("trend", state, "same")


def who_weight(site: Site, weights: Weights = DEFAULT_WEIGHTS) -> float:
    """Return the weight of who depends on the site; a blank counts as ``ordinary``."""
    return weights.of("who", site.dependence, "ordinary")


def finding_score(finding: Finding, weights: Weights = DEFAULT_WEIGHTS, who: float = 1.0) -> float:
    """Return consequence x confidence x trend x who of one finding."""
    trend = trend_weight(finding.state, weights)
    return finding.consequence * finding.confidence * trend * who


def is_emergency(finding: Finding) -> bool:
    """Say whether it is about no water, fire or burst: never below "phone today"."""
    return finding.consequence >= EMERGENCY_CONSEQUENCE.value


def action_for(finding: Finding, weights: Weights = DEFAULT_WEIGHTS, who: float = 1.0) -> Action:
    """Return what one finding, taken alone, asks of the dispatcher."""
    if is_emergency(finding):
        return _emergency_action(finding, weights)
    if finding.kind == Kind.DATA_GAP:
        return Action.PHONE
    does_damage = finding.consequence >= DAMAGE_CONSEQUENCE.value
    if finding.cause == "supply_source":
        return Action.PHONE_TODAY if does_damage else Action.PHONE
    if does_damage:
        return _visit_or_phone(finding, Action.THIS_WEEK, weights)
    if finding.kind == Kind.SETTING:
        return Action.DESK
    if finding.kind == Kind.LEAK:
        return Action.PHONE
    if finding.consequence >= WEAR_CONSEQUENCE.value:
        soon = finding_score(finding, weights, who) >= weights["limit.this_week_score"]
        visit = Action.THIS_WEEK if soon else Action.NEXT_ROUND
        return _visit_or_phone(finding, visit, weights)
    return Action.NEXT_ROUND


def then_for(finding: Finding, action: Action) -> str:
    """Return what follows the action, as a short clause; "" where nothing does."""
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


def _emergency_action(finding: Finding, weights: Weights) -> Action:
    """A joint heats over weeks, so its call can come before the trip; no water cannot wait."""
    heats = finding.kind == Kind.UNDERVOLTAGE
    sure = finding.confidence >= weights["limit.go_today_confidence"]
    return Action.GO_TODAY if sure and not heats else Action.PHONE_TODAY


def _visit_or_phone(finding: Finding, visit: Action, weights: Weights) -> Action:
    return visit if finding.confidence >= weights["limit.visit_confidence"] else Action.PHONE
