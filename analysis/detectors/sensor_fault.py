"""Sensor fault: a logged channel stands still, reads the impossible, or is off where it shows.

Reads    each channel's telling unchanged stretch, impossible readings, readings at a known zero,
         channels against each other, steps of the no-flow speed.
Causes   stuck, out_of_range, offset.
Misses   a shifted pressure sensor: the control holds its reading at the setting, so the reading
         itself cannot show it. One reason a channel; the gravest channel makes the finding.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.sensor_evidence import bad_channels
from analysis.detectors.sensor_still import BURST, BadChannel, rests_untold
from analysis.detectors.spells import clear_if_seen, since_words
from analysis.findings import Judged, Kind, MeasureValue, Needs, NotAssessed
from analysis.limits import STILL_FROZEN_S
from analysis.wording import (
    amps_text,
    figures_text,
    flow_text,
    join_text,
    pressure_text,
    temperature_text,
    volts_text,
)

KIND = Kind.SENSOR_FAULT
NEEDS = Needs()

_NAMES = {
    "pressure_kpa": "Pressure",
    "frequency_hz": "Frequency",
    "current_a": "Motor current",
    "voltage_v": "Supply volts",
    "suction_kpa": "Suction pressure",
    "flow_lpm": "Flow",
    "drive_temp_c": "Controller temperature",
    "input_current_a": "Supply current",
}


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    bad = bad_channels(case)
    if not bad:
        untold = rests_untold(case)
        return clear_if_seen(case) if untold is None else NotAssessed(reason=untold)
    worst = max(bad, key=lambda one: (one.consequence, one.confidence))
    confidence, texts = weigh(worst.confidence, _grounds(case, worst, bad))
    week = case.week
    since_at = week.first_at if worst.from_s is None else _at(case, worst.from_s)
    until_at = week.last_at if worst.to_s is None else _at(case, worst.to_s)
    return (
        Judged(
            kind=KIND,
            cause=worst.cause,
            consequence=worst.consequence,
            confidence=confidence,
            since_at=max(since_at, week.first_at),
            until_at=min(until_at, week.last_at),
            measures=_measures(worst, bad),
            summary=_summary(case, worst),
            limit_source=worst.limit.source,
            grounds=texts,
            alternatives=_alternatives(worst),
        ),
    )


def _at(case: Case, second: float) -> datetime:
    return case.week.from_at + timedelta(seconds=second)


def _summary(case: Case, bad: BadChannel) -> str:
    """One sentence with the channel, its reading and what shows that it is none."""
    name, reading = _NAMES[bad.channel], reading_text(case, bad)
    since_s = 0.0 if bad.from_s is None else bad.from_s
    since = since_words(case, max(_at(case, since_s), case.week.first_at))
    if bad.cause == "stuck":
        burst = (
            ": the controller drives the pump to full speed against it"
            if bad.consequence == BURST
            else ""
        )
        return f"{name} has stood at {reading} {since}, {bad.why}{burst}."
    if bad.is_left_out:  # from time to time, so that the week's first is no beginning
        return f"{name} reads {reading} {bad.why}."
    if bad.cause == "out_of_range":
        return f"{name} reads {reading} {since}, {bad.why}."
    shift = "may be off by" if bad.why.startswith("since") else "reads"
    return f"{name} {shift} {reading} {bad.why}."


def reading_text(case: Case, bad: BadChannel) -> str:
    """The channel's value in the site's units."""
    units, value = case.site.units, bad.value
    if bad.is_share:
        return f"{value:.0f} % of the time"
    say = {
        "pressure_kpa": lambda: pressure_text(value, units),
        "suction_kpa": lambda: pressure_text(value, units),
        "current_a": lambda: amps_text(value),
        "input_current_a": lambda: amps_text(value),
        "voltage_v": lambda: volts_text(value),
        "flow_lpm": lambda: flow_text(value, units),
        "drive_temp_c": lambda: temperature_text(value, units),
    }
    return say.get(bad.channel, lambda: f"{figures_text(value, 3)} Hz")()


def _measures(worst: BadChannel, bad: Sequence[BadChannel]) -> dict[str, MeasureValue]:
    return {
        "channel": worst.channel,
        "value": round(worst.value, 3),
        "channels": [one.channel for one in bad if not one.is_left_out],
        "stands_s": (
            None
            if worst.from_s is None or worst.to_s is None
            else round(worst.to_s - worst.from_s, 1)
        ),
    }


def _grounds(case: Case, worst: BadChannel, bad: Sequence[BadChannel]) -> tuple[Ground, ...]:
    others = [_NAMES[one.channel].lower() for one in bad if one is not worst]
    return (
        Ground(True, 0.0, f"{_NAMES[worst.channel]}: {worst.why}"),
        Ground(bool(others), 0.0, f"{join_text(others)} cannot be believed either"),
        Ground(case.week.is_averaged, -0.05, "The logger averages over its interval"),
    )


def _alternatives(bad: BadChannel) -> tuple[str, ...]:
    told = ["Its wiring or plug rather than the sensor", "The logger's input or its scaling"]
    if bad.channel == "pressure_kpa" and bad.cause == "stuck":
        told.insert(0, "A plugged or frozen sensor line")
    may_be_burst = bad.consequence == BURST and bad.limit is not STILL_FROZEN_S
    if bad.channel == "pressure_kpa" and may_be_burst:  # water that flows flickers
        told.append("A burst that takes all the pressure")
    if bad.cause == "offset" and bad.channel == "pressure_kpa":
        told = ["A changed water level, or a pump that wore or was replaced", *told]
    if bad.channel == "voltage_v" and bad.cause == "stuck":
        told = ["A figure the logger calculates or was given", *told[1:]]
    return tuple(told)
