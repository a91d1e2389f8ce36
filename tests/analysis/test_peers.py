from types import ModuleType
from typing import Any

import numpy as np
import pytest

from analysis.peers import MEASURED, notes_of, silent_where_told
from analysis.records import PumpWeek
from ingest.installed_base import Pump, Register, Site

N_PUMPS = 40


@pytest.fixture
def fleet(case_factory: ModuleType) -> tuple[dict[str, Pump], dict[str, PumpWeek]]:
    """Forty pumps of one duty whose measures scatter by a fifth."""
    rng = np.random.default_rng(7)
    pumps, weeks = {}, {}
    for n in range(N_PUMPS):
        name = f"P-{n:02d}"
        pumps[name] = case_factory.healthy_pump(pump_id=name)
        a, b, c, d = np.exp(rng.normal(0.0, 0.2, 4))
        weeks[name] = case_factory.healthy_week(
            pump_id=name,
            starts_per_day=54.0 * a,
            run_share=0.06 * b,
            run_s_median=90.0 * c,
            stop_s_median=600.0 * d,
        )
    return pumps, weeks


def notes(pumps: dict[str, Pump], weeks: dict[str, PumpWeek]):
    register = Register(sites={"S-01": Site(site_id="S-01")}, pumps=pumps)
    measured = {p: [getattr(week, name) for name in MEASURED] for p, week in weeks.items()}
    return notes_of(register, measured)


def change(case_factory: ModuleType, weeks: dict[str, PumpWeek], name: str, **values: Any) -> None:
    weeks[name] = case_factory.healthy_week(pump_id=name, **values)


def test_a_pump_that_starts_four_times_as_often_as_its_peers_is_named_by_that(case_factory, fleet):
    pumps, weeks = fleet
    change(case_factory, weeks, "P-05", starts_per_day=4 * 54.0)

    told = {p: n.text for p, n in notes(pumps, weeks).items() if n.text}

    assert set(told) == {"P-05"}
    assert told["P-05"].startswith("Unlike its 39 peers of like size, setting, suction and tank:")
    # the peers' median scatters by some 3 % around 54
    assert "starts a day 4." in told["P-05"] or "starts a day 3.9" in told["P-05"]


def test_a_fleet_that_only_scatters_gets_no_note(fleet):
    assert [n.text for n in notes(*fleet).values() if n.text] == []


def test_a_pump_a_detector_spoke_of_gets_no_note(case_factory, fleet):
    pumps, weeks = fleet
    change(case_factory, weeks, "P-05", starts_per_day=4 * 54.0)

    made = notes(pumps, weeks)
    kept = {note.pump_id: note for note in silent_where_told(made, {"P-05"})}

    assert made["P-05"].text != ""
    assert kept["P-05"].text == ""
    assert kept["P-05"].n_peers == made["P-05"].n_peers


def test_too_few_peers_are_not_assessed(case_factory, fleet):
    pumps, weeks = fleet
    pumps["P-05"] = case_factory.healthy_pump(pump_id="P-05", tank_l=500.0)
    pumps["P-06"] = case_factory.healthy_pump(pump_id="P-06", motor_kw=None)
    change(case_factory, weeks, "P-05", starts_per_day=400.0)

    told = notes(pumps, weeks)

    assert (told["P-05"].text, told["P-05"].reason) == ("", "0 peers with data, fewer than 8")
    assert told["P-06"].reason == "no motor_kw in the register"
    assert told["P-07"].n_peers == N_PUMPS - 3


def test_a_small_fleet_is_not_assessed(fleet):
    pumps, weeks = fleet
    some = {name: weeks[name] for name in list(weeks)[:12]}

    assert {n.reason for n in notes(pumps, some).values()} == {
        "12 pumps to compare, fewer than 30"
    }


def test_the_same_week_gives_the_same_notes_in_any_order(case_factory, fleet):
    pumps, weeks = fleet
    change(case_factory, weeks, "P-05", stop_s_median=30.0, run_share=0.6)

    again = dict(reversed(weeks.items()))

    assert notes(pumps, weeks) == notes(pumps, again)


def test_measures_nobody_logged_are_left_out(case_factory, fleet):
    pumps, weeks = fleet
    for name in weeks:
        change(case_factory, weeks, name, own_drop_v=None, overshoot_kpa=None)

    assert all(not n.text for n in notes(pumps, weeks).values())
