"""Conductors and drive input against published tables; "derived" follows from the law named."""

import numpy as np
import pytest

from analysis.physics.electrical import (
    DRIVE_EFFICIENCY,
    MOTOR_POWER_FACTOR,
    STRANDED_RATIO,
    SUPPLY_POWER_FACTOR,
    awg_mm2,
    constant_power_current_a,
    copper_ohm_per_m,
    drive_supply_current_a,
    drive_supply_current_band_a,
    electrical_power_w,
    loop_resistance_ohm,
    part_load_power_factor_ratio,
    supply_current_band_ratios,
    supply_line,
    voltage_drop_v,
)

FT_M = 0.3048
KFT_M = 304.8
CMIL_MM2 = 5.067075e-4
STRANDED_12_OHM_PER_M = 1.98 / KFT_M  # NEC Chapter 9 Table 8
STRANDED_14_OHM_PER_M = 3.14 / KFT_M


def test_wire_gauge_gives_the_standard_section():
    # ASTM B258: 12 AWG is 2.0525 mm, 3.3088 mm2, 6530 cmil
    got_mm2 = awg_mm2(12)

    assert got_mm2 == pytest.approx(3.3088, abs=0.00005)
    assert np.sqrt(4 / np.pi * got_mm2) == pytest.approx(2.0525, abs=0.00005)
    assert got_mm2 / CMIL_MM2 == pytest.approx(6530, abs=0.5)


def test_wire_gauges_of_the_table():
    # NEC Chapter 9 Table 8, cmil; the table rounds to three or four figures, so within 0.1 %
    got_cmil = awg_mm2([14, 12, 10, 8, 6, 4]) / CMIL_MM2

    assert got_cmil == pytest.approx([4110, 6530, 10380, 16510, 26240, 41740], rel=0.001)


def test_gauge_zero_and_beyond_count_down():
    # ASTM B258: 4/0 has a diameter of 0.46 in = 11.684 mm, 36 AWG of 0.005 in = 0.127 mm
    diameter_mm = np.sqrt(4 / np.pi * awg_mm2([-3, 36]))

    assert diameter_mm == pytest.approx([11.684, 0.127], abs=0.0005)


def test_wire_gauge_keeps_shape_and_nan():
    got_mm2 = awg_mm2([[12.0, np.nan]])

    assert got_mm2.shape == (1, 2)
    assert np.isnan(got_mm2[0, 1])


def test_copper_resistance_at_20_c():
    # IEC 60028 (NBS Handbook 100): 0.0172414 ohm mm2/m, 10.371 ohm cmil/ft; 12 AWG derived
    assert copper_ohm_per_m(1.0, 20) == pytest.approx(0.0172414, abs=5e-8)
    assert copper_ohm_per_m(CMIL_MM2, 20) * FT_M == pytest.approx(10.371, abs=0.0005)
    assert 1000 * copper_ohm_per_m(awg_mm2(12), 20) == pytest.approx(5.2108, abs=0.00005)


def test_copper_resistance_against_temperature():
    # derived from IEC 60028, 0.00393 /K: 75 C over 20 C, and back
    ratio = copper_ohm_per_m(2.0, 75) / copper_ohm_per_m(2.0, 20)

    assert ratio == pytest.approx(1.21615, abs=0.000005)
    assert 1 / ratio == pytest.approx(0.82227, abs=0.000005)


def test_copper_resistance_agrees_with_the_table_for_solid_wire():
    # NEC Chapter 9 Table 8, uncoated copper at 75 C, ohm/kft, solid 14 to 8 AWG
    got = copper_ohm_per_m(awg_mm2([14, 12, 10, 8]), 75) * KFT_M

    assert got == pytest.approx([3.07, 1.93, 1.21, 0.764], abs=0.005)
    assert got[3] == pytest.approx(0.764, abs=0.0005)  # this one printed to 0.001


def test_stranded_wire_is_about_two_percent_over_solid():
    # NEC Chapter 9 Table 8, uncoated copper at 75 C, ohm/kft, stranded 14 to 4 AWG; the lay is
    # not a law, so within 1 %
    got = STRANDED_RATIO * copper_ohm_per_m(awg_mm2([14, 12, 10, 8, 6, 4]), 75) * KFT_M

    assert got == pytest.approx([3.14, 1.98, 1.24, 0.778, 0.491, 0.308], rel=0.01)


