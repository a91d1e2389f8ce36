from datetime import datetime

import pytest

from analysis.findings import Judged, Kind
from analysis.root_cause import held_back, nest

MONDAY = datetime.fromisoformat("2026-11-16T05:00")


def judged(kind, cause="", **measures):
    return Judged(
        kind=kind,
        cause=cause,
        consequence=3,
        confidence=0.8,
        since_at=MONDAY,
        until_at=MONDAY,
        measures=measures,
        summary="",
        limit_source="",
    )


def cycling(cause, *, over=True):
    return judged(Kind.SHORT_CYCLING, cause, is_over_fixed_limit=over)


def kinds(found):
    return [item.kind for item in found]


def test_nothing_found_stays_nothing():
    assert nest([]) == ()


def test_unrelated_findings_are_kept_as_they_are():
    found = (judged(Kind.UNDERVOLTAGE), judged(Kind.LEAK, "downstream"), judged(Kind.DATA_GAP))

    assert nest(found) == found


@pytest.mark.parametrize("cause", ["leak", ""])
def test_restarts_within_the_limits_are_told_inside_the_leak_that_makes_them(cause):
    kept = nest([cycling(cause, over=False), judged(Kind.LEAK, "downstream")])

    assert kinds(kept) == [Kind.LEAK]
    assert kept[0].measures["also"] == ["short_cycling"]
    assert len(kept[0].measures["also_because"]) == 1


def test_a_leak_that_drives_starts_past_a_fixed_limit_leaves_both_standing():
    kept = nest([cycling("leak"), judged(Kind.LEAK, "downstream")])

    assert kinds(kept) == [Kind.SHORT_CYCLING, Kind.LEAK]
    assert kept[1].measures["also"] == ["short_cycling"]
    assert kept[0].measures["explained_by"] == "leak"


def test_a_dead_tank_beside_a_leak_keeps_both_and_makes_the_litres_an_upper_bound():
    kept = nest([cycling("tank_charge_lost"), judged(Kind.LEAK, "downstream", leak_lpm=0.4)])

    assert kinds(kept) == [Kind.SHORT_CYCLING, Kind.LEAK]
    assert kept[1].measures["leak_is_upper_bound"] is True
    assert "also" not in kept[1].measures


@pytest.mark.parametrize("setting", ["ramp", "tank"])
def test_a_ramp_or_tank_setting_is_told_inside_the_dead_tank_that_explains_it(setting):
    kept = nest([cycling("tank_charge_lost"), judged(Kind.SETTING, setting)])

    assert kinds(kept) == [Kind.SHORT_CYCLING]
    assert kept[0].measures["also"] == ["setting"]


@pytest.mark.parametrize("setting", ["ramp", "tank"])
def test_a_ramp_or_tank_setting_stands_beside_cycling_it_could_mend(setting):
    kept = nest([cycling("low_demand"), judged(Kind.SETTING, setting)])

    assert kinds(kept) == [Kind.SHORT_CYCLING, Kind.SETTING]
    assert kept[0].measures["also"] == ["setting"]


def test_a_ramp_setting_without_cycling_stands_alone():
    found = (judged(Kind.SETTING, "ramp"),)

    assert nest(found) == found


def test_an_overload_setting_is_never_swallowed_by_cycling():
    kept = nest([cycling("low_demand"), judged(Kind.SETTING, "overload_setting_amps")])

    assert kinds(kept) == [Kind.SHORT_CYCLING, Kind.SETTING]


def test_a_contradicted_register_figure_stands_beside_a_leak():
    found = (judged(Kind.LEAK, "downstream"), judged(Kind.SETTING, "service_factor_amps"))

    assert nest(found) == found


def sensor(channel, cause="stuck"):
    return judged(Kind.SENSOR_FAULT, cause, channel=channel, channels=[channel])


