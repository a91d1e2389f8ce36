"""The look all charts share, as plain dicts that Plotly draws: axes, lines, limits, bands.

A figure is a dict ``{"data": [...], "layout": {...}}`` built without ``plotly.graph_objects``:
ten times faster, and the bytes depend on nothing but the numbers. Numbers travel as base64 typed
arrays. Every line has its own dash or label, so that a grey print tells as much as the colours.
"""

import base64
import html
import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Figure = dict[str, Any]

INK = "#1d2429"
SOFT_INK = "#4c565d"
GRID = "#e3e0d8"
# Blue, vermilion, green, purple and sky: told apart in the common kinds of colour blindness
# (Okabe and Ito, "Color Universal Design", 2008).
BLUE = "#0072b2"
VERMILION = "#b34700"
GREEN = "#00795b"
PURPLE = "#9c4f7e"
SKY = "#56b4e9"
SHADE = "rgba(230, 159, 0, 0.22)"
NO_DATA_SHADE = "rgba(110, 110, 110, 0.22)"
QUIET_SHADE = "rgba(0, 114, 178, 0.10)"

_FONT = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', 'Liberation Sans', sans-serif"
_BUTTONS_PX = 28  # room above a plot for its buttons, which would cover labels within
_LABEL_SIZE = 11
_LABEL_HEIGHT_PX = 13
_LABEL_PLACES = {1.0: "right", 0.0: "left", 0.5: "center"}
_LEAST_HEIGHT_SHARE = 0.4  # of its height on the screen, as printed, margins off


def typed(values: ArrayLike, dtype: str = "f4") -> dict[str, str]:
    """Numbers as a base64 typed array, little-endian; NaN breaks a line."""
    array = np.ascontiguousarray(values, dtype=f"<{dtype}")
    return {"dtype": dtype, "bdata": base64.b64encode(array.tobytes()).decode("ascii")}


def escaped(text: str) -> str:
    """Text of the register as Plotly must show it: its own tags would else be obeyed."""
    return html.escape(text, quote=False).replace("%{", "% {")


def line(x: ArrayLike, y: ArrayLike, name: str, hover: str, **more: Any) -> dict[str, Any]:
    """Line over time (``x`` in ms of local clock time); ``hover`` is its value's format."""
    trace = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": typed(x, "f8"),
        "y": typed(y),
        "line": {"color": BLUE, "width": 1.2},
        "hovertemplate": f"%{{x|%a %d %b %H:%M:%S}}<br>{hover}<extra></extra>",
        "connectgaps": False,
        "showlegend": False,
    }
    return trace | more


def points(x: ArrayLike, y: ArrayLike, name: str, hover: str, **more: Any) -> dict[str, Any]:
    """Points over a quantity; ``hover`` is the whole hover text."""
    trace = {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": typed(x),
        "y": typed(y),
        "marker": {"color": BLUE, "size": 5},
        "hovertemplate": f"{hover}<extra></extra>",
        "showlegend": True,
    }
    return trace | more


def dated(days: list[str], values: list[float | None], name: str, hover: str) -> dict[str, Any]:
    """Values by day or week (``days`` as ISO dates), with a marker each."""
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": name,
        "x": days,
        "y": values,
        "line": {"color": BLUE, "width": 1.2},
        "marker": {"color": BLUE, "size": 7},
        "hovertemplate": f"%{{x|%a %d %b %Y}}<br>{hover}<extra></extra>",
        "connectgaps": False,
        "showlegend": True,
    }


def bars(days: list[str], values: list[float | None], name: str, hover: str) -> dict[str, Any]:
    """Bars by day (``days`` as ISO dates)."""
    return {
        "type": "bar",
        "name": name,
        "x": days,
        "y": values,
        "marker": {"color": BLUE, "line": {"color": INK, "width": 0.5}},
        "hovertemplate": f"%{{x|%a %d %b %Y}}<br>{hover}<extra></extra>",
        "showlegend": False,
    }


def axis(title: str, **more: Any) -> dict[str, Any]:
    """Axis with its quantity and unit as title."""
    made = {
        "title": {"text": title, "font": {"size": 12}, "standoff": 6},
        "gridcolor": GRID,
        "linecolor": SOFT_INK,
        "showline": True,
        "ticks": "outside",
        "tickcolor": SOFT_INK,
        "zeroline": False,
        "automargin": True,
    }
    return made | more


def time_axis(title: str, from_ms: float, to_ms: float, **more: Any) -> dict[str, Any]:
    """Axis of local clock time, named with its zone."""
    return axis(title, type="date", range=[from_ms, to_ms], hoverformat="%a %d %b %H:%M", **more)


def limit(value: float, text: str, *, row: str = "", **more: Any) -> dict[str, Any]:
    """Level drawn across a row with its label: a limit, a set point, a usual value.

    ``row`` is the suffix of the value axis: "" or "2".
    """
    made = {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": f"y{row}",
        "y0": value,
        "y1": value,
        "line": {"color": VERMILION, "width": 1.4, "dash": "dash"},
        "label": _label(text, "start", "bottom"),
    }
    return made | more


