from dataclasses import replace
from datetime import datetime
from types import ModuleType
from typing import Any

import pytest

from analysis.calls import rank_calls
from analysis.context import Fleet
from analysis.findings import SEVERITY_OF_CONSEQUENCE, Finding, Judged, Kind
from analysis.history import History
from analysis.judging import judge_week
from analysis.losses import cost_per_week, loss_of, loss_text, no_loss_text, with_loss
from analysis.records import OpMapBin
from ingest.installed_base import Register, Site

NO_TIME = datetime(2026, 11, 16)


def judged(kind: Kind, cause: str = "", **measures: Any) -> Judged:
    return Judged(
        kind=kind,
        cause=cause,
        consequence=2,
        confidence=0.8,
        since_at=NO_TIME,
        until_at=NO_TIME,
        measures=measures,
        summary="",
        limit_source="",
    )


def finding(site_id: str = "S-01", **measures: Any) -> Finding:
    return Finding(
        week="2026-W47",
        site_id=site_id,
        pump_id=f"{site_id}-P1",
        kind=Kind.LEAK,
        cause="downstream",
        severity=SEVERITY_OF_CONSEQUENCE[2],
        confidence=0.8,
        first_seen=NO_TIME,
        last_seen=NO_TIME,
        measures=measures,
        summary="",
        limit_source="",
        consequence=2,
        state="same",
    )


LOST = {
    "water_lost_l_per_week": 2000.0,
    "energy_lost_kwh_per_week": 3.0,
    "loss_basis": "energy by the boost",
}


def test_a_sized_leak_loses_seven_days_of_water_and_the_energy_to_pump_it(
    case_factory: ModuleType,
):
    case = case_factory.make_case(week={"held_pressure_kpa": 360.0})

    loss = loss_of(judged(Kind.LEAK, "downstream", leak_l_per_day=200.0), case)

    # by hand: 1.4 m3 at 360 kPa is 504 kJ of work, 0.14 kWh; at 40 % from the wire 0.35 kWh
    assert loss.water_l_per_week == pytest.approx(1400.0)
    assert loss.energy_kwh_per_week == pytest.approx(0.35)
    assert "40 % efficient" in loss.basis


def test_water_that_runs_back_through_a_check_valve_costs_energy_only(case_factory: ModuleType):
    loss = loss_of(
        judged(Kind.LEAK, "check_valve", leak_l_per_day=200.0), case_factory.make_case()
    )

    assert loss.water_l_per_week is None
    assert loss.energy_kwh_per_week > 0
    assert "none lost" in loss.basis


def test_a_leak_of_a_pump_whose_suction_is_not_known_has_no_energy(case_factory: ModuleType):
    case = case_factory.make_case(pump={"suction": "well", "suction_kpa": None})

    loss = loss_of(judged(Kind.LEAK, "downstream", leak_l_per_day=200.0), case)

    assert loss.water_l_per_week == pytest.approx(1400.0)
    assert loss.energy_kwh_per_week is None
    assert "not derivable" in loss.basis


@pytest.mark.parametrize(("phases", "kwh"), [(1, 1.68), (3, 2.9098)])
def test_a_poor_joint_loses_heat_beyond_that_of_the_recorded_wire(
    case_factory: ModuleType, phases: int, kwh: float
):
    # by hand: (1.5 - 0.5) ohm x 10 A x 10 A = 100 W for a tenth of the 168 h; three phases: the
    # ohms are line to line, so sqrt(3) times that
    case = case_factory.make_case(
        week={"pair_supply_a": 10.0, "loop_resistance_ohm": 1.5, "run_share": 0.1},
        pump={"supply_phases": phases},
    )

    loss = loss_of(judged(Kind.UNDERVOLTAGE, "supply_wiring", wire_resistance_ohm=0.5), case)

    assert loss.energy_kwh_per_week == pytest.approx(kwh, rel=1e-4)
    assert loss.water_l_per_week is None


def test_without_the_wires_own_ohms_a_joints_heat_is_not_guessed(case_factory: ModuleType):
    case = case_factory.make_case(week={"pair_supply_a": 10.0, "loop_resistance_ohm": 1.5})

    loss = loss_of(judged(Kind.UNDERVOLTAGE, "supply_wiring", wire_resistance_ohm=None), case)

    assert loss.energy_kwh_per_week is None
    assert "not in the register" in loss.basis


