"""Files made to do harm: none is followed, run, shown raw or allowed to take the rest along."""

import gzip
import os
from datetime import UTC, datetime

import duckdb
import pyarrow as pa
import pyarrow.parquet
import pytest

import ingest.log_files
from ingest.errors import ProfileError
from ingest.inbox import MAX_DEPTH, find_logs
from ingest.installed_base import Pump, Register
from ingest.load import load_logs
from ingest.profile import read_profile
from ingest.store import open_store, save_register
from ingest.verify import verify_store

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"
ROWS = [f"2026-11-16T00:{m:02d}:00Z,400,45,3" for m in range(20)]
EVIL = [
    "../../../etc/passwd",
    "'; drop table samples; --",
    '"); select 1; --',
    "<script>alert(1)</script>",
    "=HYPERLINK(0)",
    "P\x1b[2J-1",
    "P-1\u202e",
    "{}$name%s",
    "a" * 1000,
]


@pytest.mark.parametrize("evil", EVIL)
def test_an_evil_pump_id_is_a_text_like_any_other(con, register, write_log, samples_of, evil):
    header = f"pump_id,{HEADER}"
    quoted = '"{}"'.format(evil.replace('"', '""'))
    path = write_log("fleet.csv", [f"{quoted},{row}" for row in ROWS], header)

    unknown = load_logs(con, [path], register)
    assert unknown.rows_kept == 0
    assert len(unknown.rejects) == 1
    assert unknown.rejects[0].text.isprintable()
    assert len(unknown.rejects[0].text) < 400

    more = Register(
        sites=register.sites,
        pumps={**register.pumps, evil: Pump(pump_id=evil, site_id="S-P-1")},
    )
    save_register(con, more)
    assert load_logs(con, [path], more).rows_kept == len(ROWS)
    assert len(samples_of(evil).ts_us) == len(ROWS)
    assert verify_store(con).faults == ()


@pytest.mark.parametrize(
    "title", ["'; drop table samples; --", '"c0"', "filename", "extra", "\x00"]
)
def test_a_column_name_is_never_part_of_a_statement(con, register, write_log, title):
    quoted = '"{}"'.format(title.replace('"', '""'))
    path = write_log("P-1.csv", [f"{row},1" for row in ROWS], f"{HEADER},{quoted}")

    report = load_logs(con, [path], register)

    assert report.rows_kept == len(ROWS)
    assert all(note.isprintable() for note in report.notes)


def test_a_cell_of_a_megabyte_costs_its_row_and_is_shown_shortly(con, register, write_log):
    big = "9" * 1_000_000
    lines = [f"2026-11-16T01:00:00Z,{big},45,3", f"{big},400,45,3", *ROWS]

    report = load_logs(con, [write_log("P-1.csv", lines)], register)

    assert report.rows_kept == len(ROWS)
    assert [problem.line for problem in report.rejects] == [2, 3]
    assert all(len(problem.text) < 400 for problem in report.rejects)


def test_a_line_without_end_costs_its_row(con, register, write_log):
    path = write_log("P-1.csv", [*ROWS, "x" * 5_000_000])

    report = load_logs(con, [path], register)

    assert report.rows_kept == len(ROWS)
    assert [problem.line for problem in report.rejects] == [22]


@pytest.mark.parametrize("packing", ["gz", "zst"])
def test_a_packed_file_that_unpacks_without_end_is_not_read(
    con, register, write_log, monkeypatch, packing
):
    monkeypatch.setattr(ingest.log_files, "SURE_BYTES", 1_000_000)
    good = write_log("P-1.csv", ROWS)
    bomb = HEADER.encode() + b"\n" + b"0" * 30_000_000
    path = good.with_name(f"P-2.csv.{packing}")
    if packing == "gz":
        path.write_bytes(gzip.compress(bomb))
    else:
        with pa.CompressedOutputStream(str(path), "zstd") as out:
            out.write(bomb)

    report = load_logs(con, [good.parent], register)

    assert [problem.file for problem in report.rejects] == [path.name]
    assert "unpacks to more than 100 times its size" in report.rejects[0].text
    assert report.rows_kept == len(ROWS)


