import io
import re

import numpy as np
import pytest
from PIL import Image

from analysis.findings import CAUSES, Kind
from dashboards.charts import theme
from dashboards.charts.evidence import evidence
from dashboards.charts.picture import PHONE_PX, picture_png, picture_svg
from dashboards.charts.week_strip import week_strip

EVERY_FINDING = [(kind, cause) for kind in Kind for cause in ("", *CAUSES[kind])]


def plot(y, **layout):
    x_ms = np.arange(len(y)) * 60_000.0
    axes = {"yaxis": theme.axis("Pressure (psi)"), "xaxis": theme.time_axis("T", 0.0, x_ms[-1])}
    return theme.figure(
        [theme.line(x_ms, y, "pressure", "", showlegend=True)],
        theme.layout(300, **(axes | layout)),
    )


def words_of(svg):
    return [text.decode() for text in re.findall(rb"<text[^>]*>([^<]*)", svg)]


@pytest.mark.parametrize(("kind", "cause"), EVERY_FINDING)
def test_every_chart_of_a_finding_can_stand_still(world, kind, cause):
    found = world.finding(kind, cause)
    scene = world.scene(world.brief([found]))

    for chart in [*evidence(scene, found), week_strip(scene, [found], 60)]:
        svg = picture_svg(chart.figure, PHONE_PX)

        assert svg.startswith(b"<svg")
        assert svg.count(b"<path") > 10


def test_axes_limits_and_legend_are_written_out():
    figure = plot(
        [50.0, 60.0, 55.0], shapes=[theme.limit(58.0, "set 58 psi")], legend={"orientation": "h"}
    )

    words = words_of(picture_svg(figure))

    assert {"Pressure (psi)", "set 58 psi", "pressure", "T"} <= set(words)


def test_a_dip_of_one_sample_is_drawn():
    y = np.full(5000, 230.0)
    y[2500] = 171.0

    paths = [
        [float(number) for number in re.findall(rb"[\d.]+", path)]
        for path in re.findall(rb' d="(M[^"]*)"', picture_svg(plot(y)))
    ]

    # the frame and the grid have four corners at most: what has more is the line
    heights = [max(path[1::2]) - min(path[1::2]) for path in paths if len(path) > 8]
    assert max(heights, default=0.0) > 150  # of 300 px less margins


def test_the_same_figure_gives_the_same_bytes():
    figure = plot([1.0, 2.0])

    assert picture_svg(figure) == picture_svg(figure)
    assert picture_png(figure) == picture_png(figure)


def test_a_png_has_two_dots_for_each_pixel():
    with Image.open(io.BytesIO(picture_png(plot([1.0, 2.0]), 400))) as image:
        assert image.size[0] == 800


def test_a_hostile_name_is_text_in_the_picture():
    figure = plot([1.0, 2.0], shapes=[theme.limit(1.5, "</text><script>alert(1)</script> $x$")])

    svg = picture_svg(figure)

    assert b"<script" not in svg
    assert b"$x$" in svg


def test_a_trace_no_picture_knows_is_an_error():
    figure = plot([1.0, 2.0])
    figure["data"][0]["type"] = "violin"

    with pytest.raises(ValueError, match="violin"):
        picture_svg(figure)
