"""The charts of one site as picture files, to put into a ticket, a mail or an invoice."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path

import duckdb

from analysis.brief import make_brief
from dashboards.charts.picture import picture_png, picture_svg
from dashboards.charts.theme import Figure
from dashboards.pages.site_charts import charts_in_order, pump_charts
from dashboards.pages.site_links import site_file_name
from ingest.weeks import Week

DRAW: Mapping[str, Callable[[Figure], bytes]] = {"svg": picture_svg, "png": picture_png}
"""How a figure becomes a file, by the file's format."""

_NOT_IN_NAMES = re.compile(r"[^a-z0-9]+")


def write_pictures(
    con: duckdb.DuckDBPyConnection, site_id: str, week: Week, out: Path, file_format: str
) -> list[Path]:
    """Write every chart of a site's page into ``out``, numbered in the page's order.

    Returns
    -------
    list of Path
        The files; none where the store holds no samples of the week.

    Raises
    ------
    RegisterError
        The register has no such site.
    """
    brief = make_brief(con, site_id, week)
    leads, rest = charts_in_order(brief, dict(pump_charts(con, [brief])))
    stem = site_file_name(site_id).removesuffix(".html")
    written = []
    for number, (pump_id, chart) in enumerate([*leads, *rest], start=1):
        name = _NOT_IN_NAMES.sub("-", f"{pump_id} {chart.title}".lower()).strip("-")
        path = out / f"{stem}_{week}_{number:02}_{name}.{file_format}"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(DRAW[file_format](chart.figure))
        written.append(path)
    return written
