"""Which logged channel cannot be believed, and by what: the grounds of a sensor fault."""

from collections.abc import Callable

from analysis.case import Case
from analysis.detectors.sensor_still import (
    LOG_ONLY,
    OFFSET,
    OUT_OF_RANGE,
    POOR,
    BadChannel,
    frozen,
    stuck_current,
    stuck_pressure,
    stuck_slow_channels,
    stuck_speed,
)
from analysis.limits import (
    DROPOUTS,
    ODD_PRESSURE_UNDER_KPA,
    ODD_RUN_S,
    ODD_SAMPLES,
    OFFSET_STEP_HZ,
    REST_AMPS_MIN_A,
    REST_AMPS_SHARE,
    REST_BELOW_SUCTION_KPA,
    REST_SHARE,
    VOLTS_ZERO_S,
    Limit,
)
from ingest.samples import CHANNELS

_VACUUM_KPA = -99.0  # nearly all of the air's pressure: no reading but -1 bar


def bad_channels(case: Case) -> tuple[BadChannel, ...]:
    """Every channel that cannot be believed, at most one reason each, in the log's order."""
    found: dict[str, BadChannel] = {}
    for test in _TESTS:
        for bad in test(case):
            found.setdefault(bad.channel, bad)
    return tuple(found[channel] for channel in CHANNELS if channel in found)


def pressure_is_bad(case: Case) -> str | None:
    """Why the pressure cannot be believed; None where nothing speaks against it."""
    return channel_is_bad(case, "pressure_kpa")


def channel_is_bad(case: Case, channel: str) -> str | None:
    """Why a channel cannot be believed; an offset, or values left out, leave it usable."""
    for bad in bad_channels(case):
        if bad.channel == channel and bad.cause != OFFSET and not bad.is_left_out:
            return bad.why
    return None


def _below_zero(case: Case) -> tuple[BadChannel, ...]:
    """A pressure that reads a vacuum with the line empty: off by that much at its known zero.

    Only at rest, and no mark of a missing reading: those come and go while it runs as well.
    """
    at, week = CHANNELS.index("pressure_kpa"), case.week
    lists = (week.channel_odd_samples, week.channel_odd_value, week.channel_odd_run_share)
    n, value, run_share = (None if column is None else column[at] for column in lists)
    if n is None or value is None or run_share is None or n < ODD_SAMPLES.value:
        return ()
    if run_share > 0 or not _VACUUM_KPA < value < ODD_PRESSURE_UNDER_KPA.value:
        return ()
    why = "with the pump stopped and the line empty, where it must read zero"
    return (_shifted("pressure_kpa", value, why, 0.7, ODD_PRESSURE_UNDER_KPA),)


def _out_of_range(case: Case) -> tuple[BadChannel, ...]:
    week, found = case.week, []
    for at, channel in enumerate(CHANNELS):
        lists = (week.channel_odd_samples, week.channel_odd_value, week.channel_odd_s)
        n, value, length_s = (None if column is None else column[at] for column in lists)
        if n is None or value is None or n < ODD_SAMPLES.value:
            continue
        if channel == "voltage_v" and (length_s or 0.0) < VOLTS_ZERO_S.value:
            continue
        from_s, to_s = (
            None if column is None else column[at]
            for column in (week.channel_odd_from_s, week.channel_odd_to_s)
        )
        found.append(
            BadChannel(
                channel=channel,
                cause=OUT_OF_RANGE,
                value=value,
                why=f"in {n:.0f} samples: no reading this pump can make",
                consequence=POOR if channel == "pressure_kpa" else LOG_ONLY,
                confidence=0.85,
                limit=ODD_SAMPLES,
                from_s=from_s,
                to_s=to_s,
            )
        )
    if (week.n_pressure_dropouts or 0) >= DROPOUTS.value:
        found.append(
            BadChannel(
                channel="pressure_kpa",
                cause=OUT_OF_RANGE,
                value=0.0,
                why=(
                    f"{week.n_pressure_dropouts} times for a moment and then was back where it"
                    " was: water does not jump like that"
                ),
                consequence=POOR,
                confidence=0.65,
                limit=DROPOUTS,
            )
        )
    swapped = week.suction_over_pressure_share or 0.0
    if swapped >= REST_SHARE.value and week.run_s >= ODD_RUN_S.value:
        found.append(
            BadChannel(
                channel="suction_kpa",
                cause=OUT_OF_RANGE,
                value=100 * swapped,
                is_share=True,
                why="above the discharge pressure while the pump runs: the two may be swapped",
                consequence=LOG_ONLY,
                confidence=0.65,
                limit=REST_SHARE,
            )
        )
    return tuple(found)


