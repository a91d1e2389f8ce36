"""What is measured by a job of its own, and where its samples come from."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet
import pytest

from analysis.measure_new import MeasureJob, measure_apart, measure_job, measure_new
from analysis.record_reading import read_weeks
from analysis.record_tables import ensure_tables
from analysis.workers import Here, Spread
from ingest.errors import StoreError
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.store import opened_store, save_register

MONDAY = datetime(2026, 11, 16)
PUMPS = [f"P-{n}" for n in range(8)]


class Notes(Here):
    """Runs jobs here and notes them."""

    def __init__(self) -> None:
        self.jobs: list[MeasureJob] = []

    def map(self, work, jobs):
        self.jobs += jobs
        return super().map(work, jobs)


@pytest.fixture
def register() -> Register:
    return Register(
        sites={"S-1": Site(site_id="S-1", timezone="Europe/Berlin")},
        pumps={
            pump: Pump(pump_id=pump, site_id="S-1", pressure_setting_kpa=400.0) for pump in PUMPS
        },
    )


@pytest.fixture
def lake(tmp_path: Path) -> Path:
    """Two groups of pumps, a day of samples each; even pumps in one file, odd ones in another."""
    folder = tmp_path / "lake" / "week=2026-W47"
    folder.mkdir(parents=True)
    at = [MONDAY + timedelta(seconds=30 * n) for n in range(2880)]
    for group in range(2):
        tables = [
            pa.table(
                {
                    "timestamp": pa.array(at, pa.timestamp("us", "UTC")),
                    "pump_id": [pump] * len(at),
                    "pressure_kpa": [400.0 - n % (10 + number) for n in range(len(at))],
                    "frequency_hz": [45.0 * (n % (10 + number) < 3) for n in range(len(at))],
                    "current_a": [4.0 * (n % (10 + number) < 3) for n in range(len(at))],
                }
            )
            for number, pump in enumerate(PUMPS)
            if number % 2 == group
        ]
        pyarrow.parquet.write_table(pa.concat_tables(tables), folder / f"{group}.parquet")
    return tmp_path / "lake"


def stored(path: Path, lake: Path, register: Register, *, in_place: bool) -> Path:
    with opened_store(path, reaches_files=True) as con:
        save_register(con, register)
        load_logs(con, [lake], register, in_place=in_place)
        ensure_tables(con)
    return path


def measured(path: Path, places: Notes | None = None) -> dict[str, list[object]]:
    """Records of a store's weeks, measured in this process or by jobs."""
    if places is not None:
        measure_apart(Spread(Here(), places, Here(), path, "500MB"), "2026-W47")
    with opened_store(path) as con:
        if places is None:
            measure_new(con, "2026-W47")
        return dict(read_weeks(con, up_to="2026-W47"))


def test_jobs_give_the_records_one_process_gives_wherever_samples_lie(tmp_path, register, lake):
    copied = stored(tmp_path / "copied", lake, register, in_place=False)
    left = stored(tmp_path / "left", lake, register, in_place=True)
    left_too = stored(tmp_path / "left-too", lake, register, in_place=True)

    expected = measured(copied)

    assert set(expected) == set(PUMPS)
    assert measured(left) == expected
    assert measured(left_too, Notes()) == expected


def test_a_job_of_logs_left_in_place_needs_no_store(tmp_path, register, lake):
    left = stored(tmp_path / "left", lake, register, in_place=True)
    places = Notes()
    measured(left, places)

    found = [
        record.week
        for job in places.jobs
        for record in measure_job(replace(job, store=tmp_path / "none"))
    ]

    assert sorted(week.pump_id for week in found) == PUMPS


def test_pumps_of_one_file_are_measured_together(tmp_path, register, lake, monkeypatch):
    monkeypatch.setattr("analysis.measure_new.JOBS_A_WORKER", 2)
    monkeypatch.setattr("analysis.measure_new.LEAST_JOB_PUMPS", 1)
    left = stored(tmp_path / "left", lake, register, in_place=True)
    places = Notes()

    measured(left, places)

    assert [len(job.pumps) for job in places.jobs] == [4, 4]
    assert [len(job.outside) for job in places.jobs] == [1, 1]


def test_a_damaged_log_is_named_and_nothing_half_written(tmp_path, register, lake):
    left = stored(tmp_path / "left", lake, register, in_place=True)
    path = lake / "week=2026-W47" / "1.parquet"
    path.write_bytes(path.read_bytes()[:-9] + b"\0" * 9)

    with pytest.raises(StoreError, match=r"1\.parquet: is damaged"):
        measured(left, Notes())

    with opened_store(left) as con:
        assert read_weeks(con, up_to="2026-W47") == {}
