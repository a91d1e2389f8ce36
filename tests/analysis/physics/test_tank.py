"""Tank and leak laws against published values; cases marked "derived" follow from the law."""

import numpy as np
import pytest

from analysis.physics.tank import (
    ADIABATIC_RATIO,
    ATMOSPHERE_KPA,
    acceptance_share,
    compliance_l_per_kpa,
    cycle_time_s,
    drawdown_l,
    leak_at_pressure_lpm,
    leak_exponent,
    leak_lpm_from_fall,
    orifice_lpm,
    pressure_at_steady_draw_kpa,
)

PSI_KPA = 6.894757
GAL_L = 3.785412
INCH_MM = 25.4
SEA_LEVEL_KPA = 14.7 * PSI_KPA  # as the trade's examples take it
GAL_PER_DAY = 1440.0 / GAL_L  # gallons a day in one L/min


def drawdown_gal(tank_gal, precharge_psi, cut_in_psi, cut_out_psi, atmosphere_psi=14.7):
    got_l = drawdown_l(
        tank_gal * GAL_L,
        np.multiply(precharge_psi, PSI_KPA),
        np.multiply(cut_in_psi, PSI_KPA),
        np.multiply(cut_out_psi, PSI_KPA),
        atmosphere_psi * PSI_KPA,
    )
    return got_l / GAL_L


def test_drawdown_matches_the_published_example():
    # The Driller, Feb. 2006: 85 gal, pre-charge 28 psi, 30/50 psi, air 14.7 psi -> 25.1 gal
    got_gal = drawdown_gal(85, 28, 30, 50)

    assert got_gal == pytest.approx(25.1, abs=0.05)  # printed to 0.1 gal
    assert got_gal / 85 == pytest.approx(0.295, abs=0.0005)  # factor printed to 0.001


def test_drawdown_at_altitude_matches_the_published_example():
    # The Driller, 2006 and 2008: the same tank at 6,000 ft, air 11.8 psi; printed 26.1, cut
    # after the first decimal
    got_gal = drawdown_gal(85, 28, 30, 50, atmosphere_psi=11.8)

    assert 26.1 <= got_gal < 26.2


@pytest.mark.parametrize(
    ("cut_in_psi", "cut_out_psi", "factor"),
    [(20, 40, 0.3446), (30, 50, 0.2953), (40, 60, 0.2579), (50, 70, 0.2288)],
)
def test_drawdown_factors_two_psi_below_cut_in(cut_in_psi, cut_out_psi, factor):
    # derived from Boyle's law; "0.3" for 30/50 read in The Driller
    got = drawdown_gal(1, cut_in_psi - 2, cut_in_psi, cut_out_psi)

    assert got == pytest.approx(factor, abs=0.00005)


def test_lost_precharge_shrinks_the_drawdown():
    # derived from Boyle's law: 20 gal, 40/60 psi, pre-charge 38, 20 and 0 psi
    got_gal = drawdown_gal(20, [38, 20, 0], 40, 60)

    assert got_gal == pytest.approx([5.159, 3.397, 1.439], abs=0.0005)


def test_a_precharge_above_cut_in_empties_the_tank_early():
    # derived: 45 psi of charge, 40/60 psi -> V (1 - 59.7 / 74.7)
    got = drawdown_gal(1, 45, 40, 60)

    assert got == pytest.approx(0.20080, abs=0.000005)


def test_drawdown_of_a_small_tank_between_stop_and_restart():
    # derived: 4.4 gal, pre-charge 42, stop 60, restart 55 psi -> 0.23958 gal = 0.90691 L
    got_gal = drawdown_gal(4.4, 42, 55, 60)

    assert got_gal == pytest.approx(0.23958, abs=0.000005)
    assert got_gal * GAL_L == pytest.approx(0.90691, abs=0.000005)


def test_a_tank_whose_cut_out_doubles_the_absolute_precharge_gives_half_its_volume():
    # by hand: the gas halves
    got_l = drawdown_l(100, 0, 0, ATMOSPHERE_KPA)

    assert got_l == pytest.approx(50.0)


