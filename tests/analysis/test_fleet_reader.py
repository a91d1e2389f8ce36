"""What is read block by block, and no further back than counts, judges as all records do."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import duckdb
import pytest

from analysis.answer_writing import write_week_findings
from analysis.context import Fleet
from analysis.fleet_reader import FleetReader
from analysis.history import History
from analysis.judging import judge_pump, judge_week
from analysis.limits import PAST_WEEKS
from analysis.record_tables import ensure_tables
from analysis.record_writing import write_records
from analysis.records import OpMapBin, PumpRecord
from ingest.installed_base import Register, Site
from ingest.store import open_store, save_register
from ingest.weeks import Week

W47 = Week(2026, 47)
N_PUMPS, N_WEEKS = 5, 60
SILENT = "P-3"  # since so long that no week of its recent past has a record


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with closing(open_store(tmp_path / "fleet.duckdb")) as con:
        ensure_tables(con)
        yield con


@pytest.fixture
def register(case_factory: ModuleType) -> Register:
    pumps = [
        case_factory.healthy_pump(pump_id=f"P-{n}", site_id=f"S-{n // 2}", pump_model="M")
        for n in range(N_PUMPS)
    ]
    sites = {pump.site_id: Site(site_id=pump.site_id, region="Valley") for pump in pumps}
    return Register(sites=sites, pumps={pump.pump_id: pump for pump in pumps})


@pytest.fixture
def records(case_factory: ModuleType) -> list[PumpRecord]:
    made = []
    for n in range(N_PUMPS):
        for back in range(N_WEEKS - 1, -1, -1):
            if f"P-{n}" == SILENT and 0 <= back <= PAST_WEEKS.value:
                continue
            week, worn_hz = W47.plus(-back), 0.1 * (N_WEEKS - back) * (n == 1)
            one = case_factory.healthy_week(week, pump_id=f"P-{n}", f0_hz=42.0 + worn_hz)
            days = [replace(d, pump_id=f"P-{n}") for d in case_factory.healthy_days(week)]
            cells = (op_bin(one.pump_id, str(week)),)
            made.append(PumpRecord(week=one, days=tuple(days), op_map=cells))
    return made


def op_bin(pump_id: str, week: str) -> OpMapBin:
    return OpMapBin(
        pump_id=pump_id,
        week=week,
        frequency_bin_hz=50.0,
        pressure_bin_pct=95.0,
        n=200,
        held_s=1200.0,
        frequency_mean_hz=51.0,
        pressure_mean_kpa=390.0,
        current_mean_a=5.0,
    )


def in_memory(register: Register, records: list[PumpRecord]) -> Fleet:
    by_pump: dict[str, list[PumpRecord]] = {}
    for record in records:
        by_pump.setdefault(record.week.pump_id, []).append(record)
    return Fleet(
        register=register,
        weeks={p: [r.week for r in of_pump] for p, of_pump in by_pump.items()},
        days={p: [d for r in of_pump for d in r.days] for p, of_pump in by_pump.items()},
        op_map={p: [c for r in of_pump for c in r.op_map] for p, of_pump in by_pump.items()},
    )


@pytest.mark.parametrize("block_pump_weeks", [1, 60, 100_000])
def test_blocks_judge_as_all_records_in_memory_do(
    con: duckdb.DuckDBPyConnection,
    register: Register,
    records: list[PumpRecord],
    block_pump_weeks: int,
) -> None:
    save_register(con, register)
    write_records(con, records)
    weeks = [str(W47.plus(-1)), str(W47)]
    reader = FleetReader(con, register, weeks, block_pump_weeks)
    everything = in_memory(register, records)

    for week in weeks:
        around = reader.around(week)
        said = [
            judge_pump(fleet, pump, week, around)
            for pumps, fleet in reader.blocks(week)
            for pump in pumps
        ]
        _, expected = judge_week(everything, week, History())

        got = {(o.pump.pump_id, k): answer for o in said for k, answer in o.answers.items()}
        assert got == {(a.pump_id, a.kind): (a.status, a.reason) for a in expected}
    assert got[SILENT, "data_gap"][0] == "found"  # heard of long ago, so not "no samples yet"


def test_no_more_is_read_of_sixty_weeks_than_counts(
    con: duckdb.DuckDBPyConnection, register: Register, records: list[PumpRecord]
) -> None:
    save_register(con, register)
    write_records(con, records)

    ((_, fleet),) = FleetReader(con, register, [str(W47)]).blocks(str(W47))

    assert len(fleet.days["P-0"]) == 7 * (PAST_WEEKS.value + 1)
    assert len(fleet.weeks["P-0"]) == len(fleet.op_map["P-0"]) <= PAST_WEEKS.value + 4


def test_history_is_read_of_what_is_asked_for_alone(
    con: duckdb.DuckDBPyConnection, register: Register, records: list[PumpRecord]
) -> None:
    save_register(con, register)
    write_records(con, records)
    before = str(W47.plus(-1))
    findings, answers = judge_week(in_memory(register, records), before, History())
    write_week_findings(con, before, findings, answers)
    (silent,) = [finding for finding in findings if finding.pump_id == SILENT]

    history = FleetReader(con, register, [str(W47)]).history(str(W47), [(SILENT, silent.kind)])

    assert list(history.answers) == [(SILENT, silent.kind)]
    assert history.at(SILENT, silent.kind, before) == silent
