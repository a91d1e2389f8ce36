"""Field exports as they really are: each case, and that nothing of it is lost or guessed silently.

DEVELOPERS.md lists these tests case by case.
"""

from datetime import datetime, timedelta

import numpy as np
import pytest

from ingest.installed_base import Pump, Register
from ingest.load import load_logs
from ingest.profile import read_profile
from ingest.store import save_register

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"
START = datetime(2026, 11, 16)


def stamps(n, step_s=5, start=START, form="%Y-%m-%dT%H:%M:%SZ"):
    return [(start + timedelta(seconds=step_s * k)).strftime(form) for k in range(n)]


def rows(times, kpa=400, hz=45, amps=3):
    return [f"{t},{kpa},{hz},{amps}" for t in times]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_byte_order_marks_and_utf_16_are_read(con, register, write_log, instants_of, encoding):
    path = write_log("P-1.csv", rows(stamps(20)))
    path.write_bytes(path.read_text().encode(encoding))

    report = load_logs(con, [path], register)

    assert (report.rows_kept, report.rejects) == (20, ())
    assert len(instants_of("P-1")) == 20


def test_a_header_in_semicolons_is_rejected_with_the_way_to_a_profile(con, register, write_log):
    path = write_log("P-1.csv", ["2026-11-16T00:00:00;4,1;45,0;3,1"], HEADER.replace(",", ";"))

    report = load_logs(con, [path], register)

    told = report.rejects[0].text
    assert "separated by ';'" in told
    assert "pumprounds look proposes one" in told


def test_report_titles_above_and_units_below_the_header_are_noted_not_read(
    con, register, write_log
):
    lines = [",,Motor,Motor", HEADER, ",kPa,Hz,A", *rows(stamps(3))]

    report = load_logs(con, [write_log("P-1.csv", lines, "Weekly report")], register)

    assert (report.rows_kept, report.rejects) == (3, ())
    assert report.notes == (
        "P-1.csv: 2 lines before the header are not read.",
        "P-1.csv: 1 rows of units or titles below the header are not read.",
    )


def test_a_row_of_units_that_contradicts_the_header_costs_the_file(con, register, write_log):
    lines = [",psi,Hz,A", *rows(stamps(3), kpa=58)]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    assert report.rows_kept == 0
    assert "a column pressure_kpa, but the row of units below says 'psi'" in str(report.rejects[0])


def test_totals_at_the_end_cost_their_lines(con, register, write_log):
    lines = [*rows(stamps(3)), "Total,1200,135,9", "3 rows"]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    assert report.rows_kept == 3
    assert [problem.line for problem in report.rejects] == [5, 6]


def test_a_text_marker_costs_its_cell_or_row_and_a_profile_can_name_it(con, register, write_log):
    path = write_log("P-1.csv", ["2026-11-16T00:00:00Z,OL,45,3", *rows(stamps(3, 5, START))[1:]])

    report = load_logs(con, [path], register)

    assert "pressure_kpa is 'OL', expected a number" in report.rejects[0].text
    assert "name it under 'blank' in a log profile" in report.rejects[0].text
    assert report.rows_kept == 2


def test_columns_in_another_order_below_a_second_header_are_read_by_it(
    con, register, write_log, samples_of
):
    first, second = rows(stamps(5)), stamps(5, start=START + timedelta(minutes=1))
    changed = "timestamp,current_a,frequency_hz,pressure_psi,voltage_v"
    lines = [*first, changed, *(f"{t},3,45,58,230" for t in second), "junk"]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    got = samples_of("P-1")
    assert report.rows_kept == 10
    assert [problem.line for problem in report.rejects] == [13]
    assert got.pressure_kpa.tolist() == pytest.approx([400] * 5 + [399.9] * 5, abs=0.01)
    assert got.current_a.tolist() == [3] * 10
    assert np.isnan(got.voltage_v[:5]).all()
    assert got.voltage_v[5:].tolist() == [230] * 5
    assert load_logs(con, [write_log("P-1.csv", lines)], register).n_files_unchanged == 1


def test_the_same_header_again_is_no_sample_and_no_problem(con, register, write_log):
    lines = [*rows(stamps(5)), HEADER, *rows(stamps(5, start=START + timedelta(minutes=1)))]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    assert (report.rows_in, report.rows_kept, report.rejects) == (10, 10, ())


