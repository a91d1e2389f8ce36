"""The call list as a page: the fleet in one sentence, the sites in order, what it leaves out."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from analysis.call_rules import TRUCK_ACTIONS, Action
from analysis.calls import Call, Departed, UtilityCall
from analysis.findings import Kind, Status
from analysis.fleet_state import FleetState, PumpState
from analysis.visit_effects import Muted
from analysis.wording import count_text
from dashboards import labels
from dashboards.pages.base import Frame, page_frame, render
from dashboards.pages.index_rows import CallRow, call_row
from dashboards.pages.site_links import site_href
from ingest.installed_base import Register
from ingest.weeks import Week


@dataclass(frozen=True, kw_only=True)
class PumpLine:
    """One pump with where it stands and why."""

    pump_id: str
    title: str
    href: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class ReasonLine:
    """One kind that could not be judged at some pumps, and why; ``lines`` names the pumps."""

    kind: str
    reason: str
    pumps: str
    count: str


@dataclass(frozen=True, kw_only=True)
class GoneLine:
    """A finding of last week that is not there any more, and what is known of it now."""

    title: str
    href: str
    pump_id: str
    kind: str
    note: str


@dataclass(frozen=True, kw_only=True)
class UtilityLine:
    """One call to a utility and the sites it covers."""

    region: str
    sites: str


@dataclass(frozen=True, kw_only=True)
class Tally:
    """One group of pumps of the fleet's sentence; ``explains`` says what stands behind it."""

    count: int
    name: str
    explains: str
    is_missing: bool


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One value a filter offers: what it stands for and how many sites have it."""

    value: str
    text: str


@dataclass(frozen=True, kw_only=True)
class IndexPage:
    """Everything the call list shows.

    Attributes
    ----------
    sentence, sites_sentence : str
        The fleet in one sentence: pumps, then sites.
    changes : str
        Sites by what changed since last week.
    tallies : tuple of Tally
        The groups of pumps; they add up to the fleet.
    rows, beyond : tuple of CallRow
        Sites within this week's room, and visits that wait for room.
    cut : str
        Where this week's room ends, said between the two.
    capacity : str
        What the list is cut at, or that it is not.
    cleared, unseen : tuple of GoneLine
        Findings of last week that are gone, and those that could not be looked at.
    muted : tuple of GoneLine
        Findings that rest by agreement, and until when; ``muted_count`` says how many.
    """

    sentence: str
    sites_sentence: str
    changes: str
    tallies: tuple[Tally, ...]
    utility: tuple[UtilityLine, ...]
    rows: tuple[CallRow, ...]
    beyond: tuple[CallRow, ...]
    capacity: str
    cut: str
    regions: tuple[Choice, ...]
    kinds: tuple[Choice, ...]
    actions: tuple[Choice, ...]
    states: tuple[Choice, ...]
    not_heard: tuple[PumpLine, ...]
    shut_down: tuple[PumpLine, ...]
    not_judged: tuple[PumpLine, ...]
    not_assessed: tuple[ReasonLine, ...]
    cleared: tuple[GoneLine, ...]
    unseen: tuple[GoneLine, ...]
    muted: tuple[GoneLine, ...]
    muted_count: str


def index_frame(week: Week) -> Frame:
    """Return the frame of the call list."""
    return page_frame("Call list", week, "calls")


def render_index(week: Week, page: IndexPage) -> str:
    """Return the call list as HTML."""
    return render("index.html", index_frame(week), page)


def index_page(
    calls: Sequence[Call],
    fleet: FleetState,
    register: Register,
    *,
    capacity: int | None,
    utility: Sequence[UtilityCall] = (),
    gone: Iterable[Departed] = (),
    log_begins: Mapping[str, datetime] = MappingProxyType({}),
    muted: Sequence[Muted] = (),
) -> IndexPage:
    """Put together what the call list shows; ``log_begins`` is each pump's first sample, UTC."""
    covered = {site_id: one.region for one in utility for site_id in one.site_ids}
    rows = [
        call_row(call, log_begins, _utility_region(call, covered.get(call.site_id, "")))
        for call in calls
    ]
    left = [(each.status == Status.CLEAR, _gone_line(each, register)) for each in gone]
    return IndexPage(
        sentence=_sentence(fleet),
        sites_sentence=_sites_sentence(fleet),
        changes=_changes(calls, sum(is_clear for is_clear, _ in left)),
        tallies=_tallies(fleet),
        utility=tuple(_utility_line(each, register) for each in utility),
        rows=tuple(row for row in rows if not row.is_waiting),
        beyond=tuple(row for row in rows if row.is_waiting),
        capacity=_capacity_text(calls, capacity),
        cut=_cut_text(calls, capacity),
        regions=_choices([call.region for call in calls], str),
        kinds=_choices([kind for call in calls for kind in call.kinds], labels.kind_text, Kind),
        actions=_choices([call.action for call in calls], str, Action),
        states=_choices([call.state for call in calls], labels.state_text, labels.STATES),
        not_heard=_pump_lines(fleet, PumpState.NOT_HEARD, register),
        shut_down=_pump_lines(fleet, PumpState.SHUT_DOWN, register),
        not_judged=_pump_lines(fleet, PumpState.NOT_ASSESSED, register),
        not_assessed=tuple(
            ReasonLine(
                kind=labels.kind_text(group.kind),
                reason=group.reason,
                pumps=", ".join(group.pump_ids),
                count=count_text(len(group.pump_ids), "pump"),
            )
            for group in fleet.not_assessed
        ),
        cleared=tuple(line for is_clear, line in left if is_clear),
        unseen=tuple(line for is_clear, line in left if not is_clear),
        muted=tuple(_muted_line(each, register) for each in muted),
        muted_count=f"{count_text(len(muted), 'finding')} muted.",
    )


