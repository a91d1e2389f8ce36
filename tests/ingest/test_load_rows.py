"""What a line of a log becomes: units, times, rejects by file and line."""

import math
from datetime import UTC, datetime

import pytest

from ingest.load import load_logs

ROW = "2026-11-16T00:00:{s:02d}Z,{p},45,3"


def rows(*pressures, start=0):
    return [ROW.format(s=start + n, p=p) for n, p in enumerate(pressures)]


def test_a_plain_log_is_loaded(con, register, write_log, samples_of, instants_of):
    path = write_log("P-1__week47.csv", rows(400, 401.5, ""))

    report = load_logs(con, [path], register)

    assert (report.n_files_new, report.rows_in, report.rows_kept) == (1, 3, 3)
    assert report.rejects == ()
    assert instants_of("P-1") == [
        "2026-11-16T00:00:00",
        "2026-11-16T00:00:01",
        "2026-11-16T00:00:02",
    ]
    got = samples_of("P-1")
    assert got.pressure_kpa[:2].tolist() == [400, 401.5]
    assert math.isnan(got.pressure_kpa[2])  # a blank is no value, not a reject
    assert got.frequency_hz.tolist() == [45, 45, 45]
    assert got.fault_code is None


def test_loading_twice_adds_nothing_and_says_so(con, register, write_log):
    path = write_log("P-1.csv", rows(400, 401))
    load_logs(con, [path], register)

    again = load_logs(con, [path], register)

    assert (again.n_files_new, again.n_files_unchanged, again.rows_kept) == (0, 1, 0)
    assert con.execute("select count(*) from samples").fetchone() == (2,)


def test_the_same_bytes_under_another_name_add_nothing(con, register, write_log):
    header = "pump_id,timestamp,pressure_kpa,frequency_hz,current_a"
    lines = [f"P-1,{line}" for line in rows(400, 401)]
    paths = [write_log(name, lines, header) for name in ("a.csv", "b.csv")]

    report = load_logs(con, paths, register)

    assert (report.n_files_new, report.n_files_unchanged, report.rows_kept) == (1, 1, 2)


@pytest.mark.parametrize(
    ("title", "cell", "channel", "value"),
    [
        ("pressure_psi", "60", "pressure_kpa", 413.685),
        ("pressure_bar", "4", "pressure_kpa", 400),
        ("suction_psi", "-5", "suction_kpa", -34.474),
        ("suction_kpa", "-5", "suction_kpa", -5),
        ("suction_bar", "0.2", "suction_kpa", 20),
        ("flow_gpm", "10", "flow_lpm", 37.854),
        ("flow_lpm", "10", "flow_lpm", 10),
        ("drive_temp_f", "104", "drive_temp_c", 40),
        ("drive_temp_c", "41", "drive_temp_c", 41),
        ("voltage_v", "231.5", "voltage_v", 231.5),
        ("input_current_a", "6.5", "input_current_a", 6.5),
    ],
)
def test_each_unit_becomes_the_inner_one(
    con, register, write_log, samples_of, title, cell, channel, value
):
    names = ["timestamp", "pressure_kpa", "frequency_hz", "current_a"]
    cells = ["2026-11-16T00:00:00Z", "400", "45", "3"]
    if title.startswith("pressure"):
        names[1], cells[1] = title, cell
    else:
        names.append(title)
        cells.append(cell)
    write = write_log("P-1.csv", [",".join(cells)], ",".join(names))

    load_logs(con, [write], register)

    assert getattr(samples_of("P-1"), channel)[0] == pytest.approx(value, abs=1e-3)


def test_fault_codes_are_kept_as_text_and_none_is_none(con, register, write_log, samples_of):
    header = "timestamp,pressure_kpa,frequency_hz,current_a,fault_code"
    codes = ["", "0", "E07", " 12 "]
    lines = [f"{row},{code}" for row, code in zip(rows(1, 2, 3, 4), codes, strict=True)]

    load_logs(con, [write_log("P-1.csv", lines, header)], register)

    assert samples_of("P-1").fault_code.tolist() == [None, None, "E07", "12"]


@pytest.mark.parametrize(
    "stamp",
    [
        "2026-11-16T00:00:05Z",
        "2026-11-16 00:00:05+00",
        "2026-11-16T01:00:05+01:00",
        "2026-11-15T19:00:05-0500",
        "2026-11-16T00:00:05.000Z",
        "2026-11-16 00:00:05 UTC",
        "1794787205",
        "1794787205000",
        "1794787205.0",
        "2026-11-16T00:00:05",  # the pump's own zone is UTC
        "2026-11-16 00:00:05.000",
        " 2026-11-16 0:00:05 ",
    ],
)
def test_each_way_to_write_an_instant_is_read(con, register, write_log, instants_of, stamp):
    assert datetime(2026, 11, 16, 0, 0, 5, tzinfo=UTC).timestamp() == 1794787205

    load_logs(con, [write_log("P-1.csv", [f"{stamp},400,45,3"])], register)

    assert instants_of("P-1") == ["2026-11-16T00:00:05"]


