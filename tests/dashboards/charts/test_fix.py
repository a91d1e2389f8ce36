from datetime import date

from analysis.findings import Kind
from dashboards.charts.fix import before_and_after
from dashboards.charts.picture import picture_svg
from dashboards.pages.site import site_html
from dashboards.pages.site_charts import charts_in_order
from ingest.installed_base import Visit


def fixed(kind: str = "overload_margin", day: date = date(2026, 11, 3)) -> Visit:
    return Visit(
        visited_on=day, site_id="S-01", pump_id="P-01", kind=kind, outcome="fixed", done="cleaned"
    )


def brief_with_fix(world, kind=Kind.OVERLOAD_MARGIN):
    week = world.WEEK.plus(-3)
    history = [world.finding(kind, "rising_load", week=str(week))]
    return world.brief(visits=[fixed(str(kind))], history=history)


def test_weeks_found_and_not_found_are_told_apart_by_shape_with_the_visit_between(world):
    (fix,) = brief_with_fix(world).fixes

    chart = before_and_after(fix, "us")

    found, other, visit = chart.figure["data"]
    assert found["marker"]["symbol"] != other["marker"]["symbol"]
    assert found["x"] == ["2026-10-29"]  # the Thursday of the week before the visit's
    assert len(found["x"]) + len(other["x"]) == 6
    assert visit["x"] == ["2026-11-03", "2026-11-03"]
    assert "(A)" in chart.figure["layout"]["yaxis"]["title"]["text"]
    assert "before" in chart.reading


def test_a_measure_that_a_repair_brings_to_nothing_is_drawn_from_nothing(world):
    (fix,) = brief_with_fix(world, Kind.SHORT_CYCLING).fixes

    low, high = before_and_after(fix, "us").figure["layout"]["yaxis"]["range"]

    assert low < 0 < high
    assert before_and_after(fix, "us").figure["layout"]["yaxis"]["title"]["text"] == (
        "Starts a day (1/day)"
    )


def test_a_leak_is_drawn_in_the_units_of_the_site(world):
    (fix,) = brief_with_fix(world, Kind.LEAK).fixes

    assert "(gpm)" in before_and_after(fix, "us").figure["layout"]["yaxis"]["title"]["text"]
    assert "(L/min)" in before_and_after(fix, "si").figure["layout"]["yaxis"]["title"]["text"]


def test_the_picture_stands_on_the_page_and_prints_still(world):
    brief = brief_with_fix(world)

    _, rest = charts_in_order(brief, {})
    html = site_html(brief, {})

    ((pump_id, chart),) = rest
    assert pump_id == "P-01"
    assert "Before and after the fix of 2026-11-03: overload margin" in html
    assert 'href="#more">Before and after' in html
    assert "Highest 5 % of motor current:" in html
    assert picture_svg(chart.figure, 600).startswith(b"<svg")


def test_without_a_fix_there_is_no_such_picture(world):
    assert charts_in_order(world.brief(), {}) == ([], [])
