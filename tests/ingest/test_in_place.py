"""Parquet logs that stay where they lie are read as copied ones are; no others stay there."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.errors import LogError, StoreError
from ingest.installed_base import Pump, Register
from ingest.load import load_logs
from ingest.load_report import LoadReport
from ingest.log_profile import LogProfile
from ingest.outside import GroupStatistics
from ingest.profile import read_profile
from ingest.retention import archive_weeks
from ingest.samples import PumpSamples, read_samples
from ingest.store import open_store, save_register
from ingest.verify import verify_store
from ingest.weeks import parse_week

SUNDAY = datetime(2026, 11, 15, 20, tzinfo=UTC)  # four hours before a week ends in UTC
PUMPS = ("P-1", "P-BER", "P-CHI")


def rows(pump: str | None, n: int = 600, start: datetime = SUNDAY, **change: object) -> pa.Table:
    """A sample a minute of one pump, in outer units; a cell and a code here and there is blank."""
    at = [start + timedelta(minutes=minute) for minute in range(n)]
    columns: dict[str, object] = {
        "timestamp": pa.array(at, pa.timestamp("ms", "UTC")),
        "pressure_psi": pa.array([58.0 + minute % 4 / 10 for minute in range(n)], pa.float32()),
        "frequency_hz": [45.5 if minute % 10 < 3 else 0.0 for minute in range(n)],
        "current_a": [4 if minute % 10 < 3 else 0 for minute in range(n)],
        "voltage_v": [None if minute % 50 == 7 else 230.5 for minute in range(n)],
        "fault_code": [" E7 " if minute == 9 else "0" for minute in range(n)],
    }
    if pump is not None:
        columns["pump_id"] = [pump] * n
    return pa.table(columns | change)


def write(folder: Path, name: str, *tables: pa.Table, **options: object) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    pq.write_table(pa.concat_tables(tables), path, **options)
    return path


@pytest.fixture
def lake(tmp_path: Path) -> Path:
    """A folder of weeks and buckets; the pumps' local weeks do not end where its folders do."""
    folder = tmp_path / "lake"
    for week, start in (("2026-W46", SUNDAY - timedelta(hours=6)), ("2026-W47", SUNDAY)):
        pumps = [rows(pump, 360, start) for pump in PUMPS[:2]]
        write(folder, f"week={week}/bucket=0/part.parquet", *pumps, row_group_size=200)
        write(folder, f"week={week}/bucket=1/part.parquet", rows(PUMPS[2], 360, start))
    return folder


@pytest.fixture
def copied(
    tmp_path: Path,
    register: Register,
    lake: Path,
    everything: Callable[..., dict[str, PumpSamples]],
) -> dict[str, PumpSamples]:
    """What a store holds that copies the lake."""
    with open_store(tmp_path / "copied.duckdb") as con:
        load_logs(con, [lake], register)
        return everything(con)


def n_stored(con: duckdb.DuckDBPyConnection) -> int:
    return con.execute("select count(*) from samples").fetchall()[0][0]


def weeks(con: duckdb.DuckDBPyConnection) -> list[tuple[str, str, int]]:
    return con.execute(
        "select pump_id, week, n_samples from coverage join pump_numbers using (pump_no)"
        " order by all"
    ).fetchall()


def assert_sound(con: duckdb.DuckDBPyConnection) -> None:
    assert verify_store(con).faults == ()


def test_a_lake_is_read_where_it_lies_as_if_it_were_copied(
    con, register, lake, copied, everything, assert_same
):
    report = load_logs(con, [lake], register, in_place=True)

    assert (report.rows_kept, report.rows_rejected, n_stored(con)) == (2160, 0, 0)
    assert any("left in place" in note for note in report.notes)
    assert_same(everything(con), copied)
    assert_sound(con)


def test_weeks_are_those_of_each_sites_own_time(con, register, lake):
    load_logs(con, [lake], register, in_place=True)

    # Monday begins at 23:00 UTC in Berlin and at 06:00 UTC in Chicago.
    assert weeks(con) == [
        ("P-1", "2026-W46", 600),
        ("P-1", "2026-W47", 120),
        ("P-BER", "2026-W46", 540),
        ("P-BER", "2026-W47", 180),
        ("P-CHI", "2026-W46", 720),
    ]


