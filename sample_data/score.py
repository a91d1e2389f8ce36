"""How well a folder's findings agree with the truth of the invented fleet.

    python -m sample_data.score FOLDER

reads ``truth.csv`` and ``pages/findings.csv`` (and ``pages/assessments.csv`` where it is) below
FOLDER and prints a table per kind, then every miss and every false finding.
"""

import csv
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

Row = Mapping[str, str]
BY_CAUSE = "setting"  # of this kind a pump can have several, told apart by cause


@dataclass(frozen=True)
class KindScore:
    """How one kind was judged.

    Attributes
    ----------
    n_true, n_hits, n_misses, n_false : int
        Faults present, found, not found; findings of what is not there.
    n_nested : int
        Of the hits, those told only within another finding of the pump (its measure ``also``).
    n_cause_right : int
        Hits with a finding of their own whose cause is right.
    """

    kind: str
    n_true: int
    n_hits: int
    n_misses: int
    n_false: int
    n_nested: int
    n_cause_right: int

    @property
    def precision(self) -> float | None:
        """Hits over hits and false findings; ``None`` without any."""
        found = self.n_hits + self.n_false
        return self.n_hits / found if found else None

    @property
    def recall(self) -> float | None:
        """Hits over faults present; ``None`` without any."""
        return self.n_hits / self.n_true if self.n_true else None

    @property
    def cause_accuracy(self) -> float | None:
        """Right causes over hits with a finding of their own; ``None`` without any."""
        own = self.n_hits - self.n_nested
        return self.n_cause_right / own if own else None


@dataclass(frozen=True)
class Judged:
    """One miss, false finding or wrong cause, for whoever looks into it."""

    pump_id: str
    scenario: str
    kind: str
    text: str


@dataclass(frozen=True)
class Score:
    """The comparison of a week's findings with the truth.

    ``false_on_healthy`` are those of ``false`` on pumps that have no fault in the week.
    """

    week: str
    kinds: tuple[KindScore, ...]
    misses: tuple[Judged, ...]
    false: tuple[Judged, ...]
    wrong_causes: tuple[Judged, ...]
    high_on_healthy: tuple[Judged, ...]
    false_on_healthy: tuple[Judged, ...]
    n_sick: int
    n_healthy: int


def week_span(week: str) -> tuple[date, date]:
    """First and last day of an ISO week such as ``2026-W47``."""
    year, number = week.split("-W")
    monday = date.fromisocalendar(int(year), int(number), 1)
    return monday, monday + timedelta(days=6)


def is_active(row: Row, week: str) -> bool:
    """Whether a truth row's fault was there at some time of the week."""
    first, last = week_span(week)
    if not row["kind"]:
        return False
    began, ended = row["began_on"], row["ended_on"]
    return (not began or date.fromisoformat(began) <= last) and (
        not ended or date.fromisoformat(ended) > first
    )


def _key(row: Row) -> tuple[str, str, str]:
    cause = row["cause"] if row["kind"] == BY_CAUSE else ""
    return row["pump_id"], row["kind"], cause


def _nested(found: Sequence[Row]) -> set[tuple[str, str]]:
    """Pump and kind of what a finding names as its consequence, in the measure ``also``."""
    return {
        (row["pump_id"], str(kind))
        for row in found
        for kind in json.loads(row.get("measures") or "{}").get("also") or ()
    }


def _is_allowed(finding: Row, rows: Sequence[Row]) -> bool:
    named = {part for row in rows for part in row["also_allowed"].split(";") if part}
    return bool({finding["kind"], f"{finding['kind']}:{finding['cause']}"} & named)


