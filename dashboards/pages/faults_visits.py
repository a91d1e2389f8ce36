"""What visits teach, as the page of recurring faults writes it."""

from dataclasses import dataclass
from math import exp

from analysis.learned_confidence import OUTCOMES_MIN, PRIOR_SD, Learned
from analysis.visit_report import (
    PRIOR_RIGHT,
    PRIOR_WRONG,
    FixWatch,
    OtherCause,
    Precision,
    RepeatCalls,
    VisitReport,
)
from analysis.wording import count_text
from dashboards import labels


@dataclass(frozen=True, kw_only=True)
class PrecisionLine:
    """How often a kind was there when somebody looked."""

    name: str
    visits: str
    share: str
    limits: str
    confidence: str


@dataclass(frozen=True, kw_only=True)
class FixLine:
    """What became of a fix."""

    day: str
    pump_id: str
    name: str
    done: str
    state: str
    sizes: str
    is_back: bool


@dataclass(frozen=True, kw_only=True)
class OtherLine:
    """A visit that found something else."""

    day: str
    pump_id: str
    name: str
    ours: str
    found: str


@dataclass(frozen=True, kw_only=True)
class VisitsText:
    """All that visits teach; ``count`` is "" where there are none."""

    count: str
    prior: str
    repeat: tuple[str, ...]
    precision: tuple[PrecisionLine, ...]
    fixes: tuple[FixLine, ...]
    others: tuple[OtherLine, ...]


def visits_text(report: VisitReport) -> VisitsText:
    """Write what visits teach."""
    return VisitsText(
        count=f"{count_text(report.n_visits, 'visit')} about a kind." if report.n_visits else "",
        prior=(
            f"Each kind starts with {PRIOR_RIGHT.value:.0f} right and {PRIOR_WRONG.value:.0f}"
            " wrong, so that one visit does not make it certain. From"
            f" {OUTCOMES_MIN.value:.0f} visits of the last half year on, the confidence of a"
            " kind's findings follows what was found; before any visit the stated odds are taken"
            f" to be right within a factor of {exp(PRIOR_SD.value):.0f}."
        ),
        repeat=tuple(_repeat_text(each) for each in report.repeat_calls),
        precision=tuple(
            _precision_line(each, report.learned.get(each.kind)) for each in report.precision
        ),
        fixes=tuple(_fix_line(each) for each in report.fixes),
        others=tuple(_other_line(each) for each in report.other_causes),
    )


def _repeat_text(each: RepeatCalls) -> str:
    if each.low is None or each.high is None:
        return f"Called again within {each.days} days of a fix: no fix is that old."
    share = 100.0 * each.n_repeated / each.n_fixed
    return (
        f"Called again within {each.days} days of a fix: {each.n_repeated} of"
        f" {count_text(each.n_fixed, 'fix', 'fixes')}, {share:.0f} %"
        f" ({100 * each.low:.0f} to {100 * each.high:.0f} %)."
    )


def _precision_line(each: Precision, learned: Learned | None) -> PrecisionLine:
    n = each.n_right + each.n_wrong
    return PrecisionLine(
        name=labels.kind_text(each.kind),
        visits=f"{each.n_right} of {count_text(n, 'visit')}",
        share=f"{100 * each.share:.0f} %",
        limits=f"{100 * each.low:.0f} to {100 * each.high:.0f} %",
        confidence=_confidence_text(learned),
    )


def _confidence_text(learned: Learned | None) -> str:
    """Where the confidence of the kind's findings comes from, and what visits make of it."""
    n = learned.n if learned else 0
    if learned is None or learned.shift is None:
        return f"stated grounds: {n} of {OUTCOMES_MIN.value:.0f} visits to learn from"
    return (
        f"{count_text(n, 'visit')}: {learned.n_right} there, {learned.n_expected:.0f} stated;"
        f" stated odds times {exp(learned.shift):.2g}"
    )


def _fix_line(each: FixWatch) -> FixLine:
    sizes = "-"
    if each.size_name:
        before, after = (
            "not known" if size is None else f"{size:.3g}" for size in (each.before, each.after)
        )
        sizes = f"{each.size_name} {before} before, {after} after"
    return FixLine(
        day=each.visit.visited_on.isoformat(),
        pump_id=each.pump_id,
        name=labels.kind_text(each.visit.kind or ""),
        done=each.visit.done or "",
        state=f"{each.state}, {count_text(each.weeks_clear, 'clear week')}",
        sizes=sizes,
        is_back=each.state == "came back",
    )


def _other_line(each: OtherCause) -> OtherLine:
    found = labels.cause_text(each.found_cause) if each.found_cause else "not found there"
    words = f": {each.visit.found}" if each.visit.found else ""
    return OtherLine(
        day=each.visit.visited_on.isoformat(),
        pump_id=each.pump_id,
        name=labels.kind_text(each.visit.kind or ""),
        ours=labels.cause_text(each.our_cause),
        found=f"{found}{words}",
    )
