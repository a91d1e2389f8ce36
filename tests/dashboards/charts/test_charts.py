import base64
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.findings import Kind
from dashboards.charts import cycling, leak, theme, undervoltage
from dashboards.charts.evidence import evidence
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import samples_between
from dashboards.charts.spells import busy_hours, silences, spells_where
from dashboards.charts.week_strip import week_strip

FINDINGS = [
    (Kind.SHORT_CYCLING, "tank_charge_lost"),
    (Kind.SHORT_CYCLING, "leak"),
    (Kind.UNDERVOLTAGE, "supply_wiring"),
    (Kind.UNDERVOLTAGE, "supply_source"),
    (Kind.OVERLOAD_MARGIN, "rising_load"),
    (Kind.LEAK, "downstream"),
    (Kind.DATA_GAP, ""),
]


def numbers(packed):
    return np.frombuffer(base64.b64decode(packed["bdata"]), dtype="<" + packed["dtype"])


def texts(figure):
    labels = [shape.get("label", {}).get("text", "") for shape in figure["layout"]["shapes"]]
    return " | ".join(labels + [note["text"] for note in figure["layout"]["annotations"]])


def axis_titles(figure):
    return [
        axis["title"]["text"]
        for name, axis in figure["layout"].items()
        if name.startswith(("xaxis", "yaxis"))
    ]


@pytest.mark.parametrize(("kind", "cause"), FINDINGS)
def test_each_axis_names_quantity_and_unit_or_zone(world, kind, cause):
    scene = world.scene(world.brief([world.finding(kind, cause)]))

    charts = evidence(scene, world.finding(kind, cause))

    assert charts
    for chart in charts:
        for title in axis_titles(chart.figure):
            assert "(" in title or title == "Day"
        assert any("America/New_York (EST)" in title for title in axis_titles(chart.figure)) or (
            "own load" in chart.title
        )


def test_hunting_is_drawn_swing_by_swing(world):
    last_at = world.CASES.healthy_week().from_at + timedelta(days=3)
    brief = world.brief(week_change={"hunting_last_at": last_at, "hunting_period_s": 10.0})
    finding = world.finding(Kind.HUNTING, "ramp_too_fast")

    (chart,) = evidence(world.scene(brief), finding)

    assert {"Pressure (psi)", "Speed (Hz)"} <= set(axis_titles(chart.figure))
    low_ms, high_ms = chart.figure["layout"]["xaxis"]["range"]
    assert high_ms - low_ms == pytest.approx(130_000.0)  # twelve swings and one more
    assert evidence(world.scene(), finding) == []


def test_a_trip_is_drawn_with_the_minutes_before_and_after(world):
    at = world.CASES.healthy_week().from_at + timedelta(days=2)
    finding = world.finding(Kind.CONTROLLER_TRIP, "E05", measures={"last_trip_at": at.isoformat()})

    (chart,) = evidence(world.scene(), finding)

    assert len(chart.figure["data"]) == 4  # no drive temperature in this log
    assert "E05" in texts(chart.figure)
    assert evidence(world.scene(), world.finding(Kind.CONTROLLER_TRIP, "")) == []


def test_controller_heat_is_drawn_with_its_limit_in_the_units_of_the_site(world):
    samples = world.samples()
    warm = replace(samples, drive_temp_c=np.full(samples.ts_us.size, 60.0, dtype=np.float32))

    week, by_day = evidence(world.scene(of_samples=warm), world.finding(Kind.OVERHEATING, ""))

    assert "hot 176 F" in texts(week.figure)  # 80 C
    assert "Controller temperature (F)" in axis_titles(by_day.figure)


def test_a_setting_needs_no_picture(world):
    finding = world.finding(Kind.SETTING, "min_hz")

    assert evidence(world.scene(world.brief([finding])), finding) == []


def test_the_week_shows_four_rows_in_the_units_of_the_site_with_limits_named(world):
    brief = world.brief(of_site=world.site(units="si"))

    figure = week_strip(world.scene(brief), [], 100).figure

    assert len(figure["data"]) == 4
    assert {"Pressure (kPa)", "Speed (Hz)", "Motor current (A)", "Supply voltage (V)"} <= set(
        axis_titles(figure)
    )
    for text in ("set 414 kPa", "nominal 230 V", "90 % 207 V", "95 % 218 V", "maximum 60 Hz"):
        assert text in texts(figure)
    assert "service-factor = overload setting 6.9 A" in texts(figure)


