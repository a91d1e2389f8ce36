"""Data gap: the log is silent for long enough that the week is not known.

Reads    times of samples only.
Causes   none: a silent logger, a site switched off and a late upload look alike. Of very many
         short silences it asks whether the logger writes only changes.
Misses   why it is silent.
"""

from collections.abc import Sequence
from datetime import datetime

from analysis.case import Case, Verdict
from analysis.detectors.certainty import Ground, weigh
from analysis.detectors.spells import days_seen
from analysis.findings import Judged, Kind, Needs
from analysis.limits import (
    CHANGES_ONLY_GAP_S,
    CHANGES_ONLY_GAPS,
    GAP_LONG_S,
    GAP_S,
    GAP_TOTAL_S,
    NIGHT_OBSERVED_SHARE,
    OVER_LIMIT_DAY_S,
    STARTS_RISE_MIN,
    STARTS_RISE_RATIO,
    THERMAL_NEAR_TRIP_PCT,
    UNDERVOLTAGE_DAY_S,
)
from analysis.records import PumpDay, PumpWeek
from analysis.wording import duration_text, join_text, local_date_text
from ingest.installed_base import Pump, Site
from ingest.layout import NEEDED_CHANNELS
from ingest.left_out import LeftOutValues
from ingest.weeks import local_days, parse_week

KIND = Kind.DATA_GAP
NEEDS = Needs(interval_max_s=float("inf"))

HOUSEKEEPING, MONEY_OR_WEAR = 1, 2
_NEEDED_NAMES = {
    "pressure_kpa": "pressure",
    "frequency_hz": "frequency",
    "current_a": "motor current",
}
NO_CAUSE = (
    "Logger or its link silent, site switched off, power cut, or files not sent yet: the log"
    " cannot tell which"
)
CHANGES_ONLY = (
    "A logger that writes a row only when a value changes: nothing is missing then, and a log"
    ' profile with values = "on_change" under [log] says so. Load its files with that again'
)


def judge(case: Case) -> Verdict:
    """Judge one pump-week; returns no finding or one."""
    week = case.week
    length_s = (week.to_at - week.from_at).total_seconds()
    lead_s = _unborn_s(case)
    is_silent = week.silent_s >= GAP_S.value
    late_s = 0.0 if is_silent else min(week.silent_s, week.gap_s)
    gap_s = max(0.0, week.gap_s - lead_s - late_s)
    share = gap_s / (length_s - lead_s) if lead_s < length_s else 0.0
    if gap_s < GAP_TOTAL_S.value and not is_silent:
        return ()
    worry = _worrying(case)
    confidence, grounds = weigh(
        0.9,
        [
            Ground(True, 0.0, f"{duration_text(gap_s)} of the week carry no sample"),
            Ground(bool(_n_left_out(case.left_out)), 0.0, _left_out_text(case.left_out)),
            *worry,
        ],
    )
    since_at = week.last_at if is_silent else _since(case, gap_s)
    nights = nights_missing(case)
    return (
        Judged(
            kind=KIND,
            cause="",
            consequence=_consequence(gap_s, bool(worry)),
            confidence=confidence,
            since_at=since_at,
            until_at=week.to_at if is_silent else week.last_at,
            measures={
                "gap_s": round(gap_s),
                "share_missing": round(share, 4),
                "n_gaps": week.n_gaps,
                "longest_gap_s": round(week.longest_gap_s),
                "silent_s": round(week.silent_s),
                "nights_missing": list(nights),
            },
            summary=_summary(case, gap_s, share, is_silent, nights),
            limit_source=(GAP_S if is_silent else GAP_TOTAL_S).source,
            grounds=grounds,
            alternatives=(CHANGES_ONLY, NO_CAUSE) if _may_be_changes(week) else (NO_CAUSE,),
        ),
    )


def judge_silence(
    site: Site,
    pump: Pump,
    last: PumpWeek,
    from_at: datetime,
    to_at: datetime,
    left_out: Sequence[LeftOutValues] = (),
) -> Judged:
    """Finding for a pump without a single sample in the week ``[from_at, to_at)``.

    Parameters
    ----------
    last : PumpWeek
        The last week in which the pump was heard.
    left_out : sequence of LeftOutValues
        Values of this week that no pump can show: where there are some, its log was not silent.
    """
    gap_s = (to_at - last.last_at).total_seconds()
    heard = local_date_text(last.last_at, site.timezone)
    return Judged(
        kind=KIND,
        cause="",
        consequence=_consequence(gap_s, is_worrying=False),
        confidence=0.95,
        since_at=last.last_at,
        until_at=to_at,
        measures={
            "gap_s": round(gap_s),
            "share_missing": 1.0,
            "silent_s": round(gap_s),
            "longest_gap_s": round(gap_s),
        },
        summary=(
            f"No row of pump {pump.pump_id} can be used since {heard},"
            f" {duration_text(gap_s)} to the end of the week: {_left_out_text(left_out)}."
            if _n_left_out(left_out)
            else f"Nothing has been heard of pump {pump.pump_id} since {heard},"
            f" {duration_text(gap_s)} to the end of the week."
        ),
        limit_source=GAP_S.source,
        grounds=("No sample in the whole week",),
        alternatives=(NO_CAUSE,),
    )


