"""Make the invented fleet: plan its sites, simulate its pumps, write register, logs and truth."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

import numpy as np

from sample_data.build import Truth, build_pump
from sample_data.catalogue import PumpSet
from sample_data.demand import Calendar, make_calendar
from sample_data.log_files import write_site_logs
from sample_data.plant import Floats
from sample_data.profiles import write_profiles
from sample_data.register import (
    PUMP_COLUMNS,
    SITE_COLUMNS,
    VISIT_COLUMNS,
    SiteRow,
    code_rows,
    curve_rows,
    pump_row,
    site_rows,
    write_table,
)
from sample_data.sampling import record
from sample_data.scenario import Scenario
from sample_data.scenarios import SCENARIOS
from sample_data.supply import MINUTE_S, source_volts

TOGETHER = ("twin", "duplex")  # sites whose two rows are one pump set, or one water system
PAIRED_SHARE = 0.85  # of the pumps that may stand anywhere share a site with another
SITE_STREAM, PUMP_STREAM, LOG_STREAM, PLAN_STREAM = 1, 2, 3, 4


@dataclass(frozen=True)
class PlannedSite:
    """A site with the scenarios of its pumps and their ids."""

    n: int
    site_id: str
    place: str
    pumps: tuple[tuple[str, int, Scenario], ...]  # pump id, number in the table, scenario


def make_fleet(
    folder: Path,
    seed: int = 47,
    weeks: int = 6,
    last_week: str = "2026-W47",
    scenarios: Sequence[Scenario] = SCENARIOS,
) -> None:
    """Write an invented fleet into a folder; the same arguments give the same bytes.

    Parameters
    ----------
    folder : Path
        Gets ``register/*.csv``, ``logs/**``, ``profiles/*.toml`` and ``truth.csv``.
    seed : int
        Varies everything that the scenarios leave open.
    weeks : int
        Logged ISO weeks.
    last_week : str
        The last of them, such as ``2026-W47``.
    scenarios : sequence of Scenario
        The pumps to make.
    """
    plan = plan_sites(scenarios, seed)
    rows = site_rows([(site.site_id, site.place) for site in plan], _rng(seed, PLAN_STREAM, 1))
    for sub in ("register", "logs", "profiles"):
        (folder / sub).mkdir(parents=True, exist_ok=True)
    pump_rows: list[dict[str, str]] = []
    truths: list[Truth] = []
    models: set[str] = set()
    for site in plan:
        cal = make_calendar(last_week, weeks, rows[site.site_id].timezone)
        built = [_build(site, pump, cal, seed) for pump in site.pumps]
        pumps = [pump for pump, _ in built]
        for n, (pump, truth) in enumerate(built):
            pump_rows.append(
                pump_row(pump, site.place == "eu", _rng(seed, PLAN_STREAM, 2, site.n, n))
            )
            truths += truth
            models.add(pump.model.pump_model)
        write_site_logs(folder / "logs", site.n, pumps, _records(site, pumps, seed))
    write_profiles(folder / "profiles")
    visits = _visits(truths, {s.name: s.visit for s in scenarios if s.visit})
    _write_register(folder / "register", rows, pump_rows, models, visits)
    write_table(
        folder / "truth.csv",
        [f.name for f in fields(Truth)],
        (asdict(truth) for truth in sorted(truths, key=lambda t: (t.pump_id, t.kind, t.cause))),
    )


def _rng(seed: int, *key: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence([seed, *key]))


def plan_sites(scenarios: Sequence[Scenario], seed: int) -> list[PlannedSite]:
    """Put the scenarios on sites in an order that tells nothing."""
    rng = _rng(seed, PLAN_STREAM)
    groups: list[list[int]] = []
    named: dict[str, list[int]] = {}
    free: dict[tuple[str, int], list[int]] = {}
    for n, scenario in enumerate(scenarios):
        if scenario.site == "alone":
            groups.append([n])
        elif scenario.site:
            named.setdefault(scenario.site, []).append(n)
        else:
            free.setdefault((scenario.place, scenario.supply_volts or 230), []).append(n)
    groups += named.values()
    for key in sorted(free):
        order = [int(i) for i in rng.permutation(free[key])]
        paired = 2 * int(PAIRED_SHARE * len(order) / 2)
        groups += [order[i : i + 2] for i in range(0, paired, 2)]
        groups += [[number] for number in order[paired:]]
    return _with_ids(scenarios, groups, rng)


def _with_ids(
    scenarios: Sequence[Scenario], groups: list[list[int]], rng: np.random.Generator
) -> list[PlannedSite]:
    site_ids = sorted(int(i) for i in rng.choice(np.arange(100, 1000), len(groups), False))
    pump_ids = rng.choice(np.arange(1000, 10000), len(scenarios), False)
    order = rng.permutation(len(groups))
    sites, taken = [], 0
    for n, group_n in enumerate(order):
        pumps = []
        for number in groups[group_n]:
            pumps.append((f"P-{pump_ids[taken]}", number, scenarios[number]))
            taken += 1
        place = pumps[0][2].place
        sites.append(PlannedSite(n, f"S-{site_ids[n]}", place, tuple(pumps)))
    return sites


def _build(
    site: PlannedSite, planned: tuple[str, int, Scenario], cal: Calendar, seed: int
) -> tuple[PumpSet, list[Truth]]:
    pump_id, number, scenario = planned
    key = site.pumps[0][1] if scenario.site in TOGETHER else number
    return build_pump(scenario, (pump_id, site.site_id), cal, _rng(seed, PUMP_STREAM, key))


def _records(
    site: PlannedSite, pumps: Sequence[PumpSet], seed: int
) -> Iterator[dict[str, Floats]]:
    """The logs of a site's pumps, which share its source volts."""
    rng = _rng(seed, SITE_STREAM, site.n)
    cal, nominal = pumps[0].cal, pumps[0].supply_volts
    hours = cal.local_hour(np.arange(0.0, cal.length_s + MINUTE_S, MINUTE_S))
    levels = [scenario.level_share for _, _, scenario in site.pumps if scenario.level_share]
    level = levels[0] if levels else float(rng.uniform(1.004, 1.028))
    volts = source_volts(
        rng,
        hours,
        nominal,
        level,
        tuple(sag for pump in pumps for sag in pump.sags),
        tuple(run for pump in pumps for run in pump.generators),
    )
    for (_, number, scenario), pump in zip(site.pumps, pumps, strict=True):
        water = site.pumps[0][1] if scenario.site in TOGETHER else number
        yield record(
            pump,
            volts,
            np.random.SeedSequence([seed, PUMP_STREAM, water, 1]),
            np.random.SeedSequence([seed, LOG_STREAM, number]),
        )


def _write_register(
    folder: Path,
    sites: dict[str, SiteRow],
    pumps: list[dict[str, str]],
    models: set[str],
    visits: list[dict[str, str]],
) -> None:
    write_table(folder / "sites.csv", SITE_COLUMNS, (asdict(sites[key]) for key in sorted(sites)))
    write_table(folder / "pumps.csv", PUMP_COLUMNS, sorted(pumps, key=lambda row: row["pump_id"]))
    write_table(
        folder / "curves.csv",
        ("pump_model", "flow_lpm", "head_m", "efficiency_pct", "shaft_kw"),
        curve_rows(models),
    )
    write_table(
        folder / "fault_codes.csv", ("controller_model", "fault_code", "meaning"), code_rows()
    )
    write_table(folder / "visits.csv", VISIT_COLUMNS, visits)


def _visits(truths: Sequence[Truth], known: Mapping[str, tuple[str, str]]) -> list[dict[str, str]]:
    """Past visits: what scenarios tell of, leaks fixed, and a few from before the log."""
    rows = []
    for truth in truths:
        if truth.ended_on and truth.kind == "leak":
            rows.append(
                (
                    truth.ended_on,
                    truth,
                    truth.kind,
                    "fixed",
                    "leaking fill valve",
                    "fill valve renewed",
                )
            )
        if truth.scenario in known:
            rows.append((truth.began_on, truth, "", "", *known[truth.scenario]))
    healthy = sorted((t for t in truths if t.scenario == "healthy"), key=lambda t: t.pump_id)
    for n, truth in enumerate(healthy[:4]):
        found = ("nothing wrong", "tank charge 12 psi low")[n % 2]
        done = ("settings noted", "charged to specification")[n % 2]
        kind = ("leak", "short_cycling")[n % 2]
        rows.append(
            (f"2026-0{5 + n}-1{n}", truth, kind, ("not_found", "fixed")[n % 2], found, done)
        )
    columns = [
        dict(
            zip(
                VISIT_COLUMNS, (day, t.site_id, t.pump_id, kind, outcome, found, done), strict=True
            )
        )
        for day, t, kind, outcome, found, done in rows
    ]
    return sorted(columns, key=lambda row: (row["visited_on"], row["pump_id"]))