def test_a_channel_that_was_not_logged_gets_no_row(world):
    silent = world.samples()
    silent = replace(silent, voltage_v=np.full(silent.ts_us.size, np.nan, dtype=np.float32))

    figure = week_strip(world.scene(of_samples=silent), [], 100).figure

    assert len(figure["data"]) == 3


def test_a_silence_is_shaded_and_named(world):
    whole = world.samples()
    half = samples_between(whole, int(whole.ts_us[0]), int(whole.ts_us[60_000]))

    figure = week_strip(world.scene(of_samples=half), [], 100).figure

    assert "no data" in texts(figure)


def test_a_finding_has_a_lane_with_its_name(world):
    finding = world.finding(Kind.LEAK, "downstream")

    figure = week_strip(world.scene(world.brief([finding])), [finding], 100).figure

    assert "Leak (began earlier)" in texts(figure)


def test_times_are_drawn_in_the_clock_of_the_site(world):
    scene = world.scene()

    first_ms = numbers(week_strip(scene, [], 100).figure["data"][0]["x"])[0]

    # 2026-11-16 00:00 on the wall in New York, written as if it were UTC
    assert first_ms == 1_794_787_200_000.0


def test_markup_in_a_name_is_shown_as_it_is():
    shape = theme.limit(1.0, '<a href="x">%{y}</a>')

    assert shape["label"]["text"].startswith("&lt;a href")
    assert "%{" not in shape["label"]["text"]


def test_the_typical_window_holds_the_usual_rhythm(world):
    samples = world.samples()

    window = cycling.typical_window(samples.ts_us, samples.frequency_hz)

    part = samples_between(samples, *window)
    running = part.frequency_hz > 0
    n_starts = int((running[1:] & ~running[:-1]).sum())
    assert n_starts == pytest.approx(8, abs=1)  # one start a minute by construction


def test_typical_cycles_carry_the_tank_law_from_stop_to_restart(world):
    scene = world.scene(world.brief([world.finding(Kind.SHORT_CYCLING, "tank_charge_lost")]))

    figure = cycling.typical_cycles(scene).figure

    law = next(trace for trace in figure["data"] if "tank law" in trace["name"])
    psi = numbers(law["y"])[:13]
    # built in: 60 psi at the stop; half the time of the fall takes half the gas's growth, so at
    # 14.7 psi of air the middle lies below the straight line's
    assert psi[0] == pytest.approx(60.0, abs=0.01)
    assert psi[6] < (psi[0] + psi[12]) / 2
    assert "psi in 35 s" in law["name"]
    assert "if the tank is as registered" in law["name"]


def test_a_stop_of_two_samples_has_no_tank_law(world):
    slow = world.samples(interval_s=20)

    figure = cycling.typical_cycles(world.scene(of_samples=slow)).figure

    assert not [trace for trace in figure["data"] if "tank law" in trace["name"]]


def test_without_a_registered_tank_the_law_names_no_flow(world):
    brief = world.brief(pumps=[world.pump(tank_l=None)])

    figure = cycling.typical_cycles(world.scene(brief)).figure

    law = next(trace for trace in figure["data"] if "tank law" in trace["name"])
    assert "registered" not in law["name"]


def test_fewer_than_three_starts_have_no_typical_window(world):
    samples = world.samples(days=0.001)

    assert cycling.typical_window(samples.ts_us, samples.frequency_hz) is None


def test_a_straight_fall_comes_back_with_its_slope(world):
    samples = world.samples()

    lines = leak.falls(samples.ts_us[:100], samples.frequency_hz[:100], samples.pressure_kpa[:100])

    # built in: 5 psi in 40 s
    assert lines[0][3] == pytest.approx(-7.5 * world.PSI_KPA, rel=1e-3)


