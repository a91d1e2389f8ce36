from dataclasses import replace
from datetime import datetime

import pytest

from analysis.call_rules import Action, action_for, finding_score, then_for, trend_weight
from analysis.call_weights import Weights
from analysis.calls import departed, rank_calls, utility_calls
from analysis.findings import SEVERITY_OF_CONSEQUENCE, Assessment, Finding, Kind, Status
from ingest.installed_base import Register, Site

WEEK = "2026-W47"


def finding(
    consequence: int,
    confidence: float,
    state: str = "same",
    *,
    site_id: str = "S-01",
    pump_id: str | None = None,
    kind: Kind = Kind.OVERLOAD_MARGIN,
    cause: str = "",
) -> Finding:
    return Finding(
        week=WEEK,
        site_id=site_id,
        pump_id=pump_id or f"{site_id}-P1",
        kind=kind,
        cause=cause,
        severity=SEVERITY_OF_CONSEQUENCE[consequence],
        confidence=confidence,
        first_seen=datetime(2026, 11, 17, 5),
        last_seen=datetime(2026, 11, 22, 5),
        measures={},
        summary=f"{kind} at {site_id}",
        limit_source="test",
        consequence=consequence,
        state=state,
    )


NO_REGISTER = Register()

# Order a dispatcher put eleven made cases in: judgement of the trade, no published source.
EXAMPLE_ORDER = [
    ("no water, four times a day", finding(5, 0.8, "new", site_id="S-01")),
    ("cycling 900 a day, tank", finding(4, 0.9, "new", site_id="S-02", kind=Kind.SHORT_CYCLING)),
    ("joint heating", finding(5, 0.7, "worse", site_id="S-03", kind=Kind.UNDERVOLTAGE)),
    ("leak back after a fix", finding(3, 0.8, "back", site_id="S-04", kind=Kind.LEAK)),
    ("damage since the motor job", finding(4, 0.7, site_id="S-05")),
    ("low supply evenings", finding(3, 0.87, site_id="S-06", kind=Kind.UNDERVOLTAGE)),
    ("margin 3 % and falling", finding(2, 0.72, "worse", site_id="S-07")),
    ("perhaps bursting", finding(5, 0.3, site_id="S-08")),
    ("toilet-size leak", finding(2, 0.7, site_id="S-09", kind=Kind.LEAK)),
    ("logger silent", finding(1, 1.0, "worse", site_id="S-10", kind=Kind.DATA_GAP)),
    ("pre-charge high", finding(1, 0.9, site_id="S-11", kind=Kind.SETTING)),
]


def test_the_example_list_comes_out_in_the_order_the_trade_gives_it():
    shuffled = [found for _, found in EXAMPLE_ORDER[::-1]]

    calls = rank_calls(shuffled, NO_REGISTER)

    assert [call.site_id for call in calls] == [found.site_id for _, found in EXAMPLE_ORDER]
    assert [call.rank for call in calls] == list(range(1, 12))


def test_a_finding_scores_consequence_times_confidence_times_trend():
    score = finding_score(finding(4, 0.9, "new"))

    assert score == pytest.approx(4.5)  # 4 x 0.9 x 1.25, by hand


@pytest.mark.parametrize(
    ("state", "weight"),
    [("better", 0.8), ("same", 1), ("new", 1.25), ("worse", 1.25), ("back", 1.5)],
)
def test_each_state_has_its_weight(state: str, weight: float):
    assert trend_weight(state) == weight


def test_ten_trifles_never_beat_one_serious_finding():
    trifles = [
        finding(1, 1.0, "new", site_id="S-02", kind=Kind.SETTING, cause=f"rule {n}")
        for n in range(10)
    ]
    serious = finding(5, 0.5, site_id="S-01")

    calls = rank_calls([*trifles, serious], NO_REGISTER)

    assert [call.site_id for call in calls] == ["S-01", "S-02"]


def test_a_second_finding_lifts_a_site_above_its_equal():
    calls = rank_calls(
        [
            finding(3, 0.8, site_id="S-01"),
            finding(3, 0.8, site_id="S-02"),
            finding(2, 0.8, site_id="S-02", kind=Kind.LEAK),
        ],
        NO_REGISTER,
    )

    assert [call.site_id for call in calls] == ["S-02", "S-01"]


@pytest.mark.parametrize("confidence", [0.05, 0.3, 0.59])
def test_an_unsure_emergency_is_never_below_phone_today(confidence: float):
    assert action_for(finding(5, confidence, "better")) == Action.PHONE_TODAY


def test_a_sure_emergency_is_gone_to_today():
    assert action_for(finding(5, 0.8)) == Action.GO_TODAY


def test_a_heating_joint_is_phoned_today_and_then_visited():
    joint = finding(5, 0.9, "worse", kind=Kind.UNDERVOLTAGE, cause="supply_wiring")

    assert action_for(joint) == Action.PHONE_TODAY
    assert "then go this week" in then_for(joint, action_for(joint))


