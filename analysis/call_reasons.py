"""Why a site stands where it stands in the call list, in short clauses."""

from collections.abc import Sequence

from analysis.call_rules import (
    CONSEQUENCES,
    Action,
    finding_score,
    is_emergency,
    trend_weight,
    who_weight,
)
from analysis.call_weights import Weights
from analysis.findings import Finding
from analysis.learned_confidence import origin_text
from analysis.wording import confidence_text, count_text
from ingest.installed_base import Site

STATE_CLAUSES = {
    "new": "new this week",
    "worse": "worse than last week",
    "same": "as last week",
    "better": "better than last week",
    "back": "back after it was gone",
}


def reasons_for(
    ordered: Sequence[Finding], site: Site, score: float, action: Action, weights: Weights
) -> tuple[str, ...]:
    """Say what the score is made of and what floor holds.

    Parameters
    ----------
    ordered : sequence of Finding
        All findings of the site, the leading one first.
    score : float
        Score of the site as the list shows it.
    """
    top = max(ordered, key=lambda f: (finding_score(f, weights), is_emergency(f)))
    who = who_weight(site, weights)
    trend = trend_weight(top.state, weights)
    reasons = [
        f"consequence {top.consequence} of 5: {CONSEQUENCES[top.consequence]}",
        f"{confidence_text(top.confidence)} ({top.confidence:.2f}), {origin_text(top)}",
        f"{STATE_CLAUSES.get(top.state, top.state)}: times {trend:g}",
    ]
    if site.dependence:
        reasons.append(f"{site.dependence} to those who depend on it: times {who:g}")
    own = finding_score(top, weights, who)
    if len(ordered) > 1:
        more = count_text(len(ordered) - 1, "more finding")
        reasons.append(f"{more}: plus {max(0.0, score - own):.2f}")
    reasons.append(f"score {score:.2f}")
    if is_emergency(ordered[0]) and action in (Action.GO_TODAY, Action.PHONE_TODAY):
        reasons.append("no water, fire or burst is never below phone today, however unsure")
    return tuple(reasons)
