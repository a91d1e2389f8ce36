"""The weeks before and after a fix, by the measure that says how big the fault was.

A repair is shown by the very record that showed the fault: the same weekly measure, week by week,
with the day of the visit between. A kind without such a measure has no numbers and no picture.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from analysis.findings import Finding, Kind
from analysis.limits import LEAK_MIN_LPM, Limit
from analysis.memory import SIZE_OF
from analysis.records import PumpWeek
from analysis.visit_report import SIZE_IN_RECORD, WATCHED_WEEKS
from analysis.wording import (
    amps_text,
    duration_text,
    figures_text,
    flow_text,
    percent_text,
    pressure_text,
)
from ingest.installed_base import Register, Site, Visit
from ingest.weeks import parse_week, week_of

SHOWN_BEFORE_WEEKS = Limit(8, "weeks", "ours: as far back as a fault is usually left standing")

SIZE_NAMES: Mapping[str, str] = {
    "starts_per_day": "starts a day",
    "voltage_min_pct": "lowest volts, of the supply's",
    "current_p95_a": "highest 5 % of motor current",
    "leak_lpm": "flow at night by the tank's fall",
    "short_of_setting_s": "time short of the setting",
    "gap_s": "time without data",
    "swing_kpa": "swing of pressure",
}


@dataclass(frozen=True, kw_only=True)
class SizedWeek:
    """One week: its Monday, the measure (inner unit, None where unknown), and what was judged."""

    monday: date
    size: float | None
    is_found: bool


@dataclass(frozen=True, kw_only=True)
class FixWeeks:
    """A fix with the weeks around it, oldest first; that of the visit itself is neither.

    ``measure`` is a key of ``SIZE_NAMES``.
    """

    visit: Visit
    pump_id: str
    kind: Kind
    measure: str
    weeks: tuple[SizedWeek, ...]

    @property
    def before(self) -> SizedWeek | None:
        """The last week before that of the visit with the measure known."""
        visited = week_of(self.visit.visited_on).monday
        return next((w for w in reversed(self._known) if w.monday < visited), None)

    @property
    def after(self) -> SizedWeek | None:
        """The last week after that of the visit with the measure known."""
        visited = week_of(self.visit.visited_on).monday
        return next((w for w in reversed(self._known) if w.monday > visited), None)

    @property
    def _known(self) -> list[SizedWeek]:
        return [week for week in self.weeks if week.size is not None]

    def text(self, units: str) -> str:
        """Say the numbers before and after in the site's units."""
        before, after = (
            "not known" if week is None else size_text(self.measure, week.size or 0.0, units)
            for week in (self.before, self.after)
        )
        name = SIZE_NAMES[self.measure]
        return f"{name[0].upper()}{name[1:]}: {before} before, {after} now."


def fixes_at(
    register: Register,
    site: Site,
    history: Sequence[Finding],
    weeks: Mapping[str, Sequence[PumpWeek]],
    up_to: str | None = None,
) -> tuple[FixWeeks, ...]:
    """Fixes at a site with their weeks, the latest first.

    Parameters
    ----------
    history : sequence of Finding
        Of all weeks, for whether the kind was found in one.
    weeks : mapping
        Weekly records by pump, oldest first.
    up_to : str, optional
        Week reported: fixes of the quarter before its end; without, of all times.
    """
    rows = []
    for visit in register.visits:
        is_fix = visit.outcome == "fixed" and visit.site_id == site.site_id and visit.pump_id
        if not is_fix or visit.kind not in set(Kind) or not _is_recent(visit, up_to):
            continue
        measure = SIZE_OF.get(Kind(visit.kind), ("", 0))[0]
        if measure in SIZE_IN_RECORD:
            pump_id = visit.pump_id or ""
            shown = _weeks_around(visit, pump_id, measure, history, weeks.get(pump_id, ()))
            if any(week.size is not None for week in shown):
                rows.append(
                    FixWeeks(
                        visit=visit,
                        pump_id=pump_id,
                        kind=Kind(visit.kind),
                        measure=measure,
                        weeks=shown,
                    )
                )
    return tuple(sorted(rows, key=lambda fix: (-fix.visit.visited_on.toordinal(), fix.pump_id)))


def size_text(measure: str, size: float, units: str) -> str:
    """Write a measure of size in the site's units."""
    if measure == "current_p95_a":
        return amps_text(size)
    if measure == "voltage_min_pct":
        return percent_text(size)
    if measure == "leak_lpm":
        least = LEAK_MIN_LPM.value
        return flow_text(size, units) if size >= least else f"under {flow_text(least, units)}"
    if measure == "swing_kpa":
        return pressure_text(size, units)
    if measure in ("short_of_setting_s", "gap_s"):
        return duration_text(size)
    return figures_text(size)


def _is_recent(visit: Visit, up_to: str | None) -> bool:
    if up_to is None:
        return True
    sunday = parse_week(up_to).monday + timedelta(days=6)
    return sunday - timedelta(weeks=WATCHED_WEEKS.value) < visit.visited_on <= sunday


def _weeks_around(
    visit: Visit,
    pump_id: str,
    measure: str,
    history: Sequence[Finding],
    weeks: Sequence[PumpWeek],
) -> tuple[SizedWeek, ...]:
    found = {f.week for f in history if (f.pump_id, f.kind) == (pump_id, visit.kind)}
    visited = week_of(visit.visited_on)
    first = str(visited.plus(-int(SHOWN_BEFORE_WEEKS.value)))
    last = str(visited.plus(int(WATCHED_WEEKS.value)))
    return tuple(
        SizedWeek(
            monday=parse_week(week.week).monday,
            size=_number(getattr(week, SIZE_IN_RECORD[measure])),
            is_found=week.week in found,
        )
        for week in weeks
        if first <= week.week <= last
    )


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)