def test_a_tank_below_its_precharge_gives_nothing():
    got_l = drawdown_l(100, 400, [200, 300], [300, 399])

    assert got_l.tolist() == [0.0, 0.0]


def test_drawdown_keeps_shape_and_nan():
    got_l = drawdown_l(np.array([[80.0], [np.nan]]), 200, [210, 250, np.nan], 400)

    assert got_l.shape == (2, 3)
    assert np.isnan(got_l).tolist() == [[False, False, True], [True, True, True]]


@pytest.mark.parametrize(
    ("cut_in_psi", "cut_out_psi", "factor"),
    [(20, 40, 0.4022), (30, 50, 0.3400), (40, 60, 0.2945), (50, 70, 0.2597)],
)
def test_acceptance_runs_from_the_precharge_not_from_cut_in(cut_in_psi, cut_out_psi, factor):
    # definition: a well-water trade body's tank sheet, Jan. 2007; numbers derived
    got = acceptance_share((cut_in_psi - 2) * PSI_KPA, cut_out_psi * PSI_KPA, SEA_LEVEL_KPA)

    assert got == pytest.approx(factor, abs=0.00005)


def test_water_held_at_seventy_percent_precharge():
    # pre-charge of 70 % of the set pressure is common practice, no source; the share is derived:
    # 60 psi set, 42 psi pre-charge -> 1 - 56.7 / 74.7
    got = acceptance_share(0.7 * 60 * PSI_KPA, 60 * PSI_KPA, SEA_LEVEL_KPA)

    assert got == pytest.approx(0.24096, abs=0.000005)


def test_acceptance_is_nothing_below_the_precharge_and_nan_where_unknown():
    got = acceptance_share([300, np.nan], [200, 200])

    assert got[0] == 0.0
    assert np.isnan(got[1])


def test_compliance_of_a_known_tank():
    # derived from the gas law: 20 gal, pre-charge 38 psi, at 60 psi -> 0.10370 L/kPa
    got = compliance_l_per_kpa(20 * GAL_L, 38 * PSI_KPA, 60 * PSI_KPA, SEA_LEVEL_KPA)

    assert got == pytest.approx(0.10370, abs=0.000005)
    assert got / GAL_L * PSI_KPA == pytest.approx(0.18889, abs=0.000005)  # gal/psi
    assert got * PSI_KPA == pytest.approx(0.7150, abs=0.00005)  # L/min at 1 psi/min


def test_compliance_is_the_slope_of_the_drawdown():
    step_kpa = 1e-3
    per_kpa = drawdown_l(50, 200, 400 - step_kpa, 400 + step_kpa) / (2 * step_kpa)

    assert compliance_l_per_kpa(50, 200, 400) == pytest.approx(per_kpa, rel=1e-6)


def test_a_fast_fall_gives_up_to_1_4_times_less_water():
    # gas law, p V**1.4 constant: a tank half full of gas at 400 kPa, falling by 0.01 kPa
    absolute_kpa = 400 + ATMOSPHERE_KPA
    precharge_kpa = absolute_kpa / 2 - ATMOSPHERE_KPA
    adiabatic_l = 50 * ((absolute_kpa / (absolute_kpa - 0.01)) ** (1 / 1.4) - 1)

    got_l = compliance_l_per_kpa(100, precharge_kpa, 400) * 0.01

    assert got_l / adiabatic_l == pytest.approx(ADIABATIC_RATIO, rel=1e-4)


def test_compliance_below_the_precharge_is_nothing_and_nan_stays():
    got = compliance_l_per_kpa([50, 50, np.nan], [200, 200, 200], [199, np.nan, 100])

    assert got[0] == 0.0
    assert np.isnan(got[1:]).all()


def test_leak_from_a_fall_is_exact_where_the_slope_reads_low():
    # derived from the gas law: 60 -> 55 psi -> 3.8315 L; compliance times fall gives 3.5751 L
    tank = (20 * GAL_L, 38 * PSI_KPA)
    got_lpm = leak_lpm_from_fall(*tank, 60 * PSI_KPA, 55 * PSI_KPA, 60.0, SEA_LEVEL_KPA)
    by_slope_l = compliance_l_per_kpa(*tank, 60 * PSI_KPA, SEA_LEVEL_KPA) * 5 * PSI_KPA

    assert got_lpm == pytest.approx(3.8315, abs=0.00005)
    assert by_slope_l == pytest.approx(3.5751, abs=0.00005)


