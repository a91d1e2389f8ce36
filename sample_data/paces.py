"""Which kinds each log interval allows: the same pumps logged at several paces, judged at each.

    python -m sample_data.paces [--seed 201] [--weeks 4] [--paces 1,5,10,30,60]

makes the same pump sets once a pace, runs ``pumprounds weekly`` on each fleet and prints, by kind,
how many of the faults were found and of the sound pumps cleared, and every pump whose verdict
differs between paces by more than "not assessed". Takes several minutes; a sample a second most.
"""

import argparse
import shutil
import sys
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

from sample_data.fleet import make_fleet
from sample_data.scenario import Scenario
from sample_data.scenarios import SCENARIOS
from sample_data.score import BY_CAUSE, Row, is_active, read_rows
from sample_data.trials import ProgramError, run_program

PACES_S = (1, 5, 10, 30, 60)
SEED = 201
WEEKS = 4
PACED = (
    "tank charge lost, no leak",
    "leak with a sound tank at the interval of a dead one",
    "trickle through the day, small tank, fast ramp",
    "draw at the edge of no flow",
    "wire too thin for its length",
    "heating joint",
    "weak line of a region",
    "load rising fast",
    "load over service-factor amps, overload set above them",
    "current clipped at the overload setting",
    "small leak",
    "large leak, the pump never stops",
    "check valve leaks on two stops of three",
    "leak and night irrigation",
    "log with holes",
    "well drawn down soon, dry-run trips",
    "prime lost for a day, retries at fixed gaps",
    "one dry run of 15 s in a log of 10 s",
    "wrong rotation since the motor was changed",
    "pump end worn more every week",
    "too little pressure when the volts are low",
    "hunting, ramp too fast",
    "fan blocked, the drive slows down to stay cool",
    "pressure reading stuck high, no start",
    "current reading stuck at nothing",
    "pressure shows -1 now and then",
    "overload trips in long wash-downs",
    "trips in a log without codes",
    "pre-charge above the restart pressure",
    "night irrigation",
    "softener every fourth night",
    "reverse osmosis trickle",
    "bleed-flow waterer in frost",
    "pool fill",
    "generator in an outage",
    "vacant house",
    "hot tin pump house",
    "hydrant open for half an hour",
    "more zones open than the pump can feed",
    "pulsing demand",
)
"""Scenarios with each kind and the look-alikes that a pace could turn into it."""


@dataclass(frozen=True)
class Answer:
    """What is said of one pump and kind (of a setting: and rule) at one pace.

    ``said`` is "found", "clear", or "" where nothing is decided.
    """

    said: str
    cause: str = ""

    def agrees(self, other: "Answer") -> bool:
        """Whether both may stand: the same, or one decides nothing, or names no cause."""
        if not self.said or not other.said:
            return True
        same_cause = not self.cause or not other.cause or self.cause == other.cause
        return self.said == other.said and same_cause


Key = tuple[str, str]
"""Pump, and kind or ``setting:rule``."""


@dataclass(frozen=True)
class AtPace:
    """All answers of a fleet at one pace."""

    pace_s: int
    answers: Mapping[Key, Answer]


@dataclass(frozen=True)
class Cell:
    """One kind at one pace: faults found, missed and left open; sound pumps cleared and open."""

    n_found: int
    n_true: int
    n_cleared: int
    n_sound: int

    def text(self) -> str:
        """Faults found of those there, then pumps cleared of those without."""
        found = f"{self.n_found}/{self.n_true}" if self.n_true else "-"
        return f"{found}, {self.n_cleared}/{self.n_sound}"


def paced(scenarios: Iterable[Scenario], pace_s: float, weeks: float) -> list[Scenario]:
    """The same pumps, logged at one pace for so many weeks."""
    return [replace(scenario, intervals=((weeks, pace_s),)) for scenario in scenarios]


def read_answers(
    findings: Sequence[Row], assessments: Sequence[Row], week: str
) -> dict[Key, Answer]:
    """Answers of one week by pump and kind.

    A setting is answered rule by rule: a rule that is not among the findings is clear only where
    the assessment leaves no rule out.
    """
    answers: dict[Key, Answer] = {}
    for row in assessments:
        if row["week"] != week:
            continue
        whole = row["kind"] != BY_CAUSE or not row["reason"]
        said = row["status"] if row["status"] == "found" or whole else ""
        answers[row["pump_id"], row["kind"]] = Answer(said if said in ("found", "clear") else "")
    for row in findings:
        if row["week"] == week:
            name = f"{BY_CAUSE}:{row['cause']}" if row["kind"] == BY_CAUSE else row["kind"]
            answers[row["pump_id"], name] = Answer("found", row["cause"])
    return answers


def _answer(at: AtPace, pump_id: str, name: str) -> Answer:
    known = at.answers.get((pump_id, name))
    if known is not None or ":" not in name:
        return known or Answer("")
    whole = at.answers.get((pump_id, BY_CAUSE), Answer(""))
    return Answer("clear") if whole.said == "clear" else Answer("")