def test_a_stretch_of_one_pump_is_read_from_its_row_groups_alone(con, register, lake, monkeypatch):
    load_logs(con, [lake], register, in_place=True)
    read: list[int] = []
    groups_of = pq.ParquetFile.read_row_groups

    def note(self, groups, **options):
        read.extend(groups)
        return groups_of(self, groups, **options)

    monkeypatch.setattr(pq.ParquetFile, "read_row_groups", note)
    from_at = SUNDAY.replace(tzinfo=None)

    (found,) = read_samples(con, ["P-BER"], from_at, from_at + timedelta(minutes=10))

    assert found.ts_us.size == 10
    assert read == [1]  # of four of 200 rows; P-BER's first 40 stand in the second


def test_loading_a_lake_again_reads_nothing(con, register, lake, monkeypatch):
    load_logs(con, [lake], register, in_place=True)
    monkeypatch.setattr("ingest.in_place.look_through", lambda *_: pytest.fail("read again"))

    report = load_logs(con, [lake], register, in_place=True)

    assert (report.n_files_unchanged, report.rows_kept) == (4, 0)


def test_a_log_left_in_place_is_not_copied_by_a_later_load(con, register, lake):
    load_logs(con, [lake], register, in_place=True)

    report = load_logs(con, [lake], register)

    assert (report.n_files_unchanged, n_stored(con)) == (4, 0)


def test_a_log_whose_name_says_the_pump_and_a_profile_the_columns(
    con, register, tmp_path, samples_of
):
    table = rows(None, 30).rename_columns(["zeit", "druck", "hz", "ma", "volt", "fehler"])
    write(tmp_path, "logs/P-1__w47.parquet", table)
    (tmp_path / "own.toml").write_text(
        '[time]\ncolumn = "zeit"\n[values]\npressure = { column = "druck", unit = "psi" }\n'
        'frequency = { column = "hz" }\ncurrent = { column = "ma", unit = "ma" }\n'
    )
    profile: LogProfile = read_profile(tmp_path / "own.toml")

    load_logs(con, [tmp_path / "logs"], register, [profile], in_place=True)

    assert n_stored(con) == 0
    found = samples_of("P-1")
    # NIST SP 811: 1 psi = 6.894757 kPa
    np.testing.assert_allclose(found.pressure_kpa[:2], [58.0 * 6.894757, 58.1 * 6.894757])
    np.testing.assert_allclose(found.current_a[:4], [0.004, 0.004, 0.004, 0.0], rtol=1e-6)


def local_times(table: pa.Table) -> pa.Table:
    return change(table, "timestamp", table.column("timestamp").cast(pa.timestamp("ms")))


def change(table: pa.Table, name: str, values: object) -> pa.Table:
    return table.set_column(table.schema.get_field_index(name), name, pa.array(values))  # type: ignore[arg-type]


def with_value(table: pa.Table, name: str, value: object) -> pa.Table:
    return change(table, name, [*table.column(name).to_pylist()[:-1], value])


UNFIT: dict[str, tuple[Callable[[pa.Table], pa.Table], str]] = {
    "local times": (
        lambda table: table.set_column(
            0, "timestamp", table.column("timestamp").cast(pa.timestamp("ms"))
        ),
        "does not hold instants with a zone",
    ),
    "falling times": (lambda table: table.slice(300).take([1, 0]), "do not rise"),
    "a time twice": (lambda table: table.take([0, 1, 1, 2]), "do not rise, or come twice"),
    "no time": (lambda table: with_value(table, "timestamp", None), "no time"),
    "a lost clock": (
        lambda table: change(
            table,
            "timestamp",
            [datetime(1970, 1, 1, tzinfo=UTC), *table.column("timestamp").to_pylist()[1:]],
        ),
        "a clock that was lost",
    ),
    "a year's gap": (
        lambda table: with_value(table, "timestamp", datetime(2028, 1, 1, tzinfo=UTC)),
        "more than a year apart",
    ),
    "a wild value": (lambda table: with_value(table, "voltage_v", 5000.0), "not plausible"),
    "no value": (
        lambda table: with_value(
            with_value(with_value(table, "pressure_psi", None), "frequency_hz", None),
            "current_a",
            None,
        ),
        "have no value",
    ),
    "a wrong unit": (
        lambda table: change(table, "pressure_psi", [8.4] * table.num_rows),
        "a unit's factor",
    ),
    "text for numbers": (
        lambda table: change(table, "voltage_v", ["230"] * table.num_rows),
        "holds string",
    ),
    "no pump": (lambda table: with_value(table, "pump_id", None), "name no pump"),
    "blanks about the pump": (
        lambda table: change(table, "pump_id", ["P-1 "] * table.num_rows),
        "has blanks",
    ),
}


