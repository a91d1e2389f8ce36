"""The marks of a still picture: lines, points, bars, limits, shaded spells and their words."""

from typing import TYPE_CHECKING, Any

import numpy as np

from dashboards.charts.picture_axes import Canvas, legend_columns, named_traces, plain
from dashboards.charts.theme import BLUE, INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DASHES = {"solid": "-", "dash": "--", "dot": ":", "dashdot": "-."}
_SYMBOLS = {"circle": "o", "square-open": "s", "diamond": "D", "triangle-up": "^"}
_NOTE_SIZE = 10.0
_BAR_SHARE = 0.8
_CAP_PX = 3


def draw_traces(canvas: Canvas) -> None:
    """Draw all traces.

    Raises
    ------
    ValueError
        A trace is of a type no chart of ours has had so far.
    """
    for trace in canvas.figure["data"]:
        row_name = trace.get("yaxis", "y")
        row = canvas.rows[row_name]
        if trace["type"] not in ("scatter", "bar"):
            raise ValueError(f"no still picture of a trace of type {trace['type']!r}")
        x, y = canvas.numbers(trace["x"], "x"), canvas.numbers(trace["y"], row_name)
        if trace["type"] == "bar":
            _draw_bars(row, x, y, trace)
            canvas.numbers([0.0], row_name)
        else:
            _draw_line(row, x, y, trace)
    _draw_legend(canvas)


def draw_shapes(canvas: Canvas) -> None:
    """Draw level lines, slanted lines and shaded spells, with their words."""
    for shape in canvas.layout.get("shapes", []):
        row_name, _, is_domain = shape["yref"].partition(" ")
        row = canvas.rows.get(row_name, canvas.bottom_row)
        if shape["type"] == "rect":
            _draw_band(canvas, row, shape, is_paper=row_name == "paper", is_domain=bool(is_domain))
        elif shape["xref"] == "paper":
            row.axhline(shape["y0"], **_line_style(shape["line"]))
        else:
            x = canvas.numbers([shape["x0"], shape["x1"]], "x")
            row.plot(x, [shape["y0"], shape["y1"]], **_line_style(shape["line"]))
            _write(row, float(x.mean()), (shape["y0"] + shape["y1"]) / 2, _label_of(shape))


def draw_notes(canvas: Canvas) -> None:
    """Write the names of level lines at one of their ends, on paper to stay legible."""
    for note in canvas.layout.get("annotations", []):
        row = canvas.rows[note["yref"]]
        row.annotate(
            plain(note["text"]),
            xy=(note["x"], note["y"]),
            xycoords=row.get_yaxis_transform(),
            ha=note["xanchor"],
            va="bottom",
            fontsize=_NOTE_SIZE,
            annotation_clip=False,
            bbox={"boxstyle": "square,pad=0.1", "fc": "#ffffffd1", "ec": "none"},
        )


def _draw_line(row: "Axes", x: Any, y: Any, trace: dict[str, Any]) -> None:
    has_line, has_marker = "lines" in trace["mode"], "markers" in trace["mode"]
    line, marker = trace.get("line", {}), trace.get("marker", {})
    color = line.get("color", BLUE) if has_line else marker.get("color", BLUE)
    symbol = marker.get("symbol", "circle")
    style = _line_style(line) if has_line else {"linestyle": "none", "color": color}
    style |= {
        "marker": _SYMBOLS[symbol] if has_marker else "",
        "markersize": float(marker.get("size", 6)) * 0.85,
        "markeredgecolor": marker.get("color", color),
        "markerfacecolor": "none" if symbol.endswith("-open") else marker.get("color", color),
        "drawstyle": "steps-post" if line.get("shape") == "hv" else "default",
        "label": plain(trace["name"]),
        "zorder": 3,
    }
    row.plot(x, y, **style)
    if (spread := trace.get("error_y")) is not None:
        row.errorbar(x, y, yerr=spread["array"], fmt="none", ecolor=color, capsize=_CAP_PX, lw=1)


def _draw_bars(row: "Axes", x: Any, y: Any, trace: dict[str, Any]) -> None:
    step = float(np.diff(np.unique(x)).min()) if np.unique(x).size > 1 else 1.0
    row.bar(x, np.nan_to_num(y), width=step * _BAR_SHARE, color=BLUE, ec=INK, lw=0.5, zorder=3)


def _draw_band(
    canvas: Canvas, row: "Axes", shape: dict[str, Any], *, is_paper: bool, is_domain: bool
) -> None:
    """Shade a spell: over the whole picture, over a row, or between two values of it."""
    from matplotlib.patches import Rectangle
    from matplotlib.transforms import Bbox, BboxTransformTo, blended_transform_factory

    transform: Any = row.transData
    if is_paper:
        area = Bbox.from_bounds(*canvas.area).transformed(canvas.paper.transFigure)
        transform = blended_transform_factory(row.transData, BboxTransformTo(area))
    elif is_domain:
        transform = row.get_xaxis_transform()
    x0, x1 = canvas.numbers([shape["x0"], shape["x1"]], "x").tolist()
    row.add_patch(
        Rectangle(
            (x0, shape["y0"]),
            x1 - x0,
            shape["y1"] - shape["y0"],
            transform=transform,
            facecolor=_color(shape["fillcolor"]),
            edgecolor=shape["line"].get("color", "none"),
            linewidth=shape["line"].get("width", 0),
            clip_on=False,
            zorder=0.5,
        )
    )
    if text := _label_of(shape):
        is_lane = is_paper and shape["y1"] - shape["y0"] < 1.0
        y = (shape["y0"] + shape["y1"]) / 2 if is_lane else shape["y1"]
        anchor = "center" if is_lane else "top"
        row.text(x0, y, f" {text}", transform=transform, va=anchor, fontsize=_NOTE_SIZE)


def _draw_legend(canvas: Canvas) -> None:
    shown = [plain(trace["name"]) for trace in named_traces(canvas.figure)]
    handles: dict[str, Any] = {}
    for row in canvas.rows.values():
        drawn, names = row.get_legend_handles_labels()
        handles.update(zip(names, drawn, strict=True))
    known = [name for name in dict.fromkeys(shown) if name in handles]
    if known:
        width_px = round(canvas.paper.get_figwidth() * canvas.paper.dpi)
        canvas.paper.legend(
            [handles[name] for name in known],
            known,
            loc="upper left",
            ncols=legend_columns(canvas.figure, width_px),
            frameon=False,
            fontsize=_NOTE_SIZE,
            borderaxespad=0.2,
            handlelength=2.2,
        )


def _write(row: "Axes", x: float, y: float, text: str) -> None:
    if text:
        row.text(x, y, text, ha="center", va="top", fontsize=_NOTE_SIZE)


def _label_of(shape: dict[str, Any]) -> str:
    return plain(shape.get("label", {}).get("text", ""))


def _line_style(line: dict[str, Any]) -> dict[str, Any]:
    return {
        "color": line.get("color", BLUE),
        "linewidth": float(line.get("width", 1.2)),
        "linestyle": _DASHES[line.get("dash", "solid")],
    }


def _color(text: str) -> Any:
    """Colour as Matplotlib takes it, from ``#rrggbb`` or ``rgba(r, g, b, a)``."""
    if not text.startswith("rgba("):
        return text
    red, green, blue, alpha = (float(part) for part in text[5:-1].split(","))
    return (red / 255, green / 255, blue / 255, alpha)
