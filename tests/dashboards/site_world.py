"""One invented site for the page and chart tests: register, a week of samples, and findings.

The samples follow a simple rhythm (a stop with a straight fall of pressure, then a run), which is
enough to draw; nothing in them is a claim about pumps.
"""

import importlib.util
from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from analysis.brief import Books, Records, brief_of_site
from analysis.brief_contents import Brief
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from analysis.records import OpMapBin
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import Scene
from ingest.installed_base import Pump, Register, Site, Visit
from ingest.samples import CHANNELS, PumpSamples
from ingest.weeks import Week


def _case_factory() -> ModuleType:
    path = Path(__file__).parents[1] / "analysis" / "case_factory.py"
    spec = importlib.util.spec_from_file_location("case_factory_for_pages", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


CASES = _case_factory()
WEEK: Week = CASES.REPORT_WEEK
PSI_KPA = CASES.PSI_KPA
RUN_S, STOP_S = 20, 40


def site(**change: Any) -> Site:
    return CASES.healthy_site(**change)


def pump(**change: Any) -> Pump:
    return CASES.healthy_pump(**change)


def samples(interval_s: int = 5, days: float = 7.0, **channels: Any) -> PumpSamples:
    """A week of a pump that runs 20 s and rests 40 s while pressure falls 60 to 55 psi."""
    from_at = CASES.healthy_week().from_at
    second = np.arange(0, int(days * 86_400), interval_s)
    phase = second % (RUN_S + STOP_S)
    running = phase >= STOP_S
    fallen = 60.0 - 5.0 * np.minimum(phase, STOP_S) / STOP_S
    psi = np.where(running, 55.0 + 5.0 * (phase - STOP_S) / RUN_S, fallen)
    evening = 6.0 * np.exp(-((((second / 3600.0) % 24) - 23.0) ** 2) / 4.0)
    idle_v = 233.0 - evening
    values: dict[str, Any] = {name: np.full(second.size, np.nan) for name in CHANNELS}
    values |= {
        "pressure_kpa": psi * PSI_KPA,
        "frequency_hz": np.where(running, 52.0, 0.0),
        "current_a": np.where(running, 5.0, 0.0),
        "voltage_v": np.where(running, idle_v - 8.0, idle_v),
    }
    values |= channels
    return PumpSamples(
        pump_id="P-01",
        ts_us=us_of(from_at) + second * 1_000_000,
        **{name: np.asarray(values[name], dtype=np.float32) for name in CHANNELS},
    )


def finding(kind: Kind, cause: str, **change: Any) -> Finding:
    week = CASES.healthy_week()
    values: dict[str, Any] = {
        "week": str(WEEK),
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": kind,
        "cause": cause,
        "severity": Severity.HIGH,
        "confidence": 0.82,
        "first_seen": week.from_at - timedelta(days=12),
        "last_seen": week.to_at - timedelta(hours=3),
        "measures": {},
        "summary": f"Invented sentence on {kind}.",
        "limit_source": "an invented limit",
        "consequence": 4,
        "state": "worse",
        "grounds": ("Seen on 7 of 7 days",),
        "alternatives": ("The detector's own alternative",),
    }
    return Finding(**(values | change))


def op_map(pump_id: str = "P-01", n_weeks: int = 6) -> list[OpMapBin]:
    """Current that climbs 2 % a week in one cell."""
    return [
        OpMapBin(
            pump_id=pump_id,
            week=str(WEEK.plus(n - n_weeks + 1)),
            frequency_bin_hz=hz,
            pressure_bin_pct=100.0,
            n=2000,
            held_s=10_000.0,
            frequency_mean_hz=hz + 1.0,
            pressure_mean_kpa=60 * PSI_KPA,
            current_mean_a=4.5 * (hz / 50.0) * 1.02**n,
            current_sd_a=0.1,
            voltage_mean_v=230.0,
        )
        for n in range(n_weeks)
        for hz in (50.0, 52.0, 54.0)
    ]


def brief(
    findings: Sequence[Finding] = (),
    *,
    of_site: Site | None = None,
    pumps: Sequence[Pump] | None = None,
    heard: Sequence[str] | None = None,
    statuses: Mapping[str, Status] | None = None,
    week_change: Mapping[str, Any] | None = None,
    visits: Sequence[Visit] = (),
    n_weeks: int = 6,
    history: Sequence[Finding] = (),
) -> Brief:
    """Brief of a site; ``heard`` names the pumps with data this week, all of them by default."""
    where = of_site or site()
    all_pumps = list(pumps) if pumps is not None else [pump(site_id=where.site_id)]
    told = [p.pump_id for p in all_pumps] if heard is None else list(heard)
    weeks, days = {}, {}
    for one in all_pumps:
        past = [WEEK.plus(n - n_weeks + 1) for n in range(n_weeks)]
        if one.pump_id not in told:
            past = past[:-2]
        weeks[one.pump_id] = [
            CASES.healthy_week(
                w,
                **{
                    "pump_id": one.pump_id,
                    "current_p95_a": 5.2 * 1.02**n,
                    "own_drop_v": 4.0 + 0.8 * n,
                    **((week_change or {}) if w == WEEK else {}),
                },
            )
            for n, w in enumerate(past)
        ]
        days[one.pump_id] = [
            day
            for n, w in enumerate(past)
            for day in CASES.healthy_days(
                w,
                every_day={
                    "pump_id": one.pump_id,
                    "n_starts": 60 + 150 * n,
                    "night_n_falls": 8,
                    "night_fall_p50_kpa_per_min": -3.0,
                    "night_leak_lpm": 0.05 * n,
                    "night_n_starts": 4,
                },
            )
        ]
    answers = {
        one.pump_id: [
            Assessment(
                week=str(WEEK),
                site_id=where.site_id,
                pump_id=one.pump_id,
                kind=kind,
                status=(statuses or {}).get(one.pump_id, Status.CLEAR),
                reason="" if not statuses else "no tank_l in the register",
            )
            for kind in Kind
        ]
        for one in all_pumps
    }
    books = Books(
        register=Register(
            sites={where.site_id: where},
            pumps={p.pump_id: p for p in all_pumps},
            visits=tuple(visits),
        ),
        week=WEEK,
        findings={where.site_id: list(findings)},
        assessments=answers,
        history=history,
    )
    records = Records(
        weeks=weeks, days=days, op_map={p.pump_id: op_map(p.pump_id, n_weeks) for p in all_pumps}
    )
    return brief_of_site(books, records, where)


def scene(of: Brief | None = None, of_samples: PumpSamples | None = None) -> Scene:
    made = of or brief()
    return Scene(
        brief=made, pump=made.pumps[0], samples=samples() if of_samples is None else of_samples
    )
