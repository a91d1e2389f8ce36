"""Which files are read, by which pump's name, in which packing; what is refused as a whole."""

import gzip
from datetime import UTC, datetime, timedelta

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import ingest.load
from ingest.errors import LogError
from ingest.found_logs import find_and_hash
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.store import save_register

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"


def lines_from(minute: int, n: int = 3, hz: float = 45.0, kpa: float = 400.0) -> list[str]:
    start = datetime(2026, 11, 16, 0, minute)
    stamps = [(start + timedelta(seconds=5 * k)).isoformat() for k in range(n)]
    return [f"{t}Z,{kpa * (1 + k % 5 / 1000):.4f},{hz},3" for k, t in enumerate(stamps)]


def test_a_log_without_pump_column_is_named_by_its_file(con, register, write_log, instants_of):
    write_log("P-1.csv", lines_from(0))
    write_log("2026/P-2__week_47.csv", lines_from(0))

    report = load_logs(con, [write_log("P-1__b.csv", lines_from(1)).parent], register)

    assert report.n_files == 3
    assert len(instants_of("P-1")) == 6
    assert len(instants_of("P-2")) == 3


def test_a_pump_that_is_not_in_the_register_is_told_once_with_its_rows(con, register, write_log):
    header = f"pump_id,{HEADER}"
    lines = [f"{p},{line}" for line in lines_from(0) for p in ("P-1", "P-9", "P-8")]
    mixed = write_log("fleet.csv", lines, header)
    write_log("P-7__a.csv", lines_from(0))

    report = load_logs(con, [mixed.parent], register)

    told = [str(problem) for problem in report.rejects]
    assert told[0].startswith(
        "P-7__a.csv: is by its name a log of pump 'P-7', which is not in the"
    )
    assert told[1].startswith(
        "fleet.csv line 3: names pump 'P-9', which is not in the register (3"
    )
    assert told[2].startswith("fleet.csv line 4: names pump 'P-8'")
    assert (report.rows_in, report.rows_kept, report.rows_rejected) == (12, 3, 9)


def test_a_file_with_rejects_is_read_again_once_the_register_has_changed(
    con, register, write_log, instants_of
):
    path = write_log("P-9.csv", lines_from(0))
    load_logs(con, [path], register)
    assert load_logs(con, [path], register).n_files_unchanged == 1
    more = Register(
        sites=register.sites,
        pumps={**register.pumps, "P-9": Pump(pump_id="P-9", site_id="S-P-1")},
    )
    save_register(con, more)

    report = load_logs(con, [path], more)

    assert (report.n_files_new, report.rows_kept) == (1, 3)
    assert len(instants_of("P-9")) == 3
    assert con.execute("select count(*) from rejects").fetchone() == (0,)


def test_packed_logs_and_parquet_load_like_the_plain_file(con, write_log, register, samples_of):
    plain = write_log("P-1.csv", lines_from(0, 500))
    folder = plain.parent
    (folder / "P-2.csv.gz").write_bytes(gzip.compress(plain.read_bytes()))
    with pa.CompressedOutputStream(str(folder / "P-LON.csv.zst"), "zstd") as out:
        out.write(plain.read_bytes())
    duckdb.read_csv(str(plain)).project(
        "timestamp::timestamptz as timestamp, * exclude (timestamp)"
    ).write_parquet(str(folder / "P-BER.parquet"))

    report = load_logs(con, [folder], register)

    assert (report.rows_kept, report.rejects) == (2000, ())
    expected = samples_of("P-1")
    for pump_id in ("P-2", "P-LON", "P-BER"):
        got = samples_of(pump_id)
        assert np.array_equal(got.ts_us, expected.ts_us)
        assert np.array_equal(got.pressure_kpa, expected.pressure_kpa)
        assert np.array_equal(got.current_a, expected.current_a)


@pytest.mark.parametrize(
    ("kind", "hour"),
    [("timestamp", 6), ("timestamptz", 0), ("varchar", 6), ("bigint", 0), ("timestamp_ns", 6)],
)
def test_each_parquet_type_of_time_is_read(con, register, tmp_path, instants_of, kind, hour):
    stamp = "1794787200" if kind == "bigint" else "'2026-11-16T00:00:00'"
    zone = "set timezone = 'UTC'"
    path = tmp_path / "P-CHI.parquet"
    with duckdb.connect() as other:
        other.execute(zone)
        other.sql(
            f'select {stamp}::{kind} as "timestamp", 400.0 as pressure_kpa,'
            " 'nan'::float as frequency_hz, 3 as current_a"
        ).write_parquet(str(path))

    report = load_logs(con, [path], register)

    assert report.rejects == ()
    assert instants_of("P-CHI") == [f"2026-11-16T0{hour}:00:00"]


