import base64
import json
import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analysis.findings import CAUSES, Kind, Status
from dashboards.pages.site import script_json, site_html, write_site_pages
from dashboards.pages.site_charts import draw_pump
from dashboards.pages.site_links import site_file_name
from ingest.errors import RegisterError
from ingest.installed_base import Visit

HOSTILE = "</script><script>alert('x')</script><!-- & \u2028"


def page(world, brief):
    samples = world.samples()
    charts = {
        pump.pump.pump_id: draw_pump(brief, pump, samples)
        for pump in brief.pumps
        if pump.week is not None
    }
    return site_html(brief, charts)


def figures(html):
    found = re.search(r'<script type="application/json" id="figures">(.*?)</script>', html, re.S)
    return json.loads(found[1]) if found else {}


def words(html):
    """Text of a page as a reader sees it, scripts and tags left out."""
    bare = re.sub(r"<script.*?</script>", "", html, flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", bare).split())


EVERY_FINDING = [(kind, cause) for kind in Kind for cause in ("", *CAUSES[kind])]


@pytest.mark.parametrize(("kind", "cause"), EVERY_FINDING)
def test_each_kind_and_cause_makes_a_page_with_a_place_for_each_figure(world, kind, cause):
    html = page(world, world.brief([world.finding(kind, cause)]))

    drawn = figures(html)
    assert drawn
    assert set(re.findall(r'id="(plot-\d+)"', html)) == set(drawn)
    assert len(html) < 400_000


def test_the_page_runs_in_the_order_a_technician_needs(world):
    html = page(world, world.brief([world.finding(Kind.LEAK, "downstream")]))

    order = re.findall(r'<h2 id="(\w+)"', html)
    assert order == [
        "what",
        "else",
        "evidence",
        "checks",
        "bring",
        "cautions",
        "plate",
        "visits",
        "normal",
        "limits",
        "more",
    ]


def test_the_first_panel_says_what_since_how_sure_what_first_and_what_to_bring(world):
    html = page(world, world.brief([world.finding(Kind.LEAK, "downstream")]))

    panel = words(re.search(r'<section class="panel what.*?</section>', html, re.S)[0])
    for told in ("Leak:", "high", "since Wed 4 Nov", "(0.82)", "First: Ask by phone", "Bring:"):
        assert told in panel


def test_a_blank_of_the_nameplate_is_a_line_to_fill_in(world):
    html = page(world, world.brief(pumps=[world.pump(service_factor_amps=None)]))

    assert re.search(r"Service-factor amps read from nameplate: _{6,}", words(html))


def test_one_file_holds_styles_and_still_pictures_and_refers_to_nothing(world):
    brief = world.brief([world.finding(Kind.SHORT_CYCLING, "tank_charge_lost")])
    charts = {"P-01": draw_pump(brief, brief.pumps[0], world.samples())}

    html = site_html(brief, charts, is_single_file=True)

    # a typical cycle, starts by day and the week, each for a phone and for paper
    assert html.count("data:image/svg+xml;base64,") == 6
    assert "<script" not in html
    assert set(re.findall(r'(?:src|href)="([^"#:]+)', html)) == {"data"}
    assert len(html) < 2_500_000


def test_one_file_keeps_the_words_of_the_page(world):
    brief = world.brief([world.finding(Kind.LEAK, "downstream")])
    charts = {"P-01": draw_pump(brief, brief.pumps[0], world.samples())}

    alone, beside = (
        words(re.search(r'<main id="content">.*</main>', html, re.S)[0])
        for html in (site_html(brief, charts, is_single_file=True), site_html(brief, charts))
    )

    assert alone == beside


def section(html, name):
    return re.search(rf'<section[^>]* aria-labelledby="{name}">.*?</section>', html, re.S)[0]


def test_checks_of_findings_that_need_the_same_are_listed_once(world):
    brief = world.brief(
        [
            world.finding(Kind.LEAK, "downstream"),
            world.finding(Kind.SHORT_CYCLING, "leak"),
            world.finding(Kind.HUNTING, "ramp_too_fast"),
        ]
    )

    checks = section(page(world, brief), "checks")

    assert checks.count("<ol") == 2
    assert "Leak: downstream of the pump; Short cycling: a leak" in words(checks)


def test_a_consequence_stands_within_its_root_and_nowhere_else(world):
    leak = world.finding(Kind.LEAK, "downstream", measures={"also": ["short_cycling"]})
    cycling = world.finding(
        Kind.SHORT_CYCLING, "leak", measures={"explained_by": "leak"}, consequence=5
    )

    html = page(world, world.brief([leak, cycling]))

    assert "Behind it: Leak: downstream of the pump." in words(section(html, "what"))
    assert 'id="also"' not in html
    assert "<h3>" not in section(html, "else")
    assert "not listed apart" not in html


def test_a_finding_without_a_plot_of_its_own_is_shown_by_its_pumps_week(world):
    html = page(world, world.brief([world.finding(Kind.SENSOR_FAULT, "stuck")]))

    assert "The week" in words(section(html, "evidence"))
    assert 'id="more"' not in html


def test_names_from_the_register_stay_text(world):
    brief = world.brief(
        [
            world.finding(
                Kind.LEAK, "downstream", site_id=HOSTILE, pump_id=HOSTILE, summary=HOSTILE
            )
        ],
        of_site=world.site(site_id=HOSTILE, site_name=HOSTILE, region=HOSTILE, installer=HOSTILE),
        pumps=[world.pump(site_id=HOSTILE, pump_id=HOSTILE, pump_model=HOSTILE)],
        visits=[Visit(visited_on=date(2026, 9, 1), site_id=HOSTILE, found=HOSTILE, done=HOSTILE)],
    )

    html = page(world, brief)

    assert "<script>alert" not in html
    assert "<!--" not in html
    assert html.count("</script>") == 3
    assert figures(html)


def test_data_in_a_script_cannot_end_it():
    text = script_json({"name": HOSTILE})

    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == {"name": HOSTILE}


def test_the_customer_stays_off_the_page(world):
    html = page(world, world.brief(of_site=world.site(customer="Invented Customer")))

    assert "Invented Customer" not in html


def test_a_silent_site_has_a_page_without_plots_or_scripts(world):
    html = page(world, world.brief(heard=[], statuses={"P-01": Status.NO_DATA}))

    assert "<script" not in html
    assert "No data this week: P-01 was last heard" in words(html)
    assert "Electric shock" in html


def test_a_week_whose_samples_were_moved_away_keeps_its_words(world):
    html = site_html(world.brief([world.finding(Kind.LEAK, "downstream")]), {})

    assert "No plots of P-01" in words(html)
    assert "Ask by phone" in html
    assert "<script" not in html


def test_a_week_without_a_single_value_still_has_a_page(world):
    samples = world.samples()
    blank = np.full(samples.ts_us.size, np.nan, dtype=np.float32)
    empty = replace(
        samples, pressure_kpa=blank, frequency_hz=blank, current_a=blank, voltage_v=blank
    )
    brief = world.brief([world.finding(kind, "") for kind in Kind])

    html = site_html(brief, {"P-01": draw_pump(brief, brief.pumps[0], empty)})

    assert "Pressure (psi)" in str(figures(html))


def test_a_healthy_site_shows_its_week_and_its_normal_values(world):
    html = page(world, world.brief())

    assert f"Nothing found: {len(Kind)} checks clear." in words(html)
    assert len(figures(html)) == 1
    assert "229 to 235 V" in html


def test_what_was_not_assessed_stands_with_its_reason(world):
    html = page(world, world.brief(statuses={"P-01": Status.NOT_ASSESSED}))

    assert "Leak: not assessed, no tank_l in the register" in words(html)


def test_two_pumps_are_told_apart(world):
    brief = world.brief(
        [world.finding(Kind.LEAK, "downstream", pump_id="P-02")],
        pumps=[world.pump(), world.pump(pump_id="P-02")],
    )

    told = words(page(world, brief))

    assert "Quantity P-01 P-02 Pump model" in told
    assert "Leak: downstream of the pump (P-02)" in told
    assert "The week · P-01" in told
    assert "The week · P-02" in told


def test_nothing_on_the_page_asks_the_network(world):
    html = page(world, world.brief([world.finding(Kind.UNDERVOLTAGE, "supply_source")]))

    assert not re.findall(r"(?:https?:)?//[a-z]", re.sub(r"<script.*?</script>", "", html))
    assert set(re.findall(r'(?:src|href)="([^"#]+)"', html)) == {
        "data:,",
        "../assets/pages.css",
        "../assets/site.css",
        "../assets/plotly.min.js",
        "../assets/site.js",
        "../index.html",
        "../faults.html",
    }


def test_the_same_brief_gives_the_same_bytes(world):
    made = [page(world, world.brief([world.finding(Kind.LEAK, "check_valve")])) for _ in range(2)]

    assert made[0] == made[1]


def test_each_site_gets_its_page_and_only_its_own_pumps(world, store, tmp_path):
    told = []

    n_pages = write_site_pages(store, world.WEEK, tmp_path, progress=lambda *one: told.append(one))

    assert n_pages == 2
    assert told == [(1, 2, "../S-02"), (2, 2, "S-01")]
    names = sorted(path.name for path in (tmp_path / "site").iterdir())
    assert names == sorted(["S-01.html", site_file_name("../S-02")])
    own = (tmp_path / "site" / "S-01.html").read_text(encoding="utf-8")
    assert "P-01" in own
    assert "P-02" not in own
    assert len(figures(own)) == 3


def test_a_page_that_stays_the_same_is_not_rewritten(world, store, tmp_path):
    write_site_pages(store, world.WEEK, tmp_path)
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in (tmp_path / "site").iterdir()}

    write_site_pages(store, world.WEEK, tmp_path)

    after = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in (tmp_path / "site").iterdir()}
    assert after == before


def test_one_site_can_be_written_alone(world, store, tmp_path):
    assert write_site_pages(store, world.WEEK, tmp_path, site_ids=["S-01"]) == 1
    assert [path.name for path in (tmp_path / "site").iterdir()] == ["S-01.html"]


def test_an_unknown_site_is_an_error(world, store, tmp_path):
    with pytest.raises(RegisterError, match="S-99"):
        write_site_pages(store, world.WEEK, tmp_path, site_ids=["S-99"])


def test_a_dip_of_one_sample_reaches_the_page(world):
    samples = world.samples()
    volts = samples.voltage_v.copy()
    volts[50_000] = 171.25
    brief = world.brief()

    html = site_html(
        brief, {"P-01": draw_pump(brief, brief.pumps[0], replace(samples, voltage_v=volts))}
    )

    packed = figures(html)["plot-1"]["data"][3]["y"]["bdata"]
    assert np.nanmin(np.frombuffer(base64.b64decode(packed), dtype="<f4")) == np.float32(171.25)
