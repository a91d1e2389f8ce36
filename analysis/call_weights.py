"""Every weight of the call list, once, and how a company sets its own.

A weight that a company changes stands in a TOML file given with ``--weights``:

    [trend]
    worse = 1.4
    [who]
    critical = 1.6
    [limit]
    visit_confidence = 0.4

What is not named keeps its value. The floor is no weight: no water, fire or burst is never below
"phone today", whatever the file says.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ingest.errors import WeightsError


@dataclass(frozen=True, kw_only=True)
class Weight:
    """One weight: its value, unit and source as of a limit, and between what it may be set."""

    value: float
    low: float
    high: float
    unit: str
    source: str


TABLE: Mapping[str, Weight] = {
    "trend.better": Weight(
        value=0.8, low=0.1, high=5, unit="x", source="ours: it can wait a little, it is not gone"
    ),
    "trend.same": Weight(
        value=1.0, low=0.1, high=5, unit="x", source="ours: the measure of the others"
    ),
    "trend.worse": Weight(
        value=1.25,
        low=0.1,
        high=5,
        unit="x",
        source="ours: a growing fault costs more next week than this",
    ),
    "trend.new": Weight(
        value=1.25, low=0.1, high=5, unit="x", source="ours: nobody has looked at it yet"
    ),
    "trend.back": Weight(
        value=1.5,
        low=0.1,
        high=5,
        unit="x",
        source="ours: a second visit for one fault is at the company's cost",
    ),
    "who.ordinary": Weight(
        value=1.0, low=0.1, high=5, unit="x", source="ours: the measure of the others"
    ),
    "who.important": Weight(
        value=1.2, low=0.1, high=5, unit="x", source="ours: stock or a trade stands still with it"
    ),
    "who.critical": Weight(
        value=1.5,
        low=0.1,
        high=5,
        unit="x",
        source="ours: clinic, school, a village's only source",
    ),
    "others.share": Weight(
        value=0.05,
        low=0,
        high=1,
        unit="of its score",
        source="ours: what else a site has breaks ties only",
    ),
    "others.most": Weight(
        value=0.2,
        low=0,
        high=2,
        unit="score",
        source="ours: ten trifles stay under one serious finding",
    ),
    "limit.go_today_confidence": Weight(
        value=0.6, low=0, high=1, unit="confidence", source="ours: below it a call comes first"
    ),
    "limit.visit_confidence": Weight(
        value=0.5,
        low=0,
        high=1,
        unit="confidence",
        source="ours: below it half of the trips would be wasted",
    ),
    "limit.this_week_score": Weight(
        value=3.0,
        low=0,
        high=10,
        unit="score",
        source="ours: wear that is likely and new, worse or back",
    ),
    "limit.utility_call_sites": Weight(
        value=3,
        low=2,
        high=100,
        unit="sites of a region",
        source="ours: two sites low at once may be chance",
    ),
    "limit.riders": Weight(
        value=2,
        low=0,
        high=20,
        unit="sites beside an urgent one",
        source="ours: two short stops fit beside a day's urgent job",
    ),
}
"""Weights by the name they have in the file: table and key."""


@dataclass(frozen=True)
class Weights:
    """The weights in force: the table's, and over them what the company set."""

    own: Mapping[str, float] = field(default_factory=dict)

    def __getitem__(self, name: str) -> float:
        return self.own.get(name, TABLE[name].value)

    def of(self, table: str, name: str | None, otherwise: str) -> float:
        """Weight of a row of one table; one that is not there counts as ``otherwise``."""
        key = f"{table}.{name}"
        return self[key if key in TABLE else f"{table}.{otherwise}"]


DEFAULT_WEIGHTS = Weights()


def read_weights(path: Path) -> Weights:
    """Read a company's own weights.

    Raises
    ------
    WeightsError
        The file is no TOML, or names or values in it cannot be used; all are listed at once.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WeightsError(f"{path}: is no TOML: {error}.") from error
    own: dict[str, float] = {}
    problems: list[str] = []
    for table, rows in tables.items():
        if not isinstance(rows, dict):
            problems.append(f"{table} stands in no table, expected it under {_tables_text()}.")
            continue
        for key, value in rows.items():
            name = f"{table}.{key}"
            problem = _problem(name, value)
            if problem:
                problems.append(problem)
            else:
                own[name] = float(value)
    if problems:
        raise WeightsError(f"{path}: " + " ".join(problems) + " Nothing was ranked.")
    return Weights(own)


def _problem(name: str, value: object) -> str:
    if name not in TABLE:
        table = name.partition(".")[0]
        known = [key for key in TABLE if key.startswith(f"{table}.")] or [_tables_text()]
        return f"{name} is no weight, expected one of {', '.join(known)}."
    weight = TABLE[name]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not weight.low <= float(str(value)) <= weight.high:
        return f"{name} is {value!r}, expected a number from {weight.low:g} to {weight.high:g}."
    return ""


def _tables_text() -> str:
    return ", ".join(f"[{table}]" for table in dict.fromkeys(k.partition(".")[0] for k in TABLE))
