"""Readings that stand still although the pump starts, stops or changes speed.

Flat at rest is normal, and a control that holds its pressure shows it flat where the sensor is
coarse: only what must have moved a reading counts against it.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median_low

from analysis.case import Case
from analysis.detectors.gone_spells import Gone, gone_spells, of_kind
from analysis.detectors.spells import days_seen
from analysis.limits import (
    GONE_SHARE,
    HELD_SHARE,
    ODD_RUN_S,
    REST_AMPS_MIN_A,
    REST_AMPS_SHARE,
    REST_SHARE,
    SHUT_DOWN_KPA,
    SLOW_LOG_S,
    START_DUE_DAYS_SHARE,
    STILL_AT_TOP_S,
    STILL_EDGES,
    STILL_EDGES_AT_SET,
    STILL_EDGES_AT_SET_SLOW,
    STILL_FROZEN_S,
    STILL_HZ,
    STILL_LONG_S,
    STILL_RESTLESS_SHARE,
    STILL_RUNS,
    STUCK_LOW_SHARE,
    ZERO_AMPS_SHARE,
    Limit,
)
from analysis.records import PumpDay
from analysis.wording import count_text, pressure_text
from ingest.samples import CHANNELS

STUCK, OUT_OF_RANGE, OFFSET = "stuck", "out_of_range", "offset"
LOG_ONLY, POOR, NO_START, BURST = 2, 3, 4, 5

_AT_SET_SHARE = 0.03
_FAR_SHORT = 0.8  # of the setting: below, a control that believes it runs at full speed
_SAME_S = 120.0
_REST_RUN_SHARE = 0.01
_DAY = timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class BadChannel:
    """One channel that cannot be believed.

    Attributes
    ----------
    channel : str
        Log column in its inner unit.
    value : float
        What it reads, in that unit; a share of time in percent where ``is_share``.
    why : str
        What shows it, to follow the reading in a sentence.
    is_left_out : bool
        Only of values that are in no sample: what was loaded of the channel can be believed.
    from_s, to_s : float or None
        When, from the week's start; None for the whole week. [s]
    """

    channel: str
    cause: str
    value: float
    why: str
    consequence: int
    confidence: float
    limit: Limit
    is_share: bool = False
    is_left_out: bool = False
    from_s: float | None = None
    to_s: float | None = None


@dataclass(frozen=True)
class Still:
    """The telling unchanged stretch of one channel."""

    length_s: float
    value: float
    from_s: float
    edges: float
    range_hz: float
    run_share: float
    restless_share: float | None

    @property
    def run_s(self) -> float:
        """Running time inside it."""
        return self.length_s * self.run_share


def still_of(case: Case, channel: str) -> Still | None:
    """The unchanged stretch of a channel; None where there is none."""
    at, week = CHANNELS.index(channel), case.week
    lists = (
        week.channel_still_s,
        week.channel_still_value,
        week.channel_still_from_s,
        week.channel_still_edges,
        week.channel_still_range_hz,
        week.channel_still_run_share,
        week.channel_restless_share,
    )
    values = [None if column is None else column[at] for column in lists]
    length_s, value, from_s, edges, range_hz, run_share, restless = values
    if length_s is None or value is None or from_s is None:
        return None
    return Still(length_s, value, from_s, edges or 0, range_hz or 0, run_share or 0, restless)


def _stuck(
    channel: str, still: Still, why: str, consequence: int, confidence: float, limit: Limit
) -> BadChannel:
    return BadChannel(
        channel=channel,
        cause=STUCK,
        value=still.value,
        why=why,
        consequence=consequence,
        confidence=confidence,
        limit=limit,
        from_s=still.from_s,
        to_s=still.from_s + still.length_s,
    )


def _edges_text(still: Still) -> str:
    return f"unchanged through {still.edges:.0f} starts and stops"


def stuck_pressure(case: Case) -> tuple[BadChannel, ...]:
    """Pressure that stands still although the pump starts, stops or changes speed."""
    still, setting_kpa = still_of(case, "pressure_kpa"), case.pump.pressure_setting_kpa
    if still is None or not setting_kpa:
        return ()
    slow = case.week.log_interval_s > SLOW_LOG_S.value
    at_set_limit = STILL_EDGES_AT_SET_SLOW if slow else STILL_EDGES_AT_SET
    if _is_held(case, still, setting_kpa):
        if still.edges < at_set_limit.value:
            return ()
        return (_stuck("pressure_kpa", still, _edges_text(still), POOR, 0.8, at_set_limit),)
    if not _water_is_there(case, still, setting_kpa):
        return ()
    low = still.value < _FAR_SHORT * setting_kpa
    full_speed = low and still.run_share > REST_SHARE.value and _runs_at_top(case)
    consequence = BURST if full_speed else POOR
    if still.edges >= STILL_EDGES.value:
        return (_stuck("pressure_kpa", still, _edges_text(still), consequence, 0.9, STILL_EDGES),)
    if still.range_hz > STILL_HZ.value:
        why = f"unchanged while the speed moved by {still.range_hz:.0f} Hz"
        return (_stuck("pressure_kpa", still, why, consequence, 0.85, STILL_HZ),)
    if _is_lost_at_top(still, setting_kpa):
        why = "unchanged at full speed, with the motor's current that of a pump full of water"
        return (_stuck("pressure_kpa", still, why, BURST, 0.75, STILL_AT_TOP_S),)
    return ()


def _is_lost_at_top(still: Still, setting_kpa: float) -> bool:
    """Whether it stands too low at full speed, for too long to be water.

    Not so low it must be a sensor that flickers otherwise.
    """
    flickers = (still.restless_share or 0.0) >= STILL_RESTLESS_SHARE.value
    low_share = GONE_SHARE if flickers else STUCK_LOW_SHARE
    return still.value < low_share.value * setting_kpa and still.run_s >= STILL_AT_TOP_S.value


def _is_driven_to_top(case: Case, still: Still) -> bool:
    """Whether the pump ran at its top speed through it, as a control does that reads too little.

    However near its setting: a reading that stands lets the control go on to the top.
    """
    setting_kpa = case.pump.pressure_setting_kpa
    is_short = bool(setting_kpa) and still.value < HELD_SHARE.value * (setting_kpa or 0.0)
    most_s = REST_SHARE.value * still.length_s
    return is_short and still.run_s >= most_s and case.week.at_max_s >= most_s


def _is_held(case: Case, still: Still, setting_kpa: float) -> bool:
    """Whether a reading may be what the control holds, which a coarse sensor shows unchanged."""
    held_kpa = case.week.held_pressure_kpa
    near_kpa = max(_AT_SET_SHARE * setting_kpa, case.week.pressure_step_kpa or 0.0)
    if abs(still.value - setting_kpa) <= near_kpa:
        return True
    holds_it = held_kpa is not None and abs(still.value - held_kpa) <= near_kpa
    return holds_it and still.value >= _FAR_SHORT * setting_kpa


def _water_is_there(case: Case, still: Still, setting_kpa: float) -> bool:
    """Whether a low reading goes with the current of a pump full of water.

    Without that a dry pump whose protection retries it shows the same flat zero.
    """
    spells = gone_spells(case)
    if of_kind(spells, Gone.DRY, Gone.OPEN, Gone.UNTOLD):
        return False
    retried = still.edges >= STILL_EDGES.value
    maybe_dry = bool(of_kind(spells, Gone.MAYBE_DRY))
    return not (maybe_dry and retried) and (bool(spells) or _is_above_half(still, setting_kpa))


def _is_above_half(still: Still, setting_kpa: float) -> bool:
    return still.value >= 0.5 * setting_kpa or still.edges >= STILL_EDGES.value


def _runs_at_top(case: Case) -> bool:
    week = case.week
    highest_hz = week.frequency_max_hz
    return highest_hz is not None and highest_hz >= 0.9 * case.pump.max_hz


def stuck_current(case: Case) -> tuple[BadChannel, ...]:
    """Currents that outlast starts and stops, or none while the pump holds its pressure."""
    week, found = case.week, []
    for channel in ("current_a", "input_current_a"):
        still = still_of(case, channel)
        if still is not None and still.value > 0.0 and still.edges >= STILL_EDGES.value:
            found.append(_stuck(channel, still, _edges_text(still), LOG_ONLY, 0.9, STILL_EDGES))
    none_share = week.no_current_run_share or 0.0
    holds = (week.at_setting_share or 0.0) >= REST_SHARE.value
    if none_share >= ZERO_AMPS_SHARE.value and holds and week.run_s >= ODD_RUN_S.value:
        found.append(
            BadChannel(
                channel="current_a",
                cause=STUCK,
                value=0.0,
                why="while the pump runs and holds its pressure",
                consequence=LOG_ONLY,
                confidence=0.85,
                limit=ZERO_AMPS_SHARE,
            )
        )
    return tuple(found)


def stuck_speed(case: Case) -> tuple[BadChannel, ...]:
    """Frequency at zero all week while the motor takes current."""
    week, still = case.week, still_of(case, "frequency_hz")
    usual_a = case.pump.rated_amps or case.pump.service_factor_amps or 0.0
    takes_a = week.current_at_rest_a or 0.0
    needed_a = max(2 * REST_AMPS_MIN_A.value, 2 * REST_AMPS_SHARE.value * usual_a)
    if (
        still is None
        or week.run_s > 0
        or still.length_s < STILL_LONG_S.value
        or takes_a < needed_a
    ):
        return ()
    why = f"while the motor takes {takes_a:.1f} A"
    return (_stuck("frequency_hz", still, why, LOG_ONLY, 0.8, STILL_LONG_S),)


def stuck_slow_channels(case: Case) -> tuple[BadChannel, ...]:
    """Volts, temperature and flow that stand still for a day of use."""
    found = []
    for channel, wants_hz in (("voltage_v", False), ("drive_temp_c", False), ("flow_lpm", True)):
        still = still_of(case, channel)
        if still is None or still.length_s < STILL_LONG_S.value:
            continue
        if still.edges < STILL_RUNS.value or (wants_hz and still.range_hz <= STILL_HZ.value):
            continue
        why = f"{_edges_text(still)} for {still.length_s / 3600:.0f} h"
        if channel == "voltage_v" and still.value == case.pump.supply_volts:
            why += ", at the nominal figure itself: calculated rather than measured"
        found.append(_stuck(channel, still, why, LOG_ONLY, 0.8, STILL_LONG_S))
    return tuple(found)


def _usual_restlessness(case: Case, channel: str, still: Still) -> float:
    """How restless the channel is at rest usually: outside the stretch and in weeks before."""
    at = CHANNELS.index(channel)
    earlier = [w.channel_restless_share[at] for w in case.past if w.channel_restless_share]
    known = [share for share in (still.restless_share, *earlier) if share is not None]
    return median_low(known) if known else 0.0


def _days_to_last_start(case: Case, until_at: datetime) -> tuple[PumpDay, ...]:
    """Days seen that ended by then, up to the last that had a start.

    The days without one after it belong to what is asked about. None where those are more: then
    standing still is as usual as being used.
    """
    seen = [d for d in (*case.past_days, *case.days) if d.observed_s > 0]
    before = [day for day in seen if day.from_at + _DAY <= until_at]
    used_at = [at for at, day in enumerate(before) if day.n_starts > 0]
    n_to_last = used_at[-1] + 1 if used_at else 0
    return tuple(before[:n_to_last]) if 2 * n_to_last >= len(before) else ()


def _start_was_due(case: Case, still: Still) -> bool:
    """Whether a pump that starts on nearly all its days has rested a whole day in the stretch."""
    seen = _days_to_last_start(case, case.week.from_at + timedelta(seconds=still.from_s))
    n_used = sum(day.n_starts > 0 for day in seen)
    is_used = bool(seen) and n_used >= START_DUE_DAYS_SHARE.value * len(seen)
    return is_used and still.length_s >= STILL_LONG_S.value


def rests_untold(case: Case) -> str | None:
    """Why it is not known whether the pressure stands: no start all week where some were due.

    A house where nobody is looks the same by a coarse sensor. A reading that moved once is alive.
    """
    still, week = still_of(case, "pressure_kpa"), case.week
    has_moved = week.pressure_step_kpa is not None
    if still is None or has_moved or week.n_starts > 0 or still.run_share > _REST_RUN_SHARE:
        return None
    if _is_at_zero(still, is_suction=False) or not _start_was_due(case, still):
        return None
    last_used = _days_to_last_start(case, week.from_at)[-1]
    n_days = (days_seen(case)[-1].local_date - last_used.local_date).days
    return (
        f"no start for {count_text(n_days, 'day')} at a pump that was used daily, and a pressure"
        f" that stands at {pressure_text(still.value, case.site.units)}: nobody may be there, or"
        " the sensor stands and no water comes; ask there"
    )


def _is_at_zero(still: Still, *, is_suction: bool) -> bool:
    """Whether a sensor has nothing to show: the line is empty.

    A suction near zero is a usual one while the pump runs; only zero itself may be the end of a
    scale that shows no vacuum.
    """
    if is_suction and still.edges >= STILL_EDGES.value:
        return still.value == 0.0
    return abs(still.value) <= SHUT_DOWN_KPA.value


def frozen(case: Case) -> tuple[BadChannel, ...]:
    """Readings that lost the flicker they usually show at rest.

    In this week and the weeks before. Only one that moves by more than its rounding counts: a
    coarse one stands still between two steps and flickers just at their edge. Where two froze
    together the logger repeats a row and no sensor is at fault. A pressure that stands at rest
    lets nothing start, which shows where a start was due; one that stands below the setting
    drives the pump to its top speed.
    """
    found = []
    for channel in ("pressure_kpa", "suction_kpa", "voltage_v"):
        still = still_of(case, channel)
        is_suction = channel == "suction_kpa"
        if (
            still is not None
            and not _is_at_zero(still, is_suction=is_suction)
            and still.length_s >= STILL_FROZEN_S.value
            and _usual_restlessness(case, channel, still) >= STILL_RESTLESS_SHARE.value
        ):
            why = f"without its usual flicker for {still.length_s / 3600:.0f} h"
            rests = still.run_share <= _REST_RUN_SHARE and still.edges <= 1
            consequence = NO_START if rests and _start_was_due(case, still) else POOR
            consequence = BURST if _is_driven_to_top(case, still) else consequence
            consequence = consequence if channel == "pressure_kpa" else LOG_ONLY
            found.append(_stuck(channel, still, why, consequence, 0.65, STILL_FROZEN_S))
    starts_s = [bad.from_s for bad in found if bad.from_s is not None]
    together = len(starts_s) > 1 and max(starts_s) - min(starts_s) <= _SAME_S
    return () if together else tuple(found)
