import gzip

import numpy as np
import pytest

from ingest.errors import ProfileError
from ingest.load import load_logs
from ingest.profile import read_profile

WIDE = """
files = "*_export.csv"
delimiter = ";"
decimal = ","
encoding = "cp1252"
skip_lines = 2
skip_after_header = 1
blank = ["---"]

[time]
columns = ["Datum", "Zeit"]
format = "%d.%m.%Y %H:%M:%S"
timezone = "Europe/Berlin"

[pump]
column = "Anlage"
names = { "Brunnen Süd" = "P-1" }

[values.pressure]
column = "Druck"
unit = "bar_abs"

[values.frequency]
column = "Drehzahl"
unit = "rpm"
at_60_hz = 3450

[values.current]
column = "Strom"
unit = "ma"
factor = 100

[values.drive_temp]
column = "Temperatur"
offset = -2
"""

WIDE_LOG = """Bericht
erstellt 17.11.2026
Datum;Zeit;Anlage;Druck;Drehzahl;Strom;Temperatur;Notiz
;;;bar;1/min;mA;°C;
16.11.2026;01:00:00;Brunnen Süd;5,01325;2587,5;30,5;42,0;ä
16.11.2026;01:00:05;Brunnen Süd;5,11325;2587,5;30;---;
16.11.2026;01:00:10;P-2;5,11325;0;0;40;
16.11.2026;01:00:15;P-2;1.013,25;0;0;40;
"""

LONG = """
[time]
column = "time"
format = "unix_ms"

[pump]
file_name = '^(?P<pump_id>P-\\d+)_'

[long]
tag_column = "tag"
value_column = "value"

[values.pressure]
tag = "PT01"
unit = "psi"

[values.frequency]
tag = "VFD.OUT"
unit = "pct"
at_60_hz = 100

[values.current]
tag = "VFD.A"

[values.fault_code]
tag = "VFD.ERR"
"""


@pytest.fixture
def profile_of(tmp_path):
    def write(text):
        path = tmp_path / "profile.toml"
        path.write_text(text, encoding="utf-8")
        return read_profile(path)

    return write


def test_a_wide_log_in_its_own_words_and_units_is_read(
    con, register, tmp_path, profile_of, samples_of, instants_of
):
    path = tmp_path / "week_export.csv"
    path.write_text(WIDE_LOG, encoding="cp1252")

    report = load_logs(con, [path], register, [profile_of(WIDE)])

    got = samples_of("P-1")
    assert instants_of("P-1") == ["2026-11-16T00:00:00", "2026-11-16T00:00:05"]
    assert got.pressure_kpa.tolist() == pytest.approx([400, 410], abs=1e-3)
    assert got.frequency_hz.tolist() == pytest.approx([45, 45])
    assert got.current_a.tolist() == pytest.approx([3.05, 3.0])
    assert got.drive_temp_c.tolist() == pytest.approx([40, float("nan")], nan_ok=True)
    assert instants_of("P-2") == ["2026-11-16T00:00:10"]
    assert [str(problem).partition(";")[0] for problem in report.rejects] == [
        "week_export.csv line 8: Druck is '1.013,25', expected a number. Row left out"
    ]


def test_a_profile_is_for_files_of_its_name_only(
    con, register, tmp_path, profile_of, write_log, instants_of
):
    path = write_log("P-2.csv", ["2026-11-16T00:00:00Z,400,45,3"])
    (path.parent / "a_export.csv").write_text(WIDE_LOG, encoding="cp1252")
    (path.parent / "readme.txt").write_text("no log")

    report = load_logs(con, [path.parent], register, [profile_of(WIDE)])

    assert report.n_files == 2
    assert "2026-11-16T00:00:00" in instants_of("P-2")
    assert len(instants_of("P-1")) == 2


def test_a_long_table_of_tags_becomes_samples(
    con, register, tmp_path, profile_of, samples_of, instants_of
):
    at = 1794787200000
    path = tmp_path / "P-1_tags.csv.gz"
    lines = [
        "time,tag,value",
        f"{at},PT01,60",
        f"{at},VFD.OUT,75",
        f"{at},VFD.A,3.5",
        f"{at},DOOR,open",
        f"{at + 1000},PT01,61",
        f"{at + 1000},VFD.ERR,E7",
        f"{at + 2000},PT01,OL",
        f"{at + 2000},VFD.OUT,0",
    ]
    path.write_bytes(gzip.compress(("\n".join(lines) + "\n").encode()))

    report = load_logs(con, [path], register, [profile_of(LONG)])

    got = samples_of("P-1")
    nan = float("nan")
    assert instants_of("P-1") == [f"2026-11-16T00:00:0{s}" for s in range(3)]
    assert got.pressure_kpa.tolist() == pytest.approx(
        [413.685, 420.58, nan], nan_ok=True, abs=1e-3
    )
    assert got.frequency_hz.tolist() == pytest.approx([45, nan, 0], nan_ok=True)
    assert got.current_a.tolist() == pytest.approx([3.5, nan, nan], nan_ok=True)
    assert got.fault_code.tolist() == [None, "E7", None]
    assert [str(problem).partition(";")[0] for problem in report.rejects] == [
        "P-1_tags.csv.gz line 8: PT01 is 'OL', expected a number. Row left out"
    ]
    assert (report.rows_kept, report.rows_rejected, report.rows_in) == (3, 1, 4)