def test_an_emergency_leads_its_site_even_where_another_finding_scores_more():
    calls = rank_calls(
        [finding(5, 0.3), finding(4, 0.9, "new", kind=Kind.SHORT_CYCLING)], NO_REGISTER
    )

    assert calls[0].findings[0].consequence == 5
    assert calls[0].action == Action.PHONE_TODAY
    assert calls[0].confidence == 0.3
    assert calls[0].score == pytest.approx(4.58)  # 4.5 + 0.05 x 1.5 = 4.575, to two digits


def test_a_leak_is_phoned_about_before_a_truck_goes():
    leak = finding(3, 0.95, "new", kind=Kind.LEAK)

    assert action_for(leak) == Action.PHONE
    assert "before sending a truck" in then_for(leak, action_for(leak))


def test_a_setting_is_a_desk_job_unless_it_does_damage():
    assert action_for(finding(2, 0.9, kind=Kind.SETTING)) == Action.DESK
    assert action_for(finding(4, 0.9, kind=Kind.SETTING)) == Action.THIS_WEEK


def test_a_data_gap_is_a_call_about_the_logger():
    gap = finding(1, 1.0, kind=Kind.DATA_GAP)

    assert action_for(gap) == Action.PHONE
    assert "logger" in then_for(gap, action_for(gap))


@pytest.mark.parametrize(("consequence", "action"), [(3, Action.PHONE), (4, Action.PHONE_TODAY)])
def test_low_supply_from_the_source_needs_no_truck(consequence: int, action: Action):
    low = finding(consequence, 0.9, "new", kind=Kind.UNDERVOLTAGE, cause="supply_source")

    assert action_for(low) == action
    assert "utility" in then_for(low, action_for(low))


def test_damage_we_doubt_is_phoned_about_first():
    assert action_for(finding(4, 0.4)) == Action.PHONE


@pytest.mark.parametrize(
    ("state", "action"), [("worse", Action.THIS_WEEK), ("same", Action.NEXT_ROUND)]
)
def test_wear_waits_for_the_next_round_unless_it_moves(state: str, action: Action):
    assert action_for(finding(3, 0.85, state)) == action


def test_a_leading_leak_does_not_hide_the_visit_another_finding_needs():
    calls = rank_calls(
        [
            finding(3, 0.9, "back", kind=Kind.LEAK),
            finding(4, 0.8, kind=Kind.SHORT_CYCLING),
        ],
        NO_REGISTER,
    )

    assert calls[0].kinds == (Kind.LEAK, Kind.SHORT_CYCLING)
    assert calls[0].action == Action.THIS_WEEK


def test_the_list_is_cut_by_visits_but_never_for_an_emergency_or_a_call():
    calls = rank_calls(
        [
            finding(4, 0.9, "new", site_id="S-01"),
            finding(4, 0.8, site_id="S-02"),
            finding(3, 0.9, "new", site_id="S-03", kind=Kind.LEAK),
            finding(5, 0.6, "better", site_id="S-04"),
        ],
        NO_REGISTER,
        capacity=1,
    )

    assert {call.site_id: call.is_within_capacity for call in calls} == {
        "S-01": True,
        "S-02": False,  # a second visit
        "S-03": True,  # a phone call takes no room
        "S-04": True,  # no water
    }


def test_equal_sites_stand_in_order_of_their_id_whatever_order_they_come_in():
    found = [finding(3, 0.8, site_id=f"S-{n:02d}") for n in range(5)]

    assert rank_calls(found, NO_REGISTER) == rank_calls(found[::-1], NO_REGISTER)
    assert [call.site_id for call in rank_calls(found[::-1], NO_REGISTER)] == [
        f"S-{n:02d}" for n in range(5)
    ]


def test_the_trend_shows_a_week_without_findings_as_zero_and_an_unscanned_one_as_none():
    before = finding(2, 0.5)

    calls = rank_calls([finding(4, 0.5)], NO_REGISTER, past=[None, [], [before]])

    assert calls[0].trend == (None, 0.0, 1.0, 2.0)


def test_a_site_missing_from_the_register_is_shown_by_its_id():
    calls = rank_calls([finding(3, 0.8, site_id="gone")], NO_REGISTER)

    assert calls[0].title == "gone"
    assert calls[0].region == ""


def test_low_supply_at_three_sites_of_a_region_is_one_call_to_the_utility():
    register = Register(
        sites={
            f"S-{n}": Site(site_id=f"S-{n}", region="North" if n < 4 else "South")
            for n in range(1, 6)
        }
    )
    low = [
        finding(3, 0.9, site_id=f"S-{n}", kind=Kind.UNDERVOLTAGE, cause="supply_source")
        for n in range(1, 6)
    ]

    calls = utility_calls(low, register)

    assert [(call.region, call.site_ids) for call in calls] == [("North", ("S-1", "S-2", "S-3"))]