@pytest.mark.parametrize(
    "column",
    [
        pa.array([{"a": 1}]),
        pa.array([[1, 2]]),
        pa.array([b"\xff\x00"]),
        pa.array([True]),
        pa.array([None], pa.null()),
        pa.array([1], pa.duration("s")),
        pa.array([1], pa.time32("s")),
        pa.array([1], pa.date32()),
        pa.array(["400"]),
        pa.array([400], pa.decimal128(10, 2)),
    ],
    ids=lambda column: str(column.type),
)
@pytest.mark.parametrize("name", ["timestamp", "pressure_kpa", "pump_id", "note"])
@pytest.mark.parametrize("in_place", [False, True])
def test_parquet_of_any_type_is_read_or_told_and_takes_nothing_along(
    con, register, write_log, name, column, in_place
):
    good = write_log("P-2.csv", ROWS)
    table = {
        "timestamp": pa.array([datetime(2026, 11, 16, tzinfo=UTC)]),
        "pressure_kpa": pa.array([400.0]),
        "frequency_hz": pa.array([45.0]),
        "current_a": pa.array([3.0]),
    }
    pa.parquet.write_table(pa.table({**table, name: column}), good.with_name("P-1.parquet"))

    report = load_logs(con, [good.parent], register, in_place=in_place)

    n_ok = report.rows_kept - len(ROWS)
    assert n_ok == 1 or (n_ok == 0 and report.rejects)
    assert verify_store(con).faults == ()


@pytest.mark.parametrize("in_place", [False, True])
def test_a_parquet_file_of_endless_rows_is_not_read(
    con, register, write_log, monkeypatch, in_place
):
    monkeypatch.setattr(ingest.log_files, "SURE_ROWS", 1_000_000)
    good = write_log("P-2.csv", ROWS)
    n_rows = 6_000_000
    zeros = pa.repeat(pa.scalar(0.0), n_rows)
    path = good.with_name("P-1.parquet")
    table = pa.table(
        dict.fromkeys(("timestamp", "pressure_kpa", "frequency_hz", "current_a"), zeros)
    )
    pa.parquet.write_table(table, path, compression="zstd")

    report = load_logs(con, [good.parent], register, in_place=in_place)

    assert [problem.file for problem in report.rejects] == ["P-1.parquet"]
    assert "rows" in report.rejects[0].text
    assert report.rows_kept == len(ROWS)


def test_links_out_of_the_folder_are_not_followed_and_told(tmp_path, write_log):
    inside = write_log("P-1.csv", ROWS)
    outside = tmp_path / "secret" / "P-2.csv"
    outside.parent.mkdir()
    outside.write_text("secret")
    folder = inside.parent
    (folder / "P-2.csv").symlink_to(outside)
    (folder / "more").symlink_to(outside.parent)
    (folder / "loop").symlink_to(folder / "loop")
    (folder / "around").symlink_to(folder)
    (folder / "P-1__b.csv").symlink_to(inside)
    os.mkfifo(folder / "P-3.csv")

    inbox = find_logs([folder], ())

    assert [file.path.resolve() for file in inbox.files] == [inside]
    assert inbox.notes == (
        "P-2.csv (and 2 more): leads out of the folder that was given, and is not followed.",
    )


def test_folders_are_searched_to_a_stated_depth(tmp_path, write_log):
    inside = write_log("P-1.csv", ROWS)
    deep = inside.parent
    for _ in range(MAX_DEPTH + 1):
        deep = deep / "d"
    deep.mkdir(parents=True)
    (deep / "P-2.csv").write_text("x")

    inbox = find_logs([inside.parent], ())

    assert [file.name for file in inbox.files] == ["P-1.csv"]
    assert f"more than {MAX_DEPTH} folders deep, and is not searched" in inbox.notes[0]


@pytest.mark.parametrize(
    "name", ["P-1__*.csv", "P-1__[a].csv", "P-1__{b}.csv", "P-1__'.csv", "P-1__\n\x1b[2J.csv"]
)
def test_a_file_name_means_only_itself(con, register, write_log, instants_of, name):
    path = write_log(name, ROWS)
    (path.parent / "P-1__a.txt").write_text("not a log")

    report = load_logs(con, [path.parent], register)

    assert (report.n_files, report.rows_kept) == (1, len(ROWS))
    assert con.execute("select name from files").fetchone()[0].isprintable()


