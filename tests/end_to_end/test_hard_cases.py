"""Look-alikes that must stay silent and faults that hide, each by name, in the demo fleet.

Silent means in every week judged, not only in the one reported.
"""

import csv
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pytest

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("demo")]

WEEK = "2026-W47"
MARGIN = "overload_margin"


@dataclass(frozen=True)
class Seen:
    """What was said of one invented pump.

    ``findings`` are (week, kind, cause, measures), ``answers`` the statuses by kind of the week
    reported, ``weeks`` those judged.
    """

    findings: list[tuple[str, str, str, dict[str, object]]]
    answers: dict[str, str]
    weeks: list[str]

    @property
    def causes(self) -> dict[str, str]:
        """Causes by kind of the week reported, settings left out."""
        return {k: c for week, k, c, _ in self.findings if week == WEEK and k != "setting"}

    @property
    def kinds_ever(self) -> set[str]:
        """Kinds found in any week."""
        return {kind for _, kind, _, _ in self.findings}


@pytest.fixture(scope="session")
def seen(demo: Path) -> Callable[[str], Seen]:
    """What was said of the pump of a scenario."""
    with (demo / "truth.csv").open(newline="", encoding="utf-8") as file:
        pumps = {row["scenario"]: row["pump_id"] for row in csv.DictReader(file)}

    def of(scenario: str) -> Seen:
        at = {"pump": pumps[scenario]}
        with duckdb.connect(demo / "fleet.duckdb", read_only=True) as con:
            found = con.execute(
                "select week, kind, cause, measures from findings where pump_id = $pump", at
            ).fetchall()
            answers = con.execute(
                "select week, kind, status from assessments where pump_id = $pump", at
            ).fetchall()
        return Seen(
            [(week, kind, cause, json.loads(measures)) for week, kind, cause, measures in found],
            {kind: status for week, kind, status in answers if week == WEEK},
            sorted({week for week, _, _ in answers}),
        )

    return of


def is_silent(of: Seen) -> bool:
    return len(of.weeks) >= 4 and not of.findings


# -- what only looks like a fault


def test_night_irrigation_three_times_a_week_is_no_leak(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("night irrigation"))


def test_a_softener_every_fourth_night_is_no_leak(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("softener every fourth night"))


def test_a_reverse_osmosis_trickle_is_no_leak(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("reverse osmosis trickle"))


def test_a_waterer_that_bleeds_in_frost_is_no_leak(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("bleed-flow waterer in frost"))


def test_a_pool_that_fills_for_nine_hours_is_no_leak(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("pool fill"))


@pytest.mark.parametrize("days", ["even", "odd"])
def test_a_duplex_that_alternates_daily_neither_cycles_nor_is_stuck(
    seen: Callable[[str], Seen], days: str
) -> None:
    assert is_silent(seen(f"duplex, leads on {days} days"))


def test_a_generator_whose_volts_wander_for_a_night_is_no_undervoltage(
    seen: Callable[[str], Seen],
) -> None:
    assert is_silent(seen("generator in an outage"))


def test_a_vacant_house_that_holds_flat_has_no_stuck_sensor(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("vacant house"))


def test_a_winterised_site_of_zeros_is_shut_down(seen: Callable[[str], Seen]) -> None:
    of = seen("winterised")

    assert is_silent(of)
    assert {status for kind, status in of.answers.items() if kind != "data_gap"} == {"shut_down"}


def test_a_208_volt_site_steady_at_204_is_no_undervoltage(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("208 V supply steady at 204 V"))


