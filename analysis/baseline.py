"""From when on a pump's own past may be compared with its present.

A visit that fixed something, an installation, another pump end or motor, and a changed setting
each begin a new past. What is wrong must not: only steps that no fault makes count here, and
the pages say that the past was cut, when, and why. The pressure from stop to restart is not
among them: what a log sees of it moves with the log's interval and with a leak.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analysis.few import median_of
from analysis.limits import (
    BASELINE_CURRENT_PCT,
    BASELINE_MIN_WEEKS,
    BASELINE_NO_FLOW_HZ,
    BASELINE_PRESSURE_FLOOR_PCT,
    BASELINE_PRESSURE_PCT,
    BASELINE_SHORT_SHARE,
    NO_FLOW_FLOOR_HZ,
)
from analysis.no_flow import logs_alike
from analysis.records import PumpWeek
from analysis.steps import Step, find_step
from analysis.wording import local_date_text
from ingest.installed_base import Pump, Register
from ingest.weeks import utc_of_local_midnight

VISIT = "a visit that fixed something"
INSTALLED = "installation"
PRESSURE = "settings step: the held pressure changed"
REPLACED = "pump end or motor replaced: speed at no flow and current changed at once"

_STOPS_FOLLOW_SHARE = 0.5


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """Where a pump's comparable past begins.

    Attributes
    ----------
    since_at : datetime or None
        UTC; None where the whole past counts.
    why : str
        Why it begins there; empty where the whole past counts.
    cuts_past : bool
        Weeks on record lie before it.
    """

    since_at: datetime | None = None
    why: str = ""
    cuts_past: bool = False

    def text(self, timezone: str) -> str:
        """What a page says, or "" where nothing on record was cut off."""
        if self.since_at is None or not self.cuts_past:
            return ""
        return f"Compared since {local_date_text(self.since_at, timezone)}: {self.why}"


WHOLE_PAST = Baseline()


def baseline_of(register: Register, pump: Pump, weeks: Sequence[PumpWeek]) -> Baseline:
    """Where the comparable past of a pump begins.

    Parameters
    ----------
    weeks : sequence of PumpWeek
        All of the pump up to the week judged, oldest first; not empty.
    """
    known_at, why = _by_register(register, pump, weeks[-1])
    rest = [week for week in weeks if known_at is None or week.from_at >= known_at]
    while (found := _latest_change(rest)) is not None:
        at, why = found
        known_at = rest[at].from_at
        rest = rest[at:]
    cuts_past = known_at is not None and weeks[0].from_at < known_at
    return Baseline(since_at=known_at, why=why, cuts_past=cuts_past)


def _by_register(register: Register, pump: Pump, week: PumpWeek) -> tuple[datetime | None, str]:
    """The last fix or installation on record before the week's end."""
    days = [
        (visit.visited_on, VISIT)
        for visit in register.visits_at(pump.site_id)
        if visit.pump_id in (None, pump.pump_id) and visit.outcome == "fixed"
    ]
    if pump.installed_on is not None:
        days.append((pump.installed_on, INSTALLED))
    zone = register.sites[pump.site_id].timezone
    instants = [(utc_of_local_midnight(day, zone), why) for day, why in days]
    return max(((at, why) for at, why in instants if at < week.to_at), default=(None, ""))


def _latest_change(weeks: Sequence[PumpWeek]) -> tuple[int, str] | None:
    """Index of the first week after a change, with the reason; None where there is none."""
    for look in (_pressure_step, _replacement):
        found = look(weeks)
        if found is not None:
            return found
    return None


def _pressure_step(weeks: Sequence[PumpWeek]) -> tuple[int, str] | None:
    """The held pressure moved, the stops with it, and the pump could hold both."""
    rows = [
        (n, w.held_pressure_kpa)
        for n, w in enumerate(weeks)
        if w.held_pressure_kpa is not None and _holds(w)
    ]
    if len(rows) < BASELINE_MIN_WEEKS.value:
        return None
    held = np.array([kpa for _, kpa in rows])
    usual_kpa = median_of(held.tolist())
    step = find_step(
        held,
        least=usual_kpa * BASELINE_PRESSURE_PCT.value / 100.0,
        floor=usual_kpa * BASELINE_PRESSURE_FLOOR_PCT.value / 100.0,
        min_before=1,
    )
    if step is None:
        return None
    before, after = weeks[rows[step.at - 1][0]], weeks[rows[step.at][0]]
    if before.stop_pressure_kpa is not None and after.stop_pressure_kpa is not None:
        moved = after.stop_pressure_kpa - before.stop_pressure_kpa
        if moved / step.size < _STOPS_FOLLOW_SHARE:
            return None
    return rows[step.at][0], PRESSURE


def _replacement(weeks: Sequence[PumpWeek]) -> tuple[int, str] | None:
    """f0 fell and the current moved in the same week at the same pressure.

    A pump that gets worse by a step is a fault and begins no new past.
    """
    rows = [
        (n, w.f0_hz, w.current_p50_a)
        for n, w in enumerate(weeks)
        if w.f0_hz is not None and w.current_p50_a is not None and logs_alike(w, weeks[-1])
    ]
    speed = _step_of([hz for _, hz, _ in rows], BASELINE_NO_FLOW_HZ.value, NO_FLOW_FLOOR_HZ.value)
    if speed is None or speed.size > 0.0:
        return None
    usual_a = median_of([a for _, _, a in rows])
    least_a = usual_a * BASELINE_CURRENT_PCT.value / 100.0
    current = _step_of([a for _, _, a in rows], least_a, 0.01 * usual_a)
    if current is None or current.at != speed.at:
        return None
    return rows[speed.at][0], REPLACED


def _step_of(values: Sequence[float], least: float, floor: float) -> Step | None:
    return find_step(np.array(values), least=least, floor=floor, min_before=2, min_after=2)


def _holds(week: PumpWeek) -> bool:
    """The pump reached what it was set to."""
    return (week.short_of_setting_s or 0.0) <= BASELINE_SHORT_SHARE.value * week.run_s