def test_copper_resistance_agrees_with_the_temperature_rule_of_the_table():
    # NEC Chapter 9 Table 8 note: R2 = R1 (1 + 0.00323 (t2 - 75)); 12 AWG stranded 1.98 at 75 C
    # -> 1.756 at 40 C
    ratio = copper_ohm_per_m(3.3, 40) / copper_ohm_per_m(3.3, 75)

    assert 1.98 * ratio == pytest.approx(1.756, abs=0.0005)


def test_copper_without_a_section_is_unknown():
    assert np.isnan(copper_ohm_per_m([0.0, -1.0, np.nan])).all()


def test_single_phase_drop_of_a_known_circuit():
    # V = 2 I R L with NEC Chapter 9 Table 8: 10 A, 100 ft, 12 AWG stranded -> 3.960 V, 1.7217 %
    got_v = voltage_drop_v(10, STRANDED_12_OHM_PER_M, 100 * FT_M)

    assert got_v == pytest.approx(3.960, abs=0.0005)
    assert 100 * got_v / 230 == pytest.approx(1.7217, abs=0.00005)


def test_three_phase_drop_of_a_known_circuit():
    # V = sqrt(3) I R L: 9.6 A, 150 ft, 12 AWG stranded -> 4.938 V, 2.147 % of 230
    got_v = voltage_drop_v(9.6, STRANDED_12_OHM_PER_M, 150 * FT_M, phases=3)

    assert got_v == pytest.approx(4.938, abs=0.0005)
    assert 100 * got_v / 230 == pytest.approx(2.147, abs=0.0005)


def test_a_long_thin_circuit_exceeds_three_percent():
    # NEC 210.19 informational note advises 3 %: 12 A, 150 ft, 14 AWG stranded (NEC Chapter 9
    # Table 8) -> 11.304 V, 4.9148 %
    got_v = voltage_drop_v(12, STRANDED_14_OHM_PER_M, 150 * FT_M)

    assert got_v == pytest.approx(11.304, abs=0.0005)
    assert 100 * got_v / 230 == pytest.approx(4.9148, abs=0.00005)


def test_drop_agrees_with_the_circular_mil_rule():
    # trade form V = 2 K I L / cmil, K about 12.9 at 75 C: 10 A, 100 ft, 6530 cmil -> 3.951 V;
    # K is rounded and holds for stranded wire, so within 0.5 %
    ohm_per_m = STRANDED_RATIO * copper_ohm_per_m(6530 * CMIL_MM2, 75)
    got_v = voltage_drop_v(10, ohm_per_m, 100 * FT_M)

    assert got_v == pytest.approx(3.951, rel=0.005)


def test_drop_of_two_phases_or_of_nothing_known_is_unknown():
    got_v = voltage_drop_v([10, 10, np.nan], 0.01, 30, phases=[1, 2, 1])

    assert got_v[0] == pytest.approx(6.0)  # by hand: 2 x 10 x 0.01 x 30
    assert np.isnan(got_v[1:]).all()


def test_loop_resistance_expected_of_a_recorded_wire():
    # 2 L R with NEC Chapter 9 Table 8: 100 ft 12 AWG stranded 0.396 ohm, 150 ft 14 AWG 0.942 ohm;
    # stranding taken as 2 %, so within 1 %
    got_ohm = STRANDED_RATIO * loop_resistance_ohm(awg_mm2([12, 14]), np.array([100, 150]) * FT_M)

    assert got_ohm == pytest.approx([0.396, 0.942], rel=0.01)


def test_loop_resistance_of_three_phases_is_smaller_by_two_over_root_three():
    ratio = loop_resistance_ohm(2.5, 40) / loop_resistance_ohm(2.5, 40, phases=3)

    assert ratio == pytest.approx(2 / 3**0.5)


def test_supply_line_of_a_known_loop():
    # derived from Ohm's law: 0, 4, 8, 12 A; 238.0, 235.9, 233.8, 231.7 V -> 0.525 ohm, 238.0 V
    no_load_v, loop_ohm = supply_line([0, 4, 8, 12], [238.0, 235.9, 233.8, 231.7])

    assert no_load_v == pytest.approx(238.0)
    assert loop_ohm == pytest.approx(0.525)


