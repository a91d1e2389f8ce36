"""A year of an invented fleet, made at the level of weekly answers instead of samples.

200 pumps, 52 weeks: which kind was found, clear or could not be judged on which pump in which
week, and the visits that followed. No samples stand behind it: it is for what looks at many pumps
over many weeks. Built into it, with the truth in ``TRUTH``: a crew whose tanks lose their charge,
in all regions and with all models; a model that runs into its margin and stands in one region
only, where hardly another model stands; a wave of small steady demand in the irrigation months;
and a fleet that grows by two thirds, with faults that were there when a pump joined.

All names are invented.
"""

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

N_PUMPS = 200
N_WEEKS = 52
N_FROM_START = 120
LAST_MONDAY = date(2026, 11, 16)

CREWS = ("Crew Alder", "Crew Birch", "Crew Cedar", "Crew Dogwood", "Crew Elm")
MODELS = ("Rill 20", "Rill 30", "Beck 15", "Beck 25", "Weir 40")
REGIONS = ("Ash Vale", "Brook End", "Combe", "Dale Head", "Eastmoor")
BAD_CREW, BAD_MODEL, BAD_REGION = "Crew Elm", "Weir 40", "Eastmoor"
TRUTH: Mapping[str, str] = {
    "bad installer": BAD_CREW,
    "bad model": BAD_MODEL,
    "region of the bad model": BAD_REGION,
}

KINDS = ("short_cycling", "undervoltage", "overload_margin", "leak", "data_gap", "setting")
IRRIGATION_WEEKS = range(20, 37)  # of the calendar year
SHARE_IRRIGATING = 0.4
SHARE_NOT_JUDGED = 0.03

_CHANCE_A_WEEK = {  # that a fault begins, by kind and cause
    ("short_cycling", "tank_charge_lost"): 0.003,
    ("short_cycling", "low_demand"): 0.0008,
    ("undervoltage", "supply_source"): 0.0015,
    ("overload_margin", "rising_load"): 0.0015,
    ("leak", "downstream"): 0.003,
    ("data_gap", ""): 0.004,
    ("setting", "ramp"): 0.0005,
}
_WORSE_BY_CREW, _WORSE_BY_MODEL, _WORSE_BY_IRRIGATION = 6.0, 8.0, 25.0
_SHARE_THERE_AT_START = 0.02
_CONSEQUENCE = {
    "short_cycling": 3,
    "undervoltage": 3,
    "overload_margin": 3,
    "leak": 2,
    "data_gap": 1,
    "setting": 1,
}


@dataclass(frozen=True)
class Year:
    """A year as rows: ``sites``, ``pumps`` and ``visits`` as in the register, and ``answers``.

    An answer has ``week`` (2026-W47), ``site_id``, ``pump_id``, ``kind``, ``status`` and, where
    found, ``cause``, ``consequence``, ``confidence`` and ``starts_per_day``.
    """

    sites: list[dict[str, Any]]
    pumps: list[dict[str, Any]]
    visits: list[dict[str, Any]]
    answers: list[dict[str, Any]]


def make_year(seed: int = 47) -> Year:
    """Make the year; the same seed makes the same year."""
    rng = np.random.default_rng(seed)
    sites, pumps = [], []
    visits: list[dict[str, Any]] = []
    answers: list[dict[str, Any]] = []
    for n in range(N_PUMPS):
        site, pump = _pump(n, rng)
        sites.append(site)
        pumps.append(pump)
        joined = 0 if n < N_FROM_START else int(rng.integers(1, N_WEEKS - 2))
        for kind in KINDS:
            rows = _of_kind(kind, site, pump, joined, rng)
            answers.extend(rows)
            visits.extend(_visits(rows, rng))
    visits.sort(key=lambda row: (row["visited_on"], row["pump_id"], row["kind"]))
    return Year(sites=sites, pumps=pumps, visits=visits, answers=answers)