def _left_out(case: Case) -> tuple[BadChannel, ...]:
    """Values that loading left out as no pump can show them.

    Where they are most of the log, many different ones are rather a column in another unit.
    """
    found = []
    for one in case.left_out:
        is_one_value = 2 * one.n_of_value > one.n_values
        if one.n_values < ODD_SAMPLES.value:
            continue
        if one.n_values >= case.week.n_samples and not is_one_value:
            continue
        found.append(
            BadChannel(
                channel=one.channel,
                cause=OUT_OF_RANGE,
                value=one.value,
                why=f"in {one.n_values} samples of the week, which are left out: no pump shows it",
                consequence=POOR if one.channel == "pressure_kpa" else LOG_ONLY,
                confidence=0.85,
                limit=ODD_SAMPLES,
                is_left_out=True,
                from_s=(one.first_at - case.week.from_at).total_seconds(),
                to_s=(one.last_at - case.week.from_at).total_seconds(),
            )
        )
    return tuple(found)


def _offset(case: Case) -> tuple[BadChannel, ...]:
    """Only what can be seen: a reading at a known zero, and a step that nothing else explains."""
    week, found = case.week, []
    at_rest_a = week.current_at_rest_a or 0.0
    running_a = week.current_p50_a or 0.0
    if at_rest_a >= max(REST_AMPS_MIN_A.value, REST_AMPS_SHARE.value * running_a) and running_a:
        found.append(
            _shifted("current_a", at_rest_a, "with the motor stopped", 0.6, REST_AMPS_SHARE)
        )
    below_kpa = week.rest_below_suction_kpa
    if below_kpa is not None and below_kpa >= REST_BELOW_SUCTION_KPA.value:
        why = "below the suction pressure at rest, where water would flow forward until both agree"
        found.append(_shifted("pressure_kpa", -below_kpa, why, 0.5, REST_BELOW_SUCTION_KPA))
    return (*found, *_stepped(case))


def _stepped(case: Case) -> tuple[BadChannel, ...]:
    """No-flow speed stepped at like pressure and suction: the pressure itself may be another.

    A rise is more often the pump, so it counts only where the suction was logged; no wear makes
    it fall.
    """
    drift = case.no_flow_drift
    if drift is None or drift.shape != "step":
        return ()
    level_is_known = case.pump.suction == "tank" and not drift.rises
    if not level_is_known and drift.suction_from != "logged":
        return ()
    at_hz = case.week.no_flow_hz  # of stops at the setting, which those of a dry pump are not
    if at_hz is None or abs(at_hz - drift.last_hz) > OFFSET_STEP_HZ.value / 2:
        return ()
    if case.pump.suction == "well" or abs(drift.total_hz) < OFFSET_STEP_HZ.value:
        return ()
    why = (
        f"since the speed at no flow went from {drift.first_hz:.0f} to {drift.last_hz:.0f} Hz at"
        " once, at like pressure and suction"
    )
    sure = 0.35 if drift.rises else 0.45
    return (_shifted("pressure_kpa", -drift.equivalent_kpa, why, sure, OFFSET_STEP_HZ),)


def _shifted(channel: str, value: float, why: str, sure: float, limit: Limit) -> BadChannel:
    return BadChannel(
        channel=channel,
        cause=OFFSET,
        value=value,
        why=why,
        consequence=LOG_ONLY,
        confidence=sure,
        limit=limit,
    )


_TESTS: tuple[Callable[[Case], tuple[BadChannel, ...]], ...] = (
    _below_zero,
    _out_of_range,
    stuck_pressure,
    stuck_current,
    stuck_speed,
    stuck_slow_channels,
    frozen,
    _left_out,
    _offset,
)
"""In this order the first reason found for a channel stands."""
