"""Voltage ranges and the names of sags against ANSI C84.1, EN 50160 and IEEE 1159."""

import numpy as np
import pytest

from analysis.physics.supply import (
    EN_50160_WIDE_PU,
    RANGE_A_SERVICE_PU,
    RANGE_B_SERVICE_PU,
    en50160_week,
    in_range,
    variation_name,
)


def test_service_voltage_range_a():
    # ANSI C84.1 Range A: 114-126 V on 120 V, 228-252 V on 240 V
    got = in_range([113.9, 114, 126, 126.1], 120, RANGE_A_SERVICE_PU)

    assert got.tolist() == [0, 1, 1, 0]
    # 230.0 V on a 240 V service is 95.83 %: in; 227 V: out
    assert in_range([230.0, 227, 228, 252], 240, RANGE_A_SERVICE_PU).tolist() == [1, 0, 1, 1]


def test_service_voltage_range_b():
    # ANSI C84.1 Range B: 110-127 V on 120 V, 220-254 V on 240 V; 222 V on 240 is B, not A
    got = in_range([109.9, 110, 127, 127.1], 120, RANGE_B_SERVICE_PU)

    assert got.tolist() == [0, 1, 1, 0]
    assert in_range([219.9, 220, 222, 254, 254.1], 240, RANGE_B_SERVICE_PU).tolist() == [
        0,
        1,
        1,
        1,
        0,
    ]
    assert in_range(222, 240, RANGE_A_SERVICE_PU) == 0


def test_utilization_voltage_of_older_and_later_tables():
    # ANSI C84.1 Table 1, from memory: 108/120 is 0.900, 106/120 is 0.8833 and 104/120 is 0.8667
    got = in_range([108, 106, 104], 120, (0.88325, 1.05))

    assert got.tolist() == [1, 1, 0]


def test_motor_volts_within_ten_percent():
    # NEMA MG 1-12.44: 230 V motor 207.0-253.0 V, 115 V motor 103.5-126.5 V
    got = in_range(
        [206.9, 207, 253, 253.1, 103.5, 126.5], [230, 230, 230, 230, 115, 115], (0.9, 1.1)
    )

    assert got.tolist() == [0, 1, 1, 0, 1, 1]


def test_controller_supply_within_fifteen_percent():
    # +/-15 % is common practice, no source: 195.5-264.5 V on 230 V; 195.0 V is 84.78 %
    got = in_range([195.0, 195.5, 264.5, 264.6], 230, (0.85, 1.15))

    assert got.tolist() == [0, 1, 1, 0]


def test_range_of_unknown_volts_is_unknown():
    got = in_range(
        [[np.nan, 230.0], [230.0, 230.0]], [[240, 0], [np.nan, 240]], RANGE_A_SERVICE_PU
    )

    assert got.shape == (2, 2)
    assert np.isnan(got).tolist() == [[True, True], [True, False]]


@pytest.mark.parametrize(
    ("n_low", "outside_pct", "conforms"), [(0, 0.0, True), (50, 4.96, True), (51, 5.06, False)]
)
def test_a_week_of_ten_minute_means_may_have_five_percent_outside(n_low, outside_pct, conforms):
    # EN 50160: 1008 ten-minute values, 50 outside +/-10 % -> 4.96 %, 51 -> 5.06 %
    volts = np.full(1008, 230.0)
    volts[:n_low] = 200.0  # 87 %: outside the narrow range, inside the wide one

    got = en50160_week(volts, 230.0)

    assert (got.n, got.n_outside, got.n_outside_wide) == (1008, n_low, 0)
    assert got.outside_pct == pytest.approx(outside_pct, abs=0.005)
    assert got.conforms is conforms


def test_one_value_under_85_percent_breaks_the_week():
    # EN 50160: all within +10/-15 %
    volts = np.full(1008, 230.0)
    volts[7] = 0.849 * 230

    got = en50160_week(volts, 230.0)

    assert got.n_outside_wide == 1
    assert got.conforms is False
    assert in_range(0.85 * 230, 230, EN_50160_WIDE_PU) == 1


def test_a_week_counts_only_what_was_observed():
    got = en50160_week([230.0, np.nan, 180.0, np.nan], 230.0)

    assert (got.n, got.n_outside) == (2, 1)
    assert got.outside_pct == pytest.approx(50.0)


def test_a_week_without_volts_is_not_judged():
    got = en50160_week(np.full(1008, np.nan), 230.0)

    assert got.n == 0
    assert got.conforms is None
    assert np.isnan(got.outside_pct)


@pytest.mark.parametrize(
    ("voltage_pu", "duration_s", "name"),
    [
        (0.70, 12.0, "temporary sag"),
        (0.70, 0.5, "instantaneous sag"),  # 30 cycles of 60 Hz
        (0.70, 0.51, "momentary sag"),
        (0.70, 3.0, "momentary sag"),
        (0.85, 61.0, "undervoltage"),
        (1.15, 0.1, "instantaneous swell"),
        (1.15, 2.0, "momentary swell"),
        (1.15, 30.0, "temporary swell"),  # from memory
        (1.15, 61.0, "overvoltage"),  # from memory
        (0.05, 0.1, "momentary interruption"),
        (0.05, 2.9, "momentary interruption"),
        (0.05, 30.0, "temporary interruption"),
        (0.0, 61.0, "sustained interruption"),  # from memory
    ],
)
def test_variations_have_the_names_of_the_standard(voltage_pu, duration_s, name):
    # IEEE 1159, table of short- and long-duration variations
    assert variation_name(voltage_pu, duration_s) == name


def test_half_a_cycle_is_the_shortest_variation():
    # IEEE 1159: 0.5 cycle is 8.33 ms at 60 Hz, 10 ms at 50 Hz
    assert variation_name(0.5, 0.0083) == ""
    assert variation_name(0.5, 0.0084) == "instantaneous sag"
    assert variation_name(0.5, 0.0084, mains_hz=50.0) == ""
    assert variation_name(0.5, 0.6, mains_hz=50.0) == "instantaneous sag"


@pytest.mark.parametrize(
    ("voltage_pu", "duration_s"), [(0.9, 30), (1.0, 30), (1.1, 30), (np.nan, 30), (0.5, np.nan)]
)
def test_normal_or_unknown_volts_have_no_name(voltage_pu, duration_s):
    assert variation_name(voltage_pu, duration_s) == ""