def score(
    truth: Sequence[Row], findings: Sequence[Row], week: str, judged_kinds: Sequence[str] = ()
) -> Score:
    """Compare findings with the truth.

    Parameters
    ----------
    truth : sequence of mapping
        Rows of ``truth.csv``.
    findings : sequence of mapping
        Rows of ``findings.csv``; those of other weeks are left out.
    week : str
        The ISO week reported.
    judged_kinds : sequence of str
        Kinds that are judged at all; empty: those of the truth and the findings.

    Returns
    -------
    Score
    """
    found = [row for row in findings if row["week"] == week]
    kinds = sorted(judged_kinds or {r["kind"] for r in [*truth, *found] if r["kind"]})
    active = [row for row in truth if is_active(row, week) and row["kind"] in kinds]
    by_pump: dict[str, list[Row]] = {}
    for row in truth:
        by_pump.setdefault(row["pump_id"], []).append(row)
    found_by_key = {_key(row): row for row in found}
    active_keys = {_key(row) for row in active}
    within = _nested(found)
    misses, wrong, false, nested = [], [], [], []
    for row in active:
        match = found_by_key.get(_key(row))
        if match is None and (row["pump_id"], row["kind"]) in within:
            nested.append(_judged(row, row["cause"]))
        elif match is None:
            misses.append(_judged(row, f"{row['cause']} {row['size']}".strip()))
        elif match["cause"] != row["cause"]:
            wrong.append(_judged(row, f"{row['cause']}, found as {match['cause'] or 'no cause'}"))
    for row in found:
        rows = by_pump.get(row["pump_id"], [])
        if _key(row) not in active_keys and not _is_allowed(row, rows) and row["kind"] in kinds:
            text = f"{row['cause']}: {row.get('summary', '')}"
            false.append(
                Judged(row["pump_id"], rows[0]["scenario"] if rows else "", row["kind"], text)
            )
    sick = {row["pump_id"] for row in truth if is_active(row, week)}
    high = [
        Judged(r["pump_id"], by_pump[r["pump_id"]][0]["scenario"], r["kind"], r["cause"])
        for r in found
        if r.get("severity") == "high" and r["pump_id"] in by_pump and r["pump_id"] not in sick
    ]
    return Score(
        week,
        tuple(_kind_score(kind, active, misses, false, wrong, nested) for kind in kinds),
        tuple(misses),
        tuple(false),
        tuple(wrong),
        tuple(high),
        tuple(item for item in false if item.pump_id in by_pump and item.pump_id not in sick),
        len(sick),
        len(by_pump) - len(sick),
    )


def _judged(row: Row, text: str) -> Judged:
    return Judged(row["pump_id"], row["scenario"], row["kind"], text)


def _kind_score(
    kind: str,
    active: Sequence[Row],
    misses: Sequence[Judged],
    false: Sequence[Judged],
    wrong: Sequence[Judged],
    nested: Sequence[Judged],
) -> KindScore:
    n_true = sum(row["kind"] == kind for row in active)
    n_misses = sum(item.kind == kind for item in misses)
    n_wrong = sum(item.kind == kind for item in wrong)
    hits = n_true - n_misses
    n_false = sum(item.kind == kind for item in false)
    n_nested = sum(item.kind == kind for item in nested)
    right = hits - n_nested - n_wrong
    return KindScore(kind, n_true, hits, n_misses, n_false, n_nested, right)


def read_rows(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file with a header."""
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def score_folder(folder: Path, pages: str = "pages") -> Score:
    """Score the findings below a folder against its truth.

    The week is the last one in ``assessments.csv``, or in the findings where there is none; only
    kinds that the assessments list are scored.
    """
    truth, findings = read_rows(folder / "truth.csv"), read_rows(folder / pages / "findings.csv")
    listed = folder / pages / "assessments.csv"
    assessed = read_rows(listed) if listed.exists() else []
    weeks = sorted({row["week"] for row in [*assessed, *findings]})
    week = weeks[-1] if weeks else "2026-W47"
    return score(truth, findings, week, sorted({row["kind"] for row in assessed}))


def _share(value: float | None) -> str:
    return "   -" if value is None else f"{value:4.2f}"


def score_text(result: Score) -> str:
    """The score as a table and lists, for a terminal."""
    lines = [
        f"Week {result.week}: {result.n_sick} pumps with faults, {result.n_healthy} without.",
        "",
        f"{'kind':<17}{'true':>5}{'hits':>6}{'misses':>8}{'false':>7}"
        f"{'precision':>11}{'recall':>8}{'cause':>7}",
    ]
    lines += [
        f"{k.kind:<17}{k.n_true:>5}{k.n_hits:>6}{k.n_misses:>8}{k.n_false:>7}"
        f"{_share(k.precision):>11}{_share(k.recall):>8}{_share(k.cause_accuracy):>7}"
        for k in result.kinds
    ]
    lines += ["", f"High findings on healthy pumps: {len(result.high_on_healthy)}"]
    for title, items in (
        ("Missed", result.misses),
        ("False", result.false),
        ("Wrong cause", result.wrong_causes),
        ("High on a healthy pump", result.high_on_healthy),
    ):
        lines += [
            f"{title}: {item.pump_id} {item.kind} ({item.scenario}): {item.text}" for item in items
        ]
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> int:
    """Print the score of a folder; 0 done, 1 a file is missing, 2 bad usage."""
    if len(arguments) != 1:
        sys.stderr.write("usage: python -m sample_data.score FOLDER\n")
        return 2
    try:
        result = score_folder(Path(arguments[0]))
    except OSError as error:
        sys.stderr.write(f"{error.filename}: cannot be read: {error.strerror}.\n")
        return 1
    sys.stdout.write(score_text(result) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