@pytest.mark.parametrize(
    ("channel", "symptom"),
    [
        ("pressure_kpa", judged(Kind.SHORT_CYCLING, "low_demand")),
        ("pressure_kpa", judged(Kind.LEAK, "downstream")),
        ("pressure_kpa", judged(Kind.WEAK_DELIVERY, "wrong_rotation")),
        ("current_a", judged(Kind.OVERLOAD_MARGIN, "high_load")),
        ("current_a", judged(Kind.DRY_RUNNING, "suction_lost")),
        ("voltage_v", judged(Kind.UNDERVOLTAGE, "supply_source")),
    ],
)
def test_a_bad_reading_holds_back_what_rests_on_it(channel, symptom):
    kept = nest([symptom, sensor(channel)])

    assert kinds(kept) == [Kind.SENSOR_FAULT]
    assert kept[0].measures["also"] == [symptom.kind.value]


def test_a_bad_reading_leaves_what_does_not_rest_on_it():
    found = (judged(Kind.UNDERVOLTAGE, "supply_source"), sensor("pressure_kpa"))

    assert nest(found) == found


def test_an_offset_leaves_a_reading_usable():
    found = (judged(Kind.LEAK, "downstream"), sensor("pressure_kpa", "offset"))

    assert nest(found) == found
    assert held_back(found) == {}


def test_clear_is_no_answer_for_what_rests_on_a_bad_reading():
    reasons = held_back([sensor("voltage_v")])

    assert set(reasons) == {Kind.UNDERVOLTAGE}
    assert "supply volts" in reasons[Kind.UNDERVOLTAGE]


def test_low_volts_come_before_the_pressure_they_cost():
    kept = nest([judged(Kind.UNDERVOLTAGE), judged(Kind.WEAK_DELIVERY, "low_voltage")])

    assert kinds(kept) == [Kind.UNDERVOLTAGE]
    assert kept[0].measures["also"] == ["weak_delivery"]


def test_low_volts_do_not_explain_a_worn_pump():
    found = (judged(Kind.UNDERVOLTAGE), judged(Kind.WEAK_DELIVERY, "worn_or_blocked"))

    assert nest(found) == found


def test_running_dry_comes_before_the_pressure_and_the_retries_it_makes():
    kept = nest(
        [
            cycling("low_demand", over=False),
            judged(Kind.DRY_RUNNING, "suction_lost"),
            judged(Kind.WEAK_DELIVERY, "worn_or_blocked"),
        ]
    )

    assert kinds(kept) == [Kind.DRY_RUNNING]
    assert kept[0].measures["also"] == ["short_cycling", "weak_delivery"]


def test_weak_delivery_comes_before_a_setting_it_puts_out_of_reach():
    kept = nest(
        [judged(Kind.WEAK_DELIVERY, "wrong_rotation"), judged(Kind.SETTING, "pressure_setting")]
    )

    assert kinds(kept) == [Kind.WEAK_DELIVERY]


@pytest.mark.parametrize(
    ("margin_pct", "drift_high_pct", "n"),
    [(9.0, -1.0, 1), (4.0, -1.0, 2), (9.0, 0.3, 2), (9.0, None, 2)],
    ids=["current falls like for like", "a margin nearly gone", "may rise", "unknown"],
)
def test_margin_that_a_weak_pump_spends_on_speed_is_the_weak_pumps(margin_pct, drift_high_pct, n):
    load = judged(
        Kind.OVERLOAD_MARGIN,
        "high_load",
        overload_margin_pct=margin_pct,
        drift_high_pct_per_week=drift_high_pct,
    )

    kept = nest([judged(Kind.WEAK_DELIVERY, "worn_or_blocked"), load])

    assert (len(kept), kept[0].kind) == (n, Kind.WEAK_DELIVERY)


def test_a_pump_that_never_reaches_its_setting_never_stops_and_is_no_leak():
    never = judged(Kind.WEAK_DELIVERY, "wrong_rotation", never_days=5)
    at_times = judged(Kind.WEAK_DELIVERY, "worn_or_blocked", never_days=0)
    leak = judged(Kind.LEAK, "downstream")

    assert kinds(nest([leak, never])) == [Kind.WEAK_DELIVERY]
    assert kinds(nest([leak, at_times])) == [Kind.LEAK, Kind.WEAK_DELIVERY]


