"""Values that no pump can show: counted by pump, local week and channel as they are left out."""

from datetime import datetime, timedelta

import pytest

from ingest.left_out import read_left_out
from ingest.load import load_logs
from ingest.profile import read_profile

PSI_KPA = 6.894757
HEADER = "timestamp,pressure_psi,frequency_hz,current_a,voltage_v"
WEEKS = ("2026-W01", "2026-W53")
PROFILE = """
files = "P-1.csv"
[time]
column = "timestamp"
[pump]
file_name = "^(?P<pump_id>.+)[.]csv"
[values.pressure]
column = "pressure_psi"
unit = "kpa"
[values.frequency]
column = "frequency_hz"
[values.current]
column = "current_a"
"""


def rows(*values, start="2026-11-16T00:00:00", volts=230):
    """One row every 5 s; of each value of pressure one."""
    from_at = datetime.fromisoformat(start)
    return [
        f"{from_at + timedelta(seconds=5 * n):%Y-%m-%dT%H:%M:%SZ},{value},45,3,{volts}"
        for n, value in enumerate(values)
    ]


def counts(con, pump_id):
    return {
        (one.week, one.channel): (one.n_values, round(one.value, 1), one.n_of_value)
        for one in read_left_out(con, (pump_id, pump_id), WEEKS).get(pump_id, ())
    }


def test_values_no_pump_can_show_are_counted_with_the_most_frequent(con, register, write_log):
    load_logs(con, [write_log("P-1.csv", rows(60, 6553.5, 61, 900, 6553.5), HEADER)], register)

    assert counts(con, "P-1") == {("2026-W47", "pressure_kpa"): (3, round(6553.5 * PSI_KPA, 1), 2)}


def test_they_are_of_the_local_week_of_their_site(con, register, write_log):
    # Monday 05:59:55 UTC is Sunday in Chicago
    lines = rows(60, 6553.5, 6553.5, 61, start="2026-11-16T05:59:50")

    load_logs(con, [write_log("P-CHI.csv", lines, HEADER)], register)

    assert [(week, n) for (week, _), (n, *_) in counts(con, "P-CHI").items()] == [
        ("2026-W46", 1),
        ("2026-W47", 1),
    ]


def test_local_times_are_instants_first(con, register, write_log):
    lines = [line.replace("Z", "") for line in rows(6553.5, 60, start="2026-11-15T23:59:55")]

    load_logs(con, [write_log("P-CHI.csv", lines, HEADER)], register)

    (one,) = read_left_out(con, ("P-CHI", "P-CHI"), WEEKS)["P-CHI"]
    assert (one.week, one.first_at) == ("2026-W46", datetime(2026, 11, 16, 5, 59, 55))


def test_a_cell_left_blank_counts_as_well(con, register, write_log, samples_of):
    load_logs(con, [write_log("P-1.csv", rows(60, 61, volts=65535), HEADER)], register)

    assert samples_of("P-1").ts_us.size == 2
    assert counts(con, "P-1") == {("2026-W47", "voltage_v"): (2, 65535.0, 2)}


@pytest.mark.parametrize(
    "spoilt", ["no time,6553.5,45,3,230", "2001-01-01T00:00Z,6553.5,45,3,230"]
)
def test_a_row_that_is_wrong_otherwise_says_nothing_of_the_sensor(
    con, register, write_log, spoilt
):
    load_logs(con, [write_log("P-1.csv", [*rows(60, 61), spoilt], HEADER)], register)

    assert counts(con, "P-1") == {}


def test_a_file_in_another_unit_says_nothing_of_the_sensor(con, register, write_log):
    lines = rows(*[400] * 30, *[700] * 5)  # kPa

    report = load_logs(con, [write_log("P-1.csv", lines, HEADER)], register)

    assert "as if in another unit" in report.rejects[0].text
    assert counts(con, "P-1") == {}


def test_files_add_up_and_one_read_again_with_its_unit_put_right_counts_no_more(
    con, register, write_log, tmp_path
):
    first = write_log("P-1.csv", rows(60, 700, 700), HEADER)
    next_day = [f"{line},P-1" for line in rows(700, 62, start="2026-11-17T00:00:00")]
    later = write_log("later.csv", next_day, f"{HEADER},pump_id")
    load_logs(con, [first, later], register)
    assert [n for n, *_ in counts(con, "P-1").values()] == [3]

    in_kpa = tmp_path / "kpa.toml"
    in_kpa.write_text(PROFILE)
    load_logs(con, [first], register, [read_profile(in_kpa)])

    assert [n for n, *_ in counts(con, "P-1").values()] == [1]


def test_a_late_file_of_nothing_else_has_its_week_judged_again(con, register, write_log):
    good = [write_log("P-1.csv", rows(60, 61), HEADER), write_log("P-2.csv", rows(60, 61), HEADER)]
    load_logs(con, good, register)
    con.execute("update coverage set is_measured = true")

    late = rows(6553.5, 6553.5, start="2026-11-17T00:00:00")
    load_logs(con, [write_log("P-1__late.csv", late, HEADER)], register)

    open_again = con.execute(
        "select pump_id from coverage join pump_numbers using (pump_no) where not is_measured"
    ).fetchall()
    assert open_again == [("P-1",)]
