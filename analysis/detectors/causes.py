"""Which cause the evidence speaks for: clues with weights for and against, and one winner or none.

A clue's weight for a cause is a natural-log likelihood ratio by judgement: how much oftener one
would see it with that cause than without. Several clues must agree; no single one decides.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

from analysis.limits import CAUSE_SHARE

WEAK, FAIR, STRONG = log(1.5), log(3), log(10)
"""Seen half as often again, three times, ten times as often with the cause as without."""


@dataclass(frozen=True)
class Clue:
    """One observation and what it says for (> 0) or against (< 0) each cause it touches."""

    text: str
    weights: Mapping[str, float]


@dataclass(frozen=True)
class CauseCall:
    """The cause named ("" where none stands out), its share, and all shares."""

    cause: str
    share: float
    shares: Mapping[str, float]
    texts: tuple[str, ...]


def graded(value: float | None, none_at: float, full_at: float) -> float:
    """Weigh a positive value from 0 (at ``none_at``) to 1 (at ``full_at``), even in its logarithm.

    ``full_at`` may lie below ``none_at``; an unknown value weighs nothing.
    """
    if value is None:
        return 0.0
    if value <= 0:
        return 1.0 if full_at < none_at else 0.0
    return min(1.0, max(0.0, log(value / none_at) / log(full_at / none_at)))


def call_cause(causes: Sequence[str], clues: Sequence[Clue]) -> CauseCall:
    """Weigh the clues of equally likely causes against each other.

    Returns
    -------
    CauseCall
        ``texts`` are the clues that speak for the named cause, the heaviest first (all clues
        that carry weight where none is named).
    """
    sums = {cause: sum(clue.weights.get(cause, 0.0) for clue in clues) for cause in causes}
    top = max(sums.values())
    odds = {cause: exp(total - top) for cause, total in sums.items()}
    shares = {cause: value / sum(odds.values()) for cause, value in odds.items()}
    best = max(causes, key=lambda cause: shares[cause])
    named = best if shares[best] >= CAUSE_SHARE.value else ""
    return CauseCall(named, shares[best], shares, _texts(named, causes, clues))


def _texts(named: str, causes: Sequence[str], clues: Sequence[Clue]) -> tuple[str, ...]:
    def lead(clue: Clue) -> float:
        if not named:
            return max(abs(weight) for weight in clue.weights.values())
        others = max(clue.weights.get(cause, 0.0) for cause in causes if cause != named)
        return clue.weights.get(named, 0.0) - others

    told = [clue for clue in clues if lead(clue) > WEAK / 2]
    return tuple(clue.text for clue in sorted(told, key=lead, reverse=True))
