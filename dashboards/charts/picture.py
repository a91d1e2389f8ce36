"""A chart as a still picture (SVG or PNG), for files that must show it without any script.

Plotly's script is 4.8 MB, and no Python package ships a smaller build of it; a mail program's
preview on a phone runs no script at all. So the same figure that Plotly draws in a browser is
drawn here with Matplotlib, at the width it is read at.
"""

import io
import re
from typing import Any

from dashboards.charts.picture_axes import Canvas, make_canvas
from dashboards.charts.picture_marks import draw_notes, draw_shapes, draw_traces
from dashboards.charts.theme import INK, Figure

PHONE_PX, PAPER_PX = 340, 720
"""Widths drawn for a phone of 360 px and for a printed side or a desk. [px]"""

PAPER_HEIGHT_SHARE = 0.6
"""Height of a picture on paper beside its height on a screen: what leaves room for the words."""

_PNG_SCALE = 2
_SALT = "pumprounds"  # the ids in an SVG would else change with every run
_STYLE: Any = {
    "font.family": "sans-serif",
    "font.size": 11.0,
    "text.color": INK,
    "text.parse_math": False,
    "svg.fonttype": "none",
    "svg.hashsalt": _SALT,
    "path.simplify": True,
}
_IN_POINTS = re.compile(rb'(width|height)="([\d.]+)pt"')  # drawn at one point a pixel
_PATH_DATA = re.compile(rb' d="([^"]*)"')
_DECIMALS = re.compile(rb"(\.\d)\d+")
_SPACES = re.compile(rb"\s+")


def picture_svg(figure: Figure, width_px: int = PAPER_PX, height_share: float = 1.0) -> bytes:
    """Return a figure as SVG of that width; the same figure gives the same bytes."""
    svg = _saved(figure, width_px, height_share, "svg")
    svg = _IN_POINTS.sub(rb'\1="\2"', svg[svg.index(b"<svg") :], count=2)
    return _PATH_DATA.sub(_shortened, svg)


def picture_png(figure: Figure, width_px: int = PAPER_PX) -> bytes:
    """Return a figure as PNG, two dots for each pixel of the width."""
    return _saved(figure, width_px, 1.0, "png")


def _saved(figure: Figure, width_px: int, height_share: float, file_format: str) -> bytes:
    import matplotlib as mpl

    with mpl.rc_context(_STYLE):
        canvas = make_canvas(figure, width_px, height_share)
        _draw(canvas)
        buffer = io.BytesIO()
        no_stamp = {"Date": None, "Creator": None} if file_format == "svg" else {"Software": None}
        canvas.paper.savefig(
            buffer, format=file_format, dpi=canvas.paper.dpi * _PNG_SCALE, metadata=no_stamp
        )
    return buffer.getvalue()


def _draw(canvas: Canvas) -> None:
    draw_traces(canvas)
    canvas.set_ranges()
    draw_shapes(canvas)
    draw_notes(canvas)
    canvas.set_ticks()


def _shortened(match: re.Match[bytes]) -> bytes:
    """Path with a tenth of a pixel kept: a third of the bytes."""
    return b' d="%b"' % _SPACES.sub(b" ", _DECIMALS.sub(rb"\1", match[1])).strip()
