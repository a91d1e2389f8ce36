"""What a command costs, run as a process of its own: wall and processor seconds, peak memory."""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

import click

TOOL = str(Path(sys.executable).parent / "pumprounds")
HERE = Path(__file__).parent


@dataclass(frozen=True)
class Used:
    """What a command took.

    Attributes
    ----------
    wall_s, cpu_s : float
        Seconds on the clock, and of all processors, user and system.
    peak_mb : float
        Most memory resident at once in any one of its processes. [2**20 bytes]
    """

    wall_s: float
    cpu_s: float
    peak_mb: float

    def __add__(self, other: "Used") -> "Used":
        """One command after the other."""
        return Used(
            self.wall_s + other.wall_s,
            self.cpu_s + other.cpu_s,
            max(self.peak_mb, other.peak_mb),
        )


@dataclass(frozen=True)
class Step:
    """A command to time.

    Attributes
    ----------
    command : sequence of str
    before : function, optional
        What makes things ready for it; not timed.
    """

    command: Sequence[str]
    before: Callable[[], object] = lambda: None


def script(name: str, *arguments: object) -> list[str]:
    """Command that runs a script of this folder."""
    return [sys.executable, str(HERE / name), *map(str, arguments)]


def run(command: Sequence[str]) -> Used:
    """Run a command.

    What this process itself has resident counts for the new one until that becomes the command:
    so a process that calls this keeps small.

    Raises
    ------
    RuntimeError
        It failed; with what it printed.
    """
    # As on a user's machine, where modules are compiled once and not at each start.
    usual = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    started = time.perf_counter()
    process = subprocess.Popen(
        command, env=usual, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    with process:
        told = process.stdout.read() if process.stdout else ""
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    wall_s = time.perf_counter() - started
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{told}")
    return Used(wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def time_in_turn(steps: Mapping[str, Step], repeats: int) -> dict[str, Used]:
    """Run all steps in turn, so many times; return the medians of each."""
    times: dict[str, list[Used]] = {name: [] for name in steps}
    for _ in range(repeats):
        for name, step in steps.items():
            step.before()
            times[name].append(run(step.command))
    return {name: medians(of_step) for name, of_step in times.items()}


def medians(times: Iterable[Used]) -> Used:
    """Median of each figure."""
    return Used(*map(statistics.median, zip(*map(astuple, times), strict=True)))


def print_table(title: str, used: Mapping[str, Used], measures: Mapping[str, str]) -> None:
    """Print a line for each step: what it took, and that as a multiple of some of the steps.

    Parameters
    ----------
    measures : mapping
        Step to compare with, by the heading of its two columns (wall and processor seconds).
    """
    click.echo(title)
    heads = "".join(f"{f'x {head}, wall, cpu':>25}" for head in measures)
    click.echo(f"  {'':<34}{'wall s':>8}{'cpu s':>8}{'peak MB':>9}{heads}")
    for name, of in used.items():
        line = f"  {name:<34}{of.wall_s:>8.2f}{of.cpu_s:>8.2f}{of.peak_mb:>9.0f}"
        for step in measures.values():
            line += f"{of.wall_s / used[step].wall_s:>17.2f}"
            line += f"{of.cpu_s / max(used[step].cpu_s, 0.01):>8.2f}"
        click.echo(line)
