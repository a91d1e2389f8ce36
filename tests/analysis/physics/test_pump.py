"""Affinity laws and power against text-book values."""

import numpy as np
import pytest

from analysis.physics.pump import (
    WATER_KPA_PER_M,
    affinity,
    flow_from_curve_lpm,
    hydraulic_power_w,
    no_flow_hz,
    shaft_power_w,
)

PSI_KPA = 6.894757
GAL_L = 3.785412
FT_M = 0.3048
HP_W = 745.6999


def test_affinity_laws_of_a_slower_pump():
    # affinity laws: 60 -> 45 Hz is 0.75 of flow, 0.5625 of head, 0.421875 of power
    got = affinity(1.0, 1.0, 1.0, 60, 45)

    assert (got.flow, got.head, got.power) == pytest.approx((0.75, 0.5625, 0.421875))


def test_affinity_laws_of_a_published_example():
    # an engineering page, 560 -> 475 rpm from 240 ft and 30,000 gpm: 173 ft; its flow is a slip
    # of digits (25,466 for 25,446), so the flow here is derived
    got = affinity(30_000, 240, 0, 560, 475)

    assert got.head == pytest.approx(173, abs=0.5)
    assert got.flow == pytest.approx(25_446, abs=0.5)


def test_affinity_keeps_shape_and_nan():
    got = affinity([1.0, np.nan], 1.0, 1.0, [60, 60], [[30], [60], [90]])

    assert got.flow.shape == (3, 2)
    assert np.isnan(got.flow[:, 1]).all()
    assert np.isnan(affinity(1.0, 1.0, 1.0, 0.0, 45).head)


def test_speed_that_holds_a_boost_without_flow():
    # derived from the affinity laws: shutoff 100 psi at 60 Hz holds 60 psi from no suction at
    # 46.476 Hz, from 20 psi of suction (boost 40) at 37.947 Hz
    got_hz = no_flow_hz(np.array([60, 40]) * PSI_KPA, 100 * PSI_KPA)

    assert got_hz == pytest.approx([46.476, 37.947], abs=0.0005)


def test_speed_without_flow_at_its_limits():
    # by hand: full speed for the whole shutoff boost, none where the suction does it alone
    got_hz = no_flow_hz([690.0, 0.0, -50.0], 690.0)

    assert got_hz.tolist() == [60.0, 0.0, 0.0]
    assert no_flow_hz(2760.0, 690.0) == pytest.approx(120.0)  # more than it can: over rated
    assert np.isnan(no_flow_hz([400.0, np.nan], [0.0, 690.0])).all()


def test_hydraulic_power_of_a_small_pump():
    # P = Q dp: 10 gpm at 60 psi -> 260.995 W = 0.3500 hp
    got_w = hydraulic_power_w(10 * GAL_L, 60 * PSI_KPA)

    assert got_w == pytest.approx(260.995, abs=0.0005)
    assert got_w / HP_W == pytest.approx(0.3500, abs=0.00005)


def test_shaft_power_at_half_efficiency():
    # derived: 521.99 W
    assert shaft_power_w(10 * GAL_L, 60 * PSI_KPA, 0.5) == pytest.approx(521.99, abs=0.005)
    assert np.isnan(shaft_power_w([1.0, np.nan], [100, 100], [0.0, 0.5])).all()


def test_head_of_water_in_feet_a_psi():
    # text-book: 2.3108 ft a psi at 20 C
    ft_per_psi = PSI_KPA / WATER_KPA_PER_M / FT_M

    assert ft_per_psi == pytest.approx(2.3108, abs=0.00005)


CURVE = ([0.0, 40.0, 80.0], [60.0, 50.0, 20.0])


def test_flow_read_from_the_curve_at_rated_speed():
    # by hand: on a point, and half way between two
    got_lpm = flow_from_curve_lpm(*CURVE, 60, np.array([50.0, 35.0]) * WATER_KPA_PER_M)

    assert got_lpm == pytest.approx([40.0, 60.0])


def test_flow_at_another_speed_follows_the_affinity_laws():
    # by hand: half speed, a quarter of the head, half the flow
    got_lpm = flow_from_curve_lpm(*CURVE, 30, 50.0 / 4 * WATER_KPA_PER_M)

    assert got_lpm == pytest.approx(20.0)


def test_flow_over_the_shutoff_boost_and_at_standstill_is_nothing():
    got_lpm = flow_from_curve_lpm(*CURVE, [60, 0], np.array([70.0, 30.0]) * WATER_KPA_PER_M)

    assert got_lpm.tolist() == [0.0, 0.0]


def test_flow_past_the_end_of_the_curve_is_unknown():
    got_lpm = flow_from_curve_lpm(*CURVE, [60, 60, np.nan], [100.0, np.nan, 400.0])

    assert np.isnan(got_lpm).all()