def test_a_file_name_that_is_no_text_costs_its_file(con, register, write_log):
    good = write_log("P-1.csv", ROWS)
    bad = os.fsencode(good.parent) + b"/P-2__\xff.csv"
    with open(bad, "wb") as out:
        out.write(good.read_bytes())

    report = load_logs(con, [good.parent], register, is_last=True)

    assert report.rows_kept in (len(ROWS), 2 * len(ROWS))
    assert report.rows_kept == 2 * len(ROWS) or report.rejects


@pytest.mark.parametrize("name", [b"P-2\xff.parquet", b"P-2__\xff.parquet", b"P-2\x1b[2J.parquet"])
def test_parquet_whose_name_is_no_text_is_not_left_in_place(con, register, write_log, name):
    good = write_log("P-1.csv", ROWS)
    table = pa.table(
        {
            "timestamp": pa.array([datetime(2026, 11, 16, tzinfo=UTC)]),
            "pressure_kpa": [400.0],
            "frequency_hz": [45.0],
            "current_a": [3.0],
        }
    )
    out = pa.BufferOutputStream()
    pa.parquet.write_table(table, out)
    with open(os.fsencode(good.parent) + b"/" + name, "wb") as file:
        file.write(out.getvalue())

    report = load_logs(con, [good.parent], register, in_place=True)

    assert report.rows_kept == len(ROWS) + 1 or report.rejects
    assert con.execute("select count(*) from samples").fetchone() == (report.rows_kept,)
    assert verify_store(con).faults == ()


def test_once_the_logs_are_found_the_database_reaches_no_other_file(tmp_path, register, write_log):
    path = write_log("P-1.csv", ROWS)
    write_log("P-2.csv", ROWS)
    path.with_name("P-LON.csv").write_text(path.read_text(), encoding="utf-16")
    other = tmp_path / "other.csv"
    other.write_text("a\n1\n")
    with open_store(tmp_path / "s.duckdb") as con:
        save_register(con, register)

        report = load_logs(con, [path.parent], register, is_last=True)

        assert report.rows_kept == 3 * len(ROWS)
        for statement in (
            f"select * from read_csv('{other}')",  # noqa: S608  # what an attacker would write
            f"copy samples to '{tmp_path / 'stolen.csv'}'",
            f"attach '{tmp_path / 'more.duckdb'}'",
            "set enable_external_access = true",
            "install httpfs",
        ):
            with pytest.raises(duckdb.Error):
                con.execute(statement)
    assert not (tmp_path / "stolen.csv").exists()


@pytest.mark.parametrize(
    "text",
    [
        "time = 3",
        "time = []",
        "values = 1979-05-27",
        "long = true",
        "log = 'x'",
        "pump = [1]",
        "delimiter = 3",
        "decimal = ['.']",
        "encoding = 'undefined'",
        "encoding = 'rot13'",
        "encoding = 'idna'",
        "encoding = 1.5",
        "files = ''",
        "skip_lines = -1",
        "skip_lines = 1e3",
        "blank = [1]",
        "[time]\ncolumn = {}",
        "[time]\ncolumn = true",
        "[time]\ncolumn = 'a'\nformat = 3",
        "[time]\ncolumn = 'a'\ntimezone = '../../etc/passwd'",
        "[values.pressure]\ncolumn = 'p'\nfactor = inf",
        "[values.pressure]\ncolumn = 'p'\nfactor = nan",
        "[values.pressure]\ncolumn = 'p'\nunit = {}",
        "[values.pressure]\ncolumn = 'p'\nunit = ['kpa']",
        "[values]\npressure = 'x'",
        "[log]\nvalues = {}",
        "[log]\nvalues = 'on_change'\nhold_s = inf",
        "\x00",
        "a = " + "[" * 2000,
    ],
)
def test_a_profile_of_odd_types_is_a_plain_error(tmp_path, text):
    path = tmp_path / "odd.toml"
    path.write_text(text)

    with pytest.raises(ProfileError, match=r"odd\.toml"):
        read_profile(path)
