"""Earlier visits to a site, and whether what they dealt with was seen again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from analysis.findings import Finding
from analysis.fix_weeks import fixes_at
from analysis.limits import SEEN_SINCE_SHARE
from analysis.records import PumpWeek
from analysis.visit_report import WATCH_DAYS
from analysis.wording import count_text
from ingest.installed_base import AGREED_OUTCOMES, Register, Site, Visit
from ingest.weeks import week_of

HOLDS_WEEKS = WATCH_DAYS.value / 7


@dataclass(frozen=True, kw_only=True)
class VisitLine:
    """One visit, and what the log shows since.

    ``since_then`` is "" where the visit was for no kind of finding; ``sizes`` is what a fix has
    changed in numbers, "" where there is none.
    """

    visited_on: date
    pump_id: str | None
    kind: str | None
    outcome: str | None
    found: str | None
    done: str | None
    since_then: str
    sizes: str


def visit_lines(
    register: Register,
    site: Site,
    history: Sequence[Finding],
    weeks: Mapping[str, list[PumpWeek]],
) -> tuple[VisitLine, ...]:
    """Visits to a site, latest first.

    Parameters
    ----------
    register : Register
        With all visits.
    site : Site
        Whose visits are listed.
    history : sequence of Finding
        Findings of all weeks.
    weeks : mapping
        Weekly records by pump; those of other sites are not looked at.
    """
    measured = {
        (fix.visit, fix.pump_id): fix.text(site.units)
        for fix in fixes_at(register, site, history, weeks)
    }
    at_site = register.visits_at(site.site_id)
    pump_ids = [pump.pump_id for pump in register.pumps_at(site.site_id)]
    return tuple(
        VisitLine(
            visited_on=visit.visited_on,
            pump_id=visit.pump_id,
            kind=visit.kind,
            outcome=visit.outcome,
            found=visit.found,
            done=visit.done,
            since_then=_since_then(visit, pump_ids, history, weeks),
            sizes=measured.get((visit, visit.pump_id or ""), ""),
        )
        for visit in sorted(at_site, key=lambda v: v.visited_on, reverse=True)
    )


def _since_then(
    visit: Visit,
    pump_ids: Sequence[str],
    history: Sequence[Finding],
    weeks: Mapping[str, list[PumpWeek]],
) -> str:
    if visit.outcome in AGREED_OUTCOMES:
        return f"holds until {visit.until_on}" if visit.until_on else "no last day given"
    if visit.kind is None:
        return ""
    is_fix = visit.outcome == "fixed"
    meant = [visit.pump_id] if visit.pump_id else list(pump_ids)
    visit_week = str(week_of(visit.visited_on))
    seen = sorted(
        f.week
        for f in history
        if f.pump_id in meant and f.kind == visit.kind and f.week > visit_week
    )
    if seen:
        return f"{'came back, ' if is_fix else ''}seen again in {seen[0]}"
    observed = {
        w.week
        for pump_id in meant
        for w in weeks.get(pump_id, ())
        if w.week > visit_week and 1.0 - w.share_missing >= SEEN_SINCE_SHARE.value
    }
    if not observed:
        return "no full week of data since"
    text = f"not seen in {count_text(len(observed), 'week')} of data since"
    if not is_fix:
        return text
    return f"{'holding' if len(observed) >= HOLDS_WEEKS else 'watched'}, {text}"
