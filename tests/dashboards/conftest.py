"""A small invented fleet for the tests of pages, terminal and commands."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from analysis.findings import (
    SEVERITY_OF_CONSEQUENCE,
    Assessment,
    Finding,
    Kind,
    Status,
)
from ingest.installed_base import Pump, Register, Site

WEEK = "2026-W47"
HOSTILE = "<script>alert('x')</script> & \"Sons\""


@pytest.fixture
def make_finding() -> Callable[..., Finding]:
    def make(consequence: int = 3, **change: Any) -> Finding:
        values: dict[str, Any] = {
            "week": WEEK,
            "site_id": "S-01",
            "pump_id": "P-01",
            "kind": Kind.SHORT_CYCLING,
            "cause": "tank_charge_lost",
            "severity": SEVERITY_OF_CONSEQUENCE[consequence],
            "confidence": 0.8,
            # 17 Nov 04:30 UTC is still Monday 16 Nov in New York
            "first_seen": datetime(2026, 11, 17, 4, 30),
            "last_seen": datetime(2026, 11, 22, 5),
            "measures": {"starts_per_day": 910},
            "summary": "Pump 1 started 910 times a day (was 60).",
            "limit_source": "common practice",
            "consequence": consequence,
            "state": "new",
        }
        return Finding(**(values | change))

    return make


@pytest.fixture
def make_answers() -> Callable[..., list[Assessment]]:
    """Answers of one pump for every kind: ``default``, but for the kinds named."""

    def make(pump_id: str, site_id: str, default: Status, **by_kind: Status) -> list[Assessment]:
        return [
            Assessment(
                week=WEEK,
                site_id=site_id,
                pump_id=pump_id,
                kind=kind,
                status=by_kind.get(kind, default),
                reason=f"why {kind} of {pump_id}",
            )
            for kind in Kind
        ]

    return make


@pytest.fixture
def register() -> Register:
    """Four sites with a pump each; one site has a hostile name and a customer."""
    names = {"S-01": "Upper Meadow Farm", "S-02": HOSTILE, "S-03": None, "S-04": "Long Barn"}
    return Register(
        sites={
            site_id: Site(
                site_id=site_id,
                site_name=name,
                timezone="America/New_York",
                region="North" if site_id < "S-03" else HOSTILE,
                customer="A. Customer",
            )
            for site_id, name in names.items()
        },
        pumps={
            f"P-0{n}": Pump(pump_id=f"P-0{n}", site_id=f"S-0{n}", pump_model=f"M{n % 2}")
            for n in range(1, 5)
        },
    )