def test_ways_to_write_instants_may_change_within_a_file(con, register, write_log, instants_of):
    stamps = [
        "2026-11-16T00:00:00",
        "2026-11-16T06:00:01Z",
        "1794808802",
        "2026-11-16T07:00:03+01",
    ]
    lines = [f"{stamp},400,45,3" for stamp in stamps]

    load_logs(con, [write_log("P-CHI.csv", lines)], register)

    assert instants_of("P-CHI") == [f"2026-11-16T06:00:0{s}" for s in range(4)]


def test_an_offset_is_never_dropped(con, register, write_log, instants_of):
    line = "2026-11-16T00:00:05+01:00,400,45,3"

    load_logs(con, [write_log("P-CHI.csv", [line])], register)

    assert instants_of("P-CHI") == ["2026-11-15T23:00:05"]


REJECTED = [
    # line, reason, advice
    (ROW.format(s=1, p=400)[:-2], "has 3 cells, expected 4", "line is broken"),
    ("2026-11-16T00:", "has 1 cells, expected 4", "line is broken"),
    (ROW.format(s=1, p=400) + ",7", "has 5 cells, expected 4", "line is broken"),
    ("16.11.2026 00:00,400,45,3", "timestamp is '16.11.2026 00:00', which is no time", "profile"),
    (",400,45,3", "timestamp is '', which is no time", "2026-11-16T00:00:05Z"),
    ("1970-01-01T00:05:00Z,400,45,3", "before 2010", "clock"),
    ("2000-01-01T00:05:00Z,400,45,3", "before 2010", "clock"),
    ("46342.5,400,45,3", "before 2010", "clock"),
    ("2062-11-16T00:00:00Z,400,45,3", "far from all other times", "clock"),
    ("2162-11-16T00:00:00Z,400,45,3", "far from all other times", "clock"),
    ("2026-11-16T00:00:01Z,OL,45,3", "pressure_kpa is 'OL', expected a number", "blank"),
    ("2026-11-16T00:00:01Z,400,---,3", "frequency_hz is '---', expected a number", "blank"),
    (
        "2026-11-16T00:00:01Z,41370,45,3",
        "pressure_kpa is 41370, outside -101.3 to 4000 kpa",
        "unit",
    ),
    ("2026-11-16T00:00:01Z,400,4500,3", "frequency_hz is 4500, outside -0.5 to 400 hz", "sensor"),
    ("2026-11-16T00:00:01Z,400,45,inf", "current_a is inf, outside", "sensor"),
    ("2026-11-16T00:00:01Z,,nan,", "has no pressure, no frequency and no current", "logger"),
]


@pytest.mark.parametrize(("line", "reason", "advice"), REJECTED)
def test_a_rejected_row_is_told_by_file_and_line_and_changes_nothing_else(
    con, register, write_log, instants_of, line, reason, advice
):
    good = [ROW.format(s=s, p=400) for s in (0, 2, 3, 4, 5)]
    path = write_log("P-1.csv", [good[0], line, *good[1:]])

    report = load_logs(con, [path], register)

    assert len(report.rejects) == 1
    assert str(report.rejects[0]).startswith("P-1.csv line 3: ")
    assert reason in report.rejects[0].text
    assert advice in report.rejects[0].text
    assert (report.rows_in, report.rows_kept, report.rows_rejected) == (6, 5, 1)
    assert [instant[-2:] for instant in instants_of("P-1")] == ["00", "02", "03", "04", "05"]
    stored = con.execute("select file, line, content from rejects").fetchall()
    assert stored == [("P-1.csv", 3, line)]


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("OL", "voltage_v is 'OL', expected a number. Cell left blank"),
        ("2300", "voltage_v is 2300, outside 0 to 1000 v. Cell left blank"),
    ],
)
def test_a_bad_cell_that_is_not_needed_is_left_blank_and_told(
    con, register, write_log, samples_of, cell, told
):
    header = "timestamp,pressure_kpa,frequency_hz,current_a,voltage_v"
    lines = [f"{row},{v}" for row, v in zip(rows(1, 2, 3), ("230", cell, "231"), strict=True)]

    report = load_logs(con, [write_log("P-1.csv", lines, header)], register)

    assert (report.rows_kept, report.rows_rejected) == (3, 0)
    assert str(report.rejects[0]).startswith(f"P-1.csv line 3: {told}")
    assert [str(v) for v in samples_of("P-1").voltage_v.tolist()] == ["230.0", "nan", "231.0"]


