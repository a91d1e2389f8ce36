"""Before and after a fix: the fault's own measure week by week, with the day of the visit."""

from datetime import timedelta

from analysis.fix_weeks import SIZE_NAMES, FixWeeks
from analysis.wording import ShownUnit, shown_unit
from dashboards import labels
from dashboards.charts import theme
from dashboards.charts.scene import Chart

_SHOWN: dict[str, ShownUnit] = {
    "starts_per_day": ShownUnit("1/day"),
    "voltage_min_pct": ShownUnit("%"),
    "current_p95_a": ShownUnit("A"),
    "short_of_setting_s": ShownUnit("min", 60.0),
    "gap_s": ShownUnit("h", 3600.0),
}
_AIR = 0.08
_LEVELS = ("voltage_min_pct", "current_p95_a")
"""Measures that a repair brings to a level, not to nothing."""

_SITE_UNITS = {"leak_lpm": "flow", "swing_kpa": "pressure"}


def before_and_after(fix: FixWeeks, units: str) -> Chart:
    """Draw the weeks around a fix: filled where the kind was found, open where it was not."""
    unit = _unit(fix.measure, units)
    name = SIZE_NAMES[fix.measure]
    visited = fix.visit.visited_on.isoformat()
    traces = []
    for is_found, words, color, symbol in (
        (True, "found", theme.VERMILION, "diamond"),
        (False, "not found", theme.BLUE, "square-open"),
    ):
        weeks = [week for week in fix.weeks if week.is_found == is_found]
        if not weeks:
            continue
        sizes = [None if w.size is None else round(unit.of(w.size), 3) for w in weeks]
        # A week's point stands in its middle, so that the day of the visit can part two weeks.
        days = [(week.monday + timedelta(days=3)).isoformat() for week in weeks]
        hover = f"%{{y:.3g}} {unit.label}"
        trace = theme.dated(days, sizes, f"week with the fault {words}", hover)
        trace |= {
            "mode": "markers",
            "marker": {"color": color, "size": 9, "symbol": symbol},
        }
        traces.append(trace)
    ends = _range(fix, unit)
    line = theme.dated([visited, visited], [*ends], f"fixed on {visited}", unit.label)
    line |= {"mode": "lines", "line": {"color": theme.INK, "width": 1.5, "dash": "dash"}}
    layout = theme.layout(
        280,
        yaxis=theme.axis(f"{name[0].upper()}{name[1:]} ({unit.label})", range=ends),
        xaxis=theme.axis("Week (by its Thursday)", type="date", tickformat="%d %b"),
    )
    return Chart(
        title=f"Before and after the fix of {visited}: {labels.kind_text(fix.kind).lower()}",
        reading=f"{fix.text(units)} Diamonds are weeks in which the fault was found, squares weeks"
        " in which it was not; the line is the visit.",
        figure=theme.figure([*traces, line], layout),
    )


def _range(fix: FixWeeks, unit: ShownUnit) -> list[float]:
    """Ends of the value axis: from nothing where nothing is what a repair makes of it."""
    known = [unit.of(week.size) for week in fix.weeks if week.size is not None]
    low, high = min(known), max(known)
    if fix.measure not in _LEVELS:
        low = 0.0
    air = _AIR * (high - low) or 0.5
    return [low - air, high + air]


def _unit(measure: str, units: str) -> ShownUnit:
    if measure in _SITE_UNITS:
        return shown_unit(_SITE_UNITS[measure], units)
    return _SHOWN[measure]
