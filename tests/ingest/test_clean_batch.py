"""The straight way stores just what the careful way stores, and gives way to it where it must."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

import ingest.load_batch
from ingest.clean_batch import NotCleanError, NotTypedError
from ingest.installed_base import Pump
from ingest.load import load_logs
from ingest.load_batch import MAX_APART
from ingest.samples import read_samples
from ingest.store import open_store, save_register
from ingest.verify import verify_store

HEADER = "timestamp,pressure_psi,frequency_hz,current_a,voltage_v"
START = datetime(2026, 11, 16)


def lines(n=500, start=START, kpa=58.0):
    return [
        f"{(start + timedelta(seconds=5 * k)).isoformat()}Z,{kpa + k % 7 / 10:.1f},"
        f"{45.3 * (k % 20 < 8):.1f},{3.1 * (k % 20 < 8):.1f},{'' if k % 50 == 0 else 230 + k % 3}"
        for k in range(n)
    ]


@pytest.fixture
def ways(monkeypatch):
    """Note of each batch, if its cells could be read, whether it went the straight way."""
    straight = []
    original = ingest.load_batch.add_clean

    def counted(*args, is_typed):
        try:
            result = original(*args, is_typed=is_typed)
        except NotTypedError:
            raise
        except NotCleanError:
            straight.append(False)
            raise
        straight.append(True)
        return result

    monkeypatch.setattr(ingest.load_batch, "add_clean", counted)
    return straight


@pytest.fixture
def tried(monkeypatch):
    """Note of each try of the straight way whether cells were read as numbers."""
    noted = []
    original = ingest.load_batch.add_clean

    def note(*args, is_typed):
        noted.append(is_typed)
        return original(*args, is_typed=is_typed)

    monkeypatch.setattr(ingest.load_batch, "add_clean", note)
    return noted


def stored(con):
    found = {}
    for one in read_samples(con, ["P-1", "P-2"], datetime(2000, 1, 1), datetime(2100, 1, 1)):
        found[one.pump_id] = (one.ts_us, one.pressure_kpa, one.frequency_hz, one.voltage_v)
    return found


def test_both_ways_store_the_same(tmp_path, register, write_log, ways, monkeypatch):
    write_log("P-1.csv", lines(), HEADER)
    path = write_log("P-2.csv", lines(300), HEADER, end="\r\n")
    found = []
    for name in ("straight", "careful"):
        with open_store(tmp_path / f"{name}.duckdb", threads=1) as con:
            save_register(con, register)
            report = load_logs(con, [path.parent], register)
            found.append((report, stored(con), con.execute("from files order by all").fetchall()))
            assert verify_store(con).faults == ()
        monkeypatch.setattr(ingest.load_batch, "is_likely_clean", lambda probes: False)

    assert ways == [True, True]  # the first file with blank cells by itself
    (straight, samples, files), (careful, samples_too, files_too) = found
    assert straight == careful
    assert files == files_too
    for pump_id, arrays in samples.items():
        for got, expected in zip(arrays, samples_too[pump_id], strict=True):
            assert np.array_equal(got, expected, equal_nan=True)


@pytest.mark.parametrize(
    ("line", "n_kept"),
    [
        ("2026-11-16T02:00:00Z,OL,45,3,230", 500),  # no number
        ("2026-11-16T02:00:00Z,58,4500,3,230", 500),  # not plausible
        ("2026-11-16T02:00:00Z,58,45,3", 500),  # too few cells
        ("junk,58,45,3,230", 500),
        ("1970-01-01T00:00:00Z,58,45,3,230", 500),
        ("2026-11-16T00:00:05Z,58,45,3,230", 500),  # an instant that was there
        ("2026-11-16T00:00:07Z,58,45,3,230", 500),  # lived again
        ("2026-11-16T02:00:00,58,45,3,230", 501),  # local time
        ("2026-11-16T02:00:00Z,nan,45,3,230", 501),
    ],
)
def test_one_row_that_is_not_clean_sends_the_batch_the_careful_way(
    con, register, write_log, ways, line, n_kept
):
    report = load_logs(con, [write_log("P-1.csv", [*lines(), line], HEADER)], register)

    assert ways == [False]
    assert report.rows_kept == n_kept
    assert verify_store(con).faults == ()


FAULTS = {
    "no number": lambda rows: [*rows[:40], "2026-11-16T00:03:20Z,OL,45,3,230", *rows[41:]],
    "not plausible": lambda rows: [*rows[:40], "2026-11-16T00:03:20Z,58,4500,3,230", *rows[41:]],
    "a time again": lambda rows: [*rows[:40], rows[39], *rows[40:]],
    "times that fall": lambda rows: [*rows[:40], rows[50], *rows[40:]],
    "a wrong unit": lambda rows: lines(kpa=400),
}


@pytest.fixture
def careful(monkeypatch):
    """Names of the files that went the careful way, batch by batch."""
    noted = []
    original = ingest.load_batch.read_batch

    def note(con, probes, *args):
        noted.append([probed.file.name for probed in probes])
        return original(con, probes, *args)

    monkeypatch.setattr(ingest.load_batch, "read_batch", note)
    return noted


@pytest.mark.parametrize("fault", FAULTS)
def test_a_file_that_is_not_clean_goes_the_careful_way_alone(
    con, register, write_log, careful, fault
):
    filled = [line for line in lines() if not line.endswith(",")]
    for pump in ("P-1", "P-2", "P-BER", "P-CHI"):
        rows = FAULTS[fault](filled) if pump == "P-BER" else filled
        path = write_log(f"{pump}.csv", rows, HEADER)

    report = load_logs(con, [path.parent], register)

    assert careful == [["P-BER.csv"]]
    n_lost = len(FAULTS[fault](filled)) if fault == "a wrong unit" else 1
    assert report.rows_in - report.rows_kept == n_lost
    assert verify_store(con).faults == ()


def test_files_that_are_not_clean_go_in_their_order_whichever_is_met_first(
    con, register, write_log, careful, monkeypatch
):
    filled = [line for line in lines(100) if not line.endswith(",")]
    for pump in ("P-1", "P-2", "P-BER"):
        path = write_log(f"{pump}.csv", filled, HEADER)
    original = ingest.load_batch.add_clean

    def last_first(con, probes, *args, **kwargs):
        if len(probes) > 1:
            raise NotCleanError(len(probes) - 1)
        return original(con, probes, *args, **kwargs)

    monkeypatch.setattr(ingest.load_batch, "add_clean", last_first)

    load_logs(con, [path.parent], register)

    assert careful == [["P-2.csv", "P-BER.csv"]]


@pytest.mark.parametrize("number", [1, 999])
def test_a_row_that_names_another_file_as_not_clean_is_not_believed(
    con, register, write_log, careful, number
):
    filled = [line for line in lines() if not line.endswith(",")]
    path = write_log("P-1.csv", filled, HEADER)
    told = f"a row that is not clean, file {number}"
    write_log("P-2.csv", [*filled, f"2026-11-16T01:00:00Z,{told},45,3,230"], HEADER)
    cell = f"Invalid Input Error: {told}"
    write_log("P-BER.csv", [*filled, f"2026-11-16T01:00:00Z,58,45,{cell},230"], HEADER)

    report = load_logs(con, [path.parent], register)

    assert careful == [["P-2.csv", "P-BER.csv"]]
    assert report.rows_in - report.rows_kept == 2


def test_a_file_with_blank_cells_among_full_ones_goes_the_straight_way(
    con, register, write_log, careful
):
    for pump in ("P-1", "P-2", "P-BER"):
        rows = [line for line in lines() if pump == "P-2" or not line.endswith(",")]
        path = write_log(f"{pump}.csv", rows, HEADER)

    report = load_logs(con, [path.parent], register)

    assert careful == []
    assert report.rows_kept == report.rows_in == 490 + 500 + 490


def test_of_many_files_that_are_not_clean_all_go_the_careful_way(con, register, tmp_path, careful):
    pumps = {f"N-{n}": Pump(pump_id=f"N-{n}", site_id="S-P-1") for n in range(MAX_APART + 3)}
    grown = replace(register, pumps=pumps)
    save_register(con, grown)
    (tmp_path / "logs").mkdir()
    for pump in pumps:
        rows = FAULTS["not plausible"](lines(100))
        (tmp_path / "logs" / f"{pump}.csv").write_text("\n".join([HEADER, *rows]) + "\n")

    report = load_logs(con, [tmp_path / "logs"], grown)

    assert careful == [sorted(f"{pump}.csv" for pump in pumps)]
    assert report.rows_kept == 99 * len(pumps)
    assert verify_store(con).faults == ()


def test_overlapping_exports_go_the_careful_way(con, register, write_log, ways):
    load_logs(con, [write_log("P-1.csv", lines(), HEADER)], register)

    later = lines(500, START + timedelta(seconds=1250))
    report = load_logs(con, [write_log("P-1__b.csv", later, HEADER)], register)

    assert ways == [True, False]
    assert (report.rows_kept + report.rows_conflicting + report.rows_repeated) == 500
    assert report.rows_kept == 250
    assert verify_store(con).faults == ()


def test_a_pressure_in_the_wrong_unit_goes_the_careful_way(con, register, write_log, ways):
    report = load_logs(con, [write_log("P-1.csv", lines(kpa=400), HEADER)], register)

    assert ways == [False]
    assert report.rows_kept == 0
    assert "as if in another unit" in report.rejects[0].text


def test_a_channel_gets_its_column_with_the_first_log_that_has_it(
    con, register, write_log, samples_of
):
    load_logs(con, [write_log("P-1.csv", lines(), HEADER)], register)
    before = {name for name, *_ in con.execute("describe samples").fetchall()}

    more = [f"{line},7.5,E1" for line in lines(10)]
    load_logs(con, [write_log("P-2.csv", more, f"{HEADER},flow_lpm,fault_code")], register)

    after = {name for name, *_ in con.execute("describe samples").fetchall()}
    assert after - before == {"flow_lpm", "fault_code"}
    assert samples_of("P-2").flow_lpm.tolist() == [7.5] * 10
    assert np.isnan(samples_of("P-1").flow_lpm).all()
    assert np.isnan(samples_of("P-1").suction_kpa).all()
    assert samples_of("P-1").fault_code is None


@pytest.mark.parametrize(
    ("first", "is_straight"),
    [
        (datetime(2026, 10, 30, 12), False),  # over the hour that comes twice
        (datetime(2026, 3, 7, 12), True),  # over the hour that is skipped
        (datetime(2026, 7, 1), True),
    ],
)
def test_local_times_are_dated_the_same_both_ways(
    tmp_path, register, write_log, ways, monkeypatch, first, is_straight
):
    from zoneinfo import ZoneInfo

    zone, utc = ZoneInfo("America/Chicago"), ZoneInfo("UTC")
    instants = [first + timedelta(minutes=5 * k) for k in range(700)]
    local = [at.replace(tzinfo=utc).astimezone(zone).replace(tzinfo=None) for at in instants]
    rows = [f"{at.isoformat(' ')},58,45,3,230" for at in local]
    path = write_log("P-CHI.csv", rows, HEADER)
    found = []
    for name in ("straight", "careful"):
        with open_store(tmp_path / f"{name}.duckdb", threads=1) as con:
            save_register(con, register)
            load_logs(con, [path], register)
            (one,) = read_samples(con, ["P-CHI"], datetime(2000, 1, 1), datetime(2100, 1, 1))
            found.append(one.ts_us.tolist())
        monkeypatch.setattr(ingest.load_batch, "is_likely_clean", lambda probes: False)

    first_us = int(np.datetime64(first, "us").astype(np.int64))
    assert found[0] == found[1] == [first_us + 300_000_000 * k for k in range(700)]
    assert ways == [is_straight]


@pytest.mark.parametrize(("cell", "typed"), [("231", True), ("", False), (" ", False)])
def test_cells_are_read_as_numbers_and_where_one_is_blank_as_text(
    con, register, write_log, ways, tried, cell, typed
):
    rows = [line for line in lines() if not line.endswith(",")]
    rows[30] = rows[30].rpartition(",")[0] + f",{cell}"

    report = load_logs(con, [write_log("P-1.csv", rows, HEADER)], register)

    assert tried == ([True] if typed else [True, False])
    assert ways == [True]
    assert (report.rows_kept, report.rows_rejected) == (len(rows), 0)


def test_a_row_that_is_not_clean_is_not_read_as_text_first(con, register, write_log, tried):
    rows = [line for line in lines() if not line.endswith(",")]
    rows[30] = rows[30].rpartition(",")[0] + ",99999"

    load_logs(con, [write_log("P-1.csv", rows, HEADER)], register)

    assert tried == [True]
