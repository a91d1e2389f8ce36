"""Local times, clock changes and weeks; overlapping exports in any order."""

from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.load import load_logs
from ingest.samples import read_samples
from ingest.store import open_store, save_register
from ingest.weeks import parse_week, week_bounds

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"
HOUR_US = 3_600_000_000


def local_lines(zone: str, from_utc: datetime, hours: float, step_s: int = 300) -> list[str]:
    """Lines a logger on local time writes, row after row, whatever its clock does."""
    instants = [from_utc + timedelta(seconds=s) for s in range(0, int(hours * 3600), step_s)]
    return [
        f"{t.replace(tzinfo=ZoneInfo('UTC')).astimezone(ZoneInfo(zone)).replace(tzinfo=None)},400,45,3"
        for t in instants
    ]


@pytest.mark.parametrize(
    ("pump_id", "zone", "change"),
    [
        ("P-CHI", "America/Chicago", datetime(2026, 11, 1, 7)),  # back
        ("P-CHI", "America/Chicago", datetime(2026, 3, 8, 8)),  # forward
        ("P-BER", "Europe/Berlin", datetime(2026, 10, 25, 1)),
        ("P-BER", "Europe/Berlin", datetime(2026, 3, 29, 1)),
        ("P-LON", "Europe/London", datetime(2026, 10, 25, 1)),
    ],
)
@pytest.mark.parametrize("is_newest_first", [False, True])
def test_a_local_log_over_a_clock_change_comes_back_as_the_true_instants(
    con, register, write_log, samples_of, pump_id, zone, change, is_newest_first
):
    lines = local_lines(zone, change - timedelta(hours=6), 12)
    path = write_log(f"{pump_id}.csv", lines[::-1] if is_newest_first else lines)

    report = load_logs(con, [path], register)

    assert (report.rows_kept, report.rejects) == (144, ())
    first_us = np.datetime64(change - timedelta(hours=6), "us").astype(np.int64)
    expected = first_us + np.arange(144) * 300_000_000
    assert samples_of(pump_id).ts_us.tolist() == expected.tolist()


def test_an_hour_the_clocks_skip_is_rejected_by_line(con, register, write_log, instants_of):
    lines = [
        "2026-03-08T01:59:00,400,45,3",
        "2026-03-08T02:30:00,400,45,3",
        "2026-03-08T03:00:00,400,45,3",
    ]

    report = load_logs(con, [write_log("P-CHI.csv", lines)], register)

    assert [problem.line for problem in report.rejects] == [3]
    assert "a time the site's clocks skip" in report.rejects[0].text
    assert instants_of("P-CHI") == ["2026-03-08T07:59:00", "2026-03-08T08:00:00"]


def test_a_repeated_hour_seen_once_is_its_first_pass(con, register, write_log, instants_of):
    lines = ["2026-11-01T01:10:00,400,45,3", "2026-11-01T01:40:00,400,45,3"]

    load_logs(con, [write_log("P-CHI.csv", lines)], register)

    assert instants_of("P-CHI") == ["2026-11-01T06:10:00", "2026-11-01T06:40:00"]


def test_pumps_of_several_zones_in_one_file_each_keep_their_own(
    con, register, write_log, samples_of
):
    header = f"pump_id,{HEADER}"
    times = {}
    rows = []
    for pump_id, zone in (("P-CHI", "America/Chicago"), ("P-BER", "Europe/Berlin")):
        start = datetime(2026, 10, 24, 20)
        lines = local_lines(zone, start, 200, step_s=3600)
        rows += [f"{pump_id},{line}" for line in lines]
        first_us = int(np.datetime64(start, "us").astype(np.int64))
        times[pump_id] = [first_us + n * HOUR_US for n in range(200)]
    rows.sort(key=lambda row: row.split(",")[1])  # by wall clock, pumps mixed

    report = load_logs(con, [write_log("fleet.csv", rows, header)], register)

    assert (report.rows_kept, report.rejects) == (400, ())
    for pump_id, expected in times.items():
        assert samples_of(pump_id).ts_us.tolist() == expected