def test_rising_load_loses_what_came_on_top_at_like_speed(case_factory: ModuleType):
    cell = OpMapBin(
        pump_id="P-01",
        week="2026-W47",
        frequency_bin_hz=48.0,
        pressure_bin_pct=100.0,
        n=2000,
        held_s=10_000.0,
        frequency_mean_hz=48.0,
        pressure_mean_kpa=414.0,
        current_mean_a=5.0,
        current_sd_a=0.1,
        voltage_mean_v=230.0,
    )
    case = replace(case_factory.make_case(week={"run_share": 0.25}), op_map=((cell,),))

    loss = loss_of(judged(Kind.OVERLOAD_MARGIN, "rising_load", drift_total_pct=25.0), case)

    # by hand: sqrt(3) x 230 V x 48/60 x 5 A x 0.80 / 0.96 = 1327.9 W for 42 h, a fifth of it new
    assert loss.energy_kwh_per_week == pytest.approx(1.3279 * 42 / 5, rel=1e-3)


@pytest.mark.parametrize("kind", Kind)
def test_of_every_kind_something_is_said(case_factory: ModuleType, kind: Kind):
    told = with_loss(judged(kind), case_factory.make_case())

    assert told.measures["loss_basis"]
    assert {"water_lost_l_per_week", "energy_lost_kwh_per_week"} <= told.measures.keys()
    assert no_loss_text(replace(finding(), measures=told.measures)).startswith(
        "Water and energy lost: no"
    )


def test_money_is_quantity_times_the_sites_own_tariff():
    site = Site(site_id="S-01", energy_price_per_kwh=0.2, water_price_per_m3=2.5, currency="EUR")

    assert cost_per_week(finding(**LOST), site) == pytest.approx(3 * 0.2 + 2 * 2.5)


def test_a_price_that_is_not_registered_is_not_guessed():
    part = Site(site_id="S-01", energy_price_per_kwh=0.2)

    assert cost_per_week(finding(**LOST), Site(site_id="S-01")) is None
    assert cost_per_week(finding(**LOST), part) == pytest.approx(0.6)
    assert "no water price in the register" in loss_text(finding(**LOST), part)
    assert "no energy price and water price in the register" in loss_text(
        finding(**LOST), Site(site_id="S-01")
    )


def test_the_text_says_quantities_basis_and_money_in_the_sites_units():
    si = Site(
        site_id="S-01",
        units="si",
        energy_price_per_kwh=0.2,
        water_price_per_m3=2.5,
        currency="EUR",
    )

    assert loss_text(finding(**LOST), si) == (
        "Loses about 2000 L of water and 3.0 kWh a week (energy by the boost), 5.6 EUR at the"
        " site's tariff."
    )
    assert "530 gal" in loss_text(finding(**LOST), replace(si, units="us"))
    assert "in the money of the tariff" in loss_text(finding(**LOST), replace(si, currency=None))
    assert "at most 2000 L" in loss_text(finding(**LOST, leak_is_upper_bound=True), si)


def ranked(currencies: tuple[str, str], confidence: float = 0.8) -> list[str]:
    """Sites of two leaks that are alike but for what they lose: B loses more."""
    sites = {
        name: Site(site_id=name, water_price_per_m3=2.0, currency=currency)
        for name, currency in zip(("A", "B"), currencies, strict=True)
    }
    small = replace(
        finding("A", **{**LOST, "water_lost_l_per_week": 100.0}), confidence=confidence
    )
    return [c.site_id for c in rank_calls([small, finding("B", **LOST)], Register(sites=sites))]


def test_among_equals_what_loses_more_money_comes_first():
    assert ranked(("EUR", "EUR")) == ["B", "A"]


def test_money_never_outranks_a_higher_score():
    assert ranked(("EUR", "EUR"), confidence=0.82) == ["A", "B"]


def test_prices_in_several_currencies_are_not_compared():
    assert ranked(("EUR", "USD")) == ["A", "B"]


def test_a_judged_finding_carries_what_it_loses(case_factory: ModuleType):
    site, pump = case_factory.healthy_site(), case_factory.healthy_pump()
    week = case_factory.healthy_week(current_p95_a=7.6, over_limit_s=40_000.0)
    fleet = Fleet(
        register=Register(sites={site.site_id: site}, pumps={pump.pump_id: pump}),
        weeks={pump.pump_id: [week]},
        days={pump.pump_id: case_factory.healthy_days(every_day={"over_limit_s": 5_700.0})},
        op_map={},
    )

    (found,), _ = judge_week(fleet, week.week, History())

    assert found.measures["energy_lost_kwh_per_week"] is None
    assert str(found.measures["loss_basis"]).startswith("not derivable")
