"""What a week's trips have in common: what came before them, and when they fall."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC
from enum import StrEnum
from statistics import median
from zoneinfo import ZoneInfo

from analysis.limits import (
    TRIP_AT_START_S,
    TRIP_CURRENT_PCT,
    TRIP_DRY_CURRENT_PCT,
    TRIP_HEAT_C,
    TRIP_PRESSURE_PCT,
    TRIPS_SAME_HOURS,
    VOLTAGE_LOW_PCT,
)
from analysis.records import TripEvent
from analysis.wording import (
    duration_text,
    percent_text,
    temperature_text,
)


class Before(StrEnum):
    """What the channels showed just before a trip."""

    CURRENT = "current"  # near the overload setting
    VOLTAGE = "voltage"  # volts sinking
    PRESSURE = "pressure"  # pressure gone with little current
    HEAT = "heat"  # the drive hot
    NOTHING = "nothing"  # all usual
    UNKNOWN = "unknown"  # too little logged to say


def before(trip: TripEvent) -> Before:
    """Sort one trip by what came before it.

    Pressure that is gone while current is high is an overload, not a dry pump.
    """
    current_pct, pressure_pct = trip.current_before_pct, trip.pressure_before_pct
    if current_pct is not None and current_pct >= TRIP_CURRENT_PCT.value:
        return Before.CURRENT
    volts_pct, temp_c = trip.voltage_before_pct, trip.drive_temp_before_c
    if volts_pct is not None and volts_pct < VOLTAGE_LOW_PCT.value:
        return Before.VOLTAGE
    is_light = current_pct is not None and current_pct < TRIP_DRY_CURRENT_PCT.value
    if pressure_pct is not None and pressure_pct < TRIP_PRESSURE_PCT.value and is_light:
        return Before.PRESSURE
    if temp_c is not None and temp_c >= TRIP_HEAT_C.value:
        return Before.HEAT
    if current_pct is None or pressure_pct is None:
        return Before.UNKNOWN
    return Before.NOTHING


def usual_before(trips: Sequence[TripEvent]) -> Before:
    """What most of the trips that tell have in common."""
    counts = Counter(before(trip) for trip in trips)
    told = [kind for kind in Before if kind is not Before.UNKNOWN and counts[kind]]
    return max(told, key=lambda kind: counts[kind], default=Before.UNKNOWN)


def n_trips(trips: Sequence[TripEvent]) -> int:
    """Trips with the controller's own retries."""
    return sum(1 + trip.n_retries for trip in trips)


def lead_code(trips: Sequence[TripEvent]) -> str:
    """Code the week is about: one that latched, else the most frequent."""
    events, tries = Counter(t.code for t in trips), Counter[str]()
    for trip in trips:
        tries[trip.code] += 1 + trip.n_retries
    latched = {trip.code for trip in trips if trip.is_latched}
    return min(events, key=lambda code: (code not in latched, -events[code], -tries[code], code))


def before_text(kind: Before, trips: Sequence[TripEvent], units: str) -> str:
    """What came before, as the end of a sentence; "" where it is not known."""

    def middle(name: str) -> float:
        values = [getattr(t, name) for t in trips if getattr(t, name) is not None]
        return float(median(values)) if values else float("nan")

    if kind is Before.CURRENT:
        return f"motor current was {percent_text(middle('current_before_pct'))} of its limit"
    if kind is Before.VOLTAGE:
        return f"volts had sunk to {percent_text(middle('voltage_before_pct'))} of the supply's"
    if kind is Before.PRESSURE:
        return (
            f"pressure had gone to {percent_text(middle('pressure_before_pct'))} of the setting"
            " with little current"
        )
    if kind is Before.HEAT:
        return f"the drive was at {temperature_text(middle('drive_temp_before_c'), units)}"
    return "nothing unusual showed" if kind is Before.NOTHING else ""


def timing_text(trips: Sequence[TripEvent], timezone: str) -> str:
    """When the trips fall within a run and within the day; "" where that tells nothing."""
    ran_s = [trip.ran_s for trip in trips if trip.ran_s is not None]
    parts = []
    if not ran_s and not all(trip.is_carried for trip in trips):
        parts.append("at rest, not out of a run")
    elif ran_s and max(ran_s) <= TRIP_AT_START_S.value:
        parts.append("at the start or in the ramp of a run")
    elif ran_s:
        parts.append(f"after {duration_text(median(ran_s))} of running")
    if (hours := _same_hours(trips, timezone)) is not None:
        parts.append(f"always between {hours[0]}:00 and {hours[1]}:00")
    return ", ".join(parts)


def _same_hours(trips: Sequence[TripEvent], timezone: str) -> tuple[int, int] | None:
    """Hours of the local day between which all trips fall, where these are few."""
    fresh = [trip for trip in trips if not trip.is_carried]
    days = {
        trip.tripped_at.replace(tzinfo=UTC).astimezone(ZoneInfo(timezone)).date() for trip in fresh
    }
    hours = sorted(
        {trip.tripped_at.replace(tzinfo=UTC).astimezone(ZoneInfo(timezone)).hour for trip in fresh}
    )
    if len(days) < 3:
        return None
    ways = [
        (hours[at], hours[at - 1] + 1, (hours[at - 1] - hours[at]) % 24 + 1)
        for at in range(len(hours))
    ]
    first, end, length = min(ways, key=lambda way: way[2])
    return (first, end) if length <= TRIPS_SAME_HOURS.value else None
