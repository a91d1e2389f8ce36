"""A week judged is not judged again while all it hangs on is the same, and is once it is not."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from analysis import fingerprint
from analysis.answer_reading import read_assessments, read_findings, scan_states
from analysis.scan import scan
from ingest.installed_base import Pump, Register, Site, Visit
from ingest.load import load_logs
from ingest.store import open_store, save_register

PUMP = Pump(pump_id="P-1", site_id="S-1", pressure_setting_kpa=400.0)
REGISTER = Register(sites={"S-1": Site(site_id="S-1")}, pumps={"P-1": PUMP})
MONDAY = datetime(2026, 11, 9)
W46, W47 = "2026-W46", "2026-W47"


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A store with two weeks of one pump, both judged."""
    lines = ["timestamp,pressure_kpa,frequency_hz,current_a"]
    for minute in range(14 * 1440):
        at, is_on = MONDAY + timedelta(minutes=minute), minute % 60 < 20
        lines.append(f"{at.isoformat()}Z,{400 + minute % 3},{45 * is_on},{4 * is_on}")
    path = tmp_path / "P-1__0.csv"
    path.write_text("\n".join(lines) + "\n")
    with closing(open_store(tmp_path / "fleet.duckdb", threads=1)) as opened:
        save_register(opened, REGISTER)
        load_logs(opened, [path], REGISTER)
        assert scan(opened).weeks_judged == (W46, W47)
        yield opened


def test_a_week_whose_judgement_stands_is_not_judged_again(
    con: duckdb.DuckDBPyConnection,
) -> None:
    before, states = read_assessments(con, W47), scan_states(con)

    again = scan(con)

    assert (again.week, again.weeks_judged, again.n_pumps, again.n_with_data) == (W47, (), 1, 1)
    assert read_assessments(con, W47) == before
    assert scan_states(con) == states


@pytest.mark.parametrize(
    "register",
    [
        replace(REGISTER, pumps={"P-1": replace(PUMP, pressure_setting_kpa=300.0)}),
        replace(REGISTER, visits=(Visit(visited_on=date(2026, 11, 3), site_id="S-1"),)),
        replace(REGISTER, sites={"S-1": Site(site_id="S-1", region="Valley")}),
    ],
    ids=["setting", "visit", "region"],
)
def test_a_changed_register_has_the_week_judged_again(
    con: duckdb.DuckDBPyConnection, register: Register
) -> None:
    save_register(con, register)

    assert scan(con).weeks_judged == (W47,)
    assert scan(con).weeks_judged == ()


def test_values_left_out_have_their_week_judged_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    instants = [MONDAY + timedelta(days=9, hours=n, seconds=30) for n in range(24)]
    lines = [f"{at.isoformat()}Z,6553.5,45,4" for at in instants]
    path = tmp_path / "P-1__1.csv"
    path.write_text("\n".join(["timestamp,pressure_kpa,frequency_hz,current_a", *lines]) + "\n")
    load_logs(con, [path], REGISTER)

    assert scan(con).weeks_judged == (W47,)
    (found,) = [one for one in read_findings(con, W47) if one.kind == "sensor_fault"]
    assert (found.cause, found.measures["value"]) == ("out_of_range", 6553.5)
    assert scan(con).weeks_judged == ()


def test_another_version_of_the_program_judges_again(
    con: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fingerprint, "program_state", lambda *packages: "another")

    assert scan(con).weeks_judged == (W47,)


def test_an_earlier_week_that_is_judged_otherwise_has_the_later_judged_again(
    con: duckdb.DuckDBPyConnection,
) -> None:
    save_register(con, replace(REGISTER, pumps={"P-1": replace(PUMP, tank_l=80.0)}))
    scan(con)
    save_register(con, REGISTER)
    scan(con)
    assert scan(con).weeks_judged == ()
    con.execute("update scans set answers = 'other' where week = $week", {"week": W46})

    assert scan(con).weeks_judged == (W47,)


def test_answers_that_are_gone_are_made_again(con: duckdb.DuckDBPyConnection) -> None:
    before = read_assessments(con, W47)
    con.execute("delete from assessments where week = $week", {"week": W47})

    assert scan(con).weeks_judged == (W47,)
    assert read_assessments(con, W47) == before


def test_a_store_scanned_by_an_earlier_version_is_judged_again(
    con: duckdb.DuckDBPyConnection,
) -> None:
    con.execute("alter table scans drop column judged_by")
    con.execute("alter table scans drop column answers")
    assert scan_states(con) == {W46: (None, None), W47: (None, None)}

    assert scan(con).weeks_judged == (W47,)
    assert scan(con).weeks_judged == ()


def test_every_file_of_the_program_and_every_library_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "analysis").mkdir()
    file = tmp_path / "analysis" / "limits.py"
    monkeypatch.setattr(fingerprint, "_ROOT", tmp_path)
    states = []
    for content in ("A = 1", "A = 2"):
        file.write_text(content)
        fingerprint.program_state.cache_clear()
        states.append(fingerprint.program_state("analysis"))
    monkeypatch.setattr(fingerprint, "_version", lambda library: f"{library} 9")
    fingerprint.program_state.cache_clear()
    states.append(fingerprint.program_state("analysis"))
    fingerprint.program_state.cache_clear()

    assert len(set(states)) == 3
