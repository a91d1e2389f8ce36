"""What every page has around its content, and the one way a template becomes text."""

from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from dashboards import labels
from dashboards.assets import STATIC
from ingest.weeks import Week


@dataclass(frozen=True, kw_only=True)
class Frame:
    """The frame of a page: its title, its week and the way back to the other pages.

    Attributes
    ----------
    title : str
        Title of the page, in its head and its browser tab.
    here : str
        ``calls``, ``faults`` or ``site``: which entry of the menu is this page.
    root : str
        Way from the page to the output folder: "" or "../".
    week : str
        ISO week, 2026-W47.
    week_span : str
        Its first and last day: "Mon 16 Nov to Sun 22 Nov 2026".
    inline_css : str
        The styles, safe as they are, for a page that is one file of its own and refers to no
        other; "" for a page that lies beside the shared files.
    """

    title: str
    here: str
    root: str
    week: str
    week_span: str
    inline_css: str = ""


def page_frame(title: str, week: Week, here: str, root: str = "") -> Frame:
    """Return the frame of one page of one week."""
    return Frame(title=title, here=here, root=root, week=str(week), week_span=week_span(week))


def frame_alone(title: str, week: Week, here: str) -> Frame:
    """Return the frame of a page that is one file of its own: styles within, no way out."""
    styles = Markup("").join(
        Markup((STATIC / name).read_text(encoding="utf-8")) for name in ("pages.css", "site.css")
    )
    return replace(page_frame(title, week, here), inline_css=styles)


def week_span(week: Week) -> str:
    """Return the week's first and last day: "Mon 16 Nov to Sun 22 Nov 2026"."""
    first = week.monday
    last = first + timedelta(days=6)
    first_year = "" if first.year == last.year else f" {first.year}"
    return (
        f"Mon {first.day} {labels.MONTHS[first.month]}{first_year}"
        f" to Sun {last.day} {labels.MONTHS[last.month]} {last.year}"
    )


@cache
def environment() -> Environment:
    """Return the template environment: escapes everything, and a missing field is an error."""
    made = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals["labels"] = labels
    return made


def render(template: str, frame: Frame, page: object) -> str:
    """Fill one template with its frame and its page's dataclass."""
    return environment().get_template(template).render(frame=frame, page=page)


def write_if_changed(path: Path, text: str) -> bool:
    """Write a page unless the file already holds the same text; say whether it was written."""
    new = text.encode("utf-8")
    if path.is_file() and path.read_bytes() == new:
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(new)
    return True
