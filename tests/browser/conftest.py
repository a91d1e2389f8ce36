"""A small invented fleet, its pages, and a browser that may open nothing but files on disk."""

import importlib.util
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import ModuleType
from typing import Any
from urllib.parse import urlsplit

import duckdb
import pyarrow as pa
import pytest

from analysis import answer_writing, record_tables, record_writing
from analysis.findings import CAUSES, Assessment, Finding, Kind, Status
from analysis.records import PumpRecord
from dashboards.pages.site import write_site_pages
from dashboards.pages.site_links import site_file_name
from dashboards.write_pages import write_pages
from ingest.installed_base import Register, Visit
from ingest.store import open_store, pump_numbers, save_register

HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"Sons\" 'n' $1"
TWO_PUMPS, QUIET, SILENT, HOSTILE_SITE = "S-TWO", "S-QUIET", "S-SILENT", "S-<b>"
CAPACITY = 2
# as long as a detector's longest sentence
SUMMARY = (
    "Pump P-01 at Upper Meadow Farm makes 910 starts a day since Tue 17 Nov (was 60); it rests"
    " 5 s between runs and pressure holds flat at night when nobody draws: the tank has most"
    " likely lost its charge, so check the tank first."
)
ALL_DRAWN = (
    "[...document.querySelectorAll('.plot')].every(plot => plot.querySelector('.main-svg'))"
)
LOCAL_SCHEMES = {"file", "data", "blob"}
QUIET_BROWSER = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
)


def site_of(kind: Kind) -> str:
    return f"S-{kind.upper().replace('_', '-')}"


