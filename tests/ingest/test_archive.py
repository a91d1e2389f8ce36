"""Samples of old weeks move into files beside the store: none is lost, none comes twice."""

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb
import numpy as np
import pyarrow.parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ingest.retention
from ingest.archive import archive_folder
from ingest.errors import StoreError
from ingest.installed_base import Register, Site
from ingest.load import load_logs
from ingest.retention import ArchiveReport, archive_weeks
from ingest.samples import PumpSamples, read_samples
from ingest.shrink import shrink_store
from ingest.store import open_store, save_register
from ingest.verify import verify_store
from ingest.weeks import parse_week

MONDAY = datetime(2026, 11, 9)  # of 2026-W46; logs hold this week and the next
PUMPS = ("P-1", "P-2", "P-BER")
HEADER = "timestamp,pressure_kpa,frequency_hz,current_a,flow_lpm,fault_code"


def lines(first_minute: int, n: int, step: int = 10, kpa: float = 400.1) -> list[str]:
    """Rows every ten minutes; flow and fault code are blank in some."""
    return [
        f"{(MONDAY + timedelta(minutes=m)).isoformat()}Z,{kpa + m % 7},{45 * (m % 3 > 0)},3.3,"
        f"{m % 5 or ''},{'E7' if m % 11 == 0 else ''}"
        for m in range(first_minute, first_minute + n * step, step)
    ]


@pytest.fixture
def two_weeks(con, register, write_log) -> duckdb.DuckDBPyConnection:
    """A store with two measured weeks of three pumps, one of them an hour off UTC."""
    for pump in PUMPS:
        path = write_log(f"{pump}.csv", lines(0, 2000), HEADER)
    load_logs(con, [path.parent], register)
    measured(con)
    return con