def write_year(folder: Path, seed: int = 47) -> None:
    """Write the year as ``sites.csv``, ``pumps.csv``, ``visits.csv`` and ``answers.csv``."""
    folder.mkdir(parents=True, exist_ok=True)
    year = make_year(seed)
    for name in ("sites", "pumps", "visits", "answers"):
        rows = getattr(year, name)
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def _pump(n: int, rng: np.random.Generator) -> tuple[dict[str, Any], dict[str, Any]]:
    """One site with one pump; the bad model stands in its own region and hardly elsewhere."""
    region = REGIONS[n % len(REGIONS)]
    is_bad_model = region == BAD_REGION and rng.random() < 0.95
    model = BAD_MODEL if is_bad_model else MODELS[int(rng.integers(0, len(MODELS) - 1))]
    days_old = int(rng.integers(60, 3650))
    site = {
        "site_id": f"S-{n:03d}",
        "site_name": f"Invented site {n}",
        "timezone": "America/New_York",
        "region": region,
        "installer": CREWS[int(rng.integers(0, len(CREWS)))],
    }
    pump = {
        "pump_id": f"P-{n:03d}",
        "site_id": site["site_id"],
        "pump_model": model,
        "installed_on": (LAST_MONDAY - timedelta(days=days_old)).isoformat(),
        "is_irrigating": bool(rng.random() < SHARE_IRRIGATING),
    }
    return site, pump


def _of_kind(
    kind: str,
    site: Mapping[str, Any],
    pump: Mapping[str, Any],
    joined: int,
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Answers of one pump and kind, week by week from the one it joined in."""
    rows = []
    cause, left = "", 0
    for n in range(joined, N_WEEKS):
        monday = LAST_MONDAY + timedelta(weeks=n - N_WEEKS + 1)
        if left == 0:
            cause, left = _begins(kind, site, pump, monday, n == joined, rng)
        row: dict[str, Any] = {
            "week": "{}-W{:02d}".format(*monday.isocalendar()[:2]),
            "monday": monday.isoformat(),
            "site_id": site["site_id"],
            "pump_id": pump["pump_id"],
            "kind": kind,
            "status": "clear",
        }
        if left:
            row |= {
                "status": "found",
                "cause": cause,
                "consequence": _CONSEQUENCE[kind],
                "confidence": round(float(rng.uniform(0.6, 0.95)), 2),
                "starts_per_day": int(rng.integers(300, 900)),
            }
            left -= 1
        elif rng.random() < SHARE_NOT_JUDGED:
            row["status"] = "not_assessed"
        rows.append(row)
    return rows


def _begins(
    kind: str,
    site: Mapping[str, Any],
    pump: Mapping[str, Any],
    monday: date,
    is_first: bool,
    rng: np.random.Generator,
) -> tuple[str, int]:
    """Cause and length in weeks of a fault that begins now, or "" and 0."""
    for (of_kind, cause), usual in _CHANCE_A_WEEK.items():
        if of_kind != kind:
            continue
        chance = usual
        if cause == "tank_charge_lost" and site["installer"] == BAD_CREW:
            chance *= _WORSE_BY_CREW
        if cause == "rising_load" and pump["pump_model"] == BAD_MODEL:
            chance *= _WORSE_BY_MODEL
        is_season = monday.isocalendar()[1] in IRRIGATION_WEEKS
        if cause == "low_demand" and is_season and pump["is_irrigating"]:
            chance *= _WORSE_BY_IRRIGATION
        if is_first:
            chance += _SHARE_THERE_AT_START
        if rng.random() < chance:
            return cause, int(rng.integers(2, 8))
    return "", 0


def _visits(rows: list[dict[str, Any]], rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    """Visits that followed: most faults are fixed at their end, some are not found."""
    for now, after in pairwise(rows):
        if now["status"] != "found" or now["kind"] == "setting" or rng.random() < 0.3:
            continue
        is_end = after["status"] != "found"
        outcome = "fixed" if is_end else "not_found" if rng.random() < 0.03 else ""
        if outcome:
            yield {
                "visited_on": (
                    date.fromisoformat(now["monday"]) + timedelta(days=int(rng.integers(0, 5)))
                ).isoformat(),
                "site_id": now["site_id"],
                "pump_id": now["pump_id"],
                "kind": now["kind"],
                "outcome": outcome,
                "found": now["cause"].replace("_", " ") if outcome == "fixed" else "",
                "done": "put right" if outcome == "fixed" else "",
            }
