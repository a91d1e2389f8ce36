from datetime import date, datetime, timedelta
from typing import Any

import pytest

from analysis.brief_facts import nameplate
from analysis.calls import rank_calls
from analysis.findings import SEVERITY_OF_CONSEQUENCE, Finding, Kind
from analysis.warranty import ENDS_SOON_DAYS, warranty_notes, warranty_until
from ingest.installed_base import Pump, Register, Site

SUNDAY = date(2026, 11, 22)  # of 2026-W47


def pump(site_id: str = "A", **change: Any) -> Pump:
    values = {"installed_on": date(2024, 12, 31), "warranty_months": 24.0}
    return Pump(pump_id=f"{site_id}-P1", site_id=site_id, **(values | change))


def finding(site_id: str, confidence: float = 0.8) -> Finding:
    return Finding(
        week="2026-W47",
        site_id=site_id,
        pump_id=f"{site_id}-P1",
        kind=Kind.OVERLOAD_MARGIN,
        cause="",
        severity=SEVERITY_OF_CONSEQUENCE[3],
        confidence=confidence,
        first_seen=datetime(2026, 11, 16),
        last_seen=datetime(2026, 11, 22),
        measures={},
        summary="",
        limit_source="",
        consequence=3,
        state="same",
    )


def register(days_left_at_b: float) -> Register:
    ends_on = SUNDAY + timedelta(days=days_left_at_b)
    return Register(
        sites={name: Site(site_id=name) for name in ("A", "B")},
        pumps={
            "A-P1": pump("A", warranty_months=None),
            "B-P1": pump("B", installed_on=ends_on, warranty_months=0.0),
        },
    )


@pytest.mark.parametrize(
    ("installed_on", "months", "until_on"),
    [
        (date(2024, 3, 15), 24, date(2026, 3, 15)),
        (date(2024, 12, 31), 2, date(2025, 2, 28)),
        (date(2023, 11, 30), 3, date(2024, 2, 29)),
        (date(2024, 1, 31), 12, date(2025, 1, 31)),
        (None, 24, None),
        (date(2024, 3, 15), None, None),
    ],
)
def test_a_warranty_ends_so_many_months_after_installation(
    installed_on: date | None, months: float | None, until_on: date | None
):
    assert warranty_until(pump(installed_on=installed_on, warranty_months=months)) == until_on


@pytest.mark.parametrize(
    ("days_left", "is_told"),
    [(-1, False), (0, True), (ENDS_SOON_DAYS.value, True), (ENDS_SOON_DAYS.value + 1, False)],
)
def test_a_warranty_is_named_only_while_it_is_about_to_end(days_left: float, is_told: bool):
    assert bool(warranty_notes([finding("B")], register(days_left))) == is_told


def test_among_equals_a_warranty_about_to_end_comes_first_and_says_so():
    first, second = rank_calls([finding("A"), finding("B")], register(23))

    assert (first.site_id, second.site_id) == ("B", "A")
    assert first.reasons[-1] == "warranty of B-P1 until 2026-12-15, 23 days left"


def test_a_warranty_never_outranks_a_higher_score():
    calls = rank_calls([finding("A", 0.82), finding("B")], register(23))

    assert [call.site_id for call in calls] == ["A", "B"]


def test_the_nameplate_says_until_when_where_the_register_does():
    facts = {fact.name: fact.value for fact in nameplate(pump(), "us")}

    assert facts["Warranty until"] == "2026-12-31"
    assert "Warranty until" not in {f.name for f in nameplate(pump(warranty_months=None), "us")}