def measured(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("update coverage set is_measured = true")


def move(con: duckdb.DuckDBPyConnection, before: str = "2026-W47") -> ArchiveReport:
    return archive_weeks(con, parse_week(before))


def n_stored(con: duckdb.DuckDBPyConnection) -> int:
    return con.execute("select count(*) from samples").fetchall()[0][0]


def parquet_files(con: duckdb.DuckDBPyConnection) -> list[Path]:
    return sorted(path for path in archive_folder(con).rglob("*") if path.is_file())


def test_samples_read_the_same_from_store_and_archive(two_weeks, everything, assert_same):
    before = everything(two_weeks)

    report = move(two_weeks)

    assert report.weeks == ("2026-W46",)
    assert (report.n_pump_weeks, report.n_kept_back) == (3, 0)
    # A week has 1008 samples at ten minutes; Berlin's begins an hour sooner, the log does not.
    assert report.n_samples == 1008 + 1008 + 1002
    assert n_stored(two_weeks) == 3 * 2000 - report.n_samples
    assert_same(everything(two_weeks), before)
    assert verify_store(two_weeks).faults == ()


def test_a_range_across_archive_and_store_is_read_in_order(two_weeks):
    move(two_weeks)
    sunday, tuesday = MONDAY + timedelta(days=6.5), MONDAY + timedelta(days=8)

    (found,) = read_samples(two_weeks, ["P-2"], sunday, tuesday)

    instants = found.ts_us.view("datetime64[us]")
    assert len(instants) == 36 * 6
    assert (instants[0], instants[-1]) == (
        np.datetime64(sunday),
        np.datetime64(tuesday - timedelta(minutes=10)),
    )
    assert (np.diff(found.ts_us) == 600_000_000).all()


def test_the_same_samples_make_the_same_files(tmp_path, register, two_weeks):
    move(two_weeks)
    other = tmp_path / "other"
    other.mkdir()
    with open_store(other / "b.duckdb", threads=1) as con:
        save_register(con, register)
        for pump in reversed(PUMPS):  # another order of loading
            load_logs(con, [tmp_path / "logs" / f"{pump}.csv"], register)
        measured(con)
        move(con)
        again = parquet_files(con)
        first = parquet_files(two_weeks)

        assert [path.name for path in again] == [path.name for path in first]
        assert [path.read_bytes() for path in again] == [path.read_bytes() for path in first]
    for path in first:
        assert path.parent.name == "week=2026-W46"
        assert path.stem == hashlib.sha256(path.read_bytes()).hexdigest()[:16]


def test_a_week_is_split_into_files_of_bounded_size(
    two_weeks, monkeypatch, everything, assert_same
):
    monkeypatch.setattr(ingest.retention, "SAMPLES_A_FILE", 1500)
    before = everything(two_weeks)

    move(two_weeks)

    assert len(parquet_files(two_weeks)) == 3
    assert_same(everything(two_weeks), before)


def test_nothing_is_moved_twice(two_weeks):
    move(two_weeks)
    files = parquet_files(two_weeks)

    again = move(two_weeks)

    assert (again.weeks, again.n_samples) == ((), 0)
    assert parquet_files(two_weeks) == files


def test_a_pump_week_that_is_not_measured_stays(two_weeks):
    two_weeks.execute(
        "update coverage set is_measured = false from pump_numbers"
        " where coverage.pump_no = pump_numbers.pump_no and pump_id = 'P-2'"
    )

    report = move(two_weeks)

    assert (report.n_pump_weeks, report.n_kept_back) == (2, 1)
    assert n_stored(two_weeks) == 3 * 2000 - (1008 + 1002)
    measured(two_weeks)
    assert move(two_weeks).n_samples == 1008
    assert verify_store(two_weeks).faults == ()


def test_a_log_of_an_archived_week_is_told_apart_row_by_row(
    two_weeks, register, write_log, everything
):
    move(two_weeks)
    same = lines(0, 50)
    between = lines(5, 40)  # instants not logged before
    other_values = lines(1000, 3, kpa=500.0)
    path = write_log("P-1__late.csv", sorted([*same, *between, *other_values]), HEADER)

    report = load_logs(two_weeks, [path], register)

    assert (report.rows_repeated, report.rows_kept, report.rows_conflicting) == (50, 40, 3)
    assert report.weeks_touched == ("2026-W46",)
    assert len(everything(two_weeks)["P-1"].ts_us) == 2040
    assert verify_store(two_weeks).faults == ()
    (left,) = two_weeks.execute(
        "select week, pump_id from coverage join pump_numbers using (pump_no)"
        " where not is_measured"
    ).fetchall()
    assert left == ("2026-W46", "P-1")


def test_late_rows_go_into_a_file_of_their_own(
    two_weeks, register, write_log, everything, assert_same
):
    move(two_weeks)
    first = {path: path.read_bytes() for path in parquet_files(two_weeks)}
    load_logs(two_weeks, [write_log("P-1__late.csv", lines(5, 40), HEADER)], register)
    before = everything(two_weeks)
    measured(two_weeks)

    report = move(two_weeks)

    assert (report.n_pump_weeks, report.n_samples) == (1, 40)
    assert len(parquet_files(two_weeks)) == 2
    assert all(path.read_bytes() == content for path, content in first.items())
    assert_same(everything(two_weeks), before)
    assert verify_store(two_weeks).faults == ()


def test_the_archive_is_a_folder_of_logs(two_weeks, register, tmp_path, everything, assert_same):
    before = everything(two_weeks)
    move(two_weeks, "2026-W48")
    assert n_stored(two_weeks) == 0
    with open_store(tmp_path / "anew.duckdb", threads=1) as con:
        save_register(con, register)

        report = load_logs(con, [archive_folder(two_weeks)], register)

        assert (report.rows_kept, report.rejects) == (6000, ())
        assert_same(everything(con), before)


def test_weeks_are_counted_anew_where_a_site_turns_out_to_be_elsewhere(
    two_weeks, register, everything, assert_same
):
    move(two_weeks)
    before = everything(two_weeks)
    sites = {**register.sites, "S-P-1": Site(site_id="S-P-1", timezone="Asia/Tokyo")}

    save_register(two_weeks, Register(sites=sites, pumps=register.pumps))

    assert verify_store(two_weeks).faults == ()
    counts = two_weeks.execute(
        "select week, n_samples from coverage join pump_numbers using (pump_no)"
        " where pump_id = 'P-1' order by week"
    ).fetchall()
    # 2000 samples from midnight UTC, which is nine o'clock there: 54 of ten minutes later
    assert counts == [("2026-W46", 1008 - 54), ("2026-W47", 1008), ("2026-W48", 38)]
    measured(two_weeks)
    move(two_weeks, "2026-W49")
    assert_same(everything(two_weeks), before)
    assert verify_store(two_weeks).faults == ()


@settings(max_examples=15, deadline=None)
@given(
    pieces=st.lists(
        st.tuples(
            st.integers(0, 59), st.integers(1, 30), st.booleans(), st.sampled_from([0, 1, 2])
        ),
        min_size=1,
        max_size=6,
    )
)
def test_a_log_in_any_pieces_archived_between_any_of_them_is_the_same(
    register, pieces, everything
):
    """Pieces of two pumps' logs over the end of a week; after each, so many weeks are archived."""
    start = MONDAY + timedelta(days=7, seconds=-30)  # half of the minute is of 2026-W46
    expected: dict[str, set[int]] = {}
    with TemporaryDirectory() as name, open_store(Path(name) / "s.duckdb", threads=1) as con:
        save_register(con, register)
        for number, (first, length, is_second, n_weeks) in enumerate(pieces):
            pump_id = PUMPS[is_second]
            seconds = range(first, first + length)
            path = Path(name) / f"{pump_id}__{number}.csv"
            rows = [f"{start + timedelta(seconds=s)}Z,{300 + s},45,3" for s in seconds]
            path.write_text("\n".join(["timestamp,pressure_kpa,frequency_hz,current_a", *rows]))
            load_logs(con, [path], register)
            expected.setdefault(pump_id, set()).update(seconds)
            measured(con)
            move(con, str(parse_week("2026-W46").plus(n_weeks)))

        found = everything(con)
        faults = verify_store(con).faults

    assert faults == ()
    assert {pump_id: samples.pressure_kpa.tolist() for pump_id, samples in found.items()} == {
        pump_id: [300 + s for s in sorted(seconds)] for pump_id, seconds in expected.items()
    }


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 3] ^= 0xFF
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("damage", "told"),
    [(Path.unlink, "is missing"), (cut, "is damaged"), (flip, "is damaged")],
    ids=["missing", "cut short", "a bit flipped"],
)
def test_a_file_that_is_missing_or_damaged_is_one_plain_error(
    two_weeks,
    register,
    write_log,
    damage: Callable[[Path], None],
    told: str,
    everything: Callable[..., dict[str, PumpSamples]],
):
    move(two_weeks)
    (path,) = parquet_files(two_weeks)
    damage(path)

    with pytest.raises(StoreError) as reading:
        everything(two_weeks)
    with pytest.raises(StoreError):
        load_logs(two_weeks, [write_log("P-1__late.csv", lines(5, 40), HEADER)], register)

    assert str(reading.value).startswith(f"{path}: {told}")
    (fault,) = verify_store(two_weeks).faults
    assert str(path) in fault
    # what was not archived reads as before, and the late log changed nothing
    assert len(list(read_samples(two_weeks, PUMPS, MONDAY + timedelta(8), MONDAY + timedelta(9))))
    assert n_stored(two_weeks) == 6000 - 3018