def test_supply_line_leaves_out_what_is_unknown():
    no_load_v, loop_ohm = supply_line([0, 4, np.nan, 8], [238.0, 235.9, 200.0, np.nan])

    assert no_load_v == pytest.approx(238.0)
    assert loop_ohm == pytest.approx(0.525)


@pytest.mark.parametrize("current_a", [[], [5.0, 5.0], [np.nan, np.nan]])
def test_supply_line_without_two_currents_is_unknown(current_a):
    assert np.isnan(supply_line(current_a, np.full(len(current_a), 230.0))).all()


def test_power_of_known_loads():
    # derived: three phases 230 V 9.6 A 0.8 -> 3059.5 W; single 230 V 12 A 0.9 -> 2484.0 W
    got_w = electrical_power_w(230, [9.6, 12], [0.8, 0.9], [3, 1])

    assert got_w == pytest.approx([3059.5, 2484.0], abs=0.05)


def test_the_same_power_at_low_volts_takes_more_current():
    # derived, I ~ 1/V: 230 -> 207 V x 1.1111
    assert constant_power_current_a(1.0, 230, 207) == pytest.approx(1.1111, abs=0.00005)
    assert np.isnan(constant_power_current_a([1.0, np.nan], [230, 230], [0, 207])).all()


def test_supply_current_of_a_drive_at_full_speed():
    # power balance: 3059.5 W out of a drive (eta 0.96, pf 0.70 assumed) on 230 V single phase
    # -> 19.79 A, while the motor draws 9.6 A
    got_a = drive_supply_current_a(9.6, 60, 60, 230, 230)

    assert got_a == pytest.approx(19.79, abs=0.005)


def test_supply_current_falls_with_the_output_volts():
    # trade practice: 2.1 times the motor's amperes at 60 Hz, 1.4 at 40 Hz, 1.1 at 30 Hz, worked
    # with a supply power factor of 0.68
    got = drive_supply_current_a(1.0, [60, 40, 30], 60, 230, 230, supply_power_factor=0.68)

    assert got == pytest.approx([2.1, 1.4, 1.1], abs=0.05)


def test_output_volts_stop_at_the_supply():
    # by hand: at 207 V in, the output cannot pass 207 V, so volts cancel and the current stays
    full_a = drive_supply_current_a(9.6, 60, 60, 230, 230)
    sagging_a = drive_supply_current_a(9.6, 60, 60, 207, 230)
    slow_a = drive_supply_current_a(9.6, 30, 60, [230, 207], 230)

    assert sagging_a == pytest.approx(full_a)
    assert slow_a[1] / slow_a[0] == pytest.approx(230 / 207)  # constant power below the ceiling


def test_a_doubling_input_feeds_a_motor_of_twice_the_volts():
    # by hand: the same power from half the volts takes twice the current
    ratio = drive_supply_current_a(4.0, 60, 60, 115, 230) / drive_supply_current_a(
        4.0, 60, 60, 230, 230
    )

    assert ratio == pytest.approx(2.0)


def test_a_three_phase_supply_takes_less_by_root_three_and_its_power_factor():
    one_a = drive_supply_current_a(9.6, 60, 60, 230, 230, 1)
    three_a = drive_supply_current_a(9.6, 60, 60, 230, 230, 3)

    expected = 3**0.5 * SUPPLY_POWER_FACTOR[3].value / SUPPLY_POWER_FACTOR[1].value
    assert one_a / three_a == pytest.approx(expected)


def test_a_perfect_three_phase_drive_passes_the_motor_current_on():
    # by hand: no losses, one power factor on both sides, full volts
    got_a = drive_supply_current_a(
        9.6, 60, 60, 230, 230, 3, motor_power_factor=0.8, efficiency=1.0, supply_power_factor=0.8
    )

    assert got_a == pytest.approx(9.6)


