from datetime import timedelta

import pytest

from analysis.detectors.controller_trip import judge
from analysis.detectors.trip_evidence import Before, before, timing_text
from analysis.findings import NotAssessed
from analysis.records import TripEvent
from ingest.installed_base import FaultCode
from ingest.weeks import Week, week_bounds

MONDAY, _ = week_bounds(Week(2026, 47), "America/New_York")
LISTED = (FaultCode(controller_model="C-1", fault_code="E05", meaning="motor overload"),)
CONTROLLER = {"controller_model": "C-1"}


def event(day=1, hour=18.0, code="E05", **change):
    at = MONDAY + timedelta(days=day, hours=hour)
    values = {
        "pump_id": "P-01",
        "week": "2026-W47",
        "tripped_at": at,
        "until_at": at + timedelta(minutes=10),
        "code": code,
        "n_retries": 0,
        "ran_s": 900.0,
        "current_before_a": 5.0,
        "current_before_pct": 72.0,
        "voltage_before_pct": 99.0,
        "pressure_before_pct": 100.0,
        "frequency_before_hz": 50.0,
        "stopped_s": 600.0,
        "is_carried": False,
        "is_open": False,
        "is_latched": False,
    }
    return TripEvent(**(values | change))


LATCHED = {"is_latched": True, "is_open": True, "stopped_s": 200_000.0}


def only(verdict):
    (judged,) = verdict
    return judged


def tripped(make_case, *events, **change):
    values = {"pump": CONTROLLER, "fault_codes": LISTED} | change
    return judge(make_case(trips=events, **values))


def test_a_week_without_trips_is_clear(make_case):
    assert judge(make_case()) == ()


def test_a_log_that_may_miss_a_code_clears_nothing(make_case):
    verdict = judge(make_case(week={"log_interval_s": 120.0, "log_interval_p95_s": 120.0}))

    assert isinstance(verdict, NotAssessed)
    assert "one sample every 120 s" in verdict.reason


def test_a_slow_log_that_shows_a_code_is_believed(make_case):
    assert only(tripped(make_case, event(), week={"log_interval_s": 120.0})).cause == "E05"


def test_the_cause_is_the_code_with_its_meaning(make_case):
    found = only(tripped(make_case, event()))

    assert (found.cause, found.measures["meaning"]) == ("E05", "motor overload")
    assert "E05 (motor overload)" in found.summary


@pytest.mark.parametrize(
    ("pump", "said"),
    [
        (CONTROLLER, "E99 (meaning not in fault_codes.csv)"),
        ({}, "E99 (no controller_model in the register, so its meaning is not known)"),
    ],
)
def test_an_unknown_code_is_shown_raw_and_never_guessed(make_case, pump, said):
    found = only(tripped(make_case, event(code="E99"), pump=pump))

    assert found.cause == "E99"
    assert said in found.summary
    assert found.measures["meaning"] is None


@pytest.mark.parametrize("name", ["trips", "trips_per_week", "current_pct_limit_before"])
def test_the_measures_of_the_contract_are_there(make_case, name):
    assert only(tripped(make_case, event())).measures[name] is not None


def test_a_burst_is_one_trip_and_both_numbers_are_given(make_case):
    found = only(tripped(make_case, event(n_retries=4, retry_s=900.0), event(day=3)))

    assert (found.measures["trips"], found.measures["trips_with_retries"]) == (2, 6)
    assert "2 times (6 with its own retries)" in found.summary
    assert any("every 15 min" in ground for ground in found.grounds)


def test_trips_a_week_are_over_the_time_seen(make_case):
    found = only(tripped(make_case, event(), week={"observed_s": 302_400.0}))

    assert found.measures["trips_per_week"] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("events", "consequence"),
    [
        ([event()], 3),
        ([event(), event(day=3)], 4),
        ([event(n_retries=2)], 5),
        ([event(), event(day=2), event(day=4)], 5),
        ([event(**LATCHED)], 5),
        ([event(voltage_before_pct=82.0)], 2),
    ],
    ids=["once", "twice", "retried", "thrice", "latched", "once, on low volts"],
)
def test_staying_out_and_tripping_again_and_again_are_the_worst(make_case, events, consequence):
    assert only(tripped(make_case, *events)).consequence == consequence


def test_a_latched_trip_says_since_when_there_is_no_water(make_case):
    found = only(tripped(make_case, event(**LATCHED)))

    assert found.summary == (
        "Pump P-01 tripped on E05 (motor overload) Tue 17 Nov 18:00 EST and has not run since;"
        " just before, nothing unusual showed."
    )
    assert found.measures["is_latched"] is True


def test_the_code_that_keeps_the_pump_out_leads(make_case):
    others = [event(day=n) for n in range(3)]

    found = only(tripped(make_case, *others, event(day=4, code="E31", **LATCHED)))

    assert found.cause == "E31"
    assert found.measures["codes"] == ["E05", "E31"]
    assert any("Other codes: E05 (motor overload)" in ground for ground in found.grounds)


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"current_before_pct": 104.0}, Before.CURRENT),
        ({"current_before_pct": 104.0, "pressure_before_pct": 20.0}, Before.CURRENT),
        ({"voltage_before_pct": 84.0}, Before.VOLTAGE),
        ({"pressure_before_pct": 15.0, "current_before_pct": 40.0}, Before.PRESSURE),
        ({"pressure_before_pct": 15.0, "current_before_pct": 90.0}, Before.NOTHING),
        ({"drive_temp_before_c": 81.0}, Before.HEAT),
        ({}, Before.NOTHING),
        ({"current_before_pct": None, "voltage_before_pct": None}, Before.UNKNOWN),
    ],
)
def test_a_trip_is_sorted_by_what_came_before_it(change, kind):
    assert before(event(**change)) is kind


@pytest.mark.parametrize(
    ("events", "timing"),
    [
        ([event(ran_s=20.0)], "at the start or in the ramp of a run"),
        ([event(ran_s=720.0)], "after 12 min of running"),
        ([event(ran_s=None)], "at rest, not out of a run"),
        (
            [event(day=d, hour=h) for d, h in ((1, 14.2), (2, 15.8), (4, 16.9))],
            "after 15 min of running, always between 14:00 and 17:00",
        ),
        (
            [event(day=d, hour=h) for d, h in ((1, 23.2), (2, 24.8), (4, 25.5))],
            "after 15 min of running, always between 23:00 and 2:00",
        ),
        (
            [event(day=d, hour=h) for d, h in ((1, 2.0), (2, 9.0), (4, 20.0))],
            "after 15 min of running",
        ),
    ],
)
def test_timing_is_told_within_the_run_and_within_the_day(events, timing):
    assert timing_text(events, "America/New_York") == timing


def test_a_trip_without_a_code_is_said_to_be_inferred_and_less_sure(make_case):
    inferred = only(tripped(make_case, event(code="", **LATCHED)))
    told = only(tripped(make_case, event(**LATCHED)))

    assert (inferred.cause, inferred.consequence) == ("", 5)
    assert inferred.measures["is_inferred"] is True
    assert inferred.confidence < told.confidence
    assert inferred.grounds[0].startswith("Inferred:")
    assert "no code logged" in inferred.summary
    assert inferred.alternatives[0] == "Switched off by hand or by a timer"


def test_a_trip_carried_into_the_week_is_said_so(make_case):
    found = only(
        tripped(make_case, event(day=0, hour=0.0, is_carried=True, ran_s=None, **LATCHED))
    )

    assert "was already tripped at on" not in found.summary
    assert "already stood tripped" in found.summary