def test_coverage_counts_samples_by_local_week(con, register, write_log):
    start = datetime(2026, 10, 30)
    lines = local_lines("America/Chicago", start, 24 * 14, step_s=3600)

    report = load_logs(con, [write_log("P-CHI.csv", lines)], register)

    counted = dict(con.execute("select week, n_samples from coverage").fetchall())
    assert report.weeks_touched == ("2026-W44", "2026-W45", "2026-W46")
    assert sum(counted.values()) == 14 * 24
    assert counted["2026-W45"] == 168
    first_at, last_at = con.execute(
        "select first_at, last_at from coverage where week = '2026-W45'"
    ).fetchone()
    from_at, to_at = week_bounds(parse_week("2026-W45"), "America/Chicago")
    assert (first_at, last_at) == (from_at, to_at - timedelta(hours=1))


def test_new_samples_make_a_measured_week_unmeasured(con, register, write_log):
    load_logs(con, [write_log("P-1.csv", ["2026-11-16T00:00:00Z,400,45,3"])], register)
    con.execute("update coverage set is_measured = true")
    load_logs(con, [write_log("P-1__b.csv", ["2026-11-16T00:00:00Z,400.0,45,3"])], register)
    assert con.execute("select is_measured from coverage").fetchall() == [(True,)]

    load_logs(con, [write_log("P-1__c.csv", ["2026-11-17T00:00:00Z,400,45,3"])], register)

    assert con.execute("select n_samples, is_measured from coverage").fetchall() == [(2, False)]


def test_of_two_values_of_one_instant_the_stored_one_stays_and_is_counted(
    con, register, write_log, samples_of
):
    load_logs(con, [write_log("P-1.csv", ["2026-11-16T00:00:00Z,400,45,3"])], register)
    late = write_log(
        "P-1__late.csv",
        ["2026-11-16T00:00:00Z,500,45,3", "2026-11-16T00:00:05Z,401,45,3"],
    )

    report = load_logs(con, [late], register)

    assert (report.rows_conflicting, report.rows_repeated, report.rows_kept) == (1, 0, 1)
    assert samples_of("P-1").pressure_kpa.tolist() == [400, 401]


def test_within_one_load_the_file_that_sorts_first_stays(con, register, write_log, samples_of):
    write_log("P-1__b.csv", ["2026-11-16T00:00:00Z,500,45,3"])
    path = write_log("P-1__a.csv", ["2026-11-16T00:00:00Z,400,45,3"] * 2)

    report = load_logs(con, [path.parent], register)

    assert (report.rows_kept, report.rows_repeated, report.rows_conflicting) == (1, 1, 1)
    assert samples_of("P-1").pressure_kpa.tolist() == [400]


@settings(max_examples=25, deadline=None)
@given(
    pieces=st.lists(
        st.tuples(st.integers(0, 59), st.integers(1, 30), st.integers(0, 1), st.booleans()),
        min_size=1,
        max_size=6,
    ),
    several=st.booleans(),
)
def test_any_split_of_a_log_in_any_order_gives_the_same_samples(register, pieces, several):
    """Each piece is a stretch of one log of two pumps; they overlap and come in any order."""
    pumps = ("P-1", "P-CHI")
    expected: dict[str, set[int]] = {pump_id: set() for pump_id in pumps}
    start = datetime(2026, 11, 15, 23, 59)
    with TemporaryDirectory() as name:
        folder = Path(name)
        paths = []
        for number, (first, length, which, is_reversed) in enumerate(pieces):
            seconds = range(first, first + length)
            lines = [
                f"{(start + timedelta(seconds=s)).isoformat()}Z,{300 + s},45,3" for s in seconds
            ]
            path = folder / f"{pumps[which]}__{number}.csv"
            path.write_text("\n".join([HEADER, *(lines[::-1] if is_reversed else lines)]) + "\n")
            paths.append(path)
            expected[pumps[which]] |= set(seconds)
        with open_store(folder / "fleet.duckdb", threads=1) as con:
            save_register(con, register)
            loads = [paths] if several else [[path] for path in paths]
            kept = sum(load_logs(con, load, register).rows_kept for load in loads)
            got = {
                one.pump_id: one
                for one in read_samples(con, pumps, datetime(2000, 1, 1), datetime(2100, 1, 1))
            }
            counted = con.execute("select coalesce(sum(n_samples), 0) from coverage").fetchone()

    assert kept == sum(map(len, expected.values())) == counted[0]
    start_us = int(np.datetime64(start, "us").astype(np.int64))
    for pump_id, seconds in expected.items():
        if seconds:
            assert got[pump_id].ts_us.tolist() == [
                start_us + s * 1_000_000 for s in sorted(seconds)
            ]
            assert got[pump_id].pressure_kpa.tolist() == [300 + s for s in sorted(seconds)]
        else:
            assert pump_id not in got