@pytest.mark.parametrize("blank", ["", " ", "NaN", "null", "NA", "n/a", "None"])
def test_the_usual_words_for_no_value_are_blanks(con, register, write_log, samples_of, blank):
    header = "timestamp,pressure_kpa,frequency_hz,current_a,voltage_v"

    report = load_logs(con, [write_log("P-1.csv", [f"{rows(400)[0]},{blank}"], header)], register)

    assert report.rejects == ()
    assert math.isnan(samples_of("P-1").voltage_v[0])


def test_a_pressure_in_another_unit_is_asked_about(con, register, write_log):
    header = "timestamp,pressure_psi,frequency_hz,current_a"
    path = write_log("P-1.csv", rows(60, 4137), header)

    report = load_logs(con, [path], register)

    assert "pressure_psi is 4137, outside -14.7 to 580.2 psi; is it kPa?" in str(report.rejects[0])


@pytest.mark.parametrize(
    ("values", "is_unit_asked"),
    [
        ([60, 6553.5, 61, 62, 6553.5], False),  # among plausible ones
        ([6553.5] * 5, False),  # no pressure of a pump in any unit
        ([700] * 5, True),  # a pump at rest, logged in kPa
        ([60, 700, 61, 710, 62, 720], True),
    ],
)
def test_no_other_unit_is_asked_about_where_one_value_comes_again_and_again(
    con, register, write_log, values, is_unit_asked
):
    header = "timestamp,pressure_psi,frequency_hz,current_a"

    report = load_logs(con, [write_log("P-1.csv", rows(*values), header)], register)

    told = [str(reject) for reject in report.rejects]
    assert all(("is it kPa?" in text) is is_unit_asked for text in told)
    assert all(("mark for no reading" in text) is not is_unit_asked for text in told)


def test_many_like_rejects_of_a_file_are_listed_shortly(con, register, write_log):
    path = write_log("P-1.csv", [*rows("OL", *["OL"] * 49), *rows(400, start=50)])

    report = load_logs(con, [path], register)

    assert report.rows_rejected == 50
    assert report.n_rejects == 21
    assert "has 30 more lines like the one on line 2" in report.rejects[0].text
    assert [problem.line for problem in report.rejects[1:]] == list(range(2, 22))


def test_lines_are_counted_as_an_editor_counts_them(con, register, write_log):
    lines = [rows(400)[0], "", "", *rows("OL", start=1)]

    report = load_logs(con, [write_log("P-1.csv", lines, end="\r\n")], register)

    assert [problem.line for problem in report.rejects] == [5]
    assert report.rows_kept == 1


def test_a_broken_quote_costs_its_line_only(con, register, write_log, instants_of):
    quoted = ['"{}","400","45","3"'.format(row.partition(",")[0]) for row in rows(1, 2, 3, 4)]
    quoted[1] = quoted[1].replace('"400"', '"400')

    report = load_logs(con, [write_log("P-1.csv", quoted)], register)

    assert [problem.line for problem in report.rejects] == [3]
    assert [instant[-1] for instant in instants_of("P-1")] == ["0", "2", "3"]


def test_bytes_that_are_no_text_cost_their_row_only(con, register, write_log, instants_of):
    path = write_log("P-1.csv", rows(400, 401, 402))
    path.write_bytes(path.read_bytes().replace(b"401", b"4\xff1"))

    report = load_logs(con, [path], register)

    assert [problem.line for problem in report.rejects] == [3]
    assert len(instants_of("P-1")) == 2


def test_line_ends_of_both_kinds_in_one_load_lose_nothing(con, register, write_log, instants_of):
    lines = [f"2026-11-16T{h:02d}:{m:02d}:00Z,400,45,3" for h in range(24) for m in range(60)]
    path = write_log("P-1.csv", lines)
    write_log("P-2.csv", lines, end="\r\n")
    mixed = write_log("P-LON.csv", lines)
    mixed.write_bytes(mixed.read_bytes().replace(b":30:00Z,400,45,3\n", b":30:00Z,400,45,3\r\n"))

    report = load_logs(con, [path.parent], register)

    assert report.rejects == ()
    assert [len(instants_of(pump_id)) for pump_id in ("P-1", "P-2", "P-LON")] == [1440] * 3


def test_logs_with_and_without_rare_channels_are_one_log(con, register, write_log, samples_of):
    header = "timestamp,pressure_kpa,frequency_hz,current_a"
    paths = [
        write_log("P-1__a.csv", rows(400, 401), header),
        write_log(
            "P-1__b.csv", [f"{row},20" for row in rows(401, 402, start=1)], f"{header},flow_lpm"
        ),
    ]
    repeated = [load_logs(con, [path], register).rows_conflicting for path in paths]

    got = samples_of("P-1")
    assert repeated == [0, 1]
    assert got.pressure_kpa.tolist() == [400, 401, 402]
    assert got.flow_lpm.tolist() == pytest.approx([math.nan, math.nan, 20], nan_ok=True)
