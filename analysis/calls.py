"""The call list: which sites to call or visit, in which order, and what to do there.

One row a site, ordered by score (see ``analysis.call_rules`` for every weight). What stops the
water, burns or bursts is never below "phone today", however unsure we are of it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

from analysis.call_reasons import reasons_for
from analysis.call_rules import (
    TRUCK_ACTIONS,
    URGENCY,
    WEAR_CONSEQUENCE,
    Action,
    action_for,
    finding_score,
    is_emergency,
    then_for,
    who_weight,
)
from analysis.call_weights import DEFAULT_WEIGHTS, Weights
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.losses import has_one_currency, site_cost_per_week
from analysis.warranty import warranty_notes
from ingest.installed_base import Register, Site


@dataclass(frozen=True, kw_only=True)
class Call:
    """One site of the call list.

    Attributes
    ----------
    rank : int
        1 is called first.
    action : Action
        The most urgent of what its findings ask for.
    then : str
        What follows the action, or "".
    score : float
        Its worst finding's score and a little for the others.
    state, severity, confidence, summary, first_seen
        Those of its leading finding: the one of consequence 5 if there is one, else the highest
        score. ``first_seen`` is UTC.
    kinds : tuple of Kind
        All kinds found at the site, the leading one first, each once.
    title, region, timezone
        What people call the site, where it is ("" if not registered), its zone.
    findings : tuple of Finding
        All findings of the site, the leading one first.
    pumps : tuple of str
        Pumps with findings, the leading one first.
    trend : tuple of float or None
        Scores of the site in earlier weeks, oldest first, and this week's last; None for a week
        that was not scanned, 0 for one without findings.
    is_within_capacity : bool
        It needs no visit, is an emergency, rides along, or its visit fits into the week's room.
    rides_with : str
        Urgent site of the region on whose trip it can be looked at too, or "".
    reasons : tuple of str
        Why it stands where it stands, in short clauses.
    """

    rank: int
    site_id: str
    action: Action
    then: str
    score: float
    state: str
    severity: Severity
    confidence: float
    kinds: tuple[Kind, ...]
    summary: str
    first_seen: datetime
    title: str
    region: str
    timezone: str
    findings: tuple[Finding, ...]
    pumps: tuple[str, ...]
    trend: tuple[float | None, ...]
    is_within_capacity: bool
    rides_with: str = ""
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class UtilityCall:
    """Low supply at several sites of one region: one call to the utility covers them."""

    region: str
    site_ids: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Departed:
    """A finding of last week that is not among this week's, and why.

    ``status`` is what is known of its kind now: ``clear`` means it is gone; anything else means
    that it could not be looked at, which clears nothing.
    """

    finding: Finding
    status: Status
    reason: str


def rank_calls(
    findings: Iterable[Finding],
    register: Register,
    *,
    capacity: int | None = None,
    past: Sequence[Sequence[Finding] | None] = (),
    weights: Weights = DEFAULT_WEIGHTS,
    notes: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> tuple[Call, ...]:
    """Put the sites of one week's findings in the order to act on them.

    Parameters
    ----------
    findings : iterable of Finding
        All findings of the week, in any order.
    register : Register
        For names, regions and zones; a site it lacks is shown by its id.
    capacity : int or None
        Visits the week has room for; None for no cut.
    past : sequence
        Findings of the weeks before, oldest first, for the trend; None for a week not scanned.
    weights : Weights
        The table's, or the company's own.
    notes : mapping
        What visits say of a site ("visit planned until 3 Dec"), by site id; shown as reasons.
    """
    ranked = _ranked(findings, register, weights)
    past_scores = [
        None
        if week is None
        else {
            site.site_id: _site_score(group, weights, who_weight(site, weights))
            for site, group in _ranked(week, register, weights)
        }
        for week in past
    ]
    actions = {
        site.site_id: _site_action(ordered, weights, who_weight(site, weights))
        for site, ordered in ranked
    }
    rides = _riders(ranked, actions, int(weights["limit.riders"]))
    calls: list[Call] = []
    visits = 0
    for rank, (site, ordered) in enumerate(ranked, start=1):
        site_id = site.site_id
        takes_visit = actions[site_id] in TRUCK_ACTIONS and site_id not in rides
        visits += takes_visit
        fits = (
            capacity is None or not takes_visit or is_emergency(ordered[0]) or visits <= capacity
        )
        call = _call(rank, site, ordered, actions[site_id], weights)
        rides_with = rides.get(site_id, "")
        calls.append(
            replace(
                call,
                trend=(
                    *(None if week is None else week.get(site_id, 0.0) for week in past_scores),
                    call.score,
                ),
                is_within_capacity=fits,
                rides_with=rides_with,
                reasons=(
                    *call.reasons,
                    *warranty_notes(ordered, register),
                    *notes.get(site_id, ()),
                ),
            )
        )
    return tuple(calls)


def utility_calls(
    findings: Iterable[Finding], register: Register, weights: Weights = DEFAULT_WEIGHTS
) -> tuple[UtilityCall, ...]:
    """Regions in which low supply at several sites is one matter for the utility."""
    sites_by_region: dict[str, set[str]] = {}
    for finding in findings:
        site = register.sites.get(finding.site_id)
        if finding.cause == "supply_source" and site is not None and site.region:
            sites_by_region.setdefault(site.region, set()).add(site.site_id)
    return tuple(
        UtilityCall(region=region, site_ids=tuple(sorted(site_ids)))
        for region, site_ids in sorted(sites_by_region.items())
        if len(site_ids) >= weights["limit.utility_call_sites"]
    )


def departed(
    findings: Iterable[Finding], last_week: Iterable[Finding], assessments: Iterable[Assessment]
) -> tuple[Departed, ...]:
    """Last week's findings that this week has not: cleared, or merely not seen."""
    now = {_thing(f) for f in findings}
    known = {(a.pump_id, a.kind): a for a in assessments}
    gone = []
    for finding in sorted(last_week, key=_finding_key):
        if _thing(finding) in now:
            continue
        answer = known.get((finding.pump_id, finding.kind))
        if answer is None:
            status, reason = Status.NO_DATA, "no assessment this week"
        elif answer.status == Status.FOUND:  # another setting of the same pump
            status, reason = Status.CLEAR, ""
        else:
            status, reason = answer.status, answer.reason
        gone.append(Departed(finding=finding, status=status, reason=reason))
    return tuple(gone)


