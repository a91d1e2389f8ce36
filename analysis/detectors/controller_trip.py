"""Controller trips: the controller stopped the pump and says so by a code, or seems to have.

Reads    trip events (code, retries, what came before, latched); fault_codes.csv for its meaning.
Causes   the code as logged; empty where the trip is only inferred from an abrupt stop.
Misses   codes that come and go between two samples; trips without a code that restart by
         themselves. A trip at rest has no current to tell of.
"""

from collections.abc import Sequence

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.spells import clear_if_seen
from analysis.detectors.trip_evidence import (
    Before,
    before_text,
    lead_code,
    n_trips,
    timing_text,
    usual_before,
)
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import LATCHED_S, TRIP_CLEAR_INTERVAL_S, TRIPS_REPEATED
from analysis.records import TripEvent
from analysis.wording import count_text, duration_text, local_date_text, local_time_text

KIND = Kind.CONTROLLER_TRIP
NEEDS = Needs(log=("frequency_hz",))

MONEY_OR_WEAR, POOR_SERVICE, DAMAGE, NO_WATER = 2, 3, 4, 5
_WEEK_S = 7 * 86_400.0

_ALTERNATIVES = {
    Before.CURRENT: (
        "Overload: drag, sand, a pump on too little head; the setting itself is the last suspect",
        "Low volts at full speed",
    ),
    Before.VOLTAGE: (
        "The supply, or a joint that gives way under load",
        "A generator or a storm: ask the neighbours",
    ),
    Before.PRESSURE: ("Suction lost: level, valve, prime", "Pressure sensor that fell to nothing"),
    Before.HEAT: ("Fan, filter, sun on the box",),
    Before.NOTHING: (
        "Wiring, splice or motor to ground, above all in wet weather or after a storm",
        "A sensor or its cable",
    ),
    Before.UNKNOWN: ("Overload, supply, dry pump or heat: nothing was logged that tells",),
}


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    if not case.trips:
        return _answer_without(case)
    code = lead_code(case.trips)
    of_code = [trip for trip in case.trips if trip.code == code]
    kind = usual_before(of_code)
    confidence, texts = weigh(0.9 if code else 0.6, _grounds(case, code, of_code, kind))
    return (
        Judged(
            kind=KIND,
            cause=code,
            consequence=_consequence(case.trips, kind),
            confidence=confidence,
            since_at=case.trips[0].tripped_at,
            until_at=min(case.week.last_at, max(trip.until_at for trip in case.trips)),
            measures=_measures(case, of_code, kind),
            summary=_summary(case, code, of_code, kind),
            limit_source=LATCHED_S.source if _latched(case.trips) else TRIPS_REPEATED.source,
            grounds=texts,
            alternatives=_alternatives(code, kind),
        ),
    )


def _answer_without(case: Case) -> Verdict:
    """Clear only where a code would have shown."""
    interval_s = case.week.log_interval_s
    if interval_s > TRIP_CLEAR_INTERVAL_S.value:
        return NotAssessed(
            reason=f"no code seen, but this log has one sample every {interval_s:.0f} s; a trip"
            f" that clears by itself needs {TRIP_CLEAR_INTERVAL_S.value:.0f} s or faster"
        )
    return clear_if_seen(case)


def _latched(trips: Sequence[TripEvent]) -> list[TripEvent]:
    return [trip for trip in trips if trip.is_latched]


def _consequence(trips: Sequence[TripEvent], kind: Before) -> int:
    """No water where it stays out or trips again and again; two trips are damage to come."""
    if _latched(trips) or n_trips(trips) >= TRIPS_REPEATED.value:
        return NO_WATER
    if n_trips(trips) > 1:
        return DAMAGE
    return MONEY_OR_WEAR if kind is Before.VOLTAGE else POOR_SERVICE


def _meaning(case: Case, code: str) -> str | None:
    """What the company's list says of a code, or None."""
    return next(
        (c.meaning for c in case.fault_codes if c.fault_code.casefold() == code.casefold()), None
    )


