"""What a finding was in earlier weeks: since when it has been open, and where it is heading."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.findings import Finding, Judged, Kind, Status
from analysis.limits import CLEAN_WEEKS_TO_CLOSE, WORSE_SHARE

SIZE_OF: Mapping[Kind, tuple[str, int]] = {
    Kind.SHORT_CYCLING: ("starts_per_day", +1),
    Kind.UNDERVOLTAGE: ("voltage_min_pct", -1),
    Kind.OVERLOAD_MARGIN: ("current_p95_a", +1),
    Kind.LEAK: ("leak_lpm", +1),
    Kind.DRY_RUNNING: ("dry_s", +1),
    Kind.WEAK_DELIVERY: ("short_of_setting_s", +1),
    Kind.HUNTING: ("swing_kpa", +1),
    Kind.OVERHEATING: ("excess_c", +1),
    Kind.DATA_GAP: ("gap_s", +1),
    Kind.CONTROLLER_TRIP: ("trips_with_retries", +1),
}
"""The measure that says how big a kind is, and whether more (+1) or less (-1) is worse."""

SIZE_IS_MARGIN: Mapping[Kind, float] = {Kind.UNDERVOLTAGE: 100.0}
"""Kinds whose size is the distance from this value, not from zero."""


@dataclass(frozen=True)
class Past:
    """One earlier week of one pump and kind: what was answered and, if found, the finding."""

    week: str
    status: Status
    finding: Finding | None


def recall(judged: Judged, past: Sequence[Past]) -> tuple[datetime, str]:
    """Since when a finding has been open, and its state against the last time it was seen.

    Parameters
    ----------
    judged : Judged
        This week's finding.
    past : sequence of Past
        Earlier weeks of the same pump, kind (and, for settings, cause), oldest first.

    Returns
    -------
    first_seen : datetime
        Start of the present spell. A week without an answer (no data, not assessed) never ends a
        spell; so many clear weeks as ``CLEAN_WEEKS_TO_CLOSE`` do.
    state : str
        "new", "back" (a closed spell before), "worse", "same" or "better".
    """
    clean_weeks = 0
    for earlier in reversed(past):
        if earlier.finding is not None:
            if clean_weeks >= CLEAN_WEEKS_TO_CLOSE.value:
                return judged.since_at, "back"
            return earlier.finding.first_seen, trend(judged, earlier.finding)
        clean_weeks += earlier.status is Status.CLEAR
    return judged.since_at, "new"


def trend(now: Judged | Finding, before: Finding) -> str:
    """Say "worse", "better" or "same" by the kind's own measure of size."""
    if now.kind not in SIZE_OF:
        return "same"
    name, direction = SIZE_OF[now.kind]
    size_now, size_before = now.measures.get(name), before.measures.get(name)
    if not isinstance(size_now, int | float) or not isinstance(size_before, int | float):
        return "same"
    origin = SIZE_IS_MARGIN.get(now.kind, 0.0)
    grown = direction * (size_now - size_before)
    reference = abs(size_before - origin)
    if grown > WORSE_SHARE.value * reference:
        return "worse"
    if grown < -WORSE_SHARE.value * reference:
        return "better"
    return "same"
