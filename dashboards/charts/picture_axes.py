"""The axes of a still picture: rows, ranges and ticks as the figure's layout asks for them."""

import base64
import html
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from dashboards.charts.theme import GRID, SOFT_INK, Figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Paper

_DPI = 72  # so that a point is a pixel of the page
_LEFT_PX, _RIGHT_PX, _TOP_PX, _BOTTOM_PX = 58, 20, 14, 50
_LEGEND_LINE_PX = 17
_LEGEND_CHARACTER_PX = 6.2
_NARROW_PX, _NARROW_TITLE_SIZE = 500, 9.5
_TICK_EVERY_PX, _ROW_TICK_EVERY_PX = 90, 42
_MS_PER_DAY = 86_400_000.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)  # the clock of the site, written as if it were UTC
_AIR = 0.05


@dataclass
class Canvas:
    """A figure being drawn: its paper, one pair of axes a row, and what was drawn so far.

    Attributes
    ----------
    rows : dict
        Axes by the name the figure gives its value axis, "y" or "y2".
    area : tuple of float
        Left, bottom, width and height of all rows together, shares of the paper.
    values : dict
        What was drawn, by axis name ("x" too), for the ranges the layout leaves open.
    """

    figure: Figure
    paper: "Paper"
    rows: dict[str, "Axes"]
    area: tuple[float, float, float, float]
    values: dict[str, list[float]] = field(default_factory=dict)

    @property
    def layout(self) -> dict[str, Any]:
        """Layout of the figure."""
        return dict(self.figure["layout"])

    @property
    def bottom_row(self) -> "Axes":
        """Row whose time or quantity axis is written out."""
        return min(self.rows.values(), key=lambda row: float(row.get_position().y0))

    def numbers(self, values: Any, axis: str) -> NDArray[np.float64]:
        """Values of a trace or shape as numbers on an axis; days where that is of dates."""
        made = _numbers(values, self._axis(axis))
        self.values.setdefault(axis, []).extend(made[np.isfinite(made)].tolist())
        return made

    def is_date(self, axis: str) -> bool:
        """Say whether an axis is of dates."""
        return self._axis(axis).get("type") == "date"

    def set_ranges(self) -> None:
        """Give every axis the range of its layout, or one that holds all it shows."""
        for shape in self.layout.get("shapes", []):
            name = shape["yref"].split(" ")[0]
            if name in self.rows and " " not in shape["yref"]:
                self.numbers([shape["y0"], shape["y1"]], name)
        x_range = self._range("x")
        for name, row in self.rows.items():
            row.set_ylim(*self._range(name))
            row.set_xlim(*x_range)

    def set_ticks(self) -> None:
        """Put ticks, their labels and the axes' titles."""
        for name, row in self.rows.items():
            axis = self._axis(name)
            height_px = row.get_position().height * self.paper.get_figheight() * _DPI
            _set_ticks(row.yaxis, axis, int(height_px / _ROW_TICK_EVERY_PX) + 2)
            row.set_ylabel(plain(axis["title"]["text"]), labelpad=3)
            if row is not self.bottom_row:
                row.tick_params(axis="x", labelbottom=False)
        width_px = self.paper.get_figwidth() * _DPI
        axis = self._axis("x")
        for row in self.rows.values():
            _set_ticks(row.xaxis, axis, max(2, int(self.area[2] * width_px / _TICK_EVERY_PX)))
        size = _NARROW_TITLE_SIZE if width_px < _NARROW_PX else None
        self.bottom_row.set_xlabel(plain(axis["title"]["text"]), labelpad=3, fontsize=size)

    def _axis(self, name: str) -> dict[str, Any]:
        return dict(self.figure["layout"][f"{name[0]}axis{name[1:]}"])

    def _range(self, name: str) -> tuple[float, float]:
        axis = self._axis(name)
        if "range" in axis:
            low, high = _numbers(axis["range"], axis)
            return float(low), float(high)
        ends = self.values.get(name) or [0.0, 1.0]
        if axis.get("rangemode") == "tozero":
            ends = [*ends, 0.0]
        low, high = min(ends), max(ends)
        air = (high - low) * _AIR or 1.0
        is_at_zero = axis.get("rangemode") == "tozero" and low == 0.0
        return (low if is_at_zero else low - air), high + air


