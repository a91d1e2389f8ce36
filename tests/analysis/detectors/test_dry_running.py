"""Dry running told from bursts, filling lines, open circuits and bad sensors.

Healthy pump of the factory: no flow at 44 Hz and 3.4 A, 5.2 A at 53 Hz, so by the affinity laws
(torque with the square of speed, any pump text-book) 5.2 x (60/53)^2 = 6.66 A at 60 Hz.
"""

from datetime import timedelta
from types import SimpleNamespace

import pytest

from analysis.detectors.dry_running import NEEDS, judge
from analysis.findings import NotAssessed

SETTING_KPA = 413.7
CHANNELS = 8


def gone(*spells, **week):
    """A week with these spells: (from_s, length_s, amps, share of setting[, after_start_s])."""
    rows = [(*spell, 300.0)[:5] for spell in spells]
    return {
        "week": {
            "n_gone": len(rows),
            "gone_from_s": [row[0] for row in rows],
            "gone_s": [row[1] for row in rows],
            "gone_samples": [max(1.0, row[1] // 5) for row in rows],
            "gone_hz": [60.0] * len(rows),
            "gone_current_a": [row[2] for row in rows],
            "gone_kpa": [row[3] * SETTING_KPA for row in rows],
            "gone_kpa_range": [15.0] * len(rows),
            "gone_current_cv": [0.08] * len(rows),
            "gone_after_start_s": [row[4] for row in rows],
            "held_after_gone_s": 20_000.0,
            **week,
        }
    }


def only(verdict):
    (judged,) = verdict
    return judged


def test_a_healthy_week_is_clear(make_case):
    assert judge(make_case()) == ()


def test_pressure_gone_with_little_current_is_dry_and_leaves_no_water(make_case):
    found = only(judge(make_case(**gone((90_000.0, 60.0, 3.2, 0.1)))))

    assert (found.cause, found.consequence) == ("suction_lost", 5)
    assert found.measures["dry_s"] == 60.0
    assert found.measures["current_pct_expected"] == pytest.approx(100 * 3.2 / 6.66, abs=0.1)
    assert found.confidence >= 0.7


def test_one_spell_of_fifteen_seconds_at_ten_second_logging_is_found(make_case):
    case = make_case(**gone((90_000.0, 20.0, 3.2, 0.1), log_interval_s=10.0))

    assert only(judge(case)).since_at == case.week.from_at + timedelta(seconds=90_000)


def test_a_single_sample_is_found_with_less_confidence(make_case):
    several = gone((90_000.0, 60.0, 3.2, 0.1))
    single = gone((90_000.0, 10.0, 3.2, 0.1), gone_samples=[1.0], log_interval_s=10.0)

    sure, unsure = (only(judge(make_case(**case))) for case in (several, single))

    assert unsure.confidence < sure.confidence


@pytest.mark.parametrize(("learned_a", "expected_a"), [(6.0, 6.0), (3.3, 6.66)])
def test_a_past_that_ran_dry_as_well_does_not_say_what_to_expect(make_case, learned_a, expected_a):
    # with water in it the pump takes more than the 3.4 A of no flow at 44 Hz
    past = SimpleNamespace(
        n_weeks=3, n_peers=0, at_frequency=lambda hz: (learned_a, learned_a, learned_a)
    )

    found = only(judge(make_case(expected_current=past, **gone((90_000.0, 60.0, 3.2, 0.1)))))

    assert found.measures["expected_current_a"] == pytest.approx(expected_a, abs=0.01)


@pytest.mark.parametrize("amps", [5.9, 6.7, 7.4], ids=["89 %", "100 %", "111 %"])
def test_a_burst_or_hydrant_with_full_current_is_never_called_dry(make_case, amps):
    assert judge(make_case(**gone((90_000.0, 600.0, amps, 0.1)))) == ()


def test_filling_an_empty_main_is_not_dry(make_case):
    assert judge(make_case(**gone((90_000.0, 240.0, 6.9, 0.2, 3.0)))) == ()


def test_a_sensor_failed_low_with_a_pump_at_no_flow_is_not_surely_dry(make_case):
    # at no flow torque goes with the square of speed: over the 3.4 A of 44 Hz, under full load
    case = make_case(**gone((90_000.0, 600.0, 4.4, 0.02)))

    found = only(judge(case))

    assert found.confidence <= 0.6
    assert any("sensor" in text for text in found.alternatives)


def test_with_a_pressure_reading_that_stands_still_it_is_not_assessed(make_case):
    lists = {
        "channel_still_s": 50_000.0,
        "channel_still_value": 0.0,
        "channel_still_from_s": 90_000.0,
        "channel_still_edges": 0.0,
        "channel_still_range_hz": 15.0,
        "channel_still_run_share": 1.0,
    }
    still = {name: [value] + [None] * (CHANNELS - 1) for name, value in lists.items()}
    still["channel_restless_share"] = [None] * CHANNELS
    case = make_case(**gone((90_000.0, 50_000.0, 4.4, 0.0), frequency_max_hz=60.0, **still))

    verdict = judge(case)

    assert isinstance(verdict, NotAssessed)
    assert "pressure reading" in verdict.reason


def test_no_current_at_all_is_an_open_circuit_and_not_dry(make_case):
    assert judge(make_case(**gone((90_000.0, 600.0, 0.05, 0.1)))) == ()


def test_without_current_in_the_log_it_is_said_and_not_guessed(make_case):
    case = make_case(**gone((90_000.0, 600.0, None, 0.1)))

    assert isinstance(judge(case), NotAssessed)


def test_a_small_motor_whose_current_hardly_drops_needs_the_no_flow_current_to_confirm(make_case):
    mostly_magnetising = {"no_flow_current_a": 4.9, "top_held_current_a": 5.2, "top_held_hz": 53.0}
    below = make_case(**gone((90_000.0, 60.0, 4.8, 0.1), **mostly_magnetising))
    above = make_case(**gone((90_000.0, 60.0, 5.6, 0.1), **mostly_magnetising))

    assert only(judge(below)).cause == "suction_lost"
    assert judge(above) == ()


@pytest.mark.parametrize(
    ("no_flow_hz", "amps", "share", "is_dry"),
    [
        (44.0, 4.8, 0.0, True),
        (51.0, 4.8, 0.0, False),
        (44.0, 5.0, 0.0, False),
        (44.0, 4.8, 0.45, False),
    ],
)
def test_without_pressure_a_motor_below_its_no_flow_current_a_fifth_faster_is_dry(
    make_case, no_flow_hz, amps, share, is_dry
):
    # 5.2 A at 58 Hz is 5.56 A at 60 Hz by the affinity laws: 4.8 A is 86 % of that, which alone is
    # no sign of a dry pump
    mostly_magnetising = {
        "no_flow_current_a": 4.9,
        "no_flow_hz": no_flow_hz,
        "top_held_current_a": 5.2,
        "top_held_hz": 58.0,
    }
    case = make_case(**gone((90_000.0, 20.0, amps, share), **mostly_magnetising))

    assert bool(judge(case)) is is_dry


def test_half_of_the_pressure_left_with_low_current_is_no_dry_pump(make_case):
    # what turning backward leaves; a dry pump keeps 30 to 50 % at most: common practice
    assert judge(make_case(**gone((90_000.0, 600.0, 4.4, 0.45)))) == ()


def test_a_well_that_fails_after_minutes_and_comes_back_is_called_its_yield(make_case):
    spells = [(90_000.0 + n * 86_400, 120.0, 3.1, 0.15, 900.0) for n in range(4)]
    case = make_case(**gone(*spells), pump={"suction": "well", "suction_kpa": None})

    found = only(judge(case))

    assert "the well's yield, not the pump" in found.summary
    assert "15 min" in found.summary


def test_a_pump_that_never_holds_again_after_a_start_has_lost_its_prime(make_case):
    spells = [(90_000.0 + n * 1_800, 30.0, 3.1, 0.05, 8.0) for n in range(20)]
    case = make_case(**gone(*spells, held_after_gone_s=0.0))

    found = only(judge(case))

    assert "lost prime" in found.summary
    # 30 min from start to start, of which 8 s before the spell and 30 s of it were run
    assert "tried again 19 times, 29 min after each stop" in found.summary


def test_a_pause_before_a_run_that_fails_late_is_counted_from_the_stop_to_the_start(make_case):
    # each runs 18 min on water that came back, then 30 s dry; stopped for 20 min between
    every_s = 1_080.0 + 30.0 + 1_200.0
    spells = [(90_000.0 + n * every_s, 30.0, 3.1, 0.05, 1_080.0) for n in range(5)]

    assert (
        "tried again 4 times, 20 min after each" in only(judge(make_case(**gone(*spells)))).summary
    )


@pytest.mark.parametrize(
    ("every_s", "after_start_s"), [(86_400.0, 70.0), (600.0, 90_000.0), (600.0, None)]
)
def test_dry_spells_of_daily_use_or_of_one_run_are_no_retries(make_case, every_s, after_start_s):
    spells = [(90_000.0 + n * every_s, 20.0, 3.1, 0.05, after_start_s) for n in range(5)]

    assert "tried again" not in only(judge(make_case(**gone(*spells)))).summary


def test_a_new_pump_is_compared_with_its_nameplate_and_says_so(make_case):
    blank = {"top_held_hz": None, "top_held_current_a": None, "no_flow_current_a": None}
    case = make_case(**gone((90_000.0, 60.0, 3.2, 0.1), **blank))  # rated 6.0 A: 53 %

    found = only(judge(case))

    assert found.measures["current_pct_expected"] == pytest.approx(53.3, abs=0.1)
    assert any("nameplate" in text for text in found.grounds)


def test_earlier_weeks_tell_what_to_expect_where_this_one_never_held(make_case):
    blank = {"top_held_hz": None, "top_held_current_a": None, "no_flow_current_a": None}
    case = make_case(**gone((90_000.0, 60.0, 3.2, 0.1), **blank), past=2)

    assert only(judge(case)).measures["current_pct_expected"] == pytest.approx(48.1, abs=0.1)


def test_a_log_slower_than_ten_seconds_can_find_it_and_clears_no_pump(make_case):
    found = judge(make_case(**gone((90_000.0, 60.0, 3.2, 0.1), log_interval_s=30.0)))
    nothing = judge(make_case(week={"log_interval_s": 30.0}))

    assert NEEDS.interval_max_s == 30.0
    assert only(found).cause == "suction_lost"
    assert isinstance(nothing, NotAssessed)


def test_without_any_pressure_to_compare_it_is_not_assessed(make_case):
    assert isinstance(judge(make_case(week={"n_gone": None})), NotAssessed)


def test_it_never_proposes_to_take_protection_out(make_case):
    found = only(judge(make_case(**gone((90_000.0, 60.0, 3.2, 0.1)))))

    told = " ".join([found.summary, *found.grounds, *found.alternatives]).lower()
    assert not any(word in told for word in ("bypass", "disable", "raise the"))
