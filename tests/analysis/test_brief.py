import importlib.util
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from analysis import answer_writing, brief_facts, record_tables, record_writing
from analysis.brief import make_brief, make_briefs
from analysis.findings import Kind, Severity, Status
from analysis.records import PumpRecord
from ingest.errors import RegisterError
from ingest.installed_base import Register, Visit
from ingest.store import open_store, save_register


@pytest.fixture(scope="session")
def world():
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).parents[1] / "dashboards" / "site_world.py"
    spec = importlib.util.spec_from_file_location("site_world_for_brief", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def values(facts):
    return {fact.name: fact.value for fact in facts}


def test_a_site_with_a_finding_says_what_since_when_and_how_sure(world):
    brief = world.brief([world.finding(Kind.LEAK, "downstream")])

    assert brief.standing is Status.FOUND
    assert brief.headline == "Invented sentence on leak."
    lead = brief.findings[0]
    assert lead.since == "Wed 4 Nov, about 2 weeks"
    assert lead.finding.confidence == 0.82


def test_the_worst_finding_leads(world):
    mild = world.finding(Kind.SETTING, "ramp", severity=Severity.LOW, consequence=1)
    unsure = world.finding(Kind.LEAK, "downstream", confidence=0.4)
    sure = world.finding(Kind.UNDERVOLTAGE, "supply_wiring", confidence=0.9)

    brief = world.brief([mild, unsure, sure])

    assert [one.finding.kind for one in brief.findings] == [
        Kind.UNDERVOLTAGE,
        Kind.LEAK,
        Kind.SETTING,
    ]


def test_the_detectors_own_alternatives_come_before_the_tables_and_none_twice(world):
    finding = world.finding(
        Kind.LEAK, "downstream", alternatives=("Mine", "A check valve that does not seat")
    )

    alternatives = world.brief([finding]).findings[0].alternatives

    assert alternatives[0] == "Mine"
    assert len(alternatives) == len(set(alternatives))


def test_parts_of_all_findings_are_loaded_once(world):
    both = [world.finding(Kind.LEAK, "downstream"), world.finding(Kind.SHORT_CYCLING, "leak")]

    bring = world.brief(both).bring

    assert "flapper and fill valve" in bring
    assert len(bring) == len(set(bring))


def test_consequences_are_named_under_their_root(world):
    finding = world.finding(
        Kind.SHORT_CYCLING, "tank_charge_lost", measures={"also": ["overload_margin"]}
    )

    assert world.brief([finding]).findings[0].also == ("overload_margin",)


def test_a_healthy_site_counts_what_was_judged(world):
    brief = world.brief()

    assert brief.standing is Status.CLEAR
    assert brief.headline == f"Nothing found: {len(Kind)} checks clear."
    assert brief.findings == ()
    assert brief.cautions


def test_a_silent_site_is_not_called_clear_and_names_its_last_sign(world):
    brief = world.brief(heard=[], statuses={"P-01": Status.NO_DATA})

    assert brief.standing is Status.NO_DATA
    assert "P-01 was last heard Sun 8 Nov 2026" in brief.headline
    assert "Silence does not mean that all is well." in brief.headline
    assert brief.pumps[0].week is None
    assert brief.pumps[0].normal[0].this_week is None
    assert brief.pumps[0].normal[0].usual == "44.0 Hz"


def test_a_pump_that_never_sent_anything_is_told_apart(world):
    brief = world.brief(heard=[], n_weeks=2)

    assert "P-01 has never sent any" in brief.headline


def test_a_silent_pump_is_named_beside_its_neighbours_finding(world):
    pumps = [world.pump(), world.pump(pump_id="P-02")]

    brief = world.brief([world.finding(Kind.LEAK, "downstream")], pumps=pumps, heard=["P-01"])

    assert brief.standing is Status.FOUND
    assert "P-02 was last heard" in brief.also_know[0]


def test_a_shut_down_site_says_so(world):
    brief = world.brief(week_change={"is_shut_down": True}, statuses={"P-01": Status.SHUT_DOWN})

    assert brief.standing is Status.SHUT_DOWN
    assert brief.headline.startswith("Shut down:")


def test_a_pump_without_any_answer_is_not_assessed(world):
    brief = world.brief(statuses={"P-01": Status.NOT_ASSESSED})

    assert brief.standing is Status.NOT_ASSESSED
    assert len(brief.pumps[0].not_assessed) == len(Kind)
    assert brief.pumps[0].not_assessed[0].reason == "no tank_l in the register"


def test_a_site_without_pumps_says_so(world):
    brief = world.brief(pumps=[])

    assert brief.standing is Status.NO_DATA
    assert brief.headline == "The register has no pump at this site."


def test_blanks_of_the_register_stay_blank(world):
    pump = world.pump(service_factor_amps=None, tank_l=None, output_filter=None, ramp=None)

    plate = values(brief_facts.nameplate(pump, "us"))

    assert plate["Service-factor amps"] is None
    assert plate["Pressure tank"] is None
    assert plate["Output filter"] is None
    assert values(brief_facts.settings(pump, "us"))["Ramp"] is None


def test_a_conductor_half_known_leaves_a_line_for_the_other_half(world):
    plate = values(brief_facts.nameplate(world.pump(supply_wire_m=None), "si"))

    assert plate["Supply conductor"] == "3.3 mm2, length ____"


def test_a_conductor_is_told_by_gauge_where_the_site_is_in_us_units(world):
    # ASTM B258: 12 AWG is 3.31 mm2
    plate = values(brief_facts.nameplate(world.pump(), "us"))

    assert plate["Supply conductor"] == "12 AWG, 80 ft one way"


def test_values_stand_in_the_units_of_the_site(world):
    pump = world.pump()

    assert values(brief_facts.settings(pump, "us"))["Set pressure"] == "60 psi"
    assert values(brief_facts.settings(pump, "si"))["Set pressure"] == "414 kPa"


def test_normal_values_show_this_week_beside_the_usual(world):
    normal = {n.name: n for n in world.brief().pumps[0].normal}

    assert normal["Idle volts, 5th to 95th percentile"].this_week == "229 to 235 V"
    assert normal["Restart pressure"].usual == "55 psi"
    drop = normal["Volt drop when it starts"]
    assert (drop.this_week, drop.usual) == ("8.0 V", "5.6 V")  # medians of the invented weeks


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"has_voltage": False}, "no voltage column"),
        ({"log_interval_s": 60.0}, "lower bounds"),
        ({"is_averaged": True}, "averages"),
        ({}, "compare with a gauge"),
    ],
)
def test_what_the_log_cannot_show_is_said(world, change, told):
    week = world.CASES.healthy_week(**change)

    assert any(told in text for text in brief_facts.cannot_tell(week, world.pump()))


