"""The call list: which sites to call or visit, in which order, and what to do there.

One row a site, ordered by score (see ``analysis.call_rules`` for every weight). What stops the
water, burns or bursts is never below "phone today", however unsure we are of it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.call_rules import (
    OTHER_FINDING_SHARE,
    OTHER_FINDINGS_MAX,
    TRUCK_ACTIONS,
    URGENCY,
    UTILITY_CALL_SITES,
    WEAR_CONSEQUENCE,
    Action,
    action_for,
    finding_score,
    is_emergency,
    then_for,
)
from analysis.findings import Assessment, Finding, Kind, Severity, Status
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
        It needs no visit, is an emergency, or its visit fits into the week's room.
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
    """
    ordered_by_site = {site_id: _ordered(group) for site_id, group in _by_site(findings).items()}
    past_scores = [
        None
        if week is None
        else {site_id: _site_score(group) for site_id, group in _by_site(week).items()}
        for week in past
    ]
    ranked = sorted(ordered_by_site.items(), key=lambda item: _rank_key(item[0], item[1]))
    calls: list[Call] = []
    visits = 0
    for rank, (site_id, ordered) in enumerate(ranked, start=1):
        action = _site_action(ordered)
        takes_visit = action in TRUCK_ACTIONS
        visits += takes_visit
        fits = (
            capacity is None or not takes_visit or is_emergency(ordered[0]) or visits <= capacity
        )
        trend = tuple(None if week is None else week.get(site_id, 0.0) for week in past_scores)
        site = register.sites.get(site_id) or Site(site_id=site_id)
        calls.append(_call(rank, site, ordered, action, trend, is_within_capacity=fits))
    return tuple(calls)


def utility_calls(findings: Iterable[Finding], register: Register) -> tuple[UtilityCall, ...]:
    """Regions in which low supply at several sites is one matter for the utility."""
    sites_by_region: dict[str, set[str]] = {}
    for finding in findings:
        site = register.sites.get(finding.site_id)
        if finding.cause == "supply_source" and site is not None and site.region:
            sites_by_region.setdefault(site.region, set()).add(site.site_id)
    return tuple(
        UtilityCall(region=region, site_ids=tuple(sorted(site_ids)))
        for region, site_ids in sorted(sites_by_region.items())
        if len(site_ids) >= UTILITY_CALL_SITES.value
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
    rank: int,
    site: Site,
    ordered: Sequence[Finding],
    action: Action,
    trend: tuple[float | None, ...],
    *,
    is_within_capacity: bool,
) -> Call:
    lead = ordered[0]
    score = round(_site_score(ordered), 2)
    return Call(
        rank=rank,
        site_id=site.site_id,
        action=action,
        then=next((then_for(f) for f in ordered if action_for(f) == action), ""),
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
        trend=(*trend, score),
        is_within_capacity=is_within_capacity,
    )


def _by_site(findings: Iterable[Finding]) -> Mapping[str, list[Finding]]:
    by_site: dict[str, list[Finding]] = {}
    for finding in findings:
        by_site.setdefault(finding.site_id, []).append(finding)
    return by_site


def _ordered(findings: Iterable[Finding]) -> list[Finding]:
    """Sort a site's findings: emergencies first, then by score, then by name."""
    return sorted(
        findings,
        key=lambda f: (not is_emergency(f), -round(finding_score(f), 6), _finding_key(f)),
    )


def _finding_key(finding: Finding) -> tuple[str, str, str, str]:
    return (finding.site_id, finding.pump_id, str(finding.kind), finding.cause)


def _thing(finding: Finding) -> tuple[str, Kind, str]:
    """What is the same finding in another week; a pump has several settings, each by cause."""
    cause = finding.cause if finding.kind == Kind.SETTING else ""
    return (finding.pump_id, finding.kind, cause)


def _site_score(findings: Sequence[Finding]) -> float:
    scores = sorted((finding_score(f) for f in findings), reverse=True)
    others = sum(scores[1:]) * OTHER_FINDING_SHARE.value
    return scores[0] + min(others, OTHER_FINDINGS_MAX.value)


def _site_action(ordered: Sequence[Finding]) -> Action:
    """Take the most urgent action of the lead and of whatever else does damage."""
    counted = [ordered[0], *(f for f in ordered[1:] if f.consequence >= WEAR_CONSEQUENCE.value)]
    return min((action_for(f) for f in counted), key=URGENCY.__getitem__)


def _rank_key(site_id: str, ordered: Sequence[Finding]) -> tuple[float, int, float, str]:
    lead = ordered[0]
    return (-round(_site_score(ordered), 2), -lead.consequence, -lead.confidence, site_id)
