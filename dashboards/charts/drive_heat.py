"""Evidence of overheating: controller temperature over the week and over the days before."""

from typing import Any

from analysis.limits import DRIVE_HOT_C
from dashboards.charts import quantity, theme
from dashboards.charts.quantity import Quantity
from dashboards.charts.scene import Chart, Scene

_DAYS_SHOWN = 91


def temperature_over_week(scene: Scene, n_buckets: int) -> Chart | None:
    """Draw the week's controller temperature, or None where none was logged."""
    what = quantity.temperature(scene.units)
    thinned = scene.thinned("drive_temp_c", what, n_buckets)
    if not thinned.y.size:
        return None
    level = _hot(what)
    layout = theme.layout(
        280,
        shapes=[level],
        yaxis=theme.axis(what.title, range=theme.span(thinned.y, level["y0"])),
        xaxis=dict(scene.week_axis()),
    )
    return Chart(
        title="Controller temperature over the week",
        reading="Peaks that follow the pump's runs are its own heat; a hump every clear afternoon"
        " is the sun or the room; a flat top is a drive that cuts its output to hold it.",
        figure=theme.figure([theme.line(thinned.x_ms, thinned.y, what.name, what.hover)], layout),
    )


def by_day(scene: Scene) -> Chart | None:
    """Draw hottest and coolest quarter hour by day, or None where no day has them."""
    days = [day for day in scene.pump.days if day.drive_hot_c is not None][-_DAYS_SHOWN:]
    if not days:
        return None
    what = quantity.temperature(scene.units)
    dates = [day.local_date.isoformat() for day in days]

    def shown(values: list[float | None]) -> list[float | None]:
        return [None if value is None else round(what.of(value), 1) for value in values]

    hot = shown([day.drive_hot_c for day in days])
    cool = shown([day.drive_cool_c for day in days])
    traces = [
        theme.dated(dates, hot, "hottest quarter hour with the pump running", what.hover),
        theme.dated(dates, cool, "coolest, long stopped", what.hover)
        | {"line": {"color": theme.INK, "width": 1, "dash": "dot"}},
    ]
    traces[1]["marker"] = {"symbol": "diamond", "size": 7, "color": theme.INK}
    layout = theme.layout(
        340,
        shapes=[_hot(what)],
        yaxis=theme.axis(what.title),
        xaxis=theme.axis(f"Day ({scene.zone})", type="date", tickformat="%d %b"),
    )
    return Chart(
        title="Controller temperature by day, running and at rest",
        reading="Dots are the hottest quarter of an hour with the pump running, diamonds the"
        " coolest at rest, which stand for the air around it. A widening space between them is"
        " more load or less cooling; both rising together are the season or the room.",
        figure=theme.figure(traces, layout),
    )


def _hot(what: Quantity) -> dict[str, Any]:
    return theme.limit(what.of(DRIVE_HOT_C.value), f"hot {what.text(DRIVE_HOT_C.value, 0)}")