def test_a_bad_parquet_row_is_told_by_its_number(con, register, tmp_path):
    path = tmp_path / "P-1.parquet"
    duckdb.sql(
        "select timestamptz '2026-11-16T00:00:00Z' + to_seconds(k) as timestamp,"
        " if(k = 1, 9e6, 400) as pressure_kpa, 45.0 as frequency_hz, '3' as current_a"
        " from range(3) as t(k)"
    ).write_parquet(str(path))

    report = load_logs(con, [path], register)

    assert str(report.rejects[0]).startswith("P-1.parquet line 2: pressure_kpa is 9000000.0")
    assert report.rows_kept == 2


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"timestamp,frequency_hz,current_a\n", "has no column pressure_psi or pressure_kpa or"),
        (b"time,pressure_psi,frequency_hz,current_a\n", "has no column timestamp"),
        (
            b"timestamp,pressure_psi,pressure_kpa,frequency_hz,current_a\n",
            "has columns pressure_psi and pressure_kpa, expected only one",
        ),
        (
            b"timestamp,pressure_psi,frequency_hz,current_a,current_a\n",
            "has columns current_a and current_a, expected only one",
        ),
        (b"timestamp;pressure_psi;frequency_hz;current_a\n", "The header is separated by ';'"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_and_the_rest_is_loaded(
    con, register, write_log, content, told
):
    good = write_log("P-1.csv", lines_from(0))
    (good.parent / "P-2.csv").write_bytes(content)

    report = load_logs(con, [good.parent], register)

    assert [problem.file for problem in report.rejects] == ["P-2.csv"]
    assert told in str(report.rejects[0])
    assert "File left out." in str(report.rejects[0])
    assert report.rows_kept == 3


def test_damaged_packings_are_told_and_the_rest_is_loaded(con, register, write_log):
    good = write_log("P-1.csv", lines_from(0, 40_000))
    packed = gzip.compress(good.read_bytes())
    (good.parent / "P-2.csv.gz").write_bytes(packed[:-500])
    (good.parent / "P-LON.csv.gz").write_bytes(b"no gzip at all")
    (good.parent / "P-CHI.csv.zst").write_bytes(b"no zstd at all")
    (good.parent / "P-BER.parquet").write_bytes(b"no parquet at all")

    report = load_logs(con, [good.parent], register)

    assert sorted(problem.file for problem in report.rejects) == [
        "P-2.csv.gz",
        "P-BER.parquet",
        "P-CHI.csv.zst",
        "P-LON.csv.gz",
    ]
    assert all("cannot be read" in problem.text for problem in report.rejects)
    assert report.rows_kept == 40_000


def test_unknown_columns_are_noted_and_not_read(con, register, write_log):
    path = write_log("P-1.csv", [f"{line},9" for line in lines_from(0)], f"{HEADER},colour")

    report = load_logs(con, [path], register)

    assert report.notes == ("P-1.csv: column 'colour' is not known and not read.",)
    assert report.rows_kept == 3


def test_titles_may_be_quoted_in_capitals_and_after_a_byte_order_mark(
    con, register, write_log, instants_of
):
    header = '\ufeff"Timestamp", "Pressure_kPa" ,FREQUENCY_HZ,current_a,'

    load_logs(con, [write_log("P-1.csv", lines_from(0), header)], register)

    assert len(instants_of("P-1")) == 3


def test_a_log_in_utf16_is_read(con, register, write_log, instants_of):
    path = write_log("P-1.csv", lines_from(0))
    path.write_text(path.read_text(), encoding="utf-16")

    load_logs(con, [path], register)

    assert len(instants_of("P-1")) == 3


def test_missing_paths_and_folders_without_logs_are_errors(con, register, tmp_path):
    (tmp_path / "empty").mkdir()

    with pytest.raises(LogError, match="no such file or folder"):
        load_logs(con, [tmp_path / "nowhere"], register)
    with pytest.raises(LogError, match="no log in it"):
        load_logs(con, [tmp_path / "empty"], register)


@pytest.mark.parametrize(
    ("unit", "kpa", "hz"),
    [
        ("psi", 414, 45),  # kPa under a psi heading
        ("kpa", 58, 45),  # psi under a kPa heading, speed held
        ("psi", 4.0, 45),  # bar under a psi heading
        ("kpa", 4.0, 45),  # bar under a kPa heading
    ],
)
def test_a_pressure_a_units_factor_off_the_setting_is_rejected_by_file_with_both_numbers(
    con, register, write_log, unit, kpa, hz
):
    header = HEADER.replace("kpa", unit)
    good = write_log("P-2.csv", lines_from(0, 50))
    write_log("P-1.csv", lines_from(0, 50, hz=hz, kpa=kpa), header)

    report = load_logs(con, [good.parent], register)

    assert [problem.file for problem in report.rejects] == ["P-1.csv"]
    assert f"pressure_{unit} of pump P-1 is usually" in report.rejects[0].text
    assert "setting is 400 kPa" in report.rejects[0].text
    assert (report.rows_kept, report.rows_rejected) == (50, 50)


def test_a_pump_that_fails_to_make_its_pressure_is_not_taken_for_a_wrong_unit(
    con, register, write_log
):
    path = write_log("P-1.csv", lines_from(0, 50, hz=60.0, kpa=35))

    report = load_logs(con, [path], register)

    assert (report.rows_kept, report.rejects) == (50, ())


def test_rows_lie_sorted_by_pump_and_time_however_the_files_lie(con, write_log):
    # A join in the insert would lay the rows down pump by pump in turn.
    pumps = {f"P-{n:03d}": Pump(pump_id=f"P-{n:03d}", site_id="S") for n in range(40)}
    register = Register(sites={"S": Site(site_id="S")}, pumps=pumps)
    save_register(con, register)
    header = f"pump_id,{HEADER}"
    for minute in range(3):
        lines = [f"{p},{line}" for line in lines_from(minute, 12) for p in pumps]
        path = write_log(f"fleet_{minute}.csv", lines, header)

    load_logs(con, [path.parent], register)

    laid = con.sql("select pump_no, epoch_us(ts) as us from samples order by rowid").fetchnumpy()
    assert len(laid["us"]) == 3 * 12 * 40
    assert np.count_nonzero(np.diff(laid["pump_no"])) == 39
    assert ((np.diff(laid["us"]) > 0) | (np.diff(laid["pump_no"]) != 0)).all()


def test_progress_is_told_from_none_to_all_files(con, register, write_log):
    told = []
    path = write_log("P-1.csv", lines_from(0))
    write_log("P-2.csv", lines_from(0))

    load_logs(con, [path.parent], register, progress=lambda *state: told.append(state))

    assert told == [(0, 2, "P-1.csv"), (2, 2, "P-2.csv")]


def test_logs_found_and_hashed_ahead_load_alike(con, register, write_log, monkeypatch):
    folder = write_log("P-1.csv", lines_from(0)).parent
    write_log("P-2.csv", lines_from(0))
    plain = load_logs(con, [folder], register)
    noted = con.execute("from files").fetchall()
    write_log("P-2__more.csv", lines_from(1))
    inbox = find_and_hash([folder], [])
    monkeypatch.setattr(ingest.load, "sha256_of", None)

    again = load_logs(con, [folder], register, ahead=lambda: inbox)

    assert (plain.n_files, plain.n_files_new) == (2, 2)
    assert (again.n_files, again.n_files_unchanged, again.n_files_new) == (3, 2, 1)
    assert set(noted) < set(con.execute("from files").fetchall())


def test_a_log_that_grows_after_it_was_hashed_is_read_again(con, register, write_log):
    path = write_log("P-1.csv", lines_from(0))
    inbox = find_and_hash([path], [])
    write_log("P-1.csv", lines_from(0, n=5))

    report = load_logs(con, [path], register, ahead=lambda: inbox)

    assert any("was written to while it was read" in note for note in report.notes)
    assert load_logs(con, [path], register).n_files_new == 1
    assert load_logs(con, [path], register).n_files_new == 0


def test_a_damaged_parquet_log_among_whole_ones_is_told_and_they_are_loaded(
    con, register, tmp_path
):
    start = datetime(2026, 11, 16, tzinfo=UTC)
    times = [start + timedelta(seconds=5 * k) for k in range(50)]
    for pump in ("P-1", "P-2"):
        columns = {"timestamp": times, "pressure_kpa": [400.0] * 50, "frequency_hz": [45.0] * 50}
        pq.write_table(pa.table(columns | {"current_a": [3.0] * 50}), tmp_path / f"{pump}.parquet")
    (tmp_path / "P-BER.parquet").write_bytes(b"PAR1 and no more")

    report = load_logs(con, [tmp_path], register)

    assert report.rows_kept == 100
    assert [str(one) for one in report.rejects] != []
    assert all("P-BER.parquet" in str(one) for one in report.rejects)
    assert load_logs(con, [tmp_path], register).rows_kept == 0
