import json

from analysis.fault_history import histories_of
from analysis.fault_report import fault_report
from analysis.findings import Kind
from dashboards.as_json import brief_json, faults_json
from ingest.installed_base import Register


def test_the_brief_says_in_json_what_the_page_says(world):
    brief = world.brief([world.finding(Kind.LEAK, "downstream", measures={"leak_lpm": 0.3})])

    told = json.loads(brief_json(brief))

    assert told["week"] == str(world.WEEK)
    assert told["headline"] == brief.headline
    assert told["standing"] == "found"
    (lead,) = told["findings"]
    assert lead["finding"]["kind"] == "leak"
    assert lead["finding"]["measures"] == {"leak_lpm": 0.3}
    assert lead["finding"]["first_seen"].endswith("Z")
    assert lead["checks"] == list(brief.findings[0].checks)
    assert told["pumps"][0]["pump"]["pump_id"] == "P-01"


def test_what_charts_are_drawn_from_stays_in_the_store(world):
    (pump,) = json.loads(brief_json(world.brief()))["pumps"]

    assert not {"past", "days", "op_map"} & set(pump)
    assert pump["week"]["pump_id"] == "P-01"


def test_a_number_that_is_none_becomes_null(world):
    finding = world.finding(Kind.LEAK, "downstream", measures={"b": float("nan"), "a": [1.0]})

    text = brief_json(world.brief([finding]))

    assert json.loads(text)["findings"][0]["finding"]["measures"] == {"a": [1.0], "b": None}
    assert text == brief_json(world.brief([finding]))


def test_what_recurs_is_told_with_counts_and_limits(make_finding, make_answers, register):
    answers = [answer for n in (1, 2) for answer in make_answers(f"P-0{n}", f"S-0{n}", "clear")]

    report = fault_report("2026-W47", histories_of([make_finding()], answers), register)

    told = json.loads(faults_json(report))["recurrence"]

    (cycling,) = (each for each in told["kinds"] if each["kind"] == "short_cycling")
    assert (cycling["rate"]["n_found"], cycling["rate"]["n_observed"]) == (1, 2)
    assert cycling["causes"] == [["tank_charge_lost", 1]]


def test_an_empty_fleet_has_json_too():
    told = json.loads(faults_json(fault_report("2026-W47", (), Register())))["recurrence"]

    assert told["n_pumps"] == 0
    assert told["kinds"][0]["rate"]["per_100"] is None
