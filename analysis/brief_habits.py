"""What a pump's past tells: since when it counts, rhythm, flow, and the current to expect."""

from collections.abc import Sequence

from analysis.baseline import baseline_of
from analysis.brief_facts import Fact
from analysis.expected_current import ExpectedCurrent, fit_expected_current
from analysis.findings import Finding, Kind
from analysis.limits import (
    QUIET_BY_DAY_FROM_H,
    QUIET_BY_DAY_TO_H,
    QUIET_CLEAR_RATIO,
    QUIET_HOURS,
    RHYTHM_SHOWN,
)
from analysis.no_flow import STEADY, STEP, NoFlowDrift, no_flow_drift, what_moved
from analysis.records import OpMapBin, PumpDay, PumpWeek
from analysis.rhythm import Rhythm, rhythm_of
from analysis.week_flow import METER, WeekFlow, week_flow
from analysis.wording import (
    amps_text,
    count_text,
    figures_text,
    flow_range_text,
    flow_text,
    local_date_text,
    percent_text,
    shown_unit,
    volume_text,
)
from ingest.installed_base import Pump, Register

EXPECTS_CURRENT = (Kind.OVERLOAD_MARGIN, Kind.DRY_RUNNING, Kind.WEAK_DELIVERY)
"""Kinds that rest on the expected current."""

_LAG_NAMES = {24: "day after day", 48: "every other day", 168: "week after week"}
_L_PER_M3 = 1000.0


def habits(
    register: Register,
    pump: Pump,
    weeks: Sequence[PumpWeek],
    days: Sequence[PumpDay],
    op_map: Sequence[OpMapBin],
    findings: Sequence[Finding] = (),
) -> tuple[Fact, ...]:
    """Facts from a pump's weeks on record, the last of them the week told about.

    Parameters
    ----------
    weeks, days, op_map
        Records up to that week, oldest first; ``weeks`` not empty.
    findings : sequence of Finding
        Of the site this week: beside one of ``EXPECTS_CURRENT`` the expected current is fitted
        and told too.
    """
    week, site = weeks[-1], register.sites[pump.site_id]
    baseline = baseline_of(register, pump, weeks)
    since_at = baseline.since_at
    past = tuple(w for w in weeks[:-1] if since_at is None or w.from_at >= since_at)
    names = {w.week for w in (*past, week)}
    by_week: dict[str, list[OpMapBin]] = {}
    for cell in op_map:
        if cell.week in names:
            by_week.setdefault(cell.week, []).append(cell)
    maps = [tuple(by_week[name]) for name in sorted(by_week)]
    curve = register.curve_of(pump.pump_model)
    this_days = [day for day in days if day.week == week.week]
    earlier_days = [day for day in days if day.week in names and day.week != week.week]
    told = []
    if since_at is not None and baseline.cuts_past:
        when = local_date_text(since_at, site.timezone)
        told.append(Fact("Compared since", f"{when}: {baseline.why}"))
    told += _rhythm(rhythm_of(week, this_days, past, earlier_days), site.timezone)
    told += _flow(week_flow(week, pump, curve, maps, past), site.units)
    told += _no_flow(no_flow_drift((*past, week), pump, maps), pump, site.units)
    if any(f.pump_id == pump.pump_id and f.kind in EXPECTS_CURRENT for f in findings):
        told += _expected(fit_expected_current(maps, pump, week.week), week)
    return tuple(told)


def _rhythm(rhythm: Rhythm, timezone: str) -> list[Fact]:
    told = []
    if rhythm.quiet_from_hour is not None:
        hours = _quiet_text(rhythm.quiet_from_hour, rhythm.quiet_ratio, timezone)
        told.append(Fact("Quietest hours", hours))
    known = {lag: value for lag, value in rhythm.correlation.items() if value is not None}
    if known:
        lag = max(known, key=lambda lag: known[lag])
        if known[lag] >= RHYTHM_SHOWN.value:
            told.append(Fact("Use repeats", f"{_LAG_NAMES[lag]} (correlation {known[lag]:.1f})"))
    if rhythm.texts:
        told.append(Fact("Its week", "; ".join(rhythm.texts)))
    return told


def _quiet_text(from_hour: int, ratio: float | None, timezone: str) -> str:
    """Quietest hours; clearly so by day, they ask whether the clock is right."""
    until = (from_hour + int(QUIET_HOURS.value)) % 24
    hours = f"{from_hour:02d}:00 to {until:02d}:00"
    is_by_day = QUIET_BY_DAY_FROM_H.value <= from_hour < until <= QUIET_BY_DAY_TO_H.value
    if not is_by_day or ratio is None or ratio > QUIET_CLEAR_RATIO.value:
        return hours
    return (
        f"{hours}, by day: does the site draw at night, or is its time zone ({timezone}) or the"
        " logger's clock wrong?"
    )


def _flow(flow: WeekFlow | None, units: str) -> list[Fact]:
    """Flow, water and energy; an estimate says so and gives its band."""
    if flow is None:
        return []
    middle, low, high = flow.median_lpm
    if flow.basis == METER:
        told = [Fact("Flow while running", f"{flow_text(middle, units)} (flow meter)")]
    else:
        band = flow_range_text(low, high, units)
        told = [Fact("Flow while running, estimate", f"{flow_text(middle, units)} ({band})")]
    if flow.volume_l is not None:
        name = "Water this week" if flow.basis == METER else "Water this week, estimate"
        told.append(Fact(name, volume_text(flow.volume_l[0], units)))
    if flow.kwh_per_m3 is not None:
        told.append(Fact("Energy, estimate", _energy_text(flow.kwh_per_m3, units)))
    if flow.meter is not None:
        share = f"the meter shows {percent_text(100 * flow.meter.ratio)} of it"
        told.append(Fact("Meter against curve", flow.meter.text or share))
    return told


def _energy_text(kwh_per_m3: tuple[float, float, float], units: str) -> str:
    per_1000_gal = shown_unit("volume", "us").per_shown * 1000.0 / _L_PER_M3
    factor, label = (per_1000_gal, "kWh per 1000 gal") if units == "us" else (1.0, "kWh/m3")
    value, low, high = (figures_text(factor * kwh) for kwh in kwh_per_m3)
    return f"{value} {label} ({low} to {high})"


def _no_flow(drift: NoFlowDrift | None, pump: Pump, units: str) -> list[Fact]:
    if drift is None or drift.shape == STEADY:
        return []
    how = "at once" if drift.shape == STEP else "bit by bit"
    way = "up" if drift.total_hz > 0.0 else "down"
    moved = " or ".join(what_moved(drift, pump, units))
    hz = figures_text(abs(drift.total_hz))
    weeks = count_text(drift.n_weeks, "week")
    return [Fact("No-flow speed", f"{way} {hz} Hz {how} in {weeks}: {moved}")]


def _expected(expected: ExpectedCurrent | None, week: PumpWeek) -> list[Fact]:
    """The fit, its validation error and where it holds."""
    if expected is None:
        return [Fact("Expected current", "too little running on record to learn it")]
    at = None if week.f0_hz is None else expected.at_frequency(week.f0_hz)
    near = "" if at is None else f"{amps_text(at[0])} at no flow; "
    source = f"learned from {count_text(expected.n_bins, 'point')}"
    if expected.includes_week_judged:
        source += ", this week's among them"
    return [
        Fact(
            "Expected current",
            f"{near}right within {percent_text(expected.validation_error_pct)} on weeks left out,"
            f" {expected.frequency_low_hz:.0f} to {expected.frequency_high_hz:.0f} Hz; {source}",
        )
    ]
