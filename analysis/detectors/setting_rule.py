"""What a rule of the settings audit is, what it needs, and what it says when broken."""

from collections.abc import Callable
from dataclasses import dataclass

from analysis.case import Case
from analysis.findings import MeasureValue


@dataclass(frozen=True, kw_only=True)
class Broken:
    """A rule that a pump breaks.

    Attributes
    ----------
    setting : number or text
        As it stands, in its inner unit.
    expected : str
        What it should be, in words with units.
    summary : str
        One sentence in the site's units.
    """

    setting: MeasureValue
    expected: str
    consequence: int
    confidence: float
    summary: str
    limit_source: str
    grounds: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()


def always(case: Case) -> bool:
    """Rule for every pump."""
    return True


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One row of the audit.

    Attributes
    ----------
    name : str
        As it stands in ``measures["rule"]``.
    cause : str
        The register column the rule is about.
    register : tuple of str
        Fields of ``Pump`` it needs; ``"a or b"`` where either will do.
    measures : tuple of str
        Fields of ``PumpWeek`` it needs.
    interval_max_s : float
        Slowest log it can be judged on. [s]
    applies : callable
        False: the rule has nothing to say of this pump (no lack of data).
    test : callable
        Returns what is broken, or None. Called only where nothing is missing.
    """

    name: str
    cause: str
    test: Callable[[Case], Broken | None]
    register: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()
    interval_max_s: float = float("inf")
    applies: Callable[[Case], bool] = always

    def missing(self, case: Case) -> str:
        """Say what is missing to judge this rule, or "" where nothing is."""
        lacks = [
            f"no {names} in the register"
            for names in self.register
            if all(getattr(case.pump, name) is None for name in names.split(" or "))
        ]
        lacks += [
            f"no {name} this week" for name in self.measures if getattr(case.week, name) is None
        ]
        if case.week.log_interval_s > self.interval_max_s:
            lacks.append(
                f"the log has one sample every {case.week.log_interval_s:.0f} s, this needs"
                f" {self.interval_max_s:.0f} s"
            )
        return ", ".join(lacks)
