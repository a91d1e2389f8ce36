"""What visits teach: which kinds to trust, what came back, what was something else."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from analysis.fault_history import FaultHistory, week_no
from analysis.findings import Finding, Kind
from analysis.intervals import wilson_interval
from analysis.learned_confidence import Learned, learn, outcomes_before
from analysis.limits import Limit
from analysis.memory import SIZE_OF
from analysis.records import PumpWeek
from analysis.visit_effects import is_about
from analysis.visit_words import cause_in
from ingest.installed_base import Register, Visit
from ingest.weeks import parse_week, week_of

PRIOR_RIGHT = Limit(4, "visits", "ours: as if five visits before had confirmed four findings")
PRIOR_WRONG = Limit(1, "visits", "ours: see PRIOR_RIGHT; 1 of 1 is then not 100 %")
WATCH_DAYS = Limit(14, "days", "common practice: two weeks of use show whether a repair holds")
WATCHED_WEEKS = Limit(13, "weeks", "ours: a quarter of fixes on the page, older ones are history")
REPEAT_DAYS = (30, 90)

SIZE_IN_RECORD: Mapping[str, str] = {
    "starts_per_day": "starts_per_day",
    "voltage_min_pct": "voltage_min_pct",
    "current_p95_a": "current_p95_a",
    "leak_lpm": "quiet_leak_lpm_p50",
    "short_of_setting_s": "short_of_setting_s",
    "gap_s": "gap_s",
    "swing_kpa": "hunting_swing_kpa",
}
"""Where the weekly record holds the size of a kind that is not found any more."""


@dataclass(frozen=True, kw_only=True)
class Precision:
    """How often a kind was there when somebody looked.

    Attributes
    ----------
    n_right, n_wrong : int
        Visits that confirmed or fixed it, and that did not find it.
    share, low, high : float
        Share right, 0 to 1, in the light of the prior, with 95 % limits.
    """

    kind: Kind
    n_right: int
    n_wrong: int
    share: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class RepeatCalls:
    """Fixes followed by another visit to the same pump and kind within so many days.

    ``low`` and ``high`` are Wilson's 95 % limits of the share, None where no fix is old enough.
    """

    days: int
    n_fixed: int
    n_repeated: int
    low: float | None
    high: float | None


@dataclass(frozen=True, kw_only=True)
class FixWatch:
    """What became of one fix.

    Attributes
    ----------
    state : str
        "watched", "holding", "came back" or "no data since".
    weeks_clear : int
        Weeks judged since without the finding.
    size_name : str
        Measure by which the kind has a size, or "".
    before, after : float or None
        That measure in the last finding before, and in the first one or the last week after.
    """

    visit: Visit
    pump_id: str
    state: str
    weeks_clear: int
    size_name: str
    before: float | None
    after: float | None


@dataclass(frozen=True, kw_only=True)
class OtherCause:
    """A visit that found something else than the log had made us think.

    ``found_cause`` is the cause its words name, or "" where the finding was not there at all.
    """

    visit: Visit
    pump_id: str
    our_cause: str
    found_cause: str


@dataclass(frozen=True, kw_only=True)
class VisitReport:
    """All that visits teach up to a week; visits without a kind teach nothing here.

    ``learned`` is what next week's confidences will be made with.
    """

    n_visits: int
    precision: tuple[Precision, ...]
    learned: Mapping[Kind, Learned]
    repeat_calls: tuple[RepeatCalls, ...]
    fixes: tuple[FixWatch, ...]
    other_causes: tuple[OtherCause, ...]


def visit_report(
    week: str,
    register: Register,
    histories: Iterable[FaultHistory],
    findings: Sequence[Finding] = (),
    weeks: Mapping[str, Sequence[PumpWeek]] | None = None,
) -> VisitReport:
    """Read the visits up to the end of a week.

    Parameters
    ----------
    histories : iterable of FaultHistory
        Of the pumps visited.
    findings : sequence of Finding
        Of all weeks, for causes and sizes.
    weeks : mapping, optional
        Weekly records of pumps with fixes, for the size after a fix.
    """
    sunday = parse_week(week).monday + timedelta(days=6)
    kinds = set(Kind)
    told = [v for v in register.visits if v.visited_on <= sunday and v.kind in kinds]
    visited = {v.pump_id for v in told}
    of_pump = {(h.pump_id, h.kind): h for h in histories if h.pump_id in visited}
    ordered = sorted(findings, key=lambda f: f.week)
    of_week = {(f.pump_id, f.kind, f.week): f for f in ordered}
    following = str(parse_week(week).plus(1))
    return VisitReport(
        n_visits=len(told),
        precision=_precision(told),
        learned=learn(
            outcomes_before(following, told, lambda *key: of_week.get(key)),
        ),
        repeat_calls=tuple(_repeat_calls(told, days, sunday) for days in REPEAT_DAYS),
        fixes=_fixes(told, sunday, of_pump, ordered, weeks or {}),
        other_causes=_other_causes(told, ordered),
    )


def _precision(visits: Sequence[Visit]) -> tuple[Precision, ...]:
    from scipy.special import betaincinv

    rows = []
    for kind in Kind:
        right = sum(v.kind == kind and v.outcome in ("confirmed", "fixed") for v in visits)
        wrong = sum(v.kind == kind and v.outcome == "not_found" for v in visits)
        if right + wrong:
            a, b = PRIOR_RIGHT.value + right, PRIOR_WRONG.value + wrong
            rows.append(
                Precision(
                    kind=kind,
                    n_right=right,
                    n_wrong=wrong,
                    share=a / (a + b),
                    low=float(betaincinv(a, b, 0.025)),
                    high=float(betaincinv(a, b, 0.975)),
                )
            )
    return tuple(sorted(rows, key=lambda row: (row.share, row.kind)))


def _repeat_calls(visits: Sequence[Visit], days: int, sunday: date) -> RepeatCalls:
    """Count fixes old enough to have been followed up so long."""
    fixed = [
        v
        for v in visits
        if v.outcome == "fixed" and v.pump_id and (sunday - v.visited_on).days >= days
    ]
    seen: dict[str, list[Visit]] = {}
    for visit in visits:
        if visit.outcome in ("confirmed", "not_found", "fixed"):
            seen.setdefault(visit.site_id, []).append(visit)
    repeated = sum(
        any(
            is_about(later, fix.site_id, fix.pump_id or "", fix.kind or "")
            and 0 < (later.visited_on - fix.visited_on).days <= days
            for later in seen[fix.site_id]
        )
        for fix in fixed
    )
    low = high = None
    if fixed:
        limits = wilson_interval(repeated, len(fixed))
        low, high = float(limits[0]), float(limits[1])
    return RepeatCalls(days=days, n_fixed=len(fixed), n_repeated=repeated, low=low, high=high)


def _fixes(
    visits: Sequence[Visit],
    sunday: date,
    of_pump: Mapping[tuple[str, Kind], FaultHistory],
    findings: Sequence[Finding],
    weeks: Mapping[str, Sequence[PumpWeek]],
) -> tuple[FixWatch, ...]:
    """Fixes of the last weeks, what came back first, then the latest."""
    oldest = sunday - timedelta(weeks=int(WATCHED_WEEKS.value))
    known: dict[tuple[str, Kind], list[Finding]] = {}
    for finding in findings:
        known.setdefault((finding.pump_id, finding.kind), []).append(finding)
    rows = [
        _fix(visit, visit.pump_id, Kind(visit.kind or ""), sunday, of_pump, known, weeks)
        for visit in visits
        if visit.outcome == "fixed" and visit.pump_id and visit.visited_on > oldest
    ]
    places = ("came back", "no data since", "watched", "holding")
    return tuple(
        sorted(
            rows,
            key=lambda row: (
                places.index(row.state),
                -row.visit.visited_on.toordinal(),
                row.pump_id,
            ),
        )
    )


def _fix(
    visit: Visit,
    pump_id: str,
    kind: Kind,
    sunday: date,
    of_pump: Mapping[tuple[str, Kind], FaultHistory],
    findings: Mapping[tuple[str, Kind], Sequence[Finding]],
    weeks: Mapping[str, Sequence[PumpWeek]],
) -> FixWatch:
    visit_week = str(week_of(visit.visited_on))
    history = of_pump.get((pump_id, kind))
    judged = [w for w in history.judged if w > week_no(visit_week)] if history else []
    back = [w for w in history.causes if w > week_no(visit_week)] if history else []
    clear = len([w for w in judged if not back or w < min(back)])
    if back:
        state = "came back"
    elif not judged:
        state = "no data since"
    elif (sunday - visit.visited_on).days >= WATCH_DAYS.value and clear >= 2:
        state = "holding"
    else:
        state = "watched"
    name = SIZE_OF[kind][0] if kind in SIZE_OF else ""
    own = findings.get((pump_id, kind), [])
    if back:
        after = _size([f for f in own if f.week > visit_week][:1], name)
    else:
        after = _recorded(weeks.get(pump_id, ()), visit_week, name)
    return FixWatch(
        visit=visit,
        pump_id=pump_id,
        state=state,
        weeks_clear=clear,
        size_name=name,
        before=_size([f for f in own if f.week <= visit_week][-1:], name),
        after=after,
    )


def _size(findings: Sequence[Finding], name: str) -> float | None:
    value = findings[0].measures.get(name) if findings else None
    return float(value) if isinstance(value, int | float) else None


def _recorded(weeks: Sequence[PumpWeek], visit_week: str, name: str) -> float | None:
    """Size in the last week on record after the visit."""
    since = [week for week in weeks if week.week > visit_week]
    if not since or name not in SIZE_IN_RECORD:
        return None
    value = getattr(since[-1], SIZE_IN_RECORD[name])
    return None if value is None else float(value)


def _other_causes(visits: Sequence[Visit], findings: Sequence[Finding]) -> tuple[OtherCause, ...]:
    of_site: dict[str, list[Finding]] = {}
    for finding in findings:
        of_site.setdefault(finding.site_id, []).append(finding)
    rows = []
    for visit in visits:
        week = str(week_of(visit.visited_on))
        own = [
            f
            for f in of_site.get(visit.site_id, ())
            if f.week <= week and is_about(visit, f.site_id, f.pump_id, f.kind)
        ]
        if not own:
            continue
        ours = own[-1]
        named = cause_in(visit.found or "")
        is_other = bool(named) and bool(ours.cause) and named != ours.cause
        if is_other or visit.outcome == "not_found":
            rows.append(
                OtherCause(
                    visit=visit,
                    pump_id=ours.pump_id,
                    our_cause=ours.cause,
                    found_cause=named if is_other else "",
                )
            )
    return tuple(sorted(rows, key=lambda r: (-r.visit.visited_on.toordinal(), r.pump_id)))