def _call(
    rank: int, site: Site, ordered: Sequence[Finding], action: Action, weights: Weights
) -> Call:
    """One site's row, alone: trend, room and what visits say come from the whole list."""
    lead = ordered[0]
    who = who_weight(site, weights)
    score = round(_site_score(ordered, weights, who), 2)
    asking = next(f for f in ordered if action_for(f, weights, who) == action)
    return Call(
        rank=rank,
        site_id=site.site_id,
        action=action,
        then=then_for(asking, action),
        score=score,
        state=lead.state,
        severity=lead.severity,
        confidence=lead.confidence,
        kinds=tuple(dict.fromkeys(f.kind for f in ordered)),
        summary=lead.summary,
        first_seen=lead.first_seen,
        title=site.title,
        region=site.region or "",
        timezone=site.timezone,
        findings=tuple(ordered),
        pumps=tuple(dict.fromkeys(f.pump_id for f in ordered)),
        trend=(score,),
        is_within_capacity=True,
        reasons=reasons_for(ordered, site, score, action, weights),
    )


def _ranked(
    findings: Iterable[Finding], register: Register, weights: Weights
) -> list[tuple[Site, list[Finding]]]:
    """Sites in the order to act on them, each with its findings, the leading one first."""
    by_site: dict[str, list[Finding]] = {}
    for finding in findings:
        by_site.setdefault(finding.site_id, []).append(finding)
    has_one_money = has_one_currency(register.sites.values())
    rows = []
    for site_id, group in by_site.items():
        site = register.sites.get(site_id) or Site(site_id=site_id)
        ordered = _ordered(group, weights)
        score = _site_score(ordered, weights, who_weight(site, weights))
        lead = ordered[0]
        ending = len(warranty_notes(ordered, register))
        money = site_cost_per_week(ordered, site) if has_one_money else 0.0
        key = (-round(score, 2), -lead.consequence, -lead.confidence, -ending, -money, site_id)
        rows.append((key, site, ordered))
    return [(site, ordered) for _, site, ordered in sorted(rows, key=lambda row: row[0])]


def _riders(
    ranked: Sequence[tuple[Site, Sequence[Finding]]], actions: Mapping[str, Action], most: int
) -> dict[str, str]:
    """Sites for the next round beside an urgent one of their region, the highest first."""
    urgent: dict[str, list[str]] = {}
    for site, _ in ranked:
        if site.region and actions[site.site_id] in (Action.GO_TODAY, Action.THIS_WEEK):
            urgent.setdefault(site.region, []).append(site.site_id)
    rides: dict[str, str] = {}
    n_riders: dict[str, int] = {}
    for site, _ in ranked:
        if actions[site.site_id] is not Action.NEXT_ROUND:
            continue
        for host in urgent.get(site.region or "", ()):
            if n_riders.get(host, 0) < most:
                rides[site.site_id] = host
                n_riders[host] = n_riders.get(host, 0) + 1
                break
    return rides


def _ordered(findings: Iterable[Finding], weights: Weights) -> list[Finding]:
    """Sort a site's findings: emergencies first, then by score, then by name."""
    return sorted(
        findings,
        key=lambda f: (
            not is_emergency(f),
            -round(finding_score(f, weights), 6),
            _finding_key(f),
        ),
    )


def _finding_key(finding: Finding) -> tuple[str, str, str, str]:
    return (finding.site_id, finding.pump_id, str(finding.kind), finding.cause)


def _thing(finding: Finding) -> tuple[str, Kind, str]:
    """What is the same finding in another week; a pump has several settings, each by cause."""
    cause = finding.cause if finding.kind == Kind.SETTING else ""
    return (finding.pump_id, finding.kind, cause)


def _site_score(findings: Sequence[Finding], weights: Weights, who: float) -> float:
    scores = sorted((finding_score(f, weights, who) for f in findings), reverse=True)
    others = sum(scores[1:]) * weights["others.share"]
    return scores[0] + min(others, weights["others.most"])


def _site_action(ordered: Sequence[Finding], weights: Weights, who: float) -> Action:
    """Take the most urgent action of the lead and of whatever else does damage."""
    counted = [ordered[0], *(f for f in ordered[1:] if f.consequence >= WEAR_CONSEQUENCE.value)]
    return min((action_for(f, weights, who) for f in counted), key=URGENCY.__getitem__)
