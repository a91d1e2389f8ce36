"""How far confidences and sizes in the findings can be trusted, judged by the truth."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from statistics import median

from sample_data.score import Row, Score, is_active, read_rows

BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
SIZES = ("leak_lpm", "loop_resistance_ohm")


@dataclass(frozen=True)
class Verdict:
    """One finding and whether it is right.

    Attributes
    ----------
    is_right : bool or None
        Whether a fault of the kind is there; ``None`` where the truth merely allows it.
    is_cause_right : bool
        Whether its cause is right as well.
    sizes : tuple of (str, float, float)
        Sizes told, each with its name in ``SIZES`` and the true one.
    """

    pump_id: str
    kind: str
    confidence: float
    is_right: bool | None
    is_cause_right: bool
    sizes: tuple[tuple[str, float, float], ...] = ()


@dataclass(frozen=True)
class Bin:
    """The findings of one band of confidence."""

    low: float
    high: float
    n: int
    mean_confidence: float
    share_right: float
    share_cause_right: float


def verdicts(truth: Sequence[Row], findings: Sequence[Row], result: Score) -> list[Verdict]:
    """Judge every finding of the scored week.

    Parameters
    ----------
    truth, findings : sequence of mapping
        Rows of ``truth.csv`` and ``findings.csv``.
    result : Score
        Their comparison: what it calls false is wrong here too.
    """
    false = {(item.pump_id, item.kind, item.text) for item in result.false}
    kinds = {kind.kind for kind in result.kinds}
    active = [row for row in truth if is_active(row, result.week)]
    judged = []
    for row in findings:
        if row["week"] != result.week or row["kind"] not in kinds:
            continue
        there = [
            fault
            for fault in active
            if (fault["pump_id"], fault["kind"]) == (row["pump_id"], row["kind"])
        ]
        is_cause_right = any(fault["cause"] == row["cause"] for fault in there)
        text = f"{row['cause']}: {row.get('summary', '')}"
        is_false = (row["pump_id"], row["kind"], text) in false
        is_right = False if is_false else True if there else None
        sizes = _sizes(row, there)
        judged.append(
            Verdict(
                row["pump_id"],
                row["kind"],
                float(row["confidence"]),
                is_right,
                is_cause_right,
                sizes,
            )
        )
    return judged


def _sizes(finding: Row, there: Sequence[Row]) -> tuple[tuple[str, float, float], ...]:
    told = json.loads(finding.get("measures") or "{}")
    return tuple(
        (name, float(told[name]), float(fault[name]))
        for fault in there
        for name in SIZES
        if fault.get(name) and told.get(name) is not None
    )


def reliability(judged: Sequence[Verdict], edges: Sequence[float] = BINS) -> list[Bin]:
    """Hit rate by band of confidence; bands without findings are left out.

    A band holds its lower edge, the last one its upper edge too.
    """
    bins = []
    for low, high in pairwise(edges):
        here = [
            item
            for item in judged
            if item.is_right is not None
            and (low <= item.confidence < high or item.confidence == high == edges[-1])
        ]
        if here:
            n = len(here)
            bins.append(
                Bin(
                    low,
                    high,
                    n,
                    sum(item.confidence for item in here) / n,
                    sum(bool(item.is_right) for item in here) / n,
                    sum(bool(item.is_right) and item.is_cause_right for item in here) / n,
                )
            )
    return bins


def brier(judged: Sequence[Verdict]) -> float | None:
    """Mean square of confidence less outcome, 0 best; ``None`` without findings.

    Brier 1950, for two classes.
    """
    known = [item for item in judged if item.is_right is not None]
    if not known:
        return None
    return sum((item.confidence - float(bool(item.is_right))) ** 2 for item in known) / len(known)


def size_errors_pct(judged: Sequence[Verdict], name: str) -> list[float]:
    """Errors of the sizes told, over the true ones, in order of size [%]."""
    return sorted(
        abs(told - true) / true * 100
        for item in judged
        for size, told, true in item.sizes
        if size == name and true > 0
    )


def median_or_none(values: Sequence[float]) -> float | None:
    """Median; ``None`` of nothing."""
    return median(values) if values else None


def read_verdicts(folder: Path, result: Score, pages: str = "pages") -> list[Verdict]:
    """Judge the findings below a scored folder."""
    findings = read_rows(folder / pages / "findings.csv")
    return verdicts(read_rows(folder / "truth.csv"), findings, result)
