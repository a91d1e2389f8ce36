"""How well the program finds what was built into fleets of several seeds.

    python -m sample_data.trials --seeds 5 [--first 101] [--keep FOLDER]

makes a fleet per seed, runs ``pumprounds weekly`` on it, scores it, and prints one table per kind
with the worst seed, false findings per 100 healthy pump-weeks, errors of leak size and loop
resistance, the average precision of the call list by consequence, and how often findings of a
given confidence are right. Takes a minute or two a seed.
"""

import argparse
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sample_data.fleet import make_fleet
from sample_data.list_order import ListOrder, read_list_order
from sample_data.reliability import (
    Verdict,
    brier,
    median_or_none,
    read_verdicts,
    reliability,
    size_errors_pct,
)
from sample_data.score import KindScore, Score, score_folder

FIRST_SEED = 101  # far from those of the demo and the tests
SIZE_NAMES = {"leak_lpm": "leak size", "loop_resistance_ohm": "loop resistance"}


@dataclass(frozen=True)
class Trial:
    """One seed's fleet, scored."""

    seed: int
    score: Score
    verdicts: tuple[Verdict, ...]
    order: ListOrder


class ProgramError(Exception):
    """The program is not there, or did not do its work."""


def f1(kind: KindScore) -> float | None:
    """Harmonic mean of precision and recall; ``None`` where neither faults nor findings are."""
    all_three = 2 * kind.n_hits + kind.n_misses + kind.n_false
    return 2 * kind.n_hits / all_three if all_three else None


def together(kinds: Sequence[KindScore]) -> KindScore:
    """Several seeds' scores of one kind as one."""
    return KindScore(
        kinds[0].kind,
        sum(k.n_true for k in kinds),
        sum(k.n_hits for k in kinds),
        sum(k.n_misses for k in kinds),
        sum(k.n_false for k in kinds),
        sum(k.n_nested for k in kinds),
        sum(k.n_cause_right for k in kinds),
    )


def by_kind(trials: Sequence[Trial]) -> dict[str, list[tuple[int, KindScore]]]:
    """Scores by kind, each with its seed."""
    kinds: dict[str, list[tuple[int, KindScore]]] = {}
    for trial in trials:
        for kind in trial.score.kinds:
            kinds.setdefault(kind.kind, []).append((trial.seed, kind))
    return dict(sorted(kinds.items()))


def worst(scores: Sequence[tuple[int, KindScore]]) -> tuple[int, float] | None:
    """The seed with the least F1 and that F1; the first of equals."""
    known = [(value, seed) for seed, kind in scores if (value := f1(kind)) is not None]
    if not known:
        return None
    value, seed = min(known)
    return seed, value


def false_per_100(trials: Sequence[Trial]) -> tuple[float, float]:
    """False findings, and high ones, per 100 weeks of a pump that is healthy."""
    weeks = sum(trial.score.n_healthy for trial in trials)
    false = sum(len(trial.score.false_on_healthy) for trial in trials)
    high = sum(len(trial.score.high_on_healthy) for trial in trials)
    return (100 * false / weeks, 100 * high / weeks) if weeks else (0.0, 0.0)