def make_canvas(figure: Figure, width_px: int, height_share: float) -> Canvas:
    """Lay out the paper: room for legend and titles, one row for each value axis."""
    from matplotlib.figure import Figure as Paper

    layout = figure["layout"]
    legend_px = legend_lines(figure, width_px) * _LEGEND_LINE_PX
    height_px = int(layout["height"] * height_share) + legend_px
    paper = Paper(figsize=(width_px / _DPI, height_px / _DPI), dpi=_DPI)
    area = (
        _LEFT_PX / width_px,
        _BOTTOM_PX / height_px,
        1.0 - (_LEFT_PX + _RIGHT_PX) / width_px,
        1.0 - (_BOTTOM_PX + _TOP_PX + legend_px) / height_px,
    )
    rows = {}
    for key in sorted(name for name in layout if name.startswith("yaxis")):
        low, high = layout[key].get("domain", (0.0, 1.0))
        row = paper.add_axes((area[0], area[1] + low * area[3], area[2], (high - low) * area[3]))
        row.set_facecolor(layout.get("plot_bgcolor", "#ffffff"))
        row.grid(color=GRID, linewidth=0.8)
        row.set_axisbelow(True)
        row.tick_params(color=SOFT_INK, length=4)
        row.spines[["top", "right"]].set_visible(False)
        row.spines[["left", "bottom"]].set_color(SOFT_INK)
        rows[f"y{key.removeprefix('yaxis')}"] = row
    return Canvas(figure=figure, paper=paper, rows=rows, area=area)


def named_traces(figure: Figure) -> list[dict[str, Any]]:
    """Traces that stand in the legend."""
    if figure["layout"].get("showlegend") is False:
        return []
    return [trace for trace in figure["data"] if trace.get("showlegend")]


def legend_columns(figure: Figure, width_px: int) -> int:
    """Columns of the legend that fit the width."""
    longest = max((len(plain(trace["name"])) for trace in named_traces(figure)), default=1)
    return max(1, int(width_px / (longest * _LEGEND_CHARACTER_PX + 40)))


def legend_lines(figure: Figure, width_px: int) -> int:
    """Lines the legend takes."""
    return -(-len(named_traces(figure)) // legend_columns(figure, width_px))


def plain(text: str) -> str:
    """Text of a figure without the escapes Plotly needs."""
    return html.unescape(text)


def _numbers(values: Any, axis: dict[str, Any]) -> NDArray[np.float64]:
    if isinstance(values, dict):
        values = np.frombuffer(base64.b64decode(values["bdata"]), dtype=f"<{values['dtype']}")
    kind = axis.get("type")
    if kind == "category":
        places = {name: float(place) for place, name in enumerate(axis["categoryarray"])}
        return np.array([np.nan if v is None else places.get(v, v) for v in values], dtype="f8")
    if kind == "date":
        if len(values) and isinstance(values[0], str):
            return np.array(values, dtype="datetime64[ms]").astype(np.float64) / _MS_PER_DAY
        return np.asarray(values, dtype=np.float64) / _MS_PER_DAY
    return np.array([np.nan if v is None else v for v in values], dtype="f8")


def _set_ticks(ticks: Any, axis: dict[str, Any], n_most: int) -> None:
    from matplotlib import dates, ticker

    if axis.get("type") == "category":
        places = axis["categoryarray"]
        ticks.set_major_locator(ticker.FixedLocator(range(len(places))))
        ticks.set_major_formatter(ticker.FixedFormatter(places))
    elif axis.get("type") == "date":
        # Matplotlib gives no types for this one
        auto = dates.AutoDateLocator(minticks=2, maxticks=n_most)  # type: ignore[no-untyped-call]
        ticks.set_major_locator(auto)
        first, _, second = axis.get("tickformat", "%d %b").partition("\n")
        ticks.set_major_formatter(ticker.FuncFormatter(_DateLabel(ticks, first, second)))
    elif "dtick" in axis:
        ticks.set_major_locator(ticker.MultipleLocator(axis["dtick"]))
    else:
        ticks.set_major_locator(ticker.MaxNLocator(nbins=n_most, steps=[1, 2, 5, 10]))


@dataclass(frozen=True)
class _DateLabel:
    """Labels of a time axis; the second line, the day, stands under the first tick of a day."""

    ticks: Any
    first: str
    second: str

    def __call__(self, place: float, position: int | None) -> str:
        at = _EPOCH + timedelta(days=place)
        before = [int(other) for other in self.ticks.get_majorticklocs()[: position or 0]]
        if not self.second or int(place) in before:
            return at.strftime(self.first)
        return at.strftime(f"{self.first}\n{self.second}")
