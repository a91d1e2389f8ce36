"""A short spell of the week in full: a row for each channel on one time axis."""

from typing import Any

from dashboards.charts import theme
from dashboards.charts.quantity import Quantity
from dashboards.charts.scene import Scene

Row = tuple[str, Quantity, list[dict[str, Any]]]
"""Channel, what it shows, and its level lines."""

_ROW_HEIGHT_PX = 150
_ROW_GAP = 0.05
_BUCKETS = 300
_DOTS_MOST = 400


def closeup(
    scene: Scene, window_us: tuple[int, int], rows: list[Row], marks: list[dict[str, Any]]
) -> theme.Figure:
    """Draw rows of channels over a spell, each sample a dot where there is room.

    Parameters
    ----------
    window_us : tuple of int
        First and last instant. [us]
    rows : list of Row
        From top to bottom.
    marks : list of dict
        Shapes over all rows.
    """
    part = scene.part(*window_us)
    mode = "lines+markers" if part.stop - part.start <= _DOTS_MOST else "lines"
    height = len(rows) * _ROW_HEIGHT_PX + 70
    each = (1.0 - _ROW_GAP * (len(rows) - 1)) / len(rows)
    layout = theme.layout(height, showlegend=False)
    traces, shapes = [], list(marks)
    for index, (channel, what, levels) in enumerate(rows):
        row = str(index + 1) if index else ""
        thinned = scene.thinned(channel, what, _BUCKETS, part)
        top = 1.0 - index * (each + _ROW_GAP)
        traces.append(
            theme.line(
                thinned.x_ms,
                thinned.y,
                what.name,
                what.hover,
                xaxis="x",
                yaxis=f"y{row}",
                mode=mode,
                marker={"size": 4, "color": theme.BLUE},
            )
        )
        layout[f"yaxis{row}"] = theme.axis(
            what.title,
            domain=[max(0.0, top - each), top],
            range=theme.span(thinned.y, *(level["y0"] for level in levels)),
            nticks=5,
        )
        shapes += [level | {"yref": f"y{row}"} for level in levels]
    layout["xaxis"] = theme.time_axis(
        f"Time ({scene.zone})",
        scene.clock_ms(window_us[0]),
        scene.clock_ms(window_us[1]),
        anchor=f"y{len(rows)}" if len(rows) > 1 else "y",
        tickformat="%H:%M:%S\n%a %d %b",
    )
    layout["shapes"] = shapes
    return theme.figure(traces, layout)