def _code_text(case: Case, code: str) -> str:
    meaning = _meaning(case, code)
    if meaning is not None:
        return f"{code} ({meaning})"
    if case.pump.controller_model is None:
        return f"{code} (no controller_model in the register, so its meaning is not known)"
    return f"{code} (meaning not in fault_codes.csv)"


def _grounds(case: Case, code: str, of_code: Sequence[TripEvent], kind: Before) -> list[Ground]:
    latched, timing = _latched(case.trips), timing_text(of_code, case.site.timezone)
    retries = [trip.retry_s for trip in of_code if trip.retry_s is not None]
    others = sorted({trip.code for trip in case.trips if trip.code != code})
    other_texts = ", ".join(_code_text(case, other) for other in others)
    what = before_text(kind, of_code, case.site.units)
    return [
        Ground(
            not code,
            0.0,
            "Inferred: it stopped out of running and pressure fell short, yet no start followed or"
            " only after one and the same pause; the log carries no code",
        ),
        Ground(not code and case.week.has_voltage, 0.1, "The supply stayed on meanwhile"),
        Ground(not code and bool(latched), 0.05, "It stayed out longer than any retry waits"),
        Ground(bool(code), 0.0, f"The controller logged {_code_text(case, code)}"),
        Ground(bool(what), 0.0, f"Just before, {what}"),
        Ground(bool(timing), 0.0, f"It trips {timing}"),
        Ground(
            bool(retries),
            0.0,
            f"Its own retries came every {duration_text(min(retries, default=0.0))}",
        ),
        Ground(bool(others), 0.0, f"Other codes: {other_texts}"),
    ]


def _alternatives(code: str, kind: Before) -> tuple[str, ...]:
    if code:
        return _ALTERNATIVES[kind]
    return ("Switched off by hand or by a timer", *_ALTERNATIVES[kind])


def _measures(case: Case, of_code: Sequence[TripEvent], kind: Before) -> dict[str, MeasureValue]:
    trips, week = case.trips, case.week
    shares = [t.current_before_pct for t in of_code if t.current_before_pct is not None]
    latched = _latched(trips)
    codes = sorted({trip.code for trip in trips})
    told = latched[-1] if latched else of_code[-1]
    return {
        "trips": len(trips),
        "trips_with_retries": n_trips(trips),
        "trips_per_week": round(len(trips) * _WEEK_S / week.observed_s, 2),
        "current_pct_limit_before": round(max(shares), 1) if shares else None,
        "before": kind.value,
        "is_inferred": not of_code[0].code,
        "is_latched": bool(latched),
        "stopped_s": round(max(trip.stopped_s for trip in trips)),
        "codes": [c for c in codes if c],
        "n_by_code": [sum(t.code == c for t in trips) for c in codes if c],
        "meaning": _meaning(case, of_code[0].code),
        "last_trip_at": told.tripped_at.isoformat(),
    }


def _summary(case: Case, code: str, of_code: Sequence[TripEvent], kind: Before) -> str:
    zone, latched = case.site.timezone, _latched(case.trips)
    last = (latched or list(of_code))[-1]
    when = f"{local_date_text(last.tripped_at, zone)} {local_time_text(last.tripped_at, zone)}"
    what = before_text(kind, of_code, case.site.units)
    before = f"; just before, {what}" if what else ""
    name = f"on {_code_text(case, code)}" if code else "as far as the stop tells (no code logged)"
    if latched:
        stood = duration_text(last.stopped_s)
        still = "has not run since" if last.is_open else f"stood for {stood}"
        began = "already stood tripped" if last.is_carried else "tripped"
        return f"Pump {case.pump.pump_id} {began} {name} {when} and {still}{before}."
    n, tries = len(case.trips), n_trips(case.trips)
    times = "once" if n == 1 else count_text(n, "time")
    retries = f" ({tries} with its own retries)" if tries > n else ""
    return f"Pump {case.pump.pump_id} tripped {name} {times}{retries}, last {when}{before}."
