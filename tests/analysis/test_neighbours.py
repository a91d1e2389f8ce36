"""Who else of the region or the site had a low idle supply in the week."""

import pytest

from analysis.neighbours import count_idle_lows, neighbours_of
from ingest.installed_base import Pump, Register, Site


def register_of(*pumps: tuple[str, str, str | None]) -> Register:
    return Register(
        sites={site: Site(site_id=site, region=region) for _, site, region in pumps},
        pumps={p: Pump(pump_id=p, site_id=s, supply_volts=240.0) for p, s, _ in pumps},
    )


@pytest.fixture
def valley() -> Register:
    return register_of(
        ("P-1", "S-1", "Valley"),
        ("P-2", "S-1", "Valley"),
        ("P-3", "S-2", "Valley"),
        ("P-4", "S-3", "Valley"),
        ("P-5", "S-4", "Hill"),
        ("P-6", "S-5", None),
    )


def test_low_sites_of_the_region_and_low_pumps_of_the_site_are_counted(valley: Register) -> None:
    volts = {"P-1": 220.0, "P-2": 221.0, "P-3": 222.0, "P-4": 239.0, "P-5": 200.0}
    lows = count_idle_lows(valley, volts)

    seen = neighbours_of(valley.pumps["P-1"], valley, lows)

    assert seen is not None
    assert (seen.n_sites, seen.n_sites_low) == (2, 1)
    assert (seen.same_site_pumps, seen.same_site_pumps_low) == (1, 1)


def test_the_service_range_limit_is_ansi_c84_1_range_a(valley: Register) -> None:
    # ANSI C84.1 Range A at the service: 228-252 V on 240 V
    lows = count_idle_lows(valley, {"P-3": 227.9, "P-4": 228.0})

    assert lows.pumps == {"S-2": {"P-3": True}, "S-3": {"P-4": False}}


def test_pumps_without_volts_are_not_counted(valley: Register) -> None:
    lows = count_idle_lows(valley, {"P-3": None, "P-4": 239.0})

    seen = neighbours_of(valley.pumps["P-1"], valley, lows)

    assert seen is not None
    assert (seen.n_sites, seen.n_sites_low, seen.same_site_pumps) == (1, 0, 0)


def test_a_site_without_a_region_has_no_neighbours_to_ask(valley: Register) -> None:
    assert neighbours_of(valley.pumps["P-6"], valley, count_idle_lows(valley, {})) is None
