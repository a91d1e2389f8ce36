"""The pre-read of each site: what a technician reads before and while on site."""

import base64
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import duckdb
import orjson
from markupsafe import Markup

from analysis.brief import SITES_AT_ONCE, make_briefs
from analysis.brief_contents import Brief, FindingBrief
from analysis.brief_roots import FindingGroup, grouped
from analysis.call_weights import DEFAULT_WEIGHTS, Weights
from dashboards.charts.picture import PAPER_HEIGHT_SHARE, PAPER_PX, PHONE_PX, picture_svg
from dashboards.charts.scene import Chart
from dashboards.pages.base import frame_alone, page_frame, render, write_if_changed
from dashboards.pages.site_charts import PumpCharts, charts_in_order, pump_charts
from dashboards.pages.site_links import SITE_FOLDER, site_file_name
from dashboards.pages.site_tables import PumpTables, pump_tables
from ingest.weeks import Week

Progress = Callable[[int, int, str], None]

FIRST_CHECKS = 3
# What ends a script element or a line of script must not stand in its data.
_UNSAFE_IN_SCRIPT = (
    (b"<", rb"\u003c"),
    (b">", rb"\u003e"),
    (b"&", rb"\u0026"),
    ("\u2028".encode(), rb"\u2028"),
    ("\u2029".encode(), rb"\u2029"),
)


@dataclass(frozen=True)
class Picture:
    """A chart drawn at two widths, each as a data address that an image can show."""

    phone: str
    paper: str


@dataclass(frozen=True, kw_only=True)
class Plot:
    """A place on the page for one chart.

    Attributes
    ----------
    element_id : str
        Of the page's element, ``plot-1``.
    title, reading : str
        What it shows and what to see in it.
    pump_id : str
        Whose week it is; "" where the site has one pump.
    picture : Picture or None
        The chart as a still picture, on a page that is one file of its own.
    """

    element_id: str
    title: str
    reading: str
    pump_id: str
    picture: Picture | None


@dataclass(frozen=True, kw_only=True)
class CheckList:
    """Checks, and the findings that ask for these."""

    findings: tuple[FindingBrief, ...]
    checks: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SitePage:
    """What the template shows.

    Attributes
    ----------
    lead : FindingBrief or None
        Worst finding, None where there is none.
    groups : tuple of FindingGroup
        The findings by root, that of the worst first.
    first_checks : int
        How many checks are shown before the rest.
    check_lists : tuple of CheckList
        The checks, those of the worst finding first.
    evidence : tuple of Plot
        The one plot of each finding, worst finding first.
    more : tuple of Plot
        Further plots, each pump's week last.
    figures : Markup
        The figures as JSON safe within a script element, by element id; "" without any.
    undrawn : tuple of str
        Pumps that were measured but whose samples are no longer in the store.
    tables : PumpTables
        Facts of the pumps, side by side.
    """

    brief: Brief
    lead: FindingBrief | None
    groups: tuple[FindingGroup, ...]
    first_checks: int
    check_lists: tuple[CheckList, ...]
    evidence: tuple[Plot, ...]
    more: tuple[Plot, ...]
    figures: Markup
    undrawn: tuple[str, ...]
    tables: PumpTables


def write_site_pages(
    con: duckdb.DuckDBPyConnection,
    week: Week,
    out: Path,
    *,
    site_ids: Sequence[str] | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
    is_single_file: bool = False,
    progress: Progress | None = None,
) -> int:
    """Write the pre-read of each site into ``out/site``.

    A page that would be the same is not rewritten. Samples are read pump by pump, so memory does
    not grow with the fleet.

    Parameters
    ----------
    con : DuckDBPyConnection
        Store, judged for the week.
    week : Week
        Week to report.
    out : Path
        Output folder.
    site_ids : sequence of str, optional
        Sites to write; all of them without.
    weights : Weights
        Those of the call list.
    is_single_file : bool
        Make each page one file of its own, to mail or carry: styles and still pictures within.
    progress : callable, optional
        Called after each page with pages done, pages in all, and the site's id.

    Returns
    -------
    int
        Number of sites whose page stands.

    Raises
    ------
    RegisterError
        The register has no such site.
    """
    briefs = make_briefs(con, site_ids, week, weights)
    n_all = len(site_ids) if site_ids is not None else _n_sites(con)
    n_done = 0
    while batch := list(islice(briefs, SITES_AT_ONCE)):
        charts = dict(pump_charts(con, batch))
        for brief in batch:
            text = site_html(brief, charts, is_single_file=is_single_file)
            write_if_changed(out / SITE_FOLDER / site_file_name(brief.site.site_id), text)
            n_done += 1
            if progress is not None:
                progress(n_done, n_all, brief.site.site_id)
    return n_done


def site_html(brief: Brief, charts: dict[str, PumpCharts], *, is_single_file: bool = False) -> str:
    """Page of one site, from its brief and the charts of its pumps by pump id."""
    leads, rest = charts_in_order(brief, charts)
    has_many = len(brief.pumps) > 1
    plots = [
        Plot(
            element_id=f"plot-{number}",
            title=chart.title,
            reading=chart.reading,
            pump_id=pump_id if has_many else "",
            picture=_picture(chart) if is_single_file else None,
        )
        for number, (pump_id, chart) in enumerate([*leads, *rest], start=1)
    ]
    figures = {
        plot.element_id: chart.figure
        for plot, (_, chart) in zip(plots, [*leads, *rest], strict=True)
    }
    page = SitePage(
        brief=brief,
        lead=brief.findings[0] if brief.findings else None,
        groups=grouped(brief.findings),
        first_checks=FIRST_CHECKS,
        check_lists=_check_lists(brief.findings),
        evidence=tuple(plots[: len(leads)]),
        more=tuple(plots[len(leads) :]),
        figures=Markup("") if is_single_file or not figures else script_json(figures),
        undrawn=tuple(
            pump.pump.pump_id
            for pump in brief.pumps
            if pump.week is not None and pump.pump.pump_id not in charts
        ),
        tables=pump_tables(brief.pumps),
    )
    title = brief.site.title
    frame = (
        frame_alone(title, brief.week, "site")
        if is_single_file
        else page_frame(title, brief.week, "site", "../")
    )
    return render("site.html", frame, page)


def _check_lists(findings: Sequence[FindingBrief]) -> tuple[CheckList, ...]:
    """Findings with the very same checks share one list."""
    alike: dict[tuple[str, ...], list[FindingBrief]] = {}
    for one in findings:
        alike.setdefault(one.checks, []).append(one)
    return tuple(CheckList(findings=tuple(of), checks=checks) for checks, of in alike.items())


def _picture(chart: Chart) -> Picture:
    return Picture(
        phone=_data_address(picture_svg(chart.figure, PHONE_PX)),
        paper=_data_address(picture_svg(chart.figure, PAPER_PX, PAPER_HEIGHT_SHARE)),
    )


def _data_address(svg: bytes) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode('ascii')}"


def script_json(value: object) -> Markup:
    """JSON that can stand in a script element whatever texts it holds."""
    text = orjson.dumps(value, option=orjson.OPT_SERIALIZE_NUMPY)
    for raw, escaped in _UNSAFE_IN_SCRIPT:
        text = text.replace(raw, escaped)
    return Markup(text.decode("utf-8"))  # escaped just above


def _n_sites(con: duckdb.DuckDBPyConnection) -> int:
    row = con.execute("select count(*) from sites").fetchone()
    return int(row[0]) if row else 0
