"""What visits do to this week's findings: how sure, whether back, and what rests for a time.

Somebody who stood at the pump knows more than the log. A finding that was not found there is less
sure for some weeks, one that was confirmed is surer, one that was fixed and is seen again is back;
an owner's "accepted" or a known reason ("explained") lets it rest until its date. None of it
holds against a finding that has grown, and nothing lets no water, fire or burst rest.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from analysis.call_rules import EMERGENCY_CONSEQUENCE
from analysis.findings import Finding, Judged, Kind
from analysis.limits import Limit
from analysis.memory import Past, trend
from ingest.installed_base import Pump, Register, Visit
from ingest.weeks import parse_week, week_of

DOUBT_WEEKS = Limit(8, "weeks", "common practice: two months until the visit is old news")
NOT_FOUND_FACTOR = Limit(
    0.6, "x confidence", "ours: a very likely finding becomes one to phone about"
)
CONFIRMED_CONFIDENCE = Limit(0.95, "confidence", "ours: seen by somebody who was there")

RESTING = ("accepted", "explained")
AGREED = ("planned", "told")


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """How sure a finding is, and what it is against earlier weeks, with visits counted."""

    confidence: float
    state: str
    grounds: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Muted:
    """A finding that rests until the visit's date."""

    finding: Finding
    visit: Visit


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A week's findings parted by what was agreed about them.

    Attributes
    ----------
    open : tuple of Finding
        In the order given.
    muted : tuple of Muted
        Rest until a date; the soonest to end first.
    notes : dict
        What was agreed about open ones, in short clauses, by site id.
    """

    open: tuple[Finding, ...]
    muted: tuple[Muted, ...]
    notes: dict[str, tuple[str, ...]]


def is_about(visit: Visit, site_id: str, pump_id: str, kind: str) -> bool:
    """Say whether a visit was about a pump and kind; blanks in it stand for all."""
    return (
        visit.site_id == site_id
        and visit.pump_id in (None, pump_id)
        and visit.kind in (None, kind)
    )


def weighed(
    judged: Judged,
    state: str,
    pump: Pump,
    week: str,
    visits: Iterable[Visit],
    past: Sequence[Past],
) -> Weighed:
    """Count the latest visit that saw this pump and kind.

    Parameters
    ----------
    state : str
        The finding against earlier weeks alone.
    past : sequence of Past
        Earlier weeks of the same pump and kind, oldest first.
    """
    monday = parse_week(week).monday
    seen = [
        visit
        for visit in visits
        if visit.outcome in ("confirmed", "not_found", "fixed")
        and is_about(visit, pump.site_id, pump.pump_id, judged.kind)
        and visit.visited_on < monday
    ]
    plain = Weighed(confidence=judged.confidence, state=state, grounds=())
    if not seen:
        return plain
    latest = max(seen, key=lambda visit: visit.visited_on)
    then = _at_visit(latest, [each.finding for each in past if each.finding is not None])
    after = [p for p in past if p.finding and p.week > str(week_of(latest.visited_on))]
    day = _day_text(latest.visited_on)
    if latest.outcome == "fixed":
        if then is None or after:
            return plain
        ground = f"Fixed on {day}; seen again {(monday - latest.visited_on).days} days later"
        return replace(plain, state="back", grounds=(ground,))
    if latest.outcome == "confirmed":
        if then is None or state in ("new", "back"):
            return plain
        return replace(
            plain,
            confidence=max(judged.confidence, CONFIRMED_CONFIDENCE.value),
            grounds=(f"Confirmed on a visit on {day}",),
        )
    is_old = (monday - latest.visited_on).days > 7 * DOUBT_WEEKS.value
    if is_old or (then is not None and _has_grown(judged, then)):
        return plain
    return replace(
        plain,
        confidence=round(judged.confidence * NOT_FOUND_FACTOR.value, 3),
        grounds=(f"Not found on a visit on {day}: less sure for 8 weeks unless it grows",),
    )


def standing(
    findings: Iterable[Finding], register: Register, week: str, history: Sequence[Finding] = ()
) -> Standing:
    """Part a week's findings into those to act on and those that rest.

    Parameters
    ----------
    history : sequence of Finding
        Of earlier weeks, as far as they are known: what a finding was when it was agreed on.
    """
    monday = parse_week(week).monday
    sunday = monday + timedelta(days=6)
    agreed: dict[str, list[Visit]] = {}
    for visit in register.visits:
        if (
            visit.outcome in (*RESTING, *AGREED)
            and visit.until_on is not None
            and visit.visited_on <= sunday
            and visit.until_on >= monday
        ):
            agreed.setdefault(visit.site_id, []).append(visit)
    same: dict[tuple[str, Kind], list[Finding]] = {}
    for earlier in sorted(history, key=lambda f: f.week):
        same.setdefault((earlier.pump_id, earlier.kind), []).append(earlier)
    still_open: list[Finding] = []
    muted: list[Muted] = []
    notes: dict[str, list[str]] = {}
    for finding in findings:
        about = [
            visit
            for visit in agreed.get(finding.site_id, ())
            if is_about(visit, finding.site_id, finding.pump_id, finding.kind)
        ]
        rest = [v for v in about if v.outcome in RESTING]
        if rest and _may_rest(finding, rest[-1], same.get((finding.pump_id, finding.kind), ())):
            muted.append(Muted(finding=finding, visit=max(rest, key=_until)))
            continue
        still_open.append(finding)
        lines = [_note(visit) for visit in about if visit.outcome in AGREED]
        if rest:
            lines.append(f"{rest[-1].outcome} until {_day_text(_until(rest[-1]))}, but has grown")
        notes.setdefault(finding.site_id, []).extend(lines)
    muted.sort(key=lambda m: (_until(m.visit), m.finding.site_id, m.finding.pump_id))
    return Standing(
        open=tuple(still_open),
        muted=tuple(muted),
        notes={site_id: tuple(dict.fromkeys(lines)) for site_id, lines in notes.items() if lines},
    )


def _may_rest(finding: Finding, visit: Visit, earlier: Sequence[Finding]) -> bool:
    if finding.consequence >= EMERGENCY_CONSEQUENCE.value:
        return False
    then = _at_visit(visit, earlier)
    return then is None or not _has_grown(finding, then)


def _at_visit(visit: Visit, findings: Sequence[Finding]) -> Finding | None:
    """The last finding up to the week of the visit; findings oldest first."""
    week = str(week_of(visit.visited_on))
    return next((f for f in reversed(findings) if f.week <= week), None)


def _has_grown(now: Finding | Judged, then: Finding) -> bool:
    """25 % larger by the kind's own measure, or worse by what it does."""
    return now.consequence > then.consequence or trend(now, then) == "worse"


def _note(visit: Visit) -> str:
    until = _day_text(_until(visit))
    if visit.outcome == "planned":
        return f"visit planned, until {until}"
    return f"customer told on {_day_text(visit.visited_on)}, until {until}"


def _until(visit: Visit) -> date:
    return visit.until_on or date.min


def _day_text(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