def test_a_night_names_its_quiet_window_and_slope(world):
    scene = world.scene(world.brief([world.finding(Kind.LEAK, "downstream")]))

    figure = leak.night(scene).figure

    assert "quietest 3 h of this site" in texts(figure)
    assert "psi/min" in texts(figure)


def test_no_observed_night_no_picture(world):
    brief = world.brief(week_change={"quiet_from_hour": None})

    assert leak.night(world.scene(brief)) is None


def test_without_tank_the_nights_show_the_fall_and_say_so(world):
    scene = world.scene()
    days = tuple(replace(day, night_leak_lpm=None) for day in scene.pump.days)

    chart = leak.nights(replace(scene, pump=replace(scene.pump, days=days)))

    assert "Fall in the quiet window (psi/min)" in axis_titles(chart.figure)
    assert "not litres" in chart.reading


def test_volts_against_load_draw_the_registered_conductor(world):
    figure = undervoltage.volts_against_load(world.scene()).figure

    names = [trace["name"] for trace in figure["data"]]
    # 12 AWG at 75 C is 1.93 ohm/kft solid (NEC chapter 9 table 8): 2 x 80 ft -> 0.31 ohm
    assert "registered conductor 0.31 ohm" in names
    assert "measured 0.3 ohm" in names


def test_against_motor_current_the_conductor_has_no_line(world):
    brief = world.brief(pumps=[world.pump(motor_volts=None)])

    figure = undervoltage.volts_against_load(world.scene(brief)).figure

    names = " ".join(trace["name"] for trace in figure["data"])
    assert "Motor current (A)" in axis_titles(figure)
    assert "registered conductor" not in names
    assert "measured 0.5 V per motor ampere" in names


def test_a_pump_that_never_rests_at_night_shows_its_running_time(world):
    scene = world.scene()
    days = tuple(
        replace(day, night_leak_lpm=None, night_fall_p50_kpa_per_min=None, night_run_s=10_800.0)
        for day in scene.pump.days
    )

    chart = leak.nights(replace(scene, pump=replace(scene.pump, days=days)))

    assert "Running in the quiet window (min)" in axis_titles(chart.figure)
    assert set(chart.figure["data"][0]["y"]) == {180.0}


def test_without_volts_there_is_nothing_to_draw(world):
    samples = world.samples()
    none = np.full(samples.ts_us.size, np.nan, dtype=np.float32)
    scene = world.scene(of_samples=replace(samples, voltage_v=none))

    assert undervoltage.volts_against_load(scene) is None
    assert undervoltage.volts_over_week(scene, 100) is None


def test_a_spell_lasts_until_the_next_sample_and_neighbours_join():
    second = np.array([0, 10, 20, 30, 40, 1000, 1010]) * 1_000_000
    holds = np.array([False, True, False, True, False, True, False])

    found = spells_where(second, holds, join_s=15, gap_s=60)

    assert [(s.from_us // 10**6, s.to_us // 10**6) for s in found] == [(10, 40), (1000, 1010)]


def test_silences_at_both_edges_count():
    second = np.array([100, 110, 900]) * 1_000_000

    found = silences(second, 0, 1_000_000_000, least_s=60)

    assert [s.duration_s for s in found] == [100, 790, 100]


def test_busy_hours_are_those_near_the_busiest(world):
    samples = world.samples()
    calm = np.where(
        samples.ts_us < us_of(world.CASES.healthy_week().from_at + timedelta(days=6)),
        np.float32(0),
        samples.frequency_hz,
    )

    found = busy_hours(replace(samples, frequency_hz=calm), running_above_hz=1)

    assert [spell.duration_s for spell in found] == [86_400]


def test_labels_of_level_lines_that_lie_close_stand_at_both_ends():
    levels = [theme.limit(value, f"{value}") for value in (100.0, 101.0, 150.0)]
    layout = theme.layout(300, shapes=levels, yaxis=theme.axis("Volts (V)", range=[90.0, 160.0]))

    notes = theme.figure([], layout)["layout"]["annotations"]

    assert [(note["y"], note["xanchor"]) for note in notes] == [
        (100.0, "right"),
        (101.0, "left"),
        (150.0, "right"),
    ]