def test_supply_current_is_nothing_at_rest_and_unknown_without_volts():
    got_a = drive_supply_current_a(
        [0.0, 5.0, 5.0, np.nan, 5.0],
        [60, 0, 60, 60, 60],
        [60, 60, 60, 60, 0],
        [230, 230, 0, 230, 230],
        230,
    )

    assert got_a[:2].tolist() == [0.0, 0.0]
    assert np.isnan(got_a[2:]).all()
    assert np.isnan(drive_supply_current_a(5.0, 60, 60, 230, 230, 2))


def test_supply_current_band_holds_the_estimate_and_every_stated_range():
    low_a, high_a = drive_supply_current_band_a([9.6, 4.0], [60, 40], 60, 230, 230)
    extremes = [
        drive_supply_current_a(
            [9.6, 4.0],
            [60, 40],
            60,
            230,
            230,
            motor_power_factor=motor,
            efficiency=drive,
            supply_power_factor=supply,
        )
        for motor in (MOTOR_POWER_FACTOR.low, MOTOR_POWER_FACTOR.high)
        for drive in (DRIVE_EFFICIENCY.low, DRIVE_EFFICIENCY.high)
        for supply in (SUPPLY_POWER_FACTOR[1].low, SUPPLY_POWER_FACTOR[1].high)
    ]

    assert low_a == pytest.approx(np.min(extremes, axis=0))
    assert high_a == pytest.approx(np.max(extremes, axis=0))


def test_the_band_reaches_the_ratio_a_measured_drive_showed():
    # a published measurement gives 1.73 times motor amperes, the power factor in 0.65 to 0.75
    low_a, high_a = drive_supply_current_band_a(1.0, 60, 60, 230, 230)

    assert low_a < 1.73 < high_a


def test_band_of_two_phases_is_unknown():
    assert np.isnan(supply_current_band_ratios(2)).all()


# a made motor: 8 A rated at power factor 0.80, the working part 0.893 of it and the magnetising
# part 0.45 at right angles (sqrt(1 - 0.45^2) = 0.893)
@pytest.mark.parametrize(
    ("working_share", "motor_share"),
    [(0.893, 1.0), (0.6, 0.75), (0.4, 0.602), (0.3, 0.541)],
)
def test_supply_amps_go_with_the_working_part_of_the_motor_current(working_share, motor_share):
    # by hand: sqrt(working^2 + 0.45^2) is the motor's share of its rated amps
    full_a = drive_supply_current_a(8.0, 60, 60, 230, 230, rated_a=8.0)

    got_a = drive_supply_current_a(8.0 * motor_share, 60, 60, 230, 230, rated_a=8.0)

    assert got_a / full_a == pytest.approx(working_share / 0.893, abs=0.002)


def test_at_rated_amps_the_nameplate_alone_tells():
    with_rated_a = drive_supply_current_a(9.6, 60, 60, 230, 230, rated_a=9.6)

    assert with_rated_a == pytest.approx(drive_supply_current_a(9.6, 60, 60, 230, 230))


def test_a_pumps_motor_never_turns_quite_free():
    # by hand: a quarter of 0.893 working on 0.45 magnetising is 0.444, half of 0.893
    assert part_load_power_factor_ratio([0.45, 0.3]) == pytest.approx([0.5, 0.5])
    assert np.isnan(part_load_power_factor_ratio(np.nan))


def test_a_motor_without_magnetising_current_keeps_its_power_factor():
    assert part_load_power_factor_ratio([0.0, 0.4, 1.0], 0.0) == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize("share", [0.33, 0.45, 0.55])
def test_the_band_at_part_load_holds_motors_of_every_stated_magnetising_share(share):
    low_a, high_a = drive_supply_current_band_a([4.8, 6.0, 9.0], 50, 60, 230, 230, rated_a=8.0)

    made_a = drive_supply_current_a(
        [4.8, 6.0, 9.0], 50, 60, 230, 230, rated_a=8.0, magnetising_share=share
    )

    assert (low_a <= made_a).all()
    assert (made_a <= high_a).all()


def test_the_band_at_light_load_reaches_a_rectifiers_lower_power_factor():
    # common practice, no source: 0.55 at the drive's input at no load, where full load has 0.65
    _, light_high = supply_current_band_ratios(1, 0.1)
    _, full_high = supply_current_band_ratios(1, 1.0)

    assert light_high / full_high == pytest.approx(0.65 / 0.55, rel=0.02)
