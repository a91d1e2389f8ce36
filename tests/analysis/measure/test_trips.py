"""Trip events: codes, bursts of retries, what came before, and stops that only look like it."""

from datetime import timedelta

import numpy as np
import pytest

REGISTER = {
    "pressure_setting_kpa": 400.0,
    "min_hz": 30.0,
    "max_hz": 60.0,
    "overload_setting_amps": 8.0,
    "supply_volts": 230.0,
}
RUN = {"hz": 50.0, "kpa": 400.0, "amps": 6.0, "volts": 228.0, "code": None}
REST = {"hz": 0.0, "kpa": 395.0, "amps": 0.0, "volts": 231.0, "code": None}
OUT = REST | {"kpa": 120.0}
CYCLE = [(120.0, RUN), (480.0, REST), (1.0, REST | {"kpa": 370.0})]  # restarts at 370 kPa


def played(steps, interval_s, *, codes=True, volts=True):
    """Channels of a log that plays steps (seconds, state) one after the other."""
    ends = np.cumsum([length for length, _ in steps])
    t_s = np.arange(0.0, ends[-1], interval_s)
    at = np.searchsorted(ends, t_s, side="right")
    names = {
        "frequency_hz": "hz",
        "pressure_kpa": "kpa",
        "current_a": "amps",
        "voltage_v": "volts",
    }
    made = {
        name: np.array([steps[n][1][key] for n in at], dtype=float) for name, key in names.items()
    }
    if not volts:
        del made["voltage_v"]
    of = np.array([steps[n][1]["code"] for n in at], dtype=object)
    return made | {
        "t_s": t_s,
        "fault_code": of if codes and (of != np.array(None)).any() else None,
    }


def trip(seconds=300.0, code="E05", **state):
    return (seconds, OUT | {"code": code} | state)


USUAL = CYCLE * 20


def test_a_code_that_stops_the_pump_is_one_event_with_what_came_before(measure):
    steps = [*USUAL, (60.0, RUN), (60.0, RUN | {"amps": 8.4, "volts": 224.0}), trip(), *USUAL]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert (event.code, event.n_retries, event.is_latched) == ("E05", 0, False)
    assert event.current_before_pct == pytest.approx(105.0)  # 8.4 of 8.0 A
    assert event.voltage_before_pct == pytest.approx(100 * 224 / 230)
    assert event.pressure_before_pct == pytest.approx(100.0)
    assert event.ran_s == pytest.approx(120.0, abs=5.0)
    assert event.stopped_s == pytest.approx(300.0, abs=5.0)


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0, 30.0, 60.0])
def test_the_same_trips_show_at_every_pace(measure, interval_s):
    burst = [(300.0, RUN | {"amps": 8.4}), trip(600.0)] * 3
    steps = [*USUAL, *burst, *USUAL, (120.0, RUN), trip(7 * 3600.0)]

    events = measure(**played(steps, interval_s), register=REGISTER).trips

    assert [e.code for e in events] == ["E05", "E05"]
    assert [e.n_retries for e in events] == [2, 0]
    assert [e.is_latched for e in events] == [False, True]


def test_retries_at_fixed_gaps_are_one_burst_with_their_pause(measure):
    # a thermal replica (IEC 60255-149, tau 1800 s, k 1.05, 10 A) trips at 15 A after 1212.02 s
    # from cold; with 600 s of pause the retries come every 1812 s
    hot = RUN | {"amps": 15.0}
    steps = [*USUAL, *([(1212.0, hot), trip(600.0)] * 4), *USUAL]

    (event,) = measure(
        **played(steps, 1.0), register=REGISTER | {"overload_setting_amps": 10.0}
    ).trips

    assert event.n_retries == 3
    assert event.retry_s == pytest.approx(1812.0, abs=1.0)
    assert event.ran_s == pytest.approx(1212.02, abs=1.0)
    assert event.current_before_pct == pytest.approx(150.0)


def test_a_run_that_ends_as_usual_parts_two_bursts(measure):
    steps = [*USUAL, (60.0, RUN), trip(), *CYCLE, (60.0, RUN), trip(), *USUAL]

    assert len(measure(**played(steps, 5.0), register=REGISTER).trips) == 2


def test_trips_more_than_a_retry_pause_apart_are_two_events(measure):
    steps = [*USUAL, (60.0, RUN), trip(4700.0), (60.0, RUN), trip(), *USUAL]

    assert len(measure(**played(steps, 5.0), register=REGISTER).trips) == 2


def test_two_codes_are_two_events(measure):
    steps = [*USUAL, (60.0, RUN), trip(), (60.0, RUN), trip(code="E07"), *USUAL]

    events = measure(**played(steps, 5.0), register=REGISTER).trips

    assert [event.code for event in events] == ["E05", "E07"]


def test_a_code_shown_for_one_sample_still_latches_where_the_pump_stays_out(measure):
    steps = [*USUAL, (60.0, RUN), trip(5.0), (8 * 3600.0, OUT)]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert event.is_latched
    assert event.is_open
    assert event.stopped_s == pytest.approx(8 * 3600.0, abs=10.0)


def test_a_code_on_the_last_running_sample_belongs_to_the_stop_after_it(measure):
    steps = [*USUAL, (60.0, RUN), (5.0, RUN | {"code": "E05"}), (300.0, OUT), *USUAL]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert event.code == "E05"
    assert event.stopped_s == pytest.approx(300.0, abs=10.0)