def _n_left_out(left_out: Sequence[LeftOutValues]) -> int:
    """Rows that came and cannot be used, as a value of one of their needed channels cannot be."""
    return max((one.n_values for one in left_out if one.channel in NEEDED_CHANNELS), default=0)


def _left_out_text(left_out: Sequence[LeftOutValues]) -> str:
    channels = [_NEEDED_NAMES[one.channel] for one in left_out if one.channel in NEEDED_CHANNELS]
    n_rows = _n_left_out(left_out)
    return f"{n_rows} rows came with a {join_text(channels, 'or')} that no pump can show"


def nights_missing(case: Case) -> tuple[str, ...]:
    """Local dates (ISO) of the week whose quiet window was not observed well enough."""
    if case.week.quiet_from_hour is None:
        return ()
    heard_from_at = case.week.from_at if case.past else case.week.first_at
    seen = {
        day.local_date
        for day in case.days
        if day.night_observed_share >= NIGHT_OBSERVED_SHARE.value
    }
    week = parse_week(case.week.week)
    return tuple(
        day.isoformat()
        for day, _, end_at in local_days(week, case.site.timezone)
        if day not in seen and end_at > heard_from_at
    )


def _since(case: Case, gap_s: float) -> datetime:
    """When the log began to fail.

    One silence that makes up most of what is missing tells by its beginning. Of scattered ones
    the longest says nothing: the first day does that lacks a day's part of the limit.
    """
    week = case.week
    longest_at = week.longest_gap_from_at
    if longest_at is not None and 2 * week.longest_gap_s >= gap_s:
        return longest_at
    heard_s = {day.local_date: day.observed_s for day in case.days}
    for day, from_at, end_at in local_days(parse_week(week.week), case.site.timezone):
        missing_s = (end_at - from_at).total_seconds() - heard_s.get(day, 0.0)
        is_unborn = not case.past and end_at <= week.first_at
        if is_unborn or missing_s <= GAP_TOTAL_S.value / 7:
            continue
        if longest_at is not None and from_at <= longest_at < end_at:
            return longest_at
        return from_at if case.past else max(from_at, week.first_at)
    return longest_at or week.first_at


def _unborn_s(case: Case) -> float:
    """Silence before a pump's very first sample: nothing says it should have been heard."""
    if case.past:
        return 0.0
    return max(0.0, (case.week.first_at - case.week.from_at).total_seconds())


def _consequence(gap_s: float, is_worrying: bool) -> int:
    return MONEY_OR_WEAR if is_worrying or gap_s >= GAP_LONG_S.value else HOUSEKEEPING


def _worrying(case: Case) -> list[Ground]:
    """What the last sight of a pump that went silent showed."""
    seen = days_seen(case)
    if case.week.silent_s < GAP_S.value or not seen:
        return []
    last, before = seen[-1], seen[:-1]
    thermal = case.week.thermal_max_pct or 0.0
    reasons = [
        Ground(
            (last.undervoltage_s or 0.0) > UNDERVOLTAGE_DAY_S.value,
            0.0,
            "Volts were low on the last day heard: a logger often dies with its supply",
        ),
        Ground(
            (last.over_limit_s or 0.0) > OVER_LIMIT_DAY_S.value
            or thermal >= THERMAL_NEAR_TRIP_PCT.value,
            0.0,
            "Motor current was near its limit before the silence",
        ),
        Ground(
            _far_more_starts(last, before),
            0.0,
            "It started far more often than usual on the last day heard",
        ),
    ]
    return [ground for ground in reasons if ground.holds]


def _may_be_changes(week: PumpWeek) -> bool:
    """Whether the silences may lie between changes: very many, and none of them long."""
    return (
        week.n_gaps >= CHANGES_ONLY_GAPS.value
        and week.gap_s <= CHANGES_ONLY_GAP_S.value * week.n_gaps
    )


def _far_more_starts(last: PumpDay, before: tuple[PumpDay, ...]) -> bool:
    rates = sorted(day.n_starts / day.observed_s for day in before)
    if len(rates) < 2:
        return False
    usual = rates[len(rates) // 2]
    return (
        last.n_starts >= STARTS_RISE_MIN.value
        and last.n_starts / last.observed_s > STARTS_RISE_RATIO.value * usual
    )


def _summary(
    case: Case, gap_s: float, share: float, is_silent: bool, nights: tuple[str, ...]
) -> str:
    zone = case.site.timezone
    missed = f"; {len(nights)} of 7 nights are missing" if nights else ""
    if is_silent:
        since = local_date_text(case.week.last_at, zone)
        silent = duration_text(case.week.silent_s)
        return f"The log has been silent since {since}, {silent} to the end of the week{missed}."
    longest_at = case.week.longest_gap_from_at
    longest = (
        f", the longest {duration_text(case.week.longest_gap_s)}"
        f" from {local_date_text(longest_at, zone)}"
        if longest_at is not None
        else ""
    )
    gaps = join_text([f"{duration_text(gap_s)} of the week", f"{share * 100:.0f} %"], "or")
    many = (
        f" It is silent {case.week.n_gaps} times: does it write a row only when a value changes?"
        if _may_be_changes(case.week)
        else ""
    )
    return f"The log is missing {gaps}{longest}{missed}.{many}"
