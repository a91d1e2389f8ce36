"""The pump's speed drawn below its pressure, on the same axis of time."""

from typing import Any

from dashboards.charts import quantity, theme
from dashboards.charts.scene import Scene


def speed_below(scene: Scene, n_buckets: int, part: slice) -> dict[str, Any]:
    """Steps of the speed over a part of the week, on the lower axis of the figure."""
    speeds = scene.thinned("frequency_hz", quantity.FREQUENCY, n_buckets, part)
    return theme.line(
        speeds.x_ms,
        speeds.y,
        quantity.FREQUENCY.name,
        quantity.FREQUENCY.hover,
        yaxis="y2",
        line={"color": theme.VERMILION, "width": 1.2, "shape": "hv"},
    )
