"""What a finding was in earlier weeks: since when it has been open, and where it is heading."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.findings import Finding, Judged, Kind, MeasureValue, Status
from analysis.limits import (
    CLEAN_OBSERVED_SHARE,
    CLEAN_WEEKS_TO_CLOSE,
    CLOSE_INSIDE_AMPS_SHARE,
    CLOSE_INSIDE_SHARE,
    WORSE_SHARE,
)
from analysis.records import PumpWeek

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

CLOSE_INSIDE: Mapping[Kind, float] = {Kind.OVERLOAD_MARGIN: CLOSE_INSIDE_AMPS_SHARE.value}
"""Kinds whose size hardly moves, so that less of it is clearly inside."""

NEEDS_NO_DEMAND = (Kind.LEAK, Kind.DATA_GAP, Kind.SETTING)
"""Kinds that a week without a single start clears as well as any other."""


@dataclass(frozen=True)
class Past:
    """One earlier week of one pump and kind: what was answered and, if found, the finding.

    ``record`` is what was measured of the week, None where it is not known any more.
    """

    week: str
    status: Status
    finding: Finding | None
    record: PumpWeek | None = None


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
        spell; so many clean weeks (`is_clean`) as ``CLEAN_WEEKS_TO_CLOSE`` do. Where another cause
        was named before, it began when this week's evidence does: the date was another fault's.
    state : str
        "new", "back" (a closed spell before), "worse", "same" or "better".
    """
    since: list[Past] = []
    for earlier in reversed(past):
        if earlier.finding is not None:
            spell = [one.finding for one in past if one.finding is not None]
            spell = [one for one in spell if one.first_seen == earlier.finding.first_seen]
            if sum(is_clean(week, spell) for week in since) >= CLEAN_WEEKS_TO_CLOSE.value:
                return judged.since_at, "back"
            before = earlier.finding
            is_other = "" not in (judged.cause, before.cause) and judged.cause != before.cause
            first_seen = judged.since_at if is_other else before.first_seen
            return first_seen, trend(judged, before)
        since.append(earlier)
    return judged.since_at, "new"


def is_clean(week: Past, spell: Sequence[Finding]) -> bool:
    """Whether a week helps to close a spell: a clear answer is needed but not enough.

    It must have been seen for most of its time, with the pump in use where that is when the fault
    shows, and lie clearly (``CLOSE_INSIDE_SHARE``) inside the least size at which the spell was
    found: what hovers at a limit is not over.
    """
    if week.status is not Status.CLEAR:
        return False
    record, kind = week.record, spell[0].kind
    if record is None:
        return True
    if 1 - record.share_missing < CLEAN_OBSERVED_SHARE.value:
        return False
    if kind not in NEEDS_NO_DEMAND and record.n_starts == 0 and record.run_s == 0:
        return False
    sizes = [size for finding in spell if (size := _size(kind, finding.measures)) is not None]
    name, _ = _measure(kind)
    now = _size(kind, {name: getattr(record, name, None)})
    inside = CLOSE_INSIDE.get(kind, CLOSE_INSIDE_SHARE.value)
    return now is None or not sizes or now <= (1 - inside) * min(sizes)


def _measure(kind: Kind) -> tuple[str, int]:
    return SIZE_OF.get(kind, ("", +1))


def _size(kind: Kind, measures: Mapping[str, MeasureValue]) -> float | None:
    """Size of a kind, more being worse; None where it is not known."""
    name, direction = _measure(kind)
    value = measures.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return direction * (value - SIZE_IS_MARGIN.get(kind, 0.0))


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
