"""What the outcomes of visits make of a detector's stated confidence, kind by kind.

A detector states its confidence from grounds. Once enough visits have looked for a kind, its
stated log-odds move by one number, so that what is stated agrees with what was found: Cox's
calibration in the large, with a normal prior at "the stated grounds are right". Within a kind the
order of findings stays the detector's. Until then the stated grounds stand alone.

Visits are paid to what looks likely, so they tell of the findings that were acted on. What was
learned never moves a floor: no water, fire or burst stays at least "phone today", and nothing of
consequence 5 rests.

References
----------
Cox, D. R. (1958), "Two further applications of a model for binary regression", Biometrika 45.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import log, tanh

from analysis.findings import Finding, Judged, Kind
from analysis.limits import MEMORY_WEEKS, Limit
from analysis.wording import count_text
from ingest.installed_base import SEEN_OUTCOMES, Visit
from ingest.weeks import parse_week, week_of

OUTCOMES_MIN = Limit(
    20,
    "visits of a kind",
    "ours: an outcome at a share of 0.9 to 0.8 weighs 0.09 to 0.16 (p (1 - p)), so that from 13"
    " to 23 visits on they outweigh the prior's 1 / 0.7^2",
)
PRIOR_SD = Limit(
    0.7,
    "log-odds",
    "ours: for two kinds in three the stated odds are believed right within a factor of 2",
)
OUTCOME_WEEKS = Limit(
    8, "weeks", "ours: a visit is about a finding of the last two months, not about an older one"
)
_STATED_MAX = 0.98  # beyond, the log-odds would outweigh all that visits can say
_HALVINGS = 60

FindingAt = Callable[[str, Kind, str], Finding | None]
"""A pump's finding of a kind in a week, by pump id, kind and week."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a visit showed of a finding: whether it was there, and what had been stated."""

    kind: Kind
    stated: float
    is_right: bool


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What visits say of one kind's stated confidence.

    Attributes
    ----------
    n_right, n_wrong : int
        Findings that were there, and that were not.
    n_expected : float
        How many would have been there by what was stated.
    shift : float or None
        Added to the stated log-odds; None with fewer than ``OUTCOMES_MIN`` visits.
    """

    kind: Kind
    n_right: int
    n_wrong: int
    n_expected: float
    shift: float | None

    @property
    def n(self) -> int:
        """Visits in all."""
        return self.n_right + self.n_wrong


def outcomes_before(week: str, visits: Iterable[Visit], finding_at: FindingAt) -> list[Outcome]:
    """Collect what visits of the last half year showed, up to the Monday of a week.

    Of several visits to one spell of a finding the last counts. Settings are left out: they are
    read off the register, and a visit does not say which of a pump's settings it was about.
    """
    now = parse_week(week)
    oldest = now.plus(-int(MEMORY_WEEKS.value))
    known = {str(kind): kind for kind in Kind if kind is not Kind.SETTING}
    last: dict[tuple[str, Kind, datetime], Outcome] = {}
    for visit in sorted(visits, key=lambda v: v.visited_on):
        is_telling = visit.outcome in SEEN_OUTCOMES and visit.pump_id and visit.kind in known
        if not is_telling or not oldest.monday <= visit.visited_on < now.monday:
            continue
        kind = known[visit.kind or ""]
        about = _finding_about(visit, kind, finding_at)
        if about is not None and about.week >= str(oldest):
            last[about.pump_id, kind, about.first_seen] = Outcome(
                kind=kind,
                stated=stated_confidence(about),
                is_right=visit.outcome != "not_found",
            )
    return list(last.values())


def learn(outcomes: Iterable[Outcome]) -> dict[Kind, Learned]:
    """Compare what was stated with what was found, by kind; kinds without a visit are left out."""
    by_kind: dict[Kind, list[Outcome]] = {}
    for outcome in outcomes:
        by_kind.setdefault(outcome.kind, []).append(outcome)
    return {kind: _of_kind(kind, by_kind[kind]) for kind in Kind if kind in by_kind}


def recalibrated(judged: Judged, learned: Mapping[Kind, Learned]) -> Judged:
    """Return a finding with the confidence that visits give it, or as it is before there are any.

    Its measures then say what was stated and how many visits speak (``stated_confidence``,
    ``confidence_visits``).
    """
    of_kind = learned.get(judged.kind)
    if of_kind is None or of_kind.shift is None:
        return judged
    confidence = round(_share(_log_odds(judged.confidence) + of_kind.shift), 3)
    ground = (
        f"Visits found this kind at {of_kind.n_right} of {of_kind.n} pumps where"
        f" {of_kind.n_expected:.0f} were stated: {judged.confidence:.2f} becomes"
        f" {confidence:.2f}"
    )
    return replace(
        judged,
        confidence=confidence,
        measures={**judged.measures, "confidence_visits": of_kind.n},
        grounds=(*judged.grounds, ground),
    )


def stated_confidence(finding: Finding) -> float:
    """Return what the detector's grounds alone gave, whatever visits have made of it."""
    stated = finding.measures.get("stated_confidence")
    return float(stated) if isinstance(stated, int | float) else finding.confidence


def origin_text(finding: Finding) -> str:
    """Say where a finding's confidence comes from."""
    n_visits = finding.measures.get("confidence_visits")
    if isinstance(n_visits, int):
        visits = count_text(n_visits, "visit")
        return f"from {visits} about this kind, stated grounds {stated_confidence(finding):.2f}"
    if "stated_confidence" in finding.measures:
        return f"from stated grounds {stated_confidence(finding):.2f} and a visit to this pump"
    return "from stated grounds"


def _finding_about(visit: Visit, kind: Kind, finding_at: FindingAt) -> Finding | None:
    """The latest finding that a visit can have been about."""
    of_visit = week_of(visit.visited_on)
    weeks = (str(of_visit.plus(-n)) for n in range(int(OUTCOME_WEEKS.value) + 1))
    found = (finding_at(visit.pump_id or "", kind, week) for week in weeks)
    return next((finding for finding in found if finding is not None), None)


def _of_kind(kind: Kind, outcomes: Sequence[Outcome]) -> Learned:
    n_right = sum(outcome.is_right for outcome in outcomes)
    return Learned(
        kind=kind,
        n_right=n_right,
        n_wrong=len(outcomes) - n_right,
        n_expected=sum(outcome.stated for outcome in outcomes),
        shift=(
            fit_shift([o.stated for o in outcomes], n_right)
            if len(outcomes) >= OUTCOMES_MIN.value
            else None
        ),
    )


def fit_shift(stated: Sequence[float], n_right: int) -> float:
    """Shift of the log-odds at which stated shares and outcomes agree, in the light of the prior.

    The posterior's mode: the zero of ``n_right - sum p_i(shift) - shift / sd^2`` with
    ``p_i = logistic(logit(stated_i) + shift)``, which falls all the way, so halving finds it.

    Parameters
    ----------
    stated : sequence of float
        Confidences, 0 to 1.
    n_right : int
        How many of them were right.
    """
    log_odds = [_log_odds(confidence) for confidence in stated]
    variance = PRIOR_SD.value**2
    low, high = -variance * len(stated), variance * len(stated)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        slope = n_right - sum(_share(each + middle) for each in log_odds) - middle / variance
        low, high = (middle, high) if slope > 0 else (low, middle)
    return (low + high) / 2


def _log_odds(share: float) -> float:
    held = min(max(share, 1 - _STATED_MAX), _STATED_MAX)
    return log(held / (1 - held))


def _share(log_odds: float) -> float:
    return (1 + tanh(log_odds / 2)) / 2  # the logistic, without overflow