def test_a_hot_tin_house_whose_drive_never_folds_back_is_not_overheating(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("hot tin pump house")

    assert is_silent(of)
    assert of.answers["overheating"] == "clear"


def test_the_night_on_which_clocks_fall_back_is_no_leak_and_no_gap(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("busy night of the clock change")

    assert is_silent(of)
    assert "2026-W44" in of.weeks  # clocks fell back on Sunday 1 November


def test_a_log_of_60_s_beside_one_of_1_s_says_the_same_or_nothing(
    seen: Callable[[str], Seen],
) -> None:
    fine, slow = seen("logger at 1 s beside one at 60 s"), seen("logger at 60 s beside one at 1 s")

    told = {kind: said for kind, said in slow.answers.items() if said != "not_assessed"}
    assert told == {kind: fine.answers[kind] for kind in told}
    assert len(told) >= 6


def test_an_averaged_log_counts_no_starts_and_finds_nothing(seen: Callable[[str], Seen]) -> None:
    of = seen("averaged log")

    assert is_silent(of)
    assert of.answers["short_cycling"] == "not_assessed"


def test_an_upload_sent_twice_finds_nothing(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("doubled upload"))


def test_a_pump_replaced_in_a_week_is_neither_wear_nor_drift(seen: Callable[[str], Seen]) -> None:
    assert is_silent(seen("pump replaced"))


def test_a_65_s_cycle_in_a_60_s_log_gets_no_interval_and_no_clearance(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("60 s log of a 65 s cycle")

    assert of.kinds_ever <= {"short_cycling"}  # by day it truly starts that often
    assert of.answers["short_cycling"] in ("found", "not_assessed")
    assert of.causes.get("short_cycling") != "leak"


# -- faults that hide


def test_a_leak_beside_night_irrigation_is_found(seen: Callable[[str], Seen]) -> None:
    assert seen("leak and night irrigation").causes["leak"] == "downstream"


def test_a_tank_without_charge_and_without_a_leak_is_the_tank(seen: Callable[[str], Seen]) -> None:
    of = seen("tank charge lost, no leak")

    assert of.causes["short_cycling"] == "tank_charge_lost"
    assert "leak" not in of.kinds_ever


def test_a_leak_with_a_good_tank_at_the_interval_of_a_dead_one_is_the_leak(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("leak with a sound tank at the interval of a dead one")

    assert of.causes["short_cycling"] == "leak"
    assert of.causes["leak"] == "downstream"


def test_a_current_clipped_at_its_setting_is_found_though_it_never_passes_it(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("current clipped at the overload setting")

    (measures,) = [m for week, kind, _, m in of.findings if (week, kind) == (WEEK, MARGIN)]
    assert measures["over_limit_s"] == 0
    assert of.causes[MARGIN] == "high_load"


def test_a_heating_joint_is_wiring(seen: Callable[[str], Seen]) -> None:
    assert seen("heating joint").causes["undervoltage"] == "supply_wiring"


def test_a_check_valve_that_leaks_on_two_stops_of_three_is_the_valve(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("check valve leaks on two stops of three")

    assert of.causes["leak"] == "check_valve"


def test_a_dry_run_of_15_s_in_a_log_of_10_s_is_found(seen: Callable[[str], Seen]) -> None:
    of = seen("one dry run of 15 s in a log of 10 s")

    assert of.causes["dry_running"] == "suction_lost"


def test_a_leak_that_ends_in_a_gap_stays_open_beside_the_gap(seen: Callable[[str], Seen]) -> None:
    of = seen("leak that ends in a gap")

    assert {"leak", "data_gap"} <= set(of.causes)


def test_a_nameplate_of_another_motor_is_told_as_the_register(
    seen: Callable[[str], Seen],
) -> None:
    of = seen("register carries another motor's nameplate")

    rules = [cause for week, kind, cause, _ in of.findings if (week, kind) == (WEEK, "setting")]
    assert "service_factor_amps" in rules
    assert MARGIN not in of.causes  # held back until the register is put right


@pytest.mark.parametrize(
    ("scenario", "causes"),
    [
        ("leak and a loose joint", {"leak": "downstream", "undervoltage": "supply_wiring"}),
        (
            "worn pump end and a fan blocking up",
            {"weak_delivery": "worn_or_blocked", "overheating": ""},
        ),
    ],
)
def test_two_faults_on_one_pump_are_both_told(
    seen: Callable[[str], Seen], scenario: str, causes: dict[str, str]
) -> None:
    told = seen(scenario).causes

    assert {kind: told.get(kind) for kind in causes} == causes
