"""A small invented fleet for the tests of pages, terminal and commands."""

import importlib.util
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import duckdb
import pytest

from analysis import answer_writing, record_tables, record_writing
from analysis.findings import (
    SEVERITY_OF_CONSEQUENCE,
    Assessment,
    Finding,
    Kind,
    Status,
)
from analysis.records import PumpRecord
from ingest.installed_base import Pump, Register, Site
from ingest.store import open_store, pump_numbers, save_register

WEEK = "2026-W47"
HOSTILE = "<script>alert('x')</script> & \"Sons\""


@pytest.fixture
def make_finding() -> Callable[..., Finding]:
    def make(consequence: int = 3, **change: Any) -> Finding:
        values: dict[str, Any] = {
            "week": WEEK,
            "site_id": "S-01",
            "pump_id": "P-01",
            "kind": Kind.SHORT_CYCLING,
            "cause": "tank_charge_lost",
            "severity": SEVERITY_OF_CONSEQUENCE[consequence],
            "confidence": 0.8,
            # 17 Nov 04:30 UTC is still Monday 16 Nov in New York
            "first_seen": datetime(2026, 11, 17, 4, 30),
            "last_seen": datetime(2026, 11, 22, 5),
            "measures": {"starts_per_day": 910},
            "summary": "Pump 1 started 910 times a day (was 60).",
            "limit_source": "common practice",
            "consequence": consequence,
            "state": "new",
        }
        return Finding(**(values | change))

    return make


@pytest.fixture
def make_answers() -> Callable[..., list[Assessment]]:
    """Answers of one pump for every kind: ``default``, but for the kinds named."""

    def make(pump_id: str, site_id: str, default: Status, **by_kind: Status) -> list[Assessment]:
        return [
            Assessment(
                week=WEEK,
                site_id=site_id,
                pump_id=pump_id,
                kind=kind,
                status=by_kind.get(kind, default),
                reason=f"why {kind} of {pump_id}",
            )
            for kind in Kind
        ]

    return make


@pytest.fixture
def register() -> Register:
    """Four sites with a pump each; one site has a hostile name and a customer."""
    names = {"S-01": "Upper Meadow Farm", "S-02": HOSTILE, "S-03": None, "S-04": "Long Barn"}
    return Register(
        sites={
            site_id: Site(
                site_id=site_id,
                site_name=name,
                timezone="America/New_York",
                region="North" if site_id < "S-03" else HOSTILE,
                customer="A. Customer",
            )
            for site_id, name in names.items()
        },
        pumps={
            f"P-0{n}": Pump(pump_id=f"P-0{n}", site_id=f"S-0{n}", pump_model=f"M{n % 2}")
            for n in range(1, 5)
        },
    )


@pytest.fixture
def con(
    tmp_path: Path,
    register: Register,
    make_finding: Callable[..., Finding],
    make_answers: Callable[..., list[Assessment]],
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A store without samples in which two weeks were judged."""
    con = open_store(tmp_path / "fleet.duckdb")
    save_register(con, register)
    record_tables.ensure_tables(con)
    answers = [
        *make_answers("P-01", "S-01", Status.CLEAR, short_cycling=Status.FOUND),
        *make_answers("P-02", "S-02", Status.CLEAR, leak=Status.FOUND),
        *make_answers("P-03", "S-03", Status.NO_DATA),
    ]
    answer_writing.write_week_findings(con, "2026-W46", [make_finding(2, week="2026-W46")], [])
    answer_writing.write_week_findings(
        con,
        "2026-W47",
        [
            make_finding(4),
            make_finding(site_id="S-02", pump_id="P-02", kind=Kind.LEAK, cause="downstream"),
        ],
        answers,
    )
    con.execute(
        "insert into rejects values ('f00', 'a.csv', 7, 'no number', 'row left out', '=1')"
    )
    yield con
    con.close()


@pytest.fixture(scope="session")
def files_in() -> Callable[[Path], dict[str, bytes]]:
    """Return the files below a folder, by their path in it."""
    return lambda folder: {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="session")
def world() -> ModuleType:
    """The invented site of the page and chart tests."""
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).with_name("site_world.py")
    spec = importlib.util.spec_from_file_location("site_world", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def store(world: ModuleType, tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Two sites of one pump each, one of them with a finding and an id that is no file name."""
    sites = {name: world.site(site_id=name, site_name=None) for name in ("../S-02", "S-01")}
    pumps = {"P-01": world.pump(), "P-02": world.pump(pump_id="P-02", site_id="../S-02")}
    known = world.brief(pumps=[world.pump(pump_id=pump_id) for pump_id in pumps])
    with open_store(tmp_path / "fleet.duckdb") as con:
        save_register(con, Register(sites=sites, pumps=pumps))
        record_tables.ensure_tables(con)
        for one in known.pumps:
            days = tuple(day for day in one.days if day.week == one.week.week)
            record_writing.write_records(con, [PumpRecord(week=one.week, days=days, op_map=())])
        finding = world.finding(Kind.SHORT_CYCLING, "leak")
        answer_writing.write_week_findings(con, str(world.WEEK), [finding], [])
        insert_samples(con, world.samples(interval_s=10), pump_numbers(con).values())
        yield con


def insert_samples(con, samples, numbers):
    for number in numbers:
        con.execute(
            "insert into samples by name select $n as pump_no, make_timestamp(ts) as ts,"
            " p as pressure_kpa, hz as frequency_hz, a as current_a, v as voltage_v"
            " from (select unnest($ts) ts, unnest($p) p, unnest($hz) hz, unnest($a) a,"
            " unnest($v) v)",
            {
                "n": int(number),
                "ts": samples.ts_us.tolist(),
                "p": samples.pressure_kpa.tolist(),
                "hz": samples.frequency_hz.tolist(),
                "a": samples.current_a.tolist(),
                "v": samples.voltage_v.tolist(),
            },
        )
