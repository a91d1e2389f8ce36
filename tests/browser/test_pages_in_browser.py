"""Every page as a browser shows it, on a desk, on a phone and on paper."""

import importlib.util
import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from analysis.findings import Kind

DESK_PX, PHONE_PX, PAPER_PX = 1280, 360, 733  # paper: A4 less margins of 8 mm, 96 px an inch
LETTER_HEIGHT_PX = 996  # 11 inches less two margins of 8 mm: shorter than A4
PHONE_HEIGHT_PX = 740


def _names() -> Any:
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).with_name("conftest.py")
    spec = importlib.util.spec_from_file_location("names_of_the_browser_fleet", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


FLEET = _names()
SITES = [FLEET.site_of(kind) for kind in Kind]
ONE_OF_EACH = [FLEET.TWO_PUMPS, FLEET.QUIET, FLEET.SILENT, FLEET.HOSTILE_SITE]
PAGES = [
    "index.html",
    "faults.html",
    FLEET.site_page(SITES[0]),
    *(FLEET.site_page(site_id) for site_id in ONE_OF_EACH),
    FLEET.site_page(FLEET.TWO_PUMPS, "alone/site"),
]
NO_PRELOAD = {"preload": False}  # a page on disk may not read its own style sheets

OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
CLIPPED = """() => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const bad = [];
  while (walker.nextNode()) {
    const node = walker.currentNode, holder = node.parentElement;
    if (!node.textContent.trim()) continue;
    if (holder.closest(".unseen, .skip, .scroll, svg, script")) continue;
    const style = getComputedStyle(holder);
    if (style.visibility === "hidden" || !holder.getClientRects().length) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    const hides = ["hidden", "clip"].includes(style.overflowX);
    if (box.right > innerWidth + 1 || box.left < -1
        || (hides && holder.scrollWidth > holder.clientWidth + 1)) {
      bad.push(node.textContent.trim().slice(0, 60));
    }
  }
  return bad;
}"""


MARKS_OF_PLOTS = """[...document.querySelectorAll('.plot')].map(plot =>
  [...plot.querySelectorAll('.plot path, .shapelayer path')]
    .filter(path => path.getBBox().width + path.getBBox().height > 5).length)"""

SIZES_OF_PLOTS = """[...document.querySelectorAll('.plot')].map(plot => {
  const box = plot.getBoundingClientRect();
  return {width: Math.round(box.width), height: Math.round(box.height)};
})"""
BUTTONS_ABOVE = """(() => {
  const above = [...document.querySelectorAll('.plot')].map(plot =>
    plot.querySelector('.draglayer rect').getBoundingClientRect().top
    - plot.querySelector('.modebar-group').getBoundingClientRect().bottom);
  return {n: above.length, least: Math.min(...above)};
})()"""
CUT_LETTERS = """[...document.querySelectorAll('.plot')].flatMap(plot => {
  const paper = plot.getBoundingClientRect();
  return [...plot.querySelectorAll('.xtitle, .ytitle, .annotation-text, .legendtext, .tick text')]
    .filter(text => {
      const box = text.getBoundingClientRect();
      return box.right > paper.right + 1 || box.left < paper.left - 1;
    }).map(text => text.textContent);
})"""
CUT_PLOTS = """[...document.querySelectorAll('.plot')].filter(plot => {
  const drawn = plot.querySelector('.main-svg').getBoundingClientRect();
  return drawn.width && (drawn.right > innerWidth + 1 || drawn.left < -1
    || drawn.bottom > plot.closest('figure').getBoundingClientRect().bottom + 1);
}).map(plot => plot.id)"""


@contextmanager
def printed(opened: Any) -> Iterator[None]:
    """Show a page as it prints, then as before; the events are those a browser sends."""
    page, screen = opened.page, opened.page.viewport_size
    page.set_viewport_size({"width": PAPER_PX, "height": LETTER_HEIGHT_PX})
    page.emulate_media(media="print")
    opened.run("window.dispatchEvent(new Event('beforeprint'))")
    yield
    opened.run("window.dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    page.set_viewport_size(screen)


@pytest.fixture(
    scope="module",
    params=[(name, width) for name in PAGES for width in (DESK_PX, PHONE_PX)],
    ids=lambda asked: f"{asked[0]} at {asked[1]} px",
)
def opened(request: pytest.FixtureRequest, chromium: Any, pages: Path) -> Iterator[Any]:
    """Each page at each width, opened once for all tests that look at it."""
    name, width = request.param
    with FLEET.opening(chromium, pages) as open_one:
        yield open_one(name, width, PHONE_HEIGHT_PX)


def test_a_page_makes_no_error_and_asks_nothing_of_the_network(opened: Any):
    assert opened.errors == []
    assert opened.strays == []
    assert opened.dialogs == []


def test_a_page_never_scrolls_sideways_and_clips_no_text(opened: Any):
    assert opened.run(OVERFLOW) <= 0
    assert opened.run(CLIPPED) == []


def test_a_page_can_be_used_with_a_screen_reader(opened: Any):
    is_first = opened.page.url.endswith(PAGES[2]) and opened.run("innerWidth") == DESK_PX
    left_out = [] if is_first else [[".main-svg"]]  # all are drawn alike; once is enough

    result = Axe().run(opened.page, context={"exclude": left_out}, options=NO_PRELOAD)

    grave = [
        f"{one['id']}: {one['nodes'][0]['html'][:120]}"
        for one in result.response["violations"]
        if one["impact"] in ("serious", "critical")
    ]
    assert grave == []


def test_a_printed_page_is_as_wide_as_paper_and_leaves_the_menu_off(opened: Any):
    with printed(opened):
        overflow, clipped = opened.run(OVERFLOW), opened.run(CLIPPED)
        has_menu = opened.page.locator("nav").is_visible()

    assert overflow <= 0
    assert clipped == []
    assert not has_menu


@pytest.mark.parametrize("width_px", [DESK_PX, PHONE_PX])
def test_a_page_of_one_file_shows_its_pictures_without_a_script(
    open_page: Callable[..., Any], width_px: int
):
    opened = open_page(FLEET.site_page(FLEET.TWO_PUMPS, "alone/site"), width_px)

    # drawn for paper 720 px wide, for a phone 340
    widths = opened.run("[...document.querySelectorAll('img.still')].map(i => i.naturalWidth)")
    assert set(widths) == {720 if width_px == DESK_PX else 340}
    assert opened.run("document.scripts.length") == 0


@pytest.fixture(scope="module", params=SITES)
def pre_read(request: pytest.FixtureRequest, chromium: Any, pages: Path) -> Iterator[Any]:
    """The page of one finding of each kind, on a phone."""
    with FLEET.opening(chromium, pages) as open_one:
        yield open_one(FLEET.site_page(request.param), PHONE_PX, PHONE_HEIGHT_PX)


def test_a_phone_shows_what_to_do_without_scrolling(pre_read: Any):
    words = pre_read.run("document.querySelector('.what').innerText")
    bottom = pre_read.run("document.querySelector('.what').getBoundingClientRect().bottom")

    assert bottom <= PHONE_HEIGHT_PX
    assert all(word in words for word in ("since", "likely", "First:", "Bring:"))


def test_every_plot_of_a_finding_is_drawn(pre_read: Any):
    assert min(pre_read.run(MARKS_OF_PLOTS)) > 0
    assert pre_read.run(OVERFLOW) <= 0
    assert pre_read.run(CUT_LETTERS) == []
    assert pre_read.errors == []


def sides(opened: Any, paper: str) -> int:
    """Sides that a page takes on A4 or Letter."""
    return len(re.findall(rb"/Type\s*/Page\b", opened.page.pdf(format=paper)))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_pre_read_of_each_kind_prints_on_one_side(pre_read: Any, paper: str):
    assert sides(pre_read, paper) == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("folder", ["site", "alone/site"])
def test_two_pumps_with_three_findings_print_on_one_side(
    open_page: Callable[..., Any], folder: str, paper: str
):
    opened = open_page(FLEET.site_page(FLEET.TWO_PUMPS, folder))

    assert sides(opened, paper) == 1


def test_on_paper_one_plot_stands_whole_and_all_are_as_before_on_the_screen(
    open_page: Callable[..., Any],
):
    opened = open_page(FLEET.site_page(FLEET.TWO_PUMPS))
    before = opened.run(SIZES_OF_PLOTS)

    with printed(opened):
        shown = [size for size in opened.run(SIZES_OF_PLOTS) if size["width"]]
        cut = opened.run(CUT_PLOTS)

    assert len(shown) == 1
    assert cut == []
    opened.page.wait_for_function(
        f"JSON.stringify({SIZES_OF_PLOTS}) === JSON.stringify({json.dumps(before)})"
    )


def test_the_buttons_of_a_plot_cover_nothing_of_it(open_page: Callable[..., Any]):
    opened = open_page(FLEET.site_page(FLEET.TWO_PUMPS))

    above = opened.run(BUTTONS_ABOVE)

    assert above["n"] > 0
    assert above["least"] >= 0


def test_hostile_names_are_read_as_they_are_written(open_page: Callable[..., Any]):
    for name in ("index.html", FLEET.site_page(FLEET.HOSTILE_SITE, "alone/site")):
        opened = open_page(name)

        assert FLEET.HOSTILE in opened.run("document.body.innerText")
        assert opened.run("document.querySelectorAll('img:not(.still)').length") == 0
        assert opened.dialogs == []
