"""Pre-reads of sites, from the register and what was measured and judged of their pumps."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import duckdb

from analysis import answer_reading, brief_facts, brief_visits, fix_weeks, record_reading
from analysis.advice import ALWAYS_BRING, advice_for, cautions_for
from analysis.brief_contents import Brief, FindingBrief, PumpBrief
from analysis.brief_facts import Fact
from analysis.brief_habits import habits
from analysis.brief_standing import PumpState, headline, silences, standing_of
from analysis.call_rules import Action, action_for, finding_score, is_emergency, who_weight
from analysis.call_weights import DEFAULT_WEIGHTS, Weights
from analysis.findings import Assessment, Finding, Status
from analysis.learned_confidence import origin_text
from analysis.losses import loss_text, no_loss_text
from analysis.peers import PeerNote
from analysis.records import OpMapBin, PumpDay, PumpWeek
from analysis.wording import count_text, since_text
from ingest.errors import RegisterError
from ingest.installed_base import Pump, Register, Site
from ingest.store import read_register
from ingest.weeks import Week, week_bounds

SITES_AT_ONCE = 50


@dataclass(frozen=True, kw_only=True)
class Books:
    """What is read once for all sites of a run."""

    register: Register
    week: Week
    findings: Mapping[str, list[Finding]]  # by site, this week
    assessments: Mapping[str, list[Assessment]]  # by pump
    history: Sequence[Finding]  # earlier weeks and this one, of sites with visits
    weights: Weights = DEFAULT_WEIGHTS  # as of the call list
    peers: Mapping[str, PeerNote] = field(default_factory=dict)  # by pump


@dataclass(frozen=True, kw_only=True)
class Records:
    """Weekly records of the pumps of some sites, by pump, up to the week."""

    weeks: Mapping[str, list[PumpWeek]]
    days: Mapping[str, list[PumpDay]]
    op_map: Mapping[str, list[OpMapBin]]


def make_brief(con: duckdb.DuckDBPyConnection, site_id: str, week: Week) -> Brief:
    """Pre-read of one site.

    Raises
    ------
    RegisterError
        The register has no such site.
    """
    return next(make_briefs(con, [site_id], week))


def make_briefs(
    con: duckdb.DuckDBPyConnection,
    site_ids: Sequence[str] | None,
    week: Week,
    weights: Weights = DEFAULT_WEIGHTS,
) -> Iterator[Brief]:
    """Pre-reads of the sites in the order given, or of all sites in order of their id.

    Records are read for ``SITES_AT_ONCE`` sites at a time, so that memory stays bounded.

    Raises
    ------
    RegisterError
        The register has no such site.
    """
    books = replace(_open_books(con, week, site_ids), weights=weights)
    sites = books.register.sites
    ids = list(sites) if site_ids is None else list(site_ids)
    if unknown := [site_id for site_id in ids if site_id not in sites]:
        raise RegisterError(
            f"{', '.join(unknown)}: no such site in the register. Write the site_id as it stands"
            " in sites.csv."
        )
    for first in range(0, len(ids), SITES_AT_ONCE):
        batch = ids[first : first + SITES_AT_ONCE]
        records = _read_records(con, books, batch)
        for site_id in batch:
            yield brief_of_site(books, records, sites[site_id])


def _open_books(
    con: duckdb.DuckDBPyConnection, week: Week, site_ids: Sequence[str] | None
) -> Books:
    """Read what is told of some sites' pumps, or of all."""
    register = read_register(con)
    asked = register.sites if site_ids is None else site_ids
    pumps = None
    if site_ids is not None:
        pumps = [p.pump_id for site_id in site_ids for p in register.pumps_at(site_id)]
    findings: dict[str, list[Finding]] = {}
    for finding in answer_reading.read_findings(con, str(week)):
        findings.setdefault(finding.site_id, []).append(finding)
    assessments: dict[str, list[Assessment]] = {}
    for assessment in answer_reading.read_assessments(con, str(week), pumps):
        assessments.setdefault(assessment.pump_id, []).append(assessment)
    visited = sorted({visit.site_id for visit in register.visits if visit.kind} & {*asked})
    pump_ids = [p.pump_id for site_id in visited for p in register.pumps_at(site_id)]
    history = answer_reading.read_findings(con, pump_ids=pump_ids) if pump_ids else []
    return Books(
        register=register,
        week=week,
        findings=findings,
        assessments=assessments,
        history=[f for f in history if f.week <= str(week)],
        peers=answer_reading.read_peer_notes(con, str(week)),
    )


def _read_records(
    con: duckdb.DuckDBPyConnection, books: Books, site_ids: Sequence[str]
) -> Records:
    pump_ids = [p.pump_id for site_id in site_ids for p in books.register.pumps_at(site_id)]
    up_to = str(books.week)
    return Records(
        weeks=record_reading.read_weeks(con, pump_ids, up_to),
        days=record_reading.read_days(con, pump_ids, up_to),
        op_map=record_reading.read_op_map(con, pump_ids, up_to),
    )