def test_a_long_table_over_a_clock_change_keeps_every_instant(
    con, register, tmp_path, profile_of, samples_of, instants_of
):
    local = LONG.replace('format = "unix_ms"', 'format = "%Y/%m/%d %H:%M"').replace(
        "P-\\d+", "P-CHI"
    )
    minutes = [*range(0, 60, 10), *range(0, 60, 10)]
    lines = ["time,tag,value"]
    for tag, value in (("PT01", 60), ("VFD.OUT", 75), ("VFD.A", 3)):
        lines += [f"2026/11/01 01:{minute:02d},{tag},{value}" for minute in minutes]
    path = tmp_path / "P-CHI_tags.csv"
    path.write_text("\n".join(lines) + "\n")

    load_logs(con, [path], register, [profile_of(local)])

    got = samples_of("P-CHI")
    assert instants_of("P-CHI")[0] == "2026-11-01T06:00:00"  # 01:00 in summer time, UTC-5
    assert np.diff(got.ts_us).tolist() == [600_000_000] * 11
    assert got.current_a.tolist() == [3] * 12


def test_columns_can_be_given_by_number_without_a_header(
    con, register, tmp_path, profile_of, samples_of
):
    text = """
    header = false
    [time]
    column = 1
    [pump]
    id = "P-2"
    [values.pressure]
    column = 3
    [values.frequency]
    column = 2
    [values.current]
    column = 4
    """
    path = tmp_path / "log.csv"
    path.write_text("2026-11-16T00:00:00Z,45,400,3\n2026-11-16T00:00:05Z,46,401,4\n")

    load_logs(con, [path], register, [profile_of(text)])

    assert samples_of("P-2").frequency_hz.tolist() == [45, 46]
    assert samples_of("P-2").pressure_kpa.tolist() == [400, 401]


def test_a_time_format_with_an_offset_is_not_local(
    con, register, tmp_path, profile_of, instants_of
):
    text = """
    [time]
    column = "t"
    format = "%d/%m/%Y %H:%M:%S %z"
    [pump]
    id = "P-CHI"
    [values.pressure]
    column = "p"
    [values.frequency]
    column = "f"
    [values.current]
    column = "i"
    """
    path = tmp_path / "log.csv"
    path.write_text(
        "t,p,f,i\n16/11/2026 01:00:00 +0100,400,45,3\n17/13/2026 01:00:00 +0100,1,1,1\n"
    )

    report = load_logs(con, [path], register, [profile_of(text)])

    assert instants_of("P-CHI") == ["2026-11-16T00:00:00"]
    assert [problem.line for problem in report.rejects] == [3]


def test_a_file_without_the_profiles_column_is_refused(con, register, tmp_path, profile_of):
    path = tmp_path / "a_export.csv"
    path.write_text(WIDE_LOG.replace("Druck", "Pressure"), encoding="cp1252")

    report = load_logs(con, [path], register, [profile_of(WIDE)])

    assert "has no column 'Druck', which profile profile.toml names" in str(report.rejects[0])


def test_all_problems_of_a_profile_are_listed_at_once(profile_of):
    text = """
    delimiter = "::"
    decimal = "."
    encoding = "klingon"
    skip_lines = -1
    colour = "red"
    [time]
    format = "yesterday"
    timezone = "Mars/Base"
    [pump]
    id = "P-1"
    file_name = "("
    [values.pressure]
    column = "p"
    unit = "furlong"
    [values.frequency]
    column = "f"
    unit = "rpm"
    [values.taste]
    column = "t"
    """
    with pytest.raises(ProfileError) as caught:
        profile_of(text)

    told = str(caught.value).splitlines()
    assert told == [
        "profile.toml: delimiter is '::', expected one of , ; | or a tab.",
        "profile.toml: encoding is 'klingon', expected a text encoding.",
        "profile.toml: skip_lines is -1, expected a count of lines.",
        "profile.toml: time.column is missing, expected one of column or columns.",
        "profile.toml: time.format is 'yesterday', expected iso, unix_s, unix_ms or a format such "
        "as %d.%m.%Y %H:%M:%S.",
        "profile.toml: time.timezone is 'Mars/Base', expected an IANA time zone such as "
        "America/Chicago.",
        "profile.toml: pump.file_name is '(', expected a regular expression with a group "
        "(?P<pump_id>...).",
        "profile.toml: [values.current] is missing, expected a table, as this quantity is needed.",
        "profile.toml: values.frequency.at_60_hz is missing, expected what is shown at 60 Hz, "
        "with rpm and pct only.",
        "profile.toml: values.pressure.unit is 'furlong', expected kpa, psi, bar, mbar, mpa, "
        "ft_water, m_water, psi_abs, kpa_abs, bar_abs.",
        "profile.toml: values.taste is not a quantity, expected one of pressure, frequency, "
        "current, voltage, suction, flow, drive_temp, input_current, fault_code.",
        "profile.toml: colour is not a key of a log profile.",
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("time = [", "is not valid TOML"),
        ("", "time] is missing, expected a table"),
        ("[long]\n", "long.tag_column is missing"),
        ("delimiter = [1]\n", "delimiter is \\[1\\]"),
        ("[values]\npressure = 3\n", "values.pressure\\] is 3, expected a table"),
    ],
)
def test_a_profile_that_is_not_valid_is_an_error(profile_of, text, told):
    with pytest.raises(ProfileError, match=told):
        profile_of(text)


def test_a_missing_profile_is_an_error(tmp_path):
    with pytest.raises(ProfileError, match="cannot be read"):
        read_profile(tmp_path / "none.toml")