def _share(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def kind_table(trials: Sequence[Trial]) -> list[str]:
    """All seeds together by kind, with the worst seed beside."""
    lines = [
        f"{'kind':<17}{'true':>5}{'hits':>6}{'misses':>8}{'false':>7}{'F1':>6}{'cause':>7}"
        f"  worst seed"
    ]
    for name, scores in by_kind(trials).items():
        whole, least = together([kind for _, kind in scores]), worst(scores)
        beside = "-" if least is None else f"{least[0]} (F1 {least[1]:.2f})"
        lines.append(
            f"{name:<17}{whole.n_true:>5}{whole.n_hits:>6}{whole.n_misses:>8}{whole.n_false:>7}"
            f"{_share(f1(whole)):>6}{_share(whole.cause_accuracy):>7}  {beside}"
        )
    return lines


def misses_table(trials: Sequence[Trial]) -> list[str]:
    """What was missed, false or given a wrong cause, by scenario, the most frequent first."""
    counts: dict[tuple[str, str, str], list[int]] = {}
    for trial in trials:
        for title, items in (
            ("missed", trial.score.misses),
            ("false", trial.score.false),
            ("cause", trial.score.wrong_causes),
        ):
            for item in items:
                counts.setdefault((title, item.kind, item.scenario), []).append(trial.seed)
    order = sorted(counts.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return [
        f"{len(seeds)} x {title} {kind}: {scenario or '?'} (seeds {', '.join(map(str, seeds))})"
        for (title, kind, scenario), seeds in order
    ]


def order_table(trials: Sequence[Trial]) -> list[str]:
    """Average precision of each seed's call list, weighted and graded by consequence."""
    return [
        f"{'call list':<17}{'average precision':>19}{'worst first':>13}",
        *(
            f"seed {trial.seed:<12}{_share(trial.order.weighted):>19}"
            f"{_share(trial.order.graded):>13}"
            for trial in trials
        ),
    ]


def size_lines(trials: Sequence[Trial]) -> list[str]:
    """Errors of the sizes told over all seeds, median and worst."""
    judged = [item for trial in trials for item in trial.verdicts]
    lines = []
    for name, words in SIZE_NAMES.items():
        errors = size_errors_pct(judged, name)
        middle = median_or_none(errors)
        told = (
            "never told" if middle is None else f"median {middle:.0f} %, worst {errors[-1]:.0f} %"
        )
        lines.append(f"Error of {words}: {told} ({len(errors)} findings).")
    return lines


def reliability_table(trials: Sequence[Trial]) -> list[str]:
    """Confidence against the share that is right, with the Brier score."""
    judged = [item for trial in trials for item in trial.verdicts]
    lines = [f"{'confidence':<13}{'n':>5}{'mean':>7}{'right':>7}{'cause too':>11}"]
    lines += [
        f"{f'{b.low:.1f} to {b.high:.1f}':<13}{b.n:>5}{b.mean_confidence:>7.2f}"
        f"{b.share_right:>7.2f}{b.share_cause_right:>11.2f}"
        for b in reliability(judged)
    ]
    value = brier(judged)
    return [*lines, f"Brier score: {'-' if value is None else f'{value:.3f}'}"]


def trials_text(trials: Sequence[Trial]) -> str:
    """All tables, for a terminal."""
    false, high = false_per_100(trials)
    weeks = sum(trial.score.n_healthy for trial in trials)
    return "\n".join(
        [
            f"Seeds {', '.join(str(trial.seed) for trial in trials)}:"
            f" {sum(trial.score.n_sick for trial in trials)} pump-weeks with faults,"
            f" {weeks} without.",
            "",
            *kind_table(trials),
            "",
            f"Per 100 healthy pump-weeks: {false:.1f} false findings, {high:.1f} high ones.",
            *size_lines(trials),
            "",
            *order_table(trials),
            "",
            *reliability_table(trials),
            "",
            *misses_table(trials),
        ]
    )


def program_path() -> str:
    """Where the installed program is: beside this interpreter, or on the path.

    Raises
    ------
    ProgramError
        Nowhere.
    """
    beside = Path(sys.executable).with_name("pumprounds")
    found = str(beside) if beside.exists() else shutil.which("pumprounds")
    if found is None:
        raise ProgramError("pumprounds is not installed in this environment. Install the project.")
    return found


def run_program(folder: Path) -> None:
    """Run the program on an invented fleet's folder; its pages go to ``pages`` there.

    Raises
    ------
    ProgramError
        The program is not there or failed.
    """
    profiles = sorted((folder / "profiles").glob("*.toml"))
    command = [program_path(), "weekly", str(folder / "logs")]
    command += ["--register", str(folder / "register"), "--store", str(folder / "fleet.duckdb")]
    command += ["--out", str(folder / "pages")]
    command += [part for path in profiles for part in ("--profile", str(path))]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise ProgramError(f"{folder.name}: pumprounds weekly failed: {done.stderr.strip()}")


def run_trial(folder: Path, seed: int) -> Trial:
    """Make one seed's fleet, run the program on it and score it.

    Raises
    ------
    ProgramError
        The program is not there or failed.
    """
    make_fleet(folder, seed=seed)
    run_program(folder)
    result = score_folder(folder)
    order = read_list_order(folder, result)
    return Trial(seed, result, tuple(read_verdicts(folder, result)), order)


def main(arguments: Sequence[str]) -> int:
    """Print the trials' tables; 0 done, 1 the program failed, 2 bad usage."""
    parser = argparse.ArgumentParser(prog="python -m sample_data.trials", description=__doc__)
    parser.add_argument("--seeds", type=int, default=5, help="how many fleets (default 5)")
    parser.add_argument("--first", type=int, default=FIRST_SEED, help="the first seed")
    parser.add_argument("--keep", type=Path, help="keep the fleets in this folder")
    options = parser.parse_args(arguments)
    if options.seeds < 1:
        parser.error("--seeds: expected 1 or more")
    trials = []
    with tempfile.TemporaryDirectory() as scratch:
        place = options.keep or Path(scratch)
        for seed in range(options.first, options.first + options.seeds):
            folder = place / f"seed_{seed}"
            try:
                trials.append(run_trial(folder, seed))
            except ProgramError as error:
                sys.stderr.write(f"{error}\n")
                return 1
            if not options.keep:
                shutil.rmtree(folder)
    sys.stdout.write(trials_text(trials) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