def differing(fleets: Sequence[AtPace]) -> list[tuple[str, str, str]]:
    """Pump, kind (or rule) and the verdicts of those whose verdicts do not agree."""
    keys = sorted({key for at in fleets for key in at.answers if key[1] != BY_CAUSE})
    found = []
    for pump_id, name in keys:
        said = [(at.pace_s, _answer(at, pump_id, name)) for at in fleets]
        if any(not a.agrees(b) for (_, a), (_, b) in combinations(said, 2)):
            text = ", ".join(f"{pace} s {a.said} {a.cause}".rstrip() for pace, a in said if a.said)
            found.append((pump_id, name, text))
    return found


def cell(at: AtPace, truth: Sequence[Row], week: str, kind: str) -> Cell:
    """Count one kind's answers at one pace against the truth; allowed extras count as neither."""
    sick = {row["pump_id"] for row in truth if row["kind"] == kind and is_active(row, week)}
    allowed = {
        row["pump_id"]
        for row in truth
        if kind in {part.partition(":")[0] for part in row["also_allowed"].split(";")}
    }
    pumps = {row["pump_id"] for row in truth}
    of = {pump_id: at.answers.get((pump_id, kind), Answer("")).said for pump_id in pumps}
    sound = pumps - sick - allowed
    return Cell(
        sum(of[pump_id] == "found" for pump_id in sick),
        len(sick),
        sum(of[pump_id] == "clear" for pump_id in sound),
        len(sound),
    )


def table(fleets: Sequence[AtPace], truth: Sequence[Row], week: str) -> list[str]:
    """One line a kind in Markdown: faults found, pumps cleared, pace by pace."""
    kinds = sorted({name for at in fleets for _, name in at.answers if ":" not in name})
    lines = [
        "| kind | " + " | ".join(f"{at.pace_s} s" for at in fleets) + " |",
        "|---" * (len(fleets) + 1) + "|",
    ]
    for kind in kinds:
        cells = [cell(at, truth, week, kind).text() for at in fleets]
        lines.append(f"| `{kind}` | " + " | ".join(cells) + " |")
    return lines


def run_pace(folder: Path, seed: int, pace_s: int, weeks: float, names: Sequence[str]) -> AtPace:
    """Make the fleet at one pace, run the program on it and read its answers.

    Raises
    ------
    ProgramError
        The program is not there or failed.
    """
    chosen = [scenario for scenario in SCENARIOS if scenario.name in names]
    make_fleet(folder, seed=seed, scenarios=paced(chosen, pace_s, weeks))
    run_program(folder)
    findings = read_rows(folder / "pages" / "findings.csv")
    assessments = read_rows(folder / "pages" / "assessments.csv")
    return AtPace(pace_s, read_answers(findings, assessments, assessments[0]["week"]))


def paces_text(
    fleets: Sequence[AtPace], truth: Sequence[Row], week: str, *, seed: int, weeks: float
) -> str:
    """The table and every difference, for a terminal."""
    scenario = {row["pump_id"]: row["scenario"] for row in truth}
    differences = differing(fleets)
    return "\n".join(
        [
            f"Seed {seed}, {len(scenario)} pumps, {weeks:g} weeks at each pace:"
            " faults found of those there, pumps cleared of those without.",
            "",
            *table(fleets, truth, week),
            "",
            f"Verdicts that differ: {len(differences)}",
            *(f"{name}: {scenario[pump_id]}: {text}" for pump_id, name, text in differences),
        ]
    )


def main(arguments: Sequence[str]) -> int:
    """Print the table; 0 no verdict differs, 1 one does or the program failed, 2 bad usage."""
    parser = argparse.ArgumentParser(prog="python -m sample_data.paces", description=__doc__)
    parser.add_argument("--seed", type=int, default=SEED, help=f"the seed (default {SEED})")
    parser.add_argument("--weeks", type=float, default=WEEKS, help="weeks logged (default 4)")
    parser.add_argument("--paces", default=",".join(map(str, PACES_S)), help="seconds, by commas")
    options = parser.parse_args(arguments)
    if not all(part.isdigit() and int(part) > 0 for part in options.paces.split(",")):
        parser.error("--paces: expected whole seconds such as 1,5,60")
    fleets = []
    truth: list[dict[str, str]] = []
    with tempfile.TemporaryDirectory() as scratch:
        for pace_s in (int(part) for part in options.paces.split(",")):
            folder = Path(scratch) / f"pace_{pace_s}"
            try:
                fleets.append(run_pace(folder, options.seed, pace_s, options.weeks, PACED))
            except ProgramError as error:
                sys.stderr.write(f"{error}\n")
                return 1
            truth = read_rows(folder / "truth.csv")
            week = read_rows(folder / "pages" / "assessments.csv")[0]["week"]
            shutil.rmtree(folder)
    sys.stdout.write(
        paces_text(fleets, truth, week, seed=options.seed, weeks=options.weeks) + "\n"
    )
    return 1 if differing(fleets) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
