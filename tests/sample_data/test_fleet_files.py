import csv
import gzip
import hashlib
import tomllib
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from sample_data.build import build_pump
from sample_data.demand import make_calendar
from sample_data.effects import EFFECTS
from sample_data.fleet import make_fleet, plan_sites
from sample_data.healthy_pumps import ODD, PLAIN
from sample_data.log_files import layout_of
from sample_data.lookalikes import ALIKE, PLAIN_TOO
from sample_data.profiles import write_profiles
from sample_data.register import FAULT_CODES, PUMP_COLUMNS
from sample_data.scenarios import SCENARIOS
from sample_data.supply import CONTACT_OHM, wire_loop_ohm
from sample_data.write import (
    Layout,
    code_column,
    csv_bytes,
    decimal_comma_bytes,
    table_of,
    tag_value_bytes,
    time_column,
    write_log,
)

FEW = (
    tuple(
        s
        for s in SCENARIOS
        if s.name
        in (
            "small leak",
            "doubled upload",
            "averaged log",
            "winterised",
            "duplex, leads on even days",
            "duplex, leads on odd days",
            "current clipped at the overload setting",
            "log with holes",
        )
    )
    + PLAIN[:3]
)


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fleet")
    make_fleet(folder, seed=5, weeks=2, scenarios=FEW)
    return folder


def test_the_same_seed_gives_the_same_bytes(fleet, tmp_path):
    make_fleet(tmp_path, seed=5, weeks=2, scenarios=FEW)

    assert digests(tmp_path) == digests(fleet)


def test_another_seed_gives_another_fleet(fleet, tmp_path):
    make_fleet(tmp_path, seed=6, weeks=2, scenarios=FEW)

    mine, other = digests(fleet), digests(tmp_path)
    assert mine["register/pumps.csv"] != other["register/pumps.csv"]
    assert mine["truth.csv"] != other["truth.csv"]


def test_every_kind_and_cause_is_there_and_most_at_both_sizes():
    built = {(b.kind, b.cause, b.size) for s in SCENARIOS for b in s.built if b.kind}

    for kind, cause in (
        ("short_cycling", "tank_charge_lost"),
        ("short_cycling", "leak"),
        ("short_cycling", "low_demand"),
        ("undervoltage", "supply_wiring"),
        ("undervoltage", "supply_source"),
        ("overload_margin", "rising_load"),
        ("overload_margin", "high_load"),
        ("leak", "downstream"),
        ("leak", "check_valve"),
        ("data_gap", ""),
        ("dry_running", "suction_lost"),
        ("weak_delivery", "wrong_rotation"),
        ("weak_delivery", "worn_or_blocked"),
        ("weak_delivery", "low_voltage"),
        ("hunting", "ramp_too_fast"),
        ("overheating", ""),
        ("sensor_fault", "stuck"),
        ("sensor_fault", "out_of_range"),
        ("controller_trip", "11"),
    ):
        assert {(kind, cause, "mild"), (kind, cause, "strong")} <= built
    # a small offset of the controlling sensor cannot be seen in its own reading
    assert {("sensor_fault", "offset", "strong"), ("other", "offset", "mild")} <= built
    trips = {cause for kind, cause, _ in built if kind == "controller_trip"}
    assert {"11", "12", "21", "23", "47", ""} == trips
    rules = {cause for kind, cause, _ in built if kind == "setting"}
    assert {
        "overload_setting_amps",
        "precharge",
        "min_hz",
        "max_hz",
        "supply_wire",
        "output_filter",
        "ramp",
        "supply_volts",
        "service_factor_amps",
    } <= rules


@pytest.mark.parametrize(
    "name",
    [
        "night irrigation",
        "softener every fourth night",
        "reverse osmosis trickle",
        "bleed-flow waterer in frost",
        "pool fill",
        "duplex, leads on even days",
        "generator in an outage",
        "vacant house",
        "winterised",
        "208 V supply steady at 204 V",
        "hot tin pump house",
        "busy night of the clock change",
        "logger at 1 s beside one at 60 s",
        "logger at 60 s beside one at 1 s",
        "averaged log",
        "doubled upload",
        "pump replaced",
        "60 s log of a 65 s cycle",
        "leak fixed in the period",
        "hydrant open for half an hour",
        "empty main filled after work",
        "more zones open than the pump can feed",
        "hunting that a log of 60 s cannot show",
        "pulsing demand",
        "air in the sensor line",
        "temperature in Fahrenheit under a Celsius heading",
        "power cut at night",
        "switched off by hand for an afternoon",
        "pressure shows 9999 now and then",
    ],
)
def test_what_only_looks_like_a_fault_is_there(name):
    assert name in {
        s.name for s in ODD + ALIKE if not any(b.kind and b.lasts_days is None for b in s.built)
    }


