"""Rates, groups and what stands out, as the page of recurring faults writes them."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.findings import CAUSES, Kind
from analysis.groups import GROUPINGS
from analysis.recurrence import Cross
from analysis.recurrence_apart import CrossRow, Verdict
from analysis.recurrence_groups import GroupRate, Subject
from analysis.recurrence_rates import KindRate, Rate
from analysis.wording import count_text, join_text
from dashboards import labels

RANGE_WIDTH = 140.0  # drawing units of the interval's line
BARS_WIDTH, BARS_HEIGHT = 140.0, 20.0
CROSS_ROWS = 12
NO_SPREAD = 0.05  # the groups' counts show no difference between any of them


@dataclass(frozen=True, kw_only=True)
class RangeMark:
    """An interval as a line with a point on it, in drawing units from the left."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class RateText:
    """A rate as it is written: "3 of 38 pumps", "8 per 100", "2 to 23", "0.4 (0.1 to 1.1)"."""

    found: str
    per_100: str
    limits: str
    began: str
    mark: RangeMark | None


@dataclass(frozen=True, kw_only=True)
class Bars:
    """Shares of the weeks as bars (x, y, width, height), and the same in words."""

    bars: tuple[tuple[float, float, float, float], ...]
    text: str


@dataclass(frozen=True, kw_only=True)
class KindLine:
    """One kind over the whole fleet."""

    kind: str
    name: str
    rate: RateText
    between: str
    causes: str
    not_judged: str
    note: str
    weeks: Bars


@dataclass(frozen=True, kw_only=True)
class GroupLine:
    """One group of pumps in the table of a kind, beside all other pumps."""

    grouping: str
    group: str
    rate: RateText
    times_fleet: str
    verdict: str
    stands_out: bool


@dataclass(frozen=True, kw_only=True)
class KindTable:
    """The groups that show one kind, or one cause of it; ``stands_out`` if one of them does."""

    kind: str
    name: str
    lines: tuple[GroupLine, ...]
    stands_out: bool


@dataclass(frozen=True, kw_only=True)
class CrossTable:
    """One kind by installer, model and region; ``more`` says what is left out."""

    name: str
    rows: tuple[CrossRow, ...]
    more: str


def subject_text(kind: Kind, cause: str) -> str:
    """Name a kind, or one cause of it: "Short cycling, tank charge lost"."""
    name = labels.kind_text(kind)
    return f"{name}, {labels.cause_text(cause)}" if cause else name


def rate_text(rate: Rate) -> RateText:
    """Write a rate with its interval; a rate of nothing observed is a dash with its reason."""
    if rate.per_100 is None or rate.low_per_100 is None or rate.high_per_100 is None:
        return RateText(found="none observed", per_100="-", limits="-", began="-", mark=None)
    return RateText(
        found=f"{rate.n_found} of {count_text(rate.n_observed, 'pump')}",
        per_100=f"{rate.per_100:.1f}",
        limits=f"{rate.low_per_100:.1f} to {rate.high_per_100:.1f}",
        began=f"{_three_digits(rate.per_100_weeks)} ({_three_digits(rate.low_per_100_weeks)} to"
        f" {_three_digits(rate.high_per_100_weeks)})",
        mark=RangeMark(
            low=_along(rate.low_per_100),
            middle=_along(rate.per_100),
            high=_along(rate.high_per_100),
        ),
    )