def test_a_code_over_a_pump_that_runs_on_is_no_trip(measure):
    warned = [(length, state | {"code": "A12"}) for length, state in CYCLE]
    steps = [*USUAL, (60.0, RUN), (60.0, RUN | {"code": "A12"}), *warned * 5, *USUAL]

    assert measure(**played(steps, 5.0), register=REGISTER).trips == ()


def test_a_display_that_keeps_its_last_code_counts_the_trip_once(measure):
    shown = [(length, state | {"code": "E05"}) for length, state in CYCLE]
    steps = [*USUAL, (60.0, RUN), trip(), *shown * 20]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert event.n_retries == 0


def test_a_trip_that_was_there_when_the_week_began_is_carried_into_it(measure):
    steps = [trip(30 * 3600.0), *USUAL]

    (event,) = measure(**played(steps, 60.0), register=REGISTER).trips

    assert event.is_carried
    assert event.is_latched
    assert event.ran_s is None
    assert event.current_before_pct is None


def test_a_gap_in_a_latched_trip_does_not_make_two(measure):
    made = played([*USUAL, (120.0, RUN), trip(10 * 3600.0)], 60.0)
    keep = np.ones(made["t_s"].size, dtype=bool)
    keep[-400:-300] = False

    (event,) = measure(
        **{name: values[keep] for name, values in made.items()}, register=REGISTER
    ).trips

    assert event.is_latched


def test_a_trip_just_before_the_log_falls_silent_is_taken_for_out(measure):
    short = measure(**played([*USUAL, (120.0, RUN), trip(600.0)], 10.0), register=REGISTER)
    longer = measure(**played([*USUAL, (120.0, RUN), trip(1200.0)], 10.0), register=REGISTER)

    assert [event.is_latched for event in short.trips + longer.trips] == [False, True]


def test_a_code_at_rest_has_no_run_before_it(measure):
    steps = [*USUAL, (120.0, RUN), (900.0, REST), (300.0, REST | {"code": "E31"}), *USUAL]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert event.ran_s is None
    assert event.pressure_before_pct == pytest.approx(100 * 395 / 400)


# -- without codes

STOPPED_SHORT = (8 * 3600.0, OUT)


def test_a_stop_at_speed_that_nothing_follows_is_inferred(measure):
    steps = [*USUAL, (300.0, RUN), STOPPED_SHORT]

    record = measure(**played(steps, 10.0, codes=False), register=REGISTER)

    (event,) = record.trips
    assert event.code == ""
    assert event.is_latched
    began = record.week.from_at + timedelta(seconds=20 * 601.0 + 300.0)
    assert abs(event.tripped_at - began) <= timedelta(seconds=10)


@pytest.mark.parametrize("interval_s", [5.0, 30.0, 60.0])
def test_abrupt_stops_after_one_and_the_same_pause_are_inferred_retries(measure, interval_s):
    steps = USUAL + [*USUAL, (300.0, RUN), (600.0, OUT)] * 4 + USUAL

    events = measure(**played(steps, interval_s, codes=False), register=REGISTER).trips

    assert len(events) == 4
    assert not any(event.is_latched for event in events)


@pytest.mark.parametrize(("pause_s", "n_events"), [(60.0, 0), (180.0, 4)])
def test_pauses_of_a_few_samples_are_alike_by_rounding_only(measure, pause_s, n_events):
    steps = USUAL + [*USUAL, (300.0, RUN), (pause_s, OUT)] * 4 + USUAL

    events = measure(**played(steps, 30.0, codes=False), register=REGISTER).trips

    assert len(events) == n_events


@pytest.mark.parametrize(
    ("steps", "volts"),
    [
        ([(300.0, RUN), STOPPED_SHORT, *USUAL], True),  # switched off by hand for hours
        ([(300.0, RUN), (8 * 3600.0, OUT | {"volts": 0.0})], True),  # a power cut
        ([(300.0, RUN), (3 * 3600.0, OUT)], False),  # perhaps a power cut: no volts in the log
        ([(300.0, RUN), (8 * 3600.0, REST)], True),  # nobody draws: it sleeps
        ([(300.0, RUN), (1200.0, REST), STOPPED_SHORT], True),  # stopped as usual, off later
        ([(300.0, RUN), (600.0, OUT), *USUAL, (300.0, RUN), (1900.0, OUT), *USUAL], True),
    ],
    ids=["by hand", "power cut", "volts unknown", "asleep", "off at rest", "two, unlike"],
)
def test_a_stop_that_may_be_something_else_is_not_inferred(measure, steps, volts):
    made = played([*USUAL, *steps], 10.0, codes=False, volts=volts)

    assert measure(**made, register=REGISTER).trips == ()


def test_a_pump_on_a_timer_that_always_starts_from_an_empty_line_never_trips(measure):
    steps = [(900.0, RUN), (1200.0, OUT | {"kpa": 10.0})] * 30

    assert measure(**played(steps, 10.0, codes=False), register=REGISTER).trips == ()


def test_a_winterised_pump_has_no_trip(measure):
    steps = [*USUAL, *USUAL, (60.0, REST), (20 * 3600.0, OUT | {"kpa": 0.0})]

    assert measure(**played(steps, 10.0, codes=False), register=REGISTER).trips == ()


def test_pressure_that_goes_just_before_a_trip_is_seen(measure):
    steps = [*USUAL, (200.0, RUN), (15.0, RUN | {"kpa": 20.0, "amps": 2.6}), trip(), *USUAL]

    (event,) = measure(**played(steps, 5.0), register=REGISTER).trips

    assert event.pressure_before_pct == pytest.approx(5.0)