def _sentence(fleet: FleetState) -> str:
    return (
        f"{count_text(fleet.n_pumps, 'pump')} in the register; heard from {fleet.n_heard},"
        f" not heard from {fleet.count(PumpState.NOT_HEARD)}."
    )


def _sites_sentence(fleet: FleetState) -> str:
    mixed = (
        f", {fleet.n_sites_mixed} shut down, not assessed or heard from in part"
        if fleet.n_sites_mixed
        else ""
    )
    return (
        f"Of {count_text(fleet.n_sites, 'site')}: {fleet.n_sites_with_findings} with findings,"
        f" {fleet.n_sites_quiet} quiet, {fleet.n_sites_not_heard} not heard from{mixed}."
    )


def _changes(calls: Sequence[Call], n_cleared: int) -> str:
    """Count sites by state, in the order of the states' names, and findings that are gone."""
    counts = [(state, sum(call.state == state for call in calls)) for state in labels.STATES]
    told = ", ".join(f"{count} {state}" for state, count in counts if count)
    cleared = f"{count_text(n_cleared, 'finding')} of last week not found again"
    return f"Since last week: {told or 'no site with findings'}; {cleared}."


_TALLIES = (
    (PumpState.WITH_FINDINGS, "with findings", "in the list below"),
    (
        PumpState.QUIET,
        "quiet",
        "heard from, nothing found; every kind a usual log shows was judged",
    ),
    (
        PumpState.QUIET_IN_PART,
        "quiet in part",
        "heard from, nothing found, but a usual kind could not be judged",
    ),
    (PumpState.NOT_ASSESSED, "not assessed", "heard from, nothing could be judged"),
    (PumpState.SHUT_DOWN, "shut down", "no run and no pressure all week"),
    (PumpState.NOT_HEARD, "not heard from", "no samples: nothing is known of them"),
)


def _tallies(fleet: FleetState) -> tuple[Tally, ...]:
    return tuple(
        Tally(
            count=fleet.count(state),
            name=name,
            explains=explains,
            is_missing=state in (PumpState.NOT_HEARD, PumpState.NOT_ASSESSED)
            and fleet.count(state) > 0,
        )
        for state, name, explains in _TALLIES
    )


def _capacity_text(calls: Sequence[Call], capacity: int | None) -> str:
    visits = sum(call.action in TRUCK_ACTIONS for call in calls)
    needed = f"{count_text(visits, 'site')} of {len(calls)} ask for a visit"
    if capacity is None:
        return f"{needed}; the list is not cut."
    waiting = sum(not call.is_within_capacity for call in calls)
    return (
        f"{needed}; this week has room for {count_text(capacity, 'visit')}, so {waiting} wait."
        " Emergencies are never cut."
    )


def _cut_text(calls: Sequence[Call], capacity: int | None) -> str:
    if capacity is None:
        return ""
    waiting = sum(not call.is_within_capacity for call in calls)
    return (
        f"This week's room ends here: {count_text(capacity, 'visit')}."
        f" {count_text(waiting, 'visit')} below wait."
    )


def _utility_region(call: Call, region: str) -> str:
    """Region of the call to the utility if that is about what leads at the site, else ""."""
    return region if call.findings[0].cause == "supply_source" else ""


def _choices(
    values: Iterable[str], text_of: Callable[[str], str], order: Iterable[str] | None = None
) -> tuple[Choice, ...]:
    present = {str(value) for value in values if value}
    ordered = sorted(present) if order is None else [str(v) for v in order if str(v) in present]
    return tuple(Choice(value=value, text=text_of(value)) for value in ordered)


def _pump_lines(fleet: FleetState, state: PumpState, register: Register) -> tuple[PumpLine, ...]:
    lines = []
    for pump_id in fleet.pumps(state):
        site = register.sites[register.pumps[pump_id].site_id]
        lines.append(
            PumpLine(
                pump_id=pump_id,
                title=site.title,
                href=site_href(site.site_id),
                reason=fleet.reasons[pump_id],
            )
        )
    return tuple(lines)


def _utility_line(call: UtilityCall, register: Register) -> UtilityLine:
    titles = [register.sites[site_id].title for site_id in call.site_ids]
    return UtilityLine(region=call.region, sites=", ".join(titles))


def _muted_line(each: Muted, register: Register) -> GoneLine:
    found, visit = each.finding, each.visit
    site = register.sites.get(found.site_id)
    said = f" ({visit.found})" if visit.found else ""
    return GoneLine(
        title=site.title if site else found.site_id,
        href=site_href(found.site_id),
        pump_id=found.pump_id,
        kind=labels.kind_text(found.kind),
        note=f"{visit.outcome}{said} until {visit.until_on}",
    )


def _gone_line(each: Departed, register: Register) -> GoneLine:
    found = each.finding
    site = register.sites.get(found.site_id)
    status = labels.STATUSES[each.status]
    note = "not found this week" if each.status == Status.CLEAR else status
    return GoneLine(
        title=site.title if site else found.site_id,
        href=site_href(found.site_id),
        pump_id=found.pump_id,
        kind=labels.kind_text(found.kind),
        note=f"{note}: {each.reason}" if each.reason else note,
    )