@pytest.fixture(scope="session")
def world() -> ModuleType:
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).parents[1] / "dashboards" / "site_world.py"
    spec = importlib.util.spec_from_file_location("site_world_for_browser", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def findings(world: ModuleType) -> list[Finding]:
    """One finding of each kind at a site of its own, several at two, one with a hostile name."""

    def found(site_id: str, pump_id: str, kind: Kind, **change: Any) -> Finding:
        cause = next(iter(CAUSES[kind]), "")
        values = {"site_id": site_id, "pump_id": pump_id, "summary": SUMMARY} | change
        return world.finding(kind, cause, **values)

    return [
        *(found(site_of(kind), f"P-{kind}", kind) for kind in Kind),
        found(TWO_PUMPS, "P-A", Kind.SHORT_CYCLING),
        found(TWO_PUMPS, "P-B", Kind.UNDERVOLTAGE),
        found(TWO_PUMPS, "P-B", Kind.LEAK),
        found(HOSTILE_SITE, HOSTILE, Kind.LEAK, summary=HOSTILE, consequence=5, state="new"),
    ]


@pytest.fixture(scope="session")
def register(world: ModuleType, findings: list[Finding]) -> Register:
    at = {finding.pump_id: finding.site_id for finding in findings}
    at |= {"P-QUIET": QUIET, "P-SILENT": SILENT}
    names = {HOSTILE_SITE: HOSTILE, TWO_PUMPS: "Long Barn and Lower Meadow Pumping Station"}
    return Register(
        sites={
            site_id: world.site(
                site_id=site_id,
                site_name=names.get(site_id, f"Site of {site_id}"),
                region=HOSTILE if site_id == HOSTILE_SITE else "South" if n % 2 else "North",
            )
            for n, site_id in enumerate(dict.fromkeys(at.values()))
        },
        pumps={
            pump_id: world.pump(pump_id=pump_id, site_id=site_id, service_factor_amps=None)
            for pump_id, site_id in at.items()
        },
        visits=(
            Visit(
                visited_on=world.WEEK.monday.replace(month=9),
                site_id=TWO_PUMPS,
                pump_id="P-A",
                kind="short_cycling",
                outcome="fixed",
                found=HOSTILE,
                done="valve core changed",
            ),
        ),
    )


@pytest.fixture(scope="session")
def pages(
    world: ModuleType,
    register: Register,
    findings: list[Finding],
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    """All pages of the fleet, shared files beside them; one-file pages in ``alone``."""
    folder = tmp_path_factory.mktemp("browser")
    with open_store(folder / "fleet.duckdb") as con:
        save_register(con, register)
        _fill(con, world, register, findings)
        write_pages(con, world.WEEK, folder / "pages", capacity=CAPACITY)
        write_site_pages(
            con,
            world.WEEK,
            folder / "pages" / "alone",
            site_ids=[TWO_PUMPS, HOSTILE_SITE],
            is_single_file=True,
        )
    return folder / "pages"


def _fill(
    con: duckdb.DuckDBPyConnection, world: ModuleType, register: Register, findings: list[Finding]
) -> None:
    record_tables.ensure_tables(con)
    (healthy,) = world.brief().pumps
    heard = [pump_id for pump_id in register.pumps if pump_id != "P-SILENT"]
    for pump_id in heard:
        for week in (*healthy.past, healthy.week):
            days = [replace(d, pump_id=pump_id) for d in healthy.days if d.week == week.week]
            cells = [replace(c, pump_id=pump_id) for c in healthy.op_map if c.week == week.week]
            record = PumpRecord(
                week=replace(week, pump_id=pump_id), days=tuple(days), op_map=tuple(cells)
            )
            record_writing.write_records(con, [record])
    last_week = [replace(f, week=str(world.WEEK.plus(-1))) for f in findings]
    answer_writing.write_week_findings(con, str(world.WEEK.plus(-1)), last_week, [])
    answer_writing.write_week_findings(
        con, str(world.WEEK), findings, _answers(world, register, findings)
    )
    samples, numbers = world.samples(interval_s=20), pump_numbers(con)
    channels = ("pressure_kpa", "frequency_hz", "current_a", "voltage_v")
    table = pa.table({name: getattr(samples, name) for name in ("ts_us", *channels)})
    con.register("week_of_samples", table)
    for pump_id in heard:
        con.execute(
            "insert into samples by name select $pump_no as pump_no, make_timestamp(ts_us) as ts,"
            " * exclude (ts_us) from week_of_samples",
            {"pump_no": numbers[pump_id]},
        )


def _answers(world: ModuleType, register: Register, findings: list[Finding]) -> list[Assessment]:
    found = {(finding.pump_id, finding.kind) for finding in findings}
    default = {"P-QUIET": Status.CLEAR, "P-SILENT": Status.NO_DATA}
    return [
        Assessment(
            week=str(world.WEEK),
            site_id=pump.site_id,
            pump_id=pump_id,
            kind=kind,
            status=Status.FOUND
            if (pump_id, kind) in found
            else default.get(pump_id, Status.NOT_ASSESSED),
            reason=HOSTILE if pump_id not in default else "no samples",
        )
        for pump_id, pump in register.pumps.items()
        for kind in Kind
    ]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's browser; without one the tests are skipped, but never where changes are judged."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    if found is None:
        why = "no chromium on this machine: apt-get install chromium"
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(why)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(QUIET_BROWSER))
        yield browser
        browser.close()


@dataclass
class Opened:
    """A page in the browser and what it did that no page of ours may do."""

    page: Any
    errors: list[str] = field(default_factory=list)
    strays: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def listen(self) -> None:
        """Take down every error, every request that leaves the disk, every dialog."""
        self.page.on("request", self._note_request)
        self.page.on("requestfailed", lambda one: self.errors.append(f"not found {one.url}"))
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("console", self._note_console)
        self.page.on("dialog", self._note_dialog)

    def _note_request(self, request: Any) -> None:
        if urlsplit(request.url).scheme not in LOCAL_SCHEMES:
            self.strays.append(request.url)

    def _note_console(self, said: Any) -> None:
        if said.type == "error":
            self.errors.append(said.text)

    def _note_dialog(self, dialog: Any) -> None:
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def run(self, script: str) -> Any:
        """Value of a script on the page."""
        return self.page.evaluate(script)


@contextmanager
def opening(chromium: Any, pages: Path) -> Iterator[Callable[..., Opened]]:
    """Give what opens a page of the output folder at a width; what was opened is closed."""
    contexts = []

    def open_one(name: str, width: int = 1280, height: int = 740, fragment: str = "") -> Opened:
        contexts.append(chromium.new_context(viewport={"width": width, "height": height}))
        opened = Opened(contexts[-1].new_page())
        opened.listen()
        opened.page.goto((pages / name).as_uri() + fragment)
        if 'id="figures"' in (pages / name).read_text(encoding="utf-8"):
            opened.page.wait_for_function(ALL_DRAWN)
        return opened

    yield open_one
    for context in contexts:
        context.close()


@pytest.fixture
def open_page(chromium: Any, pages: Path) -> Iterator[Callable[..., Opened]]:
    with opening(chromium, pages) as opener:
        yield opener


def site_page(site_id: str, folder: str = "site") -> str:
    """Name of a site's page within the output folder."""
    return f"{folder}/{site_file_name(site_id)}"
