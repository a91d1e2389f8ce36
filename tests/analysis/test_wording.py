from datetime import datetime

import pytest

from analysis import wording


@pytest.mark.parametrize(
    ("kpa", "units", "said"),
    [
        (413.685, "us", "60 psi"),  # 60 x 6.894757 kPa
        (413.685, "si", "414 kPa"),
        (1.0, "us", "under 1 psi"),
        (0.0, "us", "0 psi"),
    ],
)
def test_pressure_is_said_in_whole_units_of_the_site(kpa, units, said):
    assert wording.pressure_text(kpa, units) == said


@pytest.mark.parametrize(
    ("psi_per_min", "said"),
    [
        (75.0, "1.2 psi a second"),
        (5.0, "5.0 psi a minute"),
        (0.5, "30 psi an hour"),
        (0.0, "0 psi a minute"),
    ],
)
def test_a_rate_is_said_by_the_time_that_makes_it_easy(psi_per_min, said):
    assert wording.pressure_rate_text(psi_per_min * 6.894757, "us") == said


def test_a_published_leak_reads_as_published_in_gallons_a_day():
    # EPA WaterSense, Fix a Leak: a running toilet may waste 200 gal/day = 0.52575 L/min.
    got = wording.volume_text(0.52575 * 1440, "us")

    assert got == "200 gal"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0.2, 0.4, "0.20 to 0.40 L/min"), (0.301, 0.304, "0.30 L/min")],
)
def test_a_band_of_flow_collapses_when_both_ends_read_alike(low, high, said):
    assert wording.flow_range_text(low, high, "si") == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.2394, "0.24"), (1234.0, "1200"), (0.0, "0"), (9.96, "10"), (float("nan"), "unknown")],
)
def test_two_figures_and_no_power_of_ten(value, said):
    assert wording.figures_text(value) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (4.2, "4 s"),
        (0.53, "0.5 s"),
        (45, "45 s"),
        (150, "2.5 min"),
        (180, "3 min"),
        (1088, "18 min"),
        (5400, "1 h 30 min"),
        (7200, "2 h"),
        (86400, "24 h"),
        (2.5 * 86400, "2.5 days"),
        (3 * 86400, "3 days"),
    ],
)
def test_a_duration_is_said_in_the_unit_a_person_would_use(seconds, said):
    assert wording.duration_text(seconds) == said


def test_a_day_is_the_day_at_the_site_not_in_utc():
    just_before_midnight_in_denver = datetime.fromisoformat("2026-11-18T06:30")

    said = wording.local_date_text(just_before_midnight_in_denver, "America/Denver")

    assert said == "Tue 17 Nov"


def test_a_clock_time_carries_its_zone():
    assert (
        wording.local_time_text(datetime.fromisoformat("2026-11-17T19:05"), "America/New_York")
        == "14:05 EST"
    )


@pytest.mark.parametrize(
    ("confidence", "said"),
    [
        (1.0, "very likely"),
        (0.8, "very likely"),
        (0.6, "likely"),
        (0.4, "possible"),
        (0, "not sure"),
    ],
)
def test_how_sure_is_said_in_words_and_never_as_certain(confidence, said):
    assert wording.confidence_text(confidence) == said


def test_a_count_bends_its_noun_and_owns_up_to_being_a_lower_bound():
    assert wording.count_text(1, "start") == "1 start"
    assert wording.count_text(910.2, "start", at_least=True) == "at least 910 starts"
    assert wording.count_text(3, "day in use", "days in use") == "3 days in use"


@pytest.mark.parametrize(
    ("got", "said"),
    [
        (wording.volts_text(9.14), "9.1 V"),
        (wording.volts_text(229.6), "230 V"),
        (wording.amps_text(9.64), "9.6 A"),
        (wording.amps_text(128.4), "128 A"),
        (wording.length_text(45.72, "us"), "150 ft"),
        (wording.temperature_text(40.0, "us"), "104 F"),  # the trade's 104 F is 40 C
        (wording.temperature_text(40.0, "si"), "40 C"),
        (wording.power_text(1.118550, "us"), "1.5 hp"),
        (wording.power_text(18.64, "us"), "25 hp"),
        (wording.percent_text(3.0), "3 %"),
        (wording.percent_text(3.83), "3.8 %"),
        (wording.percent_text(12.4), "12 %"),
        (wording.percent_text(-0.02), "0 %"),
        (wording.ohms_text(0.3961), "0.40 ohm"),
        (wording.frequency_text(44.6), "45 Hz"),
        (wording.flow_text(0.52575, "us"), "0.14 gpm"),
    ],
)
def test_no_quantity_says_more_than_its_meter_shows(got, said):
    assert got == said


@pytest.mark.parametrize(
    ("parts", "said"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")],
)
def test_a_list_reads_as_a_sentence_part(parts, said):
    assert wording.join_text(parts) == said


def test_nobody_knows_how_much_longer_than_the_log():
    first_seen = datetime(2026, 10, 12, 9)

    told = [
        wording.since_text(first_seen, begins_at, "UTC")
        for begins_at in (datetime(2026, 10, 12), datetime(2026, 10, 5), None)
    ]

    assert told == ["the log begins (Mon 12 Oct)", "Mon 12 Oct", "Mon 12 Oct"]