def test_leak_of_a_slow_fall_in_a_small_tank():
    # derived from the gas law: 4.4 gal, pre-charge 42 psi, 60 -> 55 psi in 30 min
    got_lpm = leak_lpm_from_fall(
        4.4 * GAL_L, 42 * PSI_KPA, 60 * PSI_KPA, 55 * PSI_KPA, 1800, SEA_LEVEL_KPA
    )

    assert got_lpm == pytest.approx(0.030230, abs=0.0000005)
    assert got_lpm * 1440 == pytest.approx(43.53, abs=0.005)  # L/day


def test_a_rising_pressure_is_a_flow_into_the_tank():
    out_lpm = leak_lpm_from_fall(80, 200, 400, 350, 60)

    assert leak_lpm_from_fall(80, 200, 350, 400, 60) == pytest.approx(-out_lpm)


def test_leak_without_a_duration_or_a_pressure_is_unknown():
    got_lpm = leak_lpm_from_fall(80, 200, [400, 400, np.nan], 350, [0, -5, 60])

    assert got_lpm.shape == (3,)
    assert np.isnan(got_lpm).all()


def test_cycle_time_matches_the_published_cycles():
    # MIL-HDBK-1005/9A, equations 1 and 2; a trade page prints 230 and 115 starts a day for
    # 10 gpm, demand 8 gpm, 10 and 20 gal of drawdown
    got_min = cycle_time_s(8.0, 10.0, [10.0, 20.0]) / 60

    assert got_min == pytest.approx([6.25, 12.5])  # 5.00 on and 1.25 off, and twice that
    assert 1440 / got_min == pytest.approx([230, 115], abs=0.5)


def test_the_shortest_cycle_is_at_half_the_pump_flow():
    # US Army EI 11C201 and MIL-HDBK-1005/9A: t = 4 V / D; 7 gal, 10 gpm -> 2.80 min, 21.43 /h
    demand_gpm = np.linspace(0.5, 9.5, 91)
    got_min = cycle_time_s(demand_gpm, 10.0, 7.0) / 60

    assert demand_gpm[np.argmin(got_min)] == pytest.approx(5.0)
    assert got_min.min() == pytest.approx(2.80, abs=0.005)
    assert 60 / got_min.min() == pytest.approx(21.43, abs=0.005)


def test_tank_volume_for_a_wanted_cycle():
    # US Army EI 11C201: V = t D / 4; D = 100, t = 6 min -> V = 150
    assert cycle_time_s(50.0, 100.0, 150.0) / 60 == pytest.approx(6.0)


def test_restarts_from_a_steady_leak():
    # derived: 0.90691 L at 0.05 L/min -> 18.138 min, 79.39 starts a day with a pump so large
    # that its run time does not count
    got_s = cycle_time_s(0.05, 1e9, 0.90691)

    assert got_s / 60 == pytest.approx(18.138, abs=0.0005)
    assert 86400 / got_s == pytest.approx(79.39, abs=0.005)


def test_the_same_cycle_comes_back_at_the_other_demand():
    assert cycle_time_s(3.0, 10.0, 7.0) == pytest.approx(cycle_time_s(7.0, 10.0, 7.0))


def test_a_pump_without_demand_or_without_spare_flow_never_cycles():
    got_s = cycle_time_s([0.0, 10.0, 12.0, np.nan], 10.0, 7.0)

    assert np.isinf(got_s[:3]).all()
    assert np.isnan(got_s[3])


def test_orifice_flow_of_known_holes():
    # derived from Torricelli's law, Cd 0.62: 60 psi through 1/16, 1/8 and 1/4 in; 1 mm at 4 bar
    inch_lpm = orifice_lpm(np.array([1 / 16, 1 / 8, 1 / 4]) * INCH_MM, 60 * PSI_KPA, 0.62)

    assert inch_lpm == pytest.approx([2.1198, 8.4793, 33.917], abs=0.0005)
    assert orifice_lpm(1.0, 400.0, 0.62) == pytest.approx(0.8271, abs=0.00005)