def set_point(value: float, text: str, *, row: str = "") -> dict[str, Any]:
    """Line of a setting: like a limit, but dash-dotted and in ink."""
    return limit(value, text, row=row, line={"color": INK, "width": 1.2, "dash": "dashdot"})


def band(from_x: Any, to_x: Any, text: str = "", **more: Any) -> dict[str, Any]:
    """Shaded spell of time over all rows, or over one with ``yref`` given."""
    made = {
        "type": "rect",
        "layer": "below",
        "xref": "x",
        "x0": from_x,
        "x1": to_x,
        "yref": "paper",
        "y0": 0,
        "y1": 1,
        "fillcolor": SHADE,
        "line": {"width": 0},
    }
    if text:
        made["label"] = _label(text, "top left", "top")
    return made | more


def stroke(x: list[float], y: list[float], text: str, *, row: str = "") -> dict[str, Any]:
    """Slanted line between two points in a row, labelled: a slope that was measured."""
    return {
        "type": "line",
        "xref": "x",
        "yref": f"y{row}",
        "x0": x[0],
        "x1": x[1],
        "y0": y[0],
        "y1": y[1],
        "line": {"color": VERMILION, "width": 2.2, "dash": "dot"},
        "label": _label(text, "middle", "bottom"),
    }


def layout(height: int, **more: Any) -> dict[str, Any]:
    """Common layout: paper white, small margins, legend below the plot."""
    made = {
        "height": height,
        "autosize": True,
        "margin": {"l": 8, "r": 12, "t": _BUTTONS_PX, "b": 8},
        "paper_bgcolor": "#ffffff",
        "plot_bgcolor": "#ffffff",
        "font": {"family": _FONT, "size": 12, "color": INK},
        "hovermode": "closest",
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "dragmode": "zoom",
    }
    return made | more


def figure(traces: list[dict[str, Any]], layout_: dict[str, Any]) -> Figure:
    """Figure of traces and layout.

    Labels of level lines get paper behind them to stay legible, and stand at the left where they
    would cover another at the right.
    """
    shapes: list[dict[str, Any]] = []
    levels: list[dict[str, Any]] = []
    for shape in layout_.get("shapes", []):
        label = shape.get("label")
        if shape.get("xref") != "paper" or shape["type"] != "line" or label is None:
            shapes.append(shape)
            continue
        shapes.append({key: value for key, value in shape.items() if key != "label"})
        levels.append(
            {
                "text": label["text"],
                "font": label["font"],
                "xref": "paper",
                "x": 1,
                "xanchor": "right",
                "yref": shape["yref"],
                "y": shape["y0"],
                "yanchor": "bottom",
                "showarrow": False,
                "bgcolor": "rgba(255, 255, 255, 0.82)",
                "borderpad": 1,
            }
        )
    _part_labels(levels, layout_)
    notes = [*layout_.get("annotations", []), *levels]
    return {"data": traces, "layout": layout_ | {"shapes": shapes, "annotations": notes}}


def _part_labels(levels: list[dict[str, Any]], layout_: dict[str, Any]) -> None:
    """Move labels to the left end of their lines, or to the middle, where the right is taken."""
    taken: dict[tuple[str, float], float] = {}  # by row and place, height of the last label [px]
    for note in sorted(levels, key=lambda each: (each["yref"], each["y"])):
        row = layout_[note["yref"].replace("y", "yaxis")]
        low, high = row.get("range", (0.0, 1.0))
        bottom, top = row.get("domain", (0.0, 1.0))
        row_px = (top - bottom) * layout_["height"] * _LEAST_HEIGHT_SHARE
        at_px = (note["y"] - low) / (high - low) * row_px
        free = [
            x
            for x in _LABEL_PLACES
            if at_px - taken.get((note["yref"], x), -math.inf) >= _LABEL_HEIGHT_PX
        ]
        x = free[0] if free else 1.0
        taken[note["yref"], x] = at_px
        note |= {"x": x, "xanchor": _LABEL_PLACES[x]}


def span(values: NDArray[np.float32], *levels: float | None) -> list[float]:
    """Range of a value axis that shows all finite values and levels with some air."""
    finite = values[np.isfinite(values)]
    ends = [float(level) for level in levels if level is not None]
    if finite.size:
        ends += [float(finite.min()), float(finite.max())]
    if not ends:
        return [0.0, 1.0]
    low, high = min(ends), max(ends)
    air = max((high - low) * 0.08, abs(high) * 0.005, 0.05)
    return [low - air, high + 2 * air]


def _label(text: str, position: str, anchor: str) -> dict[str, Any]:
    return {
        "text": escaped(text),
        "textposition": position,
        "yanchor": anchor,
        "font": {"size": _LABEL_SIZE, "color": INK},
        "padding": 2,
    }