@pytest.mark.parametrize(
    "status", [Status.CLEAR, Status.NO_DATA, Status.NOT_ASSESSED, Status.SHUT_DOWN]
)
def test_a_finding_that_is_gone_says_whether_it_cleared_or_was_not_seen(status: Status):
    old = finding(3, 0.8, kind=Kind.LEAK)
    answer = Assessment(
        week=WEEK,
        site_id=old.site_id,
        pump_id=old.pump_id,
        kind=Kind.LEAK,
        status=status,
        reason="why",
    )

    gone = departed([], [old], [answer])

    assert [(each.finding, each.status, each.reason) for each in gone] == [(old, status, "why")]


def test_a_finding_still_there_has_not_departed():
    old = finding(3, 0.8)

    assert departed([replace(old, cause="rising_load")], [old], []) == ()


def test_one_setting_put_right_departs_though_another_stays():
    ramp = finding(1, 0.8, kind=Kind.SETTING, cause="ramp")
    tank = finding(1, 0.8, kind=Kind.SETTING, cause="tank")
    answer = Assessment(
        week=WEEK,
        site_id=tank.site_id,
        pump_id=tank.pump_id,
        kind=Kind.SETTING,
        status=Status.FOUND,
    )

    gone = departed([tank], [ramp, tank], [answer])

    assert [(each.finding.cause, each.status) for each in gone] == [("ramp", Status.CLEAR)]


def register_of(*sites: Site) -> Register:
    return Register(sites={site.site_id: site for site in sites})


def test_who_depends_on_the_water_moves_a_site_up():
    register = register_of(Site(site_id="S-01"), Site(site_id="S-02", dependence="critical"))
    equal = [finding(3, 0.8, site_id="S-01"), finding(3, 0.8, site_id="S-02")]

    calls = rank_calls(equal, register)

    assert [(c.site_id, c.score) for c in calls] == [("S-02", 3.6), ("S-01", 2.4)]
    assert any("critical" in reason for reason in calls[0].reasons)


def test_a_dairy_without_water_scores_as_the_trades_example():
    # 5 x 0.8 x 1.25 x 1.2 = 6.0, by hand
    register = register_of(Site(site_id="S-01", dependence="important"))

    assert rank_calls([finding(5, 0.8, "new")], register)[0].score == 6.0


def test_a_site_says_why_it_stands_where_it_stands():
    (call,) = rank_calls([finding(4, 0.9, "new"), finding(2, 0.8, kind=Kind.LEAK)], NO_REGISTER)

    assert call.reasons == (
        "consequence 4 of 5: damage within days",
        "very likely (0.90), from stated grounds",
        "new this week: times 1.25",
        "1 more finding: plus 0.08",
        "score 4.58",
    )


def test_a_floor_is_named_where_it_holds():
    (call,) = rank_calls([finding(5, 0.3)], NO_REGISTER)

    assert "no water, fire or burst is never below phone today, however unsure" in call.reasons


def test_neighbours_for_the_next_round_ride_along_with_an_urgent_site():
    register = register_of(
        Site(site_id="S-01", region="North"),
        *(Site(site_id=f"S-0{n}", region="North") for n in (2, 3, 4)),
        Site(site_id="S-05", region="South"),
        Site(site_id="S-06"),
    )
    urgent = finding(4, 0.9, "new", site_id="S-01")
    wear = [finding(3, 0.9 - n / 100, site_id=f"S-0{n}") for n in range(2, 7)]

    calls = {call.site_id: call for call in rank_calls([urgent, *wear], register, capacity=1)}

    assert {s: c.rides_with for s, c in calls.items() if c.rides_with} == {
        "S-02": "S-01",
        "S-03": "S-01",  # two stops fit beside it, a third does not
    }
    assert [s for s, c in calls.items() if c.is_within_capacity] == ["S-01", "S-02", "S-03"]


def test_nobody_rides_along_where_nothing_is_urgent():
    register = register_of(*(Site(site_id=f"S-0{n}", region="North") for n in (1, 2)))

    calls = rank_calls([finding(3, 0.8, site_id=f"S-0{n}") for n in (1, 2)], register)

    assert [call.rides_with for call in calls] == ["", ""]


def test_a_companys_own_weights_move_the_list():
    worse, back = finding(3, 0.8, "worse", site_id="S-01"), finding(3, 0.8, "back", site_id="S-02")

    usual = rank_calls([worse, back], NO_REGISTER)
    own = rank_calls([worse, back], NO_REGISTER, weights=Weights({"trend.worse": 2.0}))

    assert [call.site_id for call in usual] == ["S-02", "S-01"]
    assert [call.site_id for call in own] == ["S-01", "S-02"]


def test_no_weight_takes_an_emergency_below_phone_today():
    harmless = Weights({"limit.visit_confidence": 1.0, "limit.go_today_confidence": 1.0})

    (call,) = rank_calls([finding(5, 0.2, "better")], NO_REGISTER, weights=harmless)

    assert call.action == Action.PHONE_TODAY
