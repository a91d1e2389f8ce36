"""A fleet judged in several processes, and one in this: the same answers."""

from contextlib import closing
from pathlib import Path
from types import ModuleType

import pytest

from analysis import judge_apart as module
from analysis.answer_reading import read_assessments, read_findings, read_peer_notes, scan_states
from analysis.judge_apart import is_worth_it, judge_apart
from analysis.record_tables import ensure_tables
from analysis.record_writing import write_records
from analysis.records import PumpRecord
from analysis.scan import judge
from analysis.workers import Here, Processes, Spread
from ingest.installed_base import Register, Site
from ingest.store import open_store, save_register
from ingest.weeks import Week

W47 = Week(2026, 47)
N_PUMPS = 40
COVERED = (
    "insert into coverage by name select pump_no, week, n_samples, first_at, last_at, true as"
)
COVERED += " is_measured from pump_week join pump_numbers using (pump_id)"


@pytest.fixture
def store(tmp_path: Path, case_factory: ModuleType) -> Path:
    """Two weeks of records, of pumps of which some fall silent."""
    pumps = {
        (name := f"P-{n:02d}"): case_factory.healthy_pump(pump_id=name, site_id=f"S-{n // 2:02d}")
        for n in range(N_PUMPS)
    }
    sites = {pump.site_id: Site(site_id=pump.site_id) for pump in pumps.values()}
    records = []
    for n, pump_id in enumerate(pumps):
        for week in [W47.plus(-1), W47][: 1 if n % 10 == 9 else 2]:
            made = case_factory.healthy_week(week, pump_id=pump_id, run_share=0.06 + 0.001 * n)
            records.append(PumpRecord(week=made, days=(), op_map=()))
    path = tmp_path / "fleet.duckdb"
    with closing(open_store(path)) as con:
        ensure_tables(con)
        save_register(con, Register(sites=sites, pumps=pumps))
        write_records(con, records)
        con.execute(COVERED)
    return path


def answers(path: Path) -> list[object]:
    with closing(open_store(path, read_only=True)) as con:
        weeks = [str(W47.plus(-1)), str(W47)]
        read = (read_findings, read_assessments, read_peer_notes)
        return [scan_states(con), *(one(con, week) for week in weeks for one in read)]


def test_several_processes_give_the_answers_of_one(store: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.duckdb"
    other.write_bytes(store.read_bytes())
    with closing(open_store(other)) as con:
        one = judge(con, W47)

    with Processes(2) as workers:
        spread = Spread(workers, workers, Here(), store, "200MB")
        several = judge_apart(spread, W47)
        again = judge_apart(spread, W47)

    assert one.weeks_judged == ("2026-W46", "2026-W47")
    assert one.n_findings > 0
    assert several == one
    assert again.weeks_judged == ()
    assert answers(store) == answers(other)


def test_small_fleets_and_single_processes_are_judged_here(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    several = Processes.__new__(Processes)
    several.n = 2
    with closing(open_store(store, read_only=True)) as con:
        apart, alone = (Spread(w, w, Here(), store, "1GB") for w in (several, Here()))
        assert not is_worth_it(apart, con)
        monkeypatch.setattr(module, "APART_PUMPS", N_PUMPS)

        assert is_worth_it(apart, con)
        assert not is_worth_it(alone, con)