def test_restarts_of_a_dry_pump_are_no_leak():
    kept = nest([judged(Kind.LEAK, "downstream"), judged(Kind.DRY_RUNNING, "suction_lost")])

    assert kinds(kept) == [Kind.DRY_RUNNING]


def test_nothing_is_nested_in_what_is_nested_itself():
    kept = nest(
        [
            judged(Kind.WEAK_DELIVERY, "worn_or_blocked"),
            sensor("pressure_kpa"),
            judged(Kind.SETTING, "pressure_setting"),
        ]
    )

    assert kinds(kept) == [Kind.SENSOR_FAULT, Kind.SETTING]


def test_hunting_of_a_dead_tank_is_told_inside_the_cycling():
    kept = nest([cycling("tank_charge_lost"), judged(Kind.HUNTING, "ramp_too_fast")])

    assert kinds(kept) == [Kind.SHORT_CYCLING]
    assert kept[0].measures["also"] == ["hunting"]


def test_hunting_beside_honest_small_use_stands():
    found = (cycling("low_demand"), judged(Kind.HUNTING, ""))

    assert nest(found) == found


def test_a_ramp_setting_is_told_inside_the_hunting_it_causes():
    kept = nest([judged(Kind.HUNTING, "ramp_too_fast"), judged(Kind.SETTING, "ramp")])

    assert kinds(kept) == [Kind.HUNTING]
    assert kept[0].measures["also"] == ["setting"]


@pytest.mark.parametrize(
    ("before", "root"),
    [
        ("voltage", Kind.UNDERVOLTAGE),
        ("pressure", Kind.DRY_RUNNING),
        ("heat", Kind.OVERHEATING),
    ],
)
def test_trips_are_told_inside_what_came_before_them(before, root):
    kept = nest([judged(root), judged(Kind.CONTROLLER_TRIP, "E05", before=before)])

    assert kinds(kept) == [root]
    assert kept[0].measures["also"] == ["controller_trip"]


def test_a_pump_that_stays_out_keeps_its_own_place_beside_the_root():
    trip = judged(Kind.CONTROLLER_TRIP, "E05", before="voltage", is_latched=True)

    kept = nest([judged(Kind.UNDERVOLTAGE), trip])

    assert kinds(kept) == [Kind.UNDERVOLTAGE, Kind.CONTROLLER_TRIP]
    assert kept[0].measures["also"] == ["controller_trip"]


def test_overload_trips_stand_beside_the_thin_margin_that_names_them():
    trip = judged(Kind.CONTROLLER_TRIP, "E05", before="current")

    kept = nest([judged(Kind.OVERLOAD_MARGIN, "high_load"), trip])

    assert kinds(kept) == [Kind.OVERLOAD_MARGIN, Kind.CONTROLLER_TRIP]
    assert kept[0].measures["also"] == ["controller_trip"]


def test_trips_that_nothing_came_before_belong_to_no_other_finding():
    found = (judged(Kind.UNDERVOLTAGE), judged(Kind.CONTROLLER_TRIP, "E31", before="nothing"))

    assert nest(found) == found


@pytest.mark.parametrize(("margin_pct", "n"), [(18.0, 1), (4.0, 2)])
def test_a_current_held_down_by_a_hot_drive_is_the_heats_while_margin_is_left(margin_pct, n):
    heat = judged(Kind.OVERHEATING, folds_back=True)
    load = judged(Kind.OVERLOAD_MARGIN, "high_load", overload_margin_pct=margin_pct)

    assert len(nest([load, heat])) == n


def test_pressure_short_of_a_drive_that_folds_back_is_the_heats():
    kept = nest([judged(Kind.WEAK_DELIVERY), judged(Kind.OVERHEATING, folds_back=True)])

    assert kinds(kept) == [Kind.OVERHEATING]