def test_orifice_flow_agrees_with_utility_leak_tables():
    # two utilities' consumer pages, gallons a day at 60 psi (1/8 in 3,200; 1/4 in 13,000) and
    # gallons in three months (1/16 in 74,000; 3/16 in 666,000); rounded, so within 1 %
    day_gal = orifice_lpm(np.array([1 / 8, 1 / 4]) * INCH_MM, 60 * PSI_KPA) * GAL_PER_DAY
    quarter_gal = (
        orifice_lpm(np.array([1 / 16, 3 / 16]) * INCH_MM, 60 * PSI_KPA) * GAL_PER_DAY * 365.25 / 4
    )

    assert day_gal == pytest.approx([3200, 13000], rel=0.01)
    assert quarter_gal == pytest.approx([74_000, 666_000], rel=0.01)


def test_orifice_flow_agrees_with_the_irrigation_leak_figure():
    # EPA WaterSense, through a utility: a 1/32 in leak loses about 6,300 gal a month ("about":
    # within 3 %)
    got_gal = orifice_lpm(INCH_MM / 32, 60 * PSI_KPA) * GAL_PER_DAY * 365.25 / 12

    assert got_gal == pytest.approx(6300, rel=0.03)


def test_orifice_flow_doubles_with_four_times_the_pressure_and_is_nothing_at_none():
    at_lpm = orifice_lpm(2.0, [0.0, 100.0, 400.0])

    assert at_lpm[0] == 0.0
    assert at_lpm[2] == pytest.approx(2 * at_lpm[1])


def test_orifice_flow_at_a_suction_is_unknown():
    assert np.isnan(orifice_lpm([1.0, np.nan], [-5.0, 100.0])).all()


def test_leak_follows_pressure_as_published():
    # leakage-practice pages (May 1994, Lambert): 30 -> 27 m, exponent 0.5 to 1.5, "5 % to 15 %"
    loss = 1 - leak_at_pressure_lpm(1.0, 30, 27, [0.5, 1.5])

    assert 100 * loss == pytest.approx([5, 15], abs=0.5)
    # derived: 60 -> 40 psi
    got = leak_at_pressure_lpm(1.0, 60, 40, [1.0, 1.5])
    assert got == pytest.approx([0.66667, 0.54433], abs=0.000005)


def test_leak_exponent_of_two_pressures():
    # derived: 10 -> 7 L/min as 60 -> 40 psi
    assert leak_exponent(10, 7, 60, 40) == pytest.approx(0.87967, abs=0.000005)


def test_leak_exponent_undoes_the_pressure_law():
    carried_lpm = leak_at_pressure_lpm(3.0, 400, 250, 1.1)

    assert leak_exponent(3.0, carried_lpm, 400, 250) == pytest.approx(1.1)


def test_leak_laws_of_impossible_input_are_unknown():
    assert np.isnan(leak_exponent([10, 10, 0], 7, [60, -1, 60], [60, 40, 40])).all()
    assert np.isnan(leak_at_pressure_lpm(1.0, [0, np.nan], 40)).all()


def test_half_the_time_of_a_steady_draw_takes_half_the_published_drawdown():
    # The Driller, Feb. 2006: 85 gal, pre-charge 28 psi, 30/50 psi, air 14.7 psi -> 25.1 gal
    half_way_kpa = pressure_at_steady_draw_kpa(50 * PSI_KPA, 30 * PSI_KPA, 0.5, SEA_LEVEL_KPA)

    got_gal = drawdown_gal(85, 28, float(half_way_kpa) / PSI_KPA, 50)
    assert got_gal == pytest.approx(25.1 / 2, abs=0.03)  # half of what is printed to 0.1 gal


def test_a_steady_draw_begins_and_ends_at_its_pressures_and_bends_below_the_straight_line():
    kpa = pressure_at_steady_draw_kpa(400.0, 300.0, [0.0, 0.5, 1.0, np.nan])

    assert kpa[[0, 2]] == pytest.approx([400.0, 300.0])
    assert kpa[1] < 350.0
    assert np.isnan(kpa[3])