def test_rows_below_a_header_that_lacks_a_needed_column_are_left_out_and_counted(
    con, register, write_log
):
    lines = [*rows(stamps(5)), "timestamp,frequency_hz,current_a", "2026-11-16T01:00:00Z,45,3"]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    assert (report.rows_in, report.rows_kept, report.rows_rejected) == (6, 5, 1)
    assert report.rejects[0].line == 7
    assert "has no column pressure_psi" in report.rejects[0].text


PROFILE = """
{more}
[time]
column = "timestamp"
[values.pressure]
column = "pressure_kpa"
[values.frequency]
column = "frequency_hz"
[values.current]
column = "current_a"
"""


@pytest.fixture
def profile_of(tmp_path):
    def write(more):
        path = tmp_path / "profile.toml"
        path.write_text(PROFILE.format(more=more))
        return read_profile(path)

    return write


def test_a_value_logged_on_change_is_held_until_the_next_and_no_longer_than_it_stands(
    con, register, write_log, samples_of, profile_of
):
    profile = profile_of('[log]\nvalues = "on_change"\nhold_s = 30\nevery_s = 10')
    lines = [
        "2026-11-16T00:00:00Z,400,45,3",
        "2026-11-16T00:00:12Z,,,3.5",  # 10 s is held before it
        "2026-11-16T00:02:00Z,380,,",  # 20, 30, 40 s are held before it, then silence
    ]
    path = write_log("P-1.csv", lines)

    report = load_logs(con, [path], register, [profile])

    got = samples_of("P-1")
    seconds = ((got.ts_us - got.ts_us[0]) // 1_000_000).tolist()
    assert seconds == [0, 10, 12, 20, 30, 40, 120]
    assert got.pressure_kpa.tolist() == [400] * 6 + [380]
    assert got.frequency_hz.tolist() == [45] * 7
    assert got.current_a.tolist() == [3, 3, 3.5, 3.5, 3.5, 3.5, 3.5]
    assert report.rejects == ()
    again = write_log("P-1__b.csv", lines[:2])
    assert load_logs(con, [again], register, [profile]).rows_repeated == 3


def test_a_fault_that_is_cleared_is_not_held(con, register, write_log, samples_of, profile_of):
    profile = profile_of(
        '[values.fault_code]\ncolumn = "fault_code"\n'
        '[log]\nvalues = "on_change"\nhold_s = 60\nevery_s = 10'
    )
    lines = [
        "2026-11-16T00:00:00Z,400,45,3,E07",
        "2026-11-16T00:00:10Z,390,,,",
        "2026-11-16T00:00:20Z,,,,0",
        "2026-11-16T00:00:30Z,400,,,",
    ]

    load_logs(con, [write_log("P-1.csv", lines, f"{HEADER},fault_code")], register, [profile])

    assert samples_of("P-1").fault_code.tolist() == ["E07", "E07", None, None]


def test_an_interval_that_changes_loses_no_row(con, register, write_log, instants_of):
    awake, asleep = stamps(60, 1), stamps(30, 60, START + timedelta(minutes=1))

    report = load_logs(con, [write_log("P-1.csv", rows(awake + asleep))], register)

    assert (report.rows_kept, report.rejects) == (90, ())
    assert len(instants_of("P-1")) == 90


@pytest.mark.parametrize("year", [1970, 1980, 2000])
def test_a_clock_that_restarted_is_set_aside_not_dated(
    con, register, write_log, instants_of, year
):
    lost = stamps(20, start=datetime(year, 3, 1))

    report = load_logs(con, [write_log("P-1.csv", rows(stamps(5) + lost))], register)

    assert (report.rows_kept, report.rows_rejected) == (5, 20)
    assert "the logger had lost its clock" in report.rejects[0].text
    assert len(instants_of("P-1")) == 5


def test_a_clock_set_back_gives_each_stretch_of_time_once(con, register, write_log, instants_of):
    after = stamps(40, start=START + timedelta(seconds=5 * 60 - 62))

    report = load_logs(con, [write_log("P-1.csv", rows(stamps(60) + after))], register)

    assert report.rows_rejected == 12  # from 00:03:58 to 00:04:53 between samples logged before
    assert "the clock was set back" in report.rejects[0].text
    assert report.rejects[0].line == 62
    assert instants_of("P-1") == sorted(set(instants_of("P-1")))
    assert report.rows_kept == 88


def test_a_stretch_sent_later_into_a_gap_is_kept(con, register, write_log):
    before, kept = stamps(60), stamps(60, start=START + timedelta(hours=1))
    after = stamps(60, start=START + timedelta(hours=2))

    report = load_logs(con, [write_log("P-1.csv", rows(before + after + kept))], register)

    assert (report.rows_kept, report.rejects) == (180, ())


@pytest.mark.parametrize(
    ("first", "form"),
    [
        (datetime(2026, 11, 16), "%d/%m/%Y %H:%M:%S"),
        (datetime(2026, 11, 16), "%m/%d/%Y %H:%M:%S"),
        (datetime(2026, 11, 12, 23, 59), "%d.%m.%Y %H:%M:%S"),  # decided by the 13th
        (datetime(2026, 11, 3, 23, 59), "%m/%d/%Y %I:%M:%S %p"),  # by the step of a day
        (datetime(2026, 11, 3, 23, 59), "%d-%m-%YT%H:%M:%S"),
    ],
)
def test_day_and_month_are_told_apart_by_the_evidence_of_the_file(
    con, register, write_log, instants_of, first, form
):
    report = load_logs(
        con, [write_log("P-1.csv", rows(stamps(60, start=first, form=form)))], register
    )

    assert (report.rows_kept, report.rejects) == (60, ())
    assert instants_of("P-1") == stamps(60, start=first, form="%Y-%m-%dT%H:%M:%S")


def test_day_and_month_that_nothing_tells_apart_are_asked_for(
    con, register, write_log, instants_of, profile_of
):
    times = stamps(5, start=datetime(2026, 11, 3), form="%d/%m/%Y %H:%M:%S")
    path = write_log("P-1.csv", rows(times))

    report = load_logs(con, [path], register)

    assert "nothing in it tells the day from the month" in report.rejects[0].text
    assert "format = '%d/%m/%Y ...' or '%m/%d/%Y ...'" in report.rejects[0].text
    profile = profile_of("")
    path.with_name("profile.toml").write_text(
        PROFILE.format(more="").replace(
            'column = "timestamp"', 'column = "timestamp"\nformat = "%d/%m/%Y %H:%M:%S"'
        )
    )
    profile = read_profile(path.with_name("profile.toml"))
    assert load_logs(con, [path], register, [profile]).rows_kept == 5
    assert instants_of("P-1")[0] == "2026-11-03T00:00:00"


def test_a_local_date_with_slashes_keeps_the_sites_time_zone(
    con, register, write_log, instants_of
):
    load_logs(con, [write_log("P-CHI.csv", rows(["2026/11/16 00:00:05"]))], register)

    assert instants_of("P-CHI") == ["2026-11-16T06:00:05"]


@pytest.mark.parametrize(
    ("pump_id", "damaged"),
    [("00123", "123"), ("1E5", "1.00E+05"), ("123456789012", "1.23457E+11"), ("P-042", "p 042")],
)
def test_an_id_a_spreadsheet_damaged_is_named_with_the_pump_it_likely_is(
    con, register, write_log, pump_id, damaged
):
    more = Register(
        sites=register.sites,
        pumps={**register.pumps, pump_id: Pump(pump_id=pump_id, site_id="S-P-1")},
    )
    save_register(con, more)
    lines = [f"{damaged},{row}" for row in rows(stamps(3))]

    report = load_logs(con, [write_log("fleet.csv", lines, f"pump_id,{HEADER}")], more)

    assert f"names pump '{damaged}', which is not in the register (3 rows)" in str(
        report.rejects[0]
    )
    assert f"Is it '{pump_id}'" in report.rejects[0].text
    assert report.rows_kept == 0


def test_times_whose_seconds_a_spreadsheet_cut_off_are_not_dated(con, register, write_log):
    times = stamps(60, form="%Y-%m-%d %H:%M")

    report = load_logs(con, [write_log("P-1.csv", rows(times))], register)

    assert (report.rows_kept, report.rows_rejected) == (0, 60)
    assert "has lost the seconds of its times" in report.rejects[0].text
    assert "60 rows share 5 minutes" in report.rejects[0].text
