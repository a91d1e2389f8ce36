"""Which charts show a finding: the one that shows it best first."""

from collections.abc import Callable, Mapping

from analysis.drift import current_drift
from analysis.findings import Finding, Kind
from analysis.records import OpMapBin
from dashboards.charts import (
    at_speed,
    cycling,
    data_gap,
    drive_heat,
    hunting,
    leak,
    overload,
    trips,
    undervoltage,
)
from dashboards.charts.scene import Chart, Scene

_WEEK_BUCKETS = 600


def evidence(scene: Scene, finding: Finding) -> list[Chart]:
    """Charts of a finding.

    A setting has none, its numbers are in its sentence; a sensor fault shows in the week's own
    rows.
    """
    draw = _DRAW.get(finding.kind)
    made = draw(scene, finding) if draw else []
    return [chart for chart in made if chart is not None]


def _short_cycling(scene: Scene, finding: Finding) -> list[Chart | None]:
    limit = finding.measures.get("starts_per_day_limit")
    per_day = float(limit) if isinstance(limit, int | float) else None
    text = "" if per_day is None else f"limit {per_day:.0f} a day"
    return [cycling.typical_cycles(scene), cycling.starts_by_day(scene, per_day, text)]


def _leak(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [leak.night(scene), leak.nights(scene)]


def _undervoltage(scene: Scene, finding: Finding) -> list[Chart | None]:
    load = undervoltage.volts_against_load(scene)
    week = undervoltage.volts_over_week(scene, _WEEK_BUCKETS)
    if finding.cause == "supply_source":
        return [undervoltage.idle_volts_by_hour(scene), week, load]
    return [load, undervoltage.drop_over_weeks(scene), week]


def _overload(scene: Scene, finding: Finding) -> list[Chart | None]:
    by_week: dict[str, list[OpMapBin]] = {}
    for cell in scene.pump.op_map:
        by_week.setdefault(cell.week, []).append(cell)
    drift = current_drift([tuple(by_week[week]) for week in sorted(by_week)])
    return [overload.current_over_weeks(scene, drift)]


def _dry_running(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [at_speed.ran_dry(scene, finding)]


def _weak_delivery(scene: Scene, finding: Finding) -> list[Chart | None]:
    short = at_speed.pressure_short(scene)
    if finding.cause == "low_voltage":
        return [short, undervoltage.volts_over_week(scene, _WEEK_BUCKETS)]
    return [short]


def _data_gap(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [data_gap.observed_by_day(scene)]


def _hunting(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [hunting.swings(scene)]


def _overheating(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [drive_heat.temperature_over_week(scene, _WEEK_BUCKETS), drive_heat.by_day(scene)]


def _controller_trip(scene: Scene, finding: Finding) -> list[Chart | None]:
    return [trips.around(scene, finding)]


_DRAW: Mapping[Kind, Callable[[Scene, Finding], list[Chart | None]]] = {
    Kind.SHORT_CYCLING: _short_cycling,
    Kind.LEAK: _leak,
    Kind.UNDERVOLTAGE: _undervoltage,
    Kind.OVERLOAD_MARGIN: _overload,
    Kind.DRY_RUNNING: _dry_running,
    Kind.WEAK_DELIVERY: _weak_delivery,
    Kind.DATA_GAP: _data_gap,
    Kind.HUNTING: _hunting,
    Kind.OVERHEATING: _overheating,
    Kind.CONTROLLER_TRIP: _controller_trip,
}