def brief_of_site(books: Books, records: Records, site: Site) -> Brief:
    """Pre-read of one site from what was read of the store."""
    from_at, to_at = week_bounds(books.week, site.timezone)
    found = sorted(
        books.findings.get(site.site_id, []),
        key=lambda f: (
            not is_emergency(f),
            -round(finding_score(f, books.weights), 6),
            f.pump_id,
            f.kind,
        ),
    )
    begins_at = {pump_id: weeks[0].first_at for pump_id, weeks in records.weeks.items() if weeks}
    findings = tuple(
        _finding_brief(
            finding,
            site,
            to_at,
            begins_at.get(finding.pump_id),
            action_for(finding, books.weights, who_weight(site, books.weights)),
        )
        for finding in found
    )
    pumps = tuple(
        _pump_brief(books, records, site, pump) for pump in books.register.pumps_at(site.site_id)
    )
    states = [_pump_state(pump) for pump in pumps]
    standing = Status.FOUND if found else standing_of(states)
    return Brief(
        site=site,
        week=books.week,
        from_at=from_at,
        to_at=to_at,
        standing=standing,
        headline=found[0].summary if found else headline(states, standing, site.timezone),
        also_know=(
            *(silences(states, site.timezone) if found else ()),
            *_unlike_peers(books, pumps),
        ),
        findings=findings,
        bring=_each_once(part for one in findings for part in one.parts),
        always_bring=ALWAYS_BRING,
        cautions=cautions_for(advice_for(f.kind, f.cause) for f in found),
        pumps=pumps,
        visits=brief_visits.visit_lines(books.register, site, books.history, records.weeks),
        fixes=fix_weeks.fixes_at(
            books.register, site, books.history, records.weeks, str(books.week)
        ),
    )


def _unlike_peers(books: Books, pumps: Sequence[PumpBrief]) -> tuple[str, ...]:
    """Notes on pumps that no detector said anything about: of low weight, no finding."""
    notes = [(pump.pump.pump_id, books.peers.get(pump.pump.pump_id)) for pump in pumps]
    return tuple(f"{pump_id}: {note.text}" for pump_id, note in notes if note and note.text)


def _beside_peers(books: Books, pump: Pump) -> tuple[Fact, ...]:
    note = books.peers.get(pump.pump_id)
    if note is None:
        return ()
    told = f"not assessed: {note.reason}" if note.reason else f"{note.n_peers} of like duty"
    return (Fact("Peers compared with", told),)


def _pump_state(pump: PumpBrief) -> PumpState:
    return PumpState(
        pump_id=pump.pump.pump_id,
        is_heard=pump.week is not None,
        is_shut_down=pump.week is not None and pump.week.is_shut_down,
        n_clear=len(pump.clear),
        n_open=len(pump.not_assessed),
        last_at=pump.last_at,
    )


def _finding_brief(
    finding: Finding,
    site: Site,
    to_at: datetime,
    log_begins_at: datetime | None,
    action: Action,
) -> FindingBrief:
    advice = advice_for(finding.kind, finding.cause)
    also = finding.measures.get("also")
    return FindingBrief(
        finding=finding,
        action=action,
        sure_from=origin_text(finding),
        since=_since_text(finding.first_seen, log_begins_at, to_at, site.timezone),
        alternatives=_each_once((*finding.alternatives, *advice.alternatives)),
        also=tuple(str(kind) for kind in also) if isinstance(also, list) else (),
        checks=advice.checks,
        parts=advice.parts,
        loss=loss_text(finding, site),
        no_loss=no_loss_text(finding),
    )


def _since_text(
    first_seen: datetime, log_begins_at: datetime | None, to_at: datetime, timezone: str
) -> str:
    days = (to_at - first_seen).days
    ago = count_text(days, "day") if days < 14 else f"about {count_text(days // 7, 'week')}"
    has_year = first_seen.year != to_at.year
    day = since_text(first_seen, log_begins_at, timezone, has_year=has_year)
    return f"{day}, {ago}" if days else day


def _pump_brief(books: Books, records: Records, site: Site, pump: Pump) -> PumpBrief:
    weeks = records.weeks.get(pump.pump_id, [])
    week = weeks[-1] if weeks and weeks[-1].week == str(books.week) else None
    past = tuple(weeks if week is None else weeks[:-1])
    op_map = tuple(records.op_map.get(pump.pump_id, ()))
    days = tuple(records.days.get(pump.pump_id, ()))
    answers = books.assessments.get(pump.pump_id, [])
    found = books.findings.get(pump.site_id, [])
    return PumpBrief(
        pump=pump,
        week=week,
        past=past,
        days=days,
        op_map=op_map,
        nameplate=brief_facts.nameplate(pump, site.units),
        settings=brief_facts.settings(pump, site.units),
        normal=brief_facts.normal_values(week, past, op_map, site.units),
        habits=() if week is None else habits(books.register, pump, weeks, days, op_map, found),
        quality=() if week is None else (*brief_facts.quality(week), *_beside_peers(books, pump)),
        cannot_tell=() if week is None else brief_facts.cannot_tell(week, pump),
        not_assessed=tuple(a for a in answers if a.status not in (Status.FOUND, Status.CLEAR)),
        clear=tuple(a.kind for a in answers if a.status is Status.CLEAR),
        last_at=weeks[-1].last_at if weeks else None,
    )


def _each_once(texts: Sequence[str] | Iterator[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))