def _three_digits(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def kind_line(each: KindRate) -> KindLine:
    """Write one kind over the fleet."""
    causes = ", ".join(
        f"{labels.cause_text(cause)} ({count})"
        for cause, count in each.causes
        if cause or CAUSES[each.kind]  # a kind that has no causes lacks none
    )
    return KindLine(
        kind=str(each.kind),
        name=labels.kind_text(each.kind),
        rate=rate_text(each.rate),
        between=_between_text(each),
        causes=causes,
        not_judged=str(each.n_not_judged),
        note="too few to say" if each.rate.is_too_few else "",
        weeks=_bars(each.weekly),
    )


def kind_table(subject: Subject, groups: Sequence[GroupRate]) -> KindTable:
    """Write the groups of one kind or cause."""
    lines = tuple(_group_line(each) for each in groups)
    return KindTable(
        kind=str(subject[0]),
        name=subject_text(*subject),
        lines=lines,
        stands_out=any(line.stands_out for line in lines),
    )


def cross_table(cross: Cross) -> CrossTable:
    """Show the combinations with most pumps found, and say how many more there are."""
    left = cross.rows[CROSS_ROWS:]
    n_found = sum(row.n_found for row in left)
    more = f"{count_text(len(left), 'more combination')} with {n_found} found" if left else ""
    name = subject_text(cross.kind, cross.cause)
    return CrossTable(name=name, rows=cross.rows[:CROSS_ROWS], more=more)


def standing_out_text(each: GroupRate) -> str:
    """One sentence on a group that is apart from the others."""
    name = f"{subject_text(each.kind, each.cause)}: {GROUPINGS[each.grouping]} {each.group}"
    rate = each.rate
    found = (
        f"{rate.n_found} of {count_text(rate.n_observed, 'pump')}, {rate.per_100:.0f} per 100"
        f" ({rate.low_per_100:.0f} to {rate.high_per_100:.0f}); {each.rest.per_100:.0f} per 100"
        " elsewhere"
    )
    if each.times_fleet is not None:
        found = f"{found}; {times_text(each)} the fleet's rate"
    return f"{name} {_verdict_text(each)} ({found})."


def times_text(each: GroupRate) -> str:
    """Write the group's rate over the fleet's, with limits; "-" where it is not known."""
    low, high = each.low_times_fleet, each.high_times_fleet
    if each.times_fleet is None or low is None or high is None:
        return "-"
    if high - low < NO_SPREAD:
        return "as the fleet"
    return f"{each.times_fleet:.1f} times ({low:.1f} to {high:.1f})"


def _verdict_text(each: GroupRate) -> str:
    beside = join_text([f"{GROUPINGS[grouping]} {group}" for grouping, group in each.beside])
    if each.verdict is Verdict.ENTANGLED:
        is_more = (each.rate.per_100 or 0.0) > (each.rest.per_100 or 0.0)
        amount = "more" if is_more else "less"
        return f"has {amount} of it, but cannot tell apart from {beside}"
    if each.verdict is Verdict.WITHIN:
        return f"no clear difference from others of {beside}"
    return str(each.verdict)


def _group_line(each: GroupRate) -> GroupLine:
    return GroupLine(
        grouping=GROUPINGS[each.grouping],
        group=each.group,
        rate=rate_text(each.rate),
        times_fleet=times_text(each),
        verdict=_verdict_text(each),
        stands_out=each.verdict in (Verdict.MORE, Verdict.LESS, Verdict.ENTANGLED),
    )


def _between_text(each: KindRate) -> str:
    if each.low_between_weeks is None:
        return "-"
    if each.between_weeks is None or each.high_between_weeks is None:
        return f"over {_weeks(each.low_between_weeks)}"
    return (
        f"{_weeks(each.between_weeks)} ({_weeks(each.low_between_weeks)} to"
        f" {_weeks(each.high_between_weeks)})"
    )


def _weeks(weeks: float) -> str:
    return f"{weeks:.0f}" if weeks >= 10.0 else f"{weeks:.1f}"


def _bars(weekly: Sequence[float | None]) -> Bars:
    """Draw the share of pumps with the kind week by week, the highest filling the height."""
    known = [share for share in weekly if share is not None]
    top = max(known, default=0.0) or 1.0
    step = BARS_WIDTH / max(1, len(weekly))
    bars = tuple(
        (
            round(n * step, 1),
            round(BARS_HEIGHT * (1.0 - share / top), 1),
            round(step * 0.8, 1),
            round(BARS_HEIGHT * share / top, 1),
        )
        for n, share in enumerate(weekly)
        if share
    )
    if not known:
        return Bars(bars=(), text="not judged in any week")
    span = f"{100 * min(known):.0f} to {100 * max(known):.0f}"
    text = f"open at {span} of 100 pumps a week, over {count_text(len(weekly), 'week')}"
    return Bars(bars=bars, text=text)


def _along(per_100: float) -> float:
    """Place a rate between 0 and 100 on the drawing."""
    return round(per_100 / 100.0 * RANGE_WIDTH, 1)