def test_a_fast_whole_log_is_not_blamed_for_what_it_shows(world):
    week = world.CASES.healthy_week(log_interval_s=1.0)

    told = " ".join(brief_facts.cannot_tell(week, world.pump()))
    assert "Hunting" not in told
    assert "start" not in told


def visit(**change):
    return Visit(
        **(
            {
                "visited_on": date(2026, 10, 28),
                "site_id": "S-01",
                "pump_id": "P-01",
                "kind": "leak",
                "outcome": "fixed",
            }
            | change
        )
    )


def test_a_visit_tells_whether_its_fault_was_seen_again(world):
    back = world.finding(Kind.LEAK, "downstream", week="2026-W46")

    held = world.brief(visits=[visit()]).visits[0]
    came_back = world.brief(visits=[visit()], history=[back]).visits[0]
    other = world.brief(visits=[visit(kind=None)], history=[back]).visits[0]

    assert held.since_then == "holding, not seen in 3 weeks of data since"
    assert came_back.since_then == "came back, seen again in 2026-W46"
    assert other.since_then == ""


def test_a_fault_is_not_called_gone_where_the_log_is_silent(world):
    line = world.brief(heard=[], visits=[visit(visited_on=date(2026, 11, 4))]).visits[0]

    assert line.since_then == "no full week of data since"