@pytest.mark.parametrize("case", UNFIT)
def test_a_log_that_is_not_fit_is_copied_and_says_why(con, register, tmp_path, case):
    spoil, why = UNFIT[case]
    write(tmp_path, "logs/a.parquet", spoil(rows("P-1")))

    report = load_logs(con, [tmp_path / "logs"], register, in_place=True)

    assert any("copied into the store" in note and why in note for note in report.notes)
    assert n_stored(con) == report.rows_kept
    assert_sound(con)


def test_mixed_rows_of_pumps_are_copied(con, register, tmp_path):
    both = pa.concat_tables([rows("P-1", 20), rows("P-BER", 20)])
    mixed = both.take([n // 2 + 20 * (n % 2) for n in range(40)])
    write(tmp_path, "logs/a.parquet", mixed)

    report = load_logs(con, [tmp_path / "logs"], register, in_place=True)

    assert "sort it by pump and time" in " ".join(report.notes)
    assert n_stored(con) == 40


def test_a_log_that_meets_stored_samples_is_copied_without_repeats(
    con, register, tmp_path, everything
):
    write(tmp_path, "first/a.parquet", rows("P-1", 100))
    write(tmp_path, "second/a.parquet", rows("P-1", 150))
    load_logs(con, [tmp_path / "first"], register, in_place=True)

    report = load_logs(con, [tmp_path / "second"], register, in_place=True)

    assert (report.rows_repeated, report.rows_kept, n_stored(con)) == (100, 50, 50)
    assert everything(con)["P-1"].ts_us.size == 150
    assert_sound(con)


def test_rows_of_a_pump_out_of_the_register_are_listed_and_read_once_it_is_known(
    con, register, tmp_path
):
    write(tmp_path, "logs/a.parquet", rows("P-1", 50), rows("P-9", 70))
    grown = replace(
        register, pumps={**register.pumps, "P-9": Pump(pump_id="P-9", site_id="S-P-1")}
    )

    first = load_logs(con, [tmp_path / "logs"], register, in_place=True)
    again = load_logs(con, [tmp_path / "logs"], register, in_place=True)
    save_register(con, grown)
    second = load_logs(con, [tmp_path / "logs"], grown, in_place=True)

    assert (first.rows_kept, first.rows_rejected) == (50, 70)
    assert "'P-9', which is not in the register (70 rows)" in str(first.rejects[0])
    assert (again.n_files_unchanged, again.rows_kept) == (1, 0)
    assert (second.rows_rejected, second.n_rejects) == (0, 0)
    assert {pump for pump, _, _ in weeks(con)} == {"P-1", "P-9"}
    assert_sound(con)


def test_a_log_that_has_changed_is_noted_anew_and_its_weeks_are_to_be_measured(
    con, register, lake
):
    load_logs(con, [lake], register, in_place=True)
    con.execute("update coverage set is_measured = true")
    path = lake / "week=2026-W47/bucket=1/part.parquet"
    pq.write_table(rows("P-CHI", 300, SUNDAY), path)

    report = load_logs(con, [lake], register, in_place=True)

    assert (report.n_files_unchanged, n_stored(con)) == (3, 0)
    assert ("P-CHI", "2026-W46", 660) in weeks(con)
    stale = con.execute(
        "select distinct pump_id from coverage join pump_numbers using (pump_no)"
        " where not is_measured"
    ).fetchall()
    assert stale == [("P-CHI",)]
    assert_sound(con)


def test_a_log_spoilt_since_is_copied_instead(con, register, lake, everything):
    load_logs(con, [lake], register, in_place=True)
    path = lake / "week=2026-W47/bucket=1/part.parquet"
    pq.write_table(with_value(rows("P-CHI", 300, SUNDAY), "voltage_v", 9999.0), path)

    load_logs(con, [lake], register, in_place=True)

    assert n_stored(con) == 300
    assert everything(con)["P-CHI"].ts_us.size == 660
    assert_sound(con)


def test_a_log_that_is_gone_is_named(con, register, lake, everything):
    load_logs(con, [lake], register, in_place=True)
    path = lake / "week=2026-W47/bucket=1/part.parquet"
    path.unlink()

    with pytest.raises(StoreError, match=r"bucket=1/part\.parquet: is missing.*left where they"):
        everything(con)
    assert any("is missing" in fault for fault in verify_store(con).faults)


def test_a_log_of_other_bytes_is_found_out(con, register, lake):
    load_logs(con, [lake], register, in_place=True)
    path = lake / "week=2026-W47/bucket=1/part.parquet"
    spoilt = bytearray(path.read_bytes())
    spoilt[100] ^= 1
    path.write_bytes(spoilt)

    assert any("is not as it was written" in fault for fault in verify_store(con).faults)


def test_what_lies_outside_is_not_archived(con, register, lake):
    load_logs(con, [lake], register, in_place=True)
    con.execute("update coverage set is_measured = true")

    report = archive_weeks(con, parse_week("2027-W01"))

    assert report.n_samples == 0
    assert_sound(con)


def test_only_parquet_is_left_in_place(con, register, lake, write_log):
    path = write_log("P-2.csv", ["2026-11-16T00:00:00Z,400,45,3.3"])

    load_logs(con, [lake, path], register, in_place=True)

    assert n_stored(con) == 1
    assert_sound(con)


@pytest.fixture
def object_store() -> str:
    """An object store in memory with a small lake."""
    fsspec = pytest.importorskip("fsspec")
    store = fsspec.filesystem("memory")
    store.makedirs("/plant/week=2026-W47", exist_ok=True)
    with store.open("/plant/week=2026-W47/a.parquet", "wb") as file:
        pq.write_table(rows("P-1", 60), file)
    with store.open("/plant/week=2026-W47/b.parquet", "wb") as file:
        pq.write_table(with_value(rows("P-BER", 60), "voltage_v", 9999.0), file)
    with store.open("/plant/week=2026-W47/notes.txt", "wb") as file:
        file.write(b"no log")
    yield "memory://plant"
    store.rm("/plant", recursive=True)


def test_an_object_store_is_read_by_its_address(con, register, object_store, everything):
    report: LoadReport = load_logs(con, [object_store], register, in_place=True)

    assert (report.n_files, report.rows_kept, n_stored(con)) == (2, 60, 0)
    assert everything(con)["P-1"].ts_us.size == 60
    assert "b.parquet" in str(report.rejects[0])
    assert "Fetch it and load it" in str(report.rejects[0])
    assert_sound(con)


def test_an_object_store_is_not_copied(con, register, object_store):
    with pytest.raises(LogError, match="--in-place"):
        load_logs(con, [object_store], register)


@pytest.mark.parametrize("address", ["nowhere://plant", "file:///none/such/lake"])
def test_an_address_that_cannot_be_reached_is_named(con, register, address):
    with pytest.raises(LogError, match=address):
        load_logs(con, [address], register, in_place=True)


def test_an_address_of_this_machine_is_read_too(
    con, register, lake, copied, everything, assert_same
):
    load_logs(con, [lake.as_uri()], register, in_place=True)

    assert_same(everything(con), copied)


@pytest.mark.parametrize(
    "told",
    [
        GroupStatistics(instants_us=(0, 1), names=None),
        GroupStatistics(instants_us=None, names=("A", "B")),
    ],
)
def test_a_log_whose_statistics_would_hide_its_rows_is_copied(
    con, register, lake, copied, monkeypatch, told, everything, assert_same
):
    monkeypatch.setattr("ingest.look_through.statistics_of", lambda *_: told)

    report = load_logs(con, [lake], register, in_place=True)

    assert "its statistics contradict its rows" in " ".join(report.notes)
    assert n_stored(con) == 2160
    assert_same(everything(con), copied)