def test_a_file_that_is_another_than_told_is_told(two_weeks):
    move(two_weeks)
    (path,) = parquet_files(two_weeks)
    rows = pyarrow.parquet.read_table(path)
    pyarrow.parquet.write_table(rows.slice(1), path)
    two_weeks.execute(
        "update archive_files set bytes = $bytes, sha256 = $sha256",
        {
            "bytes": path.stat().st_size,
            "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        },
    )

    (fault,) = verify_store(two_weeks).faults

    assert fault.startswith(f"archive: {path} has 1007 samples of P-1, told are 1008")


def test_stored_samples_that_contradict_the_count_stop_the_move(two_weeks, monkeypatch):
    original = ingest.retention._write

    def meanwhile(con, folder, part):
        written = original(con, folder, part)
        con.execute("insert into samples by name select pump_no, ts from samples limit 1")
        return written

    monkeypatch.setattr(ingest.retention, "_write", meanwhile)

    with pytest.raises(StoreError, match="was to take 3018 samples out of the store, which has"):
        move(two_weeks)

    assert n_stored(two_weeks) == 6001


def test_space_of_moved_samples_is_used_again(tmp_path, register, write_log):
    store = tmp_path / "rolling.duckdb"
    noise = np.random.default_rng(7).normal(400, 20, 100_000).round(4).tolist()

    def load(con: duckdb.DuckDBPyConnection, week: int) -> None:
        start = MONDAY + timedelta(weeks=week)
        rows = [
            f"{(start + timedelta(seconds=6 * k)).isoformat()}Z,{kpa},45,{kpa / 100}"
            for k, kpa in enumerate(noise)
        ]
        load_logs(con, [write_log(f"P-1__{week}.csv", rows)], register)
        measured(con)

    with open_store(store, threads=1) as con:
        save_register(con, register)
        load(con, 0)
        load(con, 1)
        con.execute("checkpoint")
        full = store.stat().st_size
        for week in range(2, 7):
            archive_weeks(con, parse_week("2026-W46").plus(week - 1))
            load(con, week)
        con.execute("checkpoint")

    # Kept in the store all seven weeks would take 3.5 times the space of two.
    assert store.stat().st_size < 1.6 * full


def test_a_store_written_anew_is_the_same_and_smaller(
    tmp_path, register, write_log, everything, assert_same
):
    store = tmp_path / 'it\'s a "fleet".duckdb'
    noise = np.random.default_rng(7).normal(400, 20, 200_000).round(4).tolist()
    rows = [
        f"{(MONDAY + timedelta(seconds=6 * k)).isoformat()}Z,{kpa},45,{kpa / 100}"
        for k, kpa in enumerate(noise)
    ]
    with open_store(store, threads=2) as con:
        save_register(con, register)
        load_logs(con, [write_log("P-1.csv", rows)], register)
        measured(con)
        move(con)
        before = everything(con)
        laid = con.execute("select pump_no, ts from samples order by rowid").fetchall()

    n_before, n_after = shrink_store(store)

    assert n_after == store.stat().st_size < 0.7 * n_before
    with open_store(store, threads=2) as con:
        assert_same(everything(con), before)
        assert con.execute("select pump_no, ts from samples order by rowid").fetchall() == laid
        assert verify_store(con).faults == ()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        [store.name, f"{store.name}.archive", "logs"]
    )


def test_a_store_that_is_in_use_is_not_written_anew(tmp_path, register):
    store = tmp_path / "fleet.duckdb"
    with open_store(store) as con:
        save_register(con, register)
        with pytest.raises(StoreError, match="cannot be written anew"):
            shrink_store(store)