def test_a_fix_is_watched_for_two_weeks_before_it_is_said_to_hold(world):
    line = world.brief(visits=[visit(visited_on=date(2026, 11, 11))]).visits[0]

    assert line.since_then == "watched, not seen in 1 week of data since"


def test_what_was_agreed_says_until_when(world):
    until = visit(outcome="explained", until_on=date(2026, 12, 31))

    assert world.brief(visits=[until]).visits[0].since_then == "holds until 2026-12-31"


def test_visits_stand_latest_first(world):
    visits = [visit(visited_on=date(2026, 9, 1)), visit(visited_on=date(2026, 10, 1))]

    assert [v.visited_on.month for v in world.brief(visits=visits).visits] == [10, 9]


@pytest.fixture
def stored(world, tmp_path):
    """A store with one judged site, a healthy and a sick pump, and another site."""
    sites = {"S-01": world.site(), "S-02": world.site(site_id="S-02", site_name=None)}
    pumps = {
        "P-01": world.pump(),
        "P-02": world.pump(pump_id="P-02"),
        "P-03": world.pump(pump_id="P-03", site_id="S-02"),
    }
    known = world.brief(pumps=list(pumps.values()))
    with open_store(tmp_path / "fleet.duckdb") as con:
        save_register(con, Register(sites=sites, pumps=pumps, visits=(visit(),)))
        record_tables.ensure_tables(con)
        for one in known.pumps:
            for week in (*one.past, one.week):
                days = tuple(day for day in one.days if day.week == week.week)
                cells = tuple(cell for cell in one.op_map if cell.week == week.week)
                record_writing.write_records(con, [PumpRecord(week=week, days=days, op_map=cells)])
        findings = [world.finding(Kind.LEAK, "downstream", pump_id="P-02")]
        answer_writing.write_week_findings(con, str(world.WEEK), findings, [])
        yield con


def test_a_brief_read_from_the_store_holds_only_its_own_site(world, stored):
    brief = make_brief(stored, "S-01", world.WEEK)

    assert [pump.pump.pump_id for pump in brief.pumps] == ["P-01", "P-02"]
    assert brief.findings[0].finding.pump_id == "P-02"
    assert len(brief.pumps[0].past) == 5
    assert brief.pumps[0].week is not None
    assert len(brief.visits) == 1


def test_an_earlier_week_is_told_without_what_came_later(world, stored):
    brief = make_brief(stored, "S-01", world.WEEK.plus(-2))

    assert brief.findings == ()
    assert len(brief.pumps[0].past) == 3


def test_all_sites_come_in_order_of_their_id(world, stored):
    briefs = list(make_briefs(stored, None, world.WEEK))

    assert [brief.site.site_id for brief in briefs] == ["S-01", "S-02"]
    assert briefs[0] == make_brief(stored, "S-01", world.WEEK)


def test_an_unknown_site_is_named_in_the_error(world, stored):
    with pytest.raises(RegisterError, match="S-99: no such site in the register"):
        make_brief(stored, "S-99", world.WEEK)


def test_the_first_sign_in_another_year_is_told_with_the_year(world):
    finding = world.finding(Kind.LEAK, "downstream")
    old = replace(finding, first_seen=finding.first_seen.replace(year=2025))

    assert "2025" in world.brief([old]).findings[0].since


def test_what_was_there_on_the_first_day_of_the_log_is_said_so(world):
    begins_at = world.brief().pumps[0].past[0].first_at
    old = world.finding(Kind.LEAK, "downstream", first_seen=begins_at + timedelta(hours=5))

    since = world.brief([old]).findings[0].since

    assert since.startswith("the log begins (")