def test_there_are_at_least_as_many_healthy_pumps_as_sick():
    healthy = ODD + PLAIN + ALIKE + PLAIN_TOO

    assert len(healthy) >= len(SCENARIOS) - len(healthy)


def test_a_code_that_the_company_did_not_list_is_among_the_trips():
    listed = {code for code, _ in FAULT_CODES}
    tripped = {b.cause for s in SCENARIOS for b in s.built if b.kind == "controller_trip"}

    assert tripped - listed == {"47", ""}  # and trips of a log without codes


def test_every_effect_of_the_table_exists_and_is_used():
    used = {b.effect for s in SCENARIOS for b in s.built}

    assert used == set(EFFECTS)


def test_pump_ids_and_sites_tell_nothing_of_the_scenario():
    first, second = plan_sites(SCENARIOS, 1), plan_sites(SCENARIOS, 2)

    def ids(plan):
        return {s.name: pump_id for site in plan for pump_id, _, s in site.pumps}

    assert ids(first) != ids(second)
    assert all(
        pump_id.startswith("P-") and pump_id[2:].isdigit() for pump_id in ids(first).values()
    )


def test_all_containers_times_and_shared_files_occur_in_the_whole_fleet():
    plan = plan_sites(SCENARIOS, 47)
    layouts = {(site.n * 3 + site.n // 4) % 4 for site in plan}

    assert layouts == {0, 1, 2, 3}
    assert {site.n % 5 for site in plan} == {0, 1, 2, 3, 4}
    assert any(len(site.pumps) > 1 and site.n % 3 == 0 for site in plan)


def test_the_truth_has_a_row_for_each_fault_and_each_healthy_pump(fleet):
    truth = rows_of(fleet / "truth.csv")
    pumps = {row["pump_id"] for row in rows_of(fleet / "register" / "pumps.csv")}

    assert {row["pump_id"] for row in truth} == pumps
    assert len(pumps) == len(FEW)
    faults = sum(len([b for b in s.built if b.kind]) or 1 for s in FEW)
    assert len(truth) == faults


def test_the_truth_gives_the_size_of_a_leak_and_of_nothing_else(fleet):
    for row in rows_of(fleet / "truth.csv"):
        is_leak = (row["kind"], row["cause"]) == ("leak", "downstream")
        assert bool(row["leak_lpm"]) == is_leak
        assert not row["loop_resistance_ohm"]


def test_the_truth_of_a_joint_is_its_loop_with_wire_and_lugs():
    scenario = next(s for s in SCENARIOS if s.name == "leak and a loose joint")
    calendar = make_calendar("2026-W47", 6, "America/Denver")

    pump, rows = build_pump(scenario, ("P-1", "S-1"), calendar, np.random.default_rng(1))

    said = [float(r.loop_resistance_ohm) for r in rows if r.cause == "supply_wiring"]
    wire = wire_loop_ohm(pump.wire_mm2, pump.wire_m)
    assert said == [pytest.approx(wire + CONTACT_OHM + pump.joints[0][1], abs=5e-4)]


def test_a_visit_is_registered_on_the_day_on_which_rotation_went_wrong(tmp_path):
    name = "wrong rotation since the motor was changed"
    make_fleet(tmp_path, 3, 1, scenarios=[s for s in SCENARIOS if s.name == name])

    (truth,) = rows_of(tmp_path / "truth.csv")
    (visit,) = rows_of(tmp_path / "register" / "visits.csv")

    assert (visit["visited_on"], visit["pump_id"]) == (truth["began_on"], truth["pump_id"])
    assert visit["done"] == "motor changed"


def test_the_register_is_complete_and_consistent_for_healthy_pumps(fleet):
    healthy = {r["pump_id"] for r in rows_of(fleet / "truth.csv") if not r["kind"]}
    path = fleet / "register" / "pumps.csv"

    for row in rows_of(path):
        assert tuple(row) == PUMP_COLUMNS
        if row["pump_id"] not in healthy:
            continue
        assert float(row["overload_setting_amps"]) <= float(row["service_factor_amps"])
        assert row["tank_gal"] or row["tank_l"]
        assert row["supply_wire_awg"] or row["supply_wire_mm2"]
        if row["precharge_psi"]:
            share = float(row["precharge_psi"]) / float(row["pressure_setting_psi"])
            assert 0.65 <= share <= 0.76


def test_every_site_of_a_pump_is_registered(fleet):
    sites = {row["site_id"]: row for row in rows_of(fleet / "register" / "sites.csv")}

    for row in rows_of(fleet / "register" / "pumps.csv"):
        assert row["site_id"] in sites
    assert {row["units"] for row in sites.values()} == {"us", "si"}


def test_a_doubled_upload_repeats_the_same_bytes_and_an_overlap(fleet):
    again = sorted((fleet / "logs").rglob("*_again.csv*"))

    assert again
    for path in again:
        first = path.with_name(path.name.replace("_again", ""))
        assert path.read_bytes() == first.read_bytes()
    assert list((fleet / "logs").rglob("*__resent.csv.gz"))


def a_log(n: int = 4) -> dict[str, np.ndarray]:
    return {
        "at_s": np.arange(n) * 30.0,
        "pressure": np.full(n, 413.7),
        "frequency": np.full(n, 45.04),
        "current": np.full(n, 5.123),
        "voltage": np.full(n, 231.26),
    }


@pytest.mark.parametrize(
    ("style", "first"),
    [
        ("naive", "2026-10-26 00:00:00"),
        ("offset", "2026-10-26T00:00:00-05:00"),
        ("utc", "2026-10-26T05:00:00Z"),
        ("unix_s", "1792990800"),
        ("unix_ms", "1792990800000"),
    ],
)
def test_times_are_written_in_each_style(style, first):
    calendar = make_calendar("2026-W44", 1, "America/Chicago")

    times = time_column(np.array([0.0, 30.0]), calendar, style)

    assert str(times[0].as_py()) == first


def test_the_hour_repeats_in_local_time_when_clocks_fall_back():
    calendar = make_calendar("2026-W44", 1, "America/Chicago")
    sunday = calendar.midnight_s[6]
    times = time_column(sunday + np.array([5400.0, 9000.0]), calendar, "naive")

    assert [t.as_py() for t in times] == ["2026-11-01 01:30:00", "2026-11-01 01:30:00"]
    assert calendar.midnight_s[7] - sunday == 25 * 3600


def test_units_and_rounding_follow_the_layout():
    calendar = make_calendar("2026-W44", 1, "America/Chicago")
    table = table_of(a_log(), calendar, Layout("csv", "utc", "psi", 1, False))

    head, row = csv_bytes(table).decode().splitlines()[:2]

    assert head == "timestamp,pressure_psi,frequency_hz,current_a,voltage_v"
    assert row == "2026-10-26T05:00:00Z,60,45,5.12,231.3"


@pytest.mark.parametrize(
    ("style", "shown"), [("unix_s", ["0", "11", "0"]), ("utc", [None, "11", None])]
)
def test_no_fault_is_a_zero_or_a_blank_by_layout(style, shown):
    layout = Layout("csv", style, "psi", 1, False)

    assert code_column(np.array([0.0, 11.0, 0.0]), layout).to_pylist() == shown


@pytest.mark.parametrize("container", ["csv", "csv.gz", "csv.zst", "parquet"])
def test_each_container_gives_back_what_was_written(container, tmp_path):
    calendar = make_calendar("2026-W44", 1, "Europe/Oslo")
    table = table_of(a_log(), calendar, Layout("csv", "unix_s", "bar", 2, True))

    path = write_log(tmp_path, "P-1__2026-W44", table, container)

    if container == "parquet":
        assert pq.read_table(path).equals(table)
        return
    data = path.read_bytes()
    if container == "csv.gz":
        data = gzip.decompress(data)
    elif container == "csv.zst":
        with pa.input_stream(path, compression="zstd") as stream:
            data = stream.read()
    assert data == csv_bytes(table)


def test_odd_layouts_have_profiles_that_name_their_columns(tmp_path):
    write_profiles(tmp_path)
    calendar = make_calendar("2026-W44", 1, "Europe/Oslo")
    comma = tomllib.loads((tmp_path / "decimal_comma.toml").read_text())
    tags = tomllib.loads((tmp_path / "tag_value.toml").read_text())

    comma_lines = decimal_comma_bytes(a_log(), calendar).decode().splitlines()
    tag_lines = tag_value_bytes(a_log(), calendar, "P-1").decode().splitlines()

    heads = comma_lines[0].split(";")
    named = {v["column"] for k, v in comma["values"].items() if k != "flow"}
    assert named | {comma["time"]["column"]} == set(heads)
    assert comma_lines[1].split(";")[1] == "4,14"
    assert {line.split(",")[2] for line in tag_lines[1:]} == {
        v["tag"] for v in tags["values"].values()
    }


def test_a_layout_with_bare_local_times_can_be_asked_for(fleet):
    scenario = next(s for s in ODD if "naive" in s.traits)
    calendar = make_calendar("2026-W47", 1, "America/Denver")

    pump, _ = build_pump(scenario, ("P-1", "S-1"), calendar, np.random.default_rng(1))

    assert {layout_of(pump, n).times for n in range(5)} == {"naive"}
