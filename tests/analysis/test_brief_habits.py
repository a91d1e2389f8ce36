"""What a pump's past tells on the pre-read: each fact says if it is an estimate, and its band."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from analysis.brief_habits import habits
from analysis.findings import Finding, Kind, Severity
from analysis.records import OpMapBin
from ingest.installed_base import CurvePoint, Register, Visit
from ingest.weeks import Week

LAST = Week(2026, 47)
PSI = 6.894757
CURVE = tuple(
    CurvePoint(pump_model="PM-A", flow_lpm=q, head_m=75.6 * (1 - 0.3 * (q / 80) ** 2))
    for q in (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
)


def bins(week, metered=None):
    return [
        OpMapBin(
            pump_id="P-01", week=str(week), frequency_bin_hz=2.0 * (hz // 2),
            pressure_bin_pct=100.0, n=500, held_s=4000.0, frequency_mean_hz=hz,
            pressure_mean_kpa=60 * PSI, current_mean_a=1.8 + 5.0 * (hz / 60) ** 2,
            flow_mean_lpm=metered,
        )
        for hz in (46.5, 47.5, 48.5, 50.5)
    ]  # fmt: skip


def told(factory, *, units="us", visits=(), findings=(), metered=None, curve=CURVE, **change):
    site, pump = factory.healthy_site(units=units), factory.healthy_pump()
    register = Register(
        sites={site.site_id: site}, pumps={pump.pump_id: pump}, curves=curve, visits=visits
    )
    names = [LAST.plus(n - 5) for n in range(6)]
    weeks = [factory.healthy_week(name, **({"f0_hz": 44.87} | change)) for name in names]
    days = [day for name in names for day in factory.healthy_days(name)]
    cells = [cell for name in names for cell in bins(name, metered)]
    facts = habits(register, pump, weeks, days, cells, findings)
    return {fact.name: fact.value for fact in facts}


def finding(kind):
    return Finding(
        week=str(LAST), site_id="S-01", pump_id="P-01", kind=kind, cause="",
        severity=Severity.LOW, confidence=0.7, first_seen=datetime(2026, 11, 1),
        last_seen=datetime(2026, 11, 22), measures={}, summary="", limit_source="",
        consequence=2, state="new",
    )  # fmt: skip


def test_an_estimated_flow_says_so_and_gives_its_band(case_factory):
    got = told(case_factory)

    assert "gpm (" in got["Flow while running, estimate"]
    assert " to " in got["Flow while running, estimate"]
    assert got["Water this week, estimate"].endswith("gal")
    assert "kWh per 1000 gal" in got["Energy, estimate"]


def test_a_metered_flow_is_called_one(case_factory):
    got = told(case_factory, metered=20.0, units="si")

    assert got["Flow while running"] == "20 L/min (flow meter)"
    assert "of it" in got["Meter against curve"]


def test_without_curve_and_meter_nothing_is_said_of_flow(case_factory):
    assert not {name for name in told(case_factory, curve=()) if "Flow" in name or "Water" in name}


def test_a_past_that_was_cut_is_never_cut_silently(case_factory):
    visit = Visit(visited_on=date(2026, 10, 27), site_id="S-01", outcome="fixed")

    got = told(case_factory, visits=(visit,))

    assert got["Compared since"] == "Tue 27 Oct: a visit that fixed something"
    assert "Compared since" not in told(case_factory)


def test_known_demand_and_quiet_hours_are_told(case_factory):
    timer = {
        "draw_from_min": [120.0, 3000.0],
        "draw_min": [108.0] * 2,
        "draw_run_share": [1.0] * 2,
    }

    got = told(case_factory, **timer)

    assert got["Its week"] == "draws 02:00-03:48 on Mon, Wed: looks like irrigation"
    assert got["Quietest hours"].endswith(":00")
    assert got["Use repeats"].startswith("day after day")


@pytest.mark.parametrize("kind", [Kind.OVERLOAD_MARGIN, Kind.DRY_RUNNING])
def test_the_expected_current_is_told_with_its_error_and_range_beside_what_rests_on_it(
    case_factory, kind
):
    got = told(case_factory, findings=[finding(kind)])

    assert "on weeks left out" in got["Expected current"]
    assert "46 to 52 Hz" in got["Expected current"]
    assert "learned from 20 points" in got["Expected current"]


def test_it_is_not_fitted_for_other_findings_or_other_pumps(case_factory):
    other = replace(finding(Kind.OVERLOAD_MARGIN), pump_id="P-02")

    assert "Expected current" not in told(case_factory, findings=[other, finding(Kind.LEAK)])


@pytest.mark.parametrize(
    ("hour", "share", "asks"),
    # Common practice, no source: a household's use is least between 1 and 5 o'clock.
    [
        (2, 0.0, False),
        (9, 0.0, True),
        (12, 0.01, True),
        (12, 0.05, False),
        (14, 0.0, True),
        (15, 0.0, False),
        (22, 0.0, False),
    ],
)
def test_quietest_hours_by_day_ask_for_the_time_zone(case_factory, hour, share, asks):
    day = [0.1] * 24
    for n in range(3):
        day[(hour + n) % 24] = share

    got = told(case_factory, run_share_by_week_hour=day * 7)["Quietest hours"]

    assert got.startswith(f"{hour:02d}:00 to ")
    assert ("is its time zone (America/New_York)" in got) == asks
