"""What recurs, as a page: rates per 100 pumps observed, by kind and by group of pumps."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.recurrence import (
    GROUPINGS,
    MIN_FINDINGS,
    MIN_PUMPS,
    GroupRate,
    KindRate,
    Rate,
    Recurrence,
)
from analysis.wording import count_text
from dashboards import labels
from dashboards.pages.base import page_frame, render
from ingest.weeks import Week

RANGE_WIDTH = 140.0  # drawing units of the interval's line


@dataclass(frozen=True, kw_only=True)
class RangeMark:
    """An interval as a line with a point on it, in drawing units from the left."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class RateText:
    """A rate as it is written: "3 of 38 pumps", "8 per 100", "2 to 23"."""

    found: str
    per_100: str
    limits: str
    mark: RangeMark | None


@dataclass(frozen=True, kw_only=True)
class KindLine:
    """One kind over the whole fleet."""

    kind: str
    name: str
    rate: RateText
    causes: str
    not_judged: str
    note: str


@dataclass(frozen=True, kw_only=True)
class GroupLine:
    """One group of pumps in the table of a kind, beside all other pumps."""

    grouping: str
    group: str
    rate: RateText
    rest: RateText
    verdict: str
    stands_out: bool


@dataclass(frozen=True, kw_only=True)
class KindTable:
    """The groups that show one kind."""

    kind: str
    name: str
    lines: tuple[GroupLine, ...]


@dataclass(frozen=True, kw_only=True)
class FaultsPage:
    """Everything the page of recurring faults shows.

    Attributes
    ----------
    kinds : tuple of KindLine
        All kinds, the highest rate first.
    standing_out : tuple of str
        One clause for each group whose rate is clearly apart from the other pumps'.
    tables : tuple of KindTable
        For each kind that was found, the groups that show it.
    rule : str
        When the answer is "too few to say".
    """

    n_pumps: str
    kinds: tuple[KindLine, ...]
    standing_out: tuple[str, ...]
    tables: tuple[KindTable, ...]
    rule: str


def render_faults(week: Week, page: FaultsPage) -> str:
    """Return the page of recurring faults as HTML."""
    return render("faults.html", page_frame("Recurring faults", week, "faults"), page)


def faults_page(result: Recurrence) -> FaultsPage:
    """Put together what the page of recurring faults shows."""
    by_size = sorted(result.kinds, key=lambda each: -(each.rate.per_100 or 0.0))
    tables = []
    for each in by_size:
        groups = [group for group in result.groups if group.kind == each.kind]
        if groups:
            tables.append(
                KindTable(
                    kind=str(each.kind),
                    name=labels.kind_text(each.kind),
                    lines=tuple(_group_line(group) for group in groups),
                )
            )
    return FaultsPage(
        n_pumps=count_text(result.n_pumps, "pump"),
        kinds=tuple(_kind_line(each) for each in by_size),
        standing_out=_standing_out(result.groups),
        tables=tuple(tables),
        rule=(
            f"Under {MIN_PUMPS.value:.0f} pumps observed or {MIN_FINDINGS.value:.0f} pumps with"
            " the finding the answer is: too few to say."
        ),
    )


def rate_text(rate: Rate) -> RateText:
    """Write a rate with its interval; a rate of nothing observed is a dash with its reason."""
    if rate.per_100 is None or rate.low_per_100 is None or rate.high_per_100 is None:
        return RateText(found="none observed", per_100="-", limits="-", mark=None)
    return RateText(
        found=f"{rate.n_found} of {count_text(rate.n_observed, 'pump')}",
        per_100=f"{rate.per_100:.1f}",
        limits=f"{rate.low_per_100:.1f} to {rate.high_per_100:.1f}",
        mark=RangeMark(
            low=_along(rate.low_per_100),
            middle=_along(rate.per_100),
            high=_along(rate.high_per_100),
        ),
    )


def _along(per_100: float) -> float:
    """Place a rate between 0 and 100 on the drawing."""
    return round(per_100 / 100.0 * RANGE_WIDTH, 1)


def _kind_line(each: KindRate) -> KindLine:
    causes = ", ".join(f"{labels.cause_text(cause)} {count}" for cause, count in each.causes)
    return KindLine(
        kind=str(each.kind),
        name=labels.kind_text(each.kind),
        rate=rate_text(each.rate),
        causes=causes,
        not_judged=str(each.n_not_judged),
        note="too few to say" if each.rate.is_too_few else "",
    )


def _group_line(each: GroupRate) -> GroupLine:
    return GroupLine(
        grouping=GROUPINGS[each.grouping],
        group=each.group,
        rate=rate_text(each.rate),
        rest=rate_text(each.rest),
        verdict=each.verdict,
        stands_out=each.verdict.startswith("goes together"),
    )


def _standing_out(groups: Sequence[GroupRate]) -> tuple[str, ...]:
    return tuple(
        f"{labels.kind_text(each.kind)}: {GROUPINGS[each.grouping]} {each.group}"
        f" {each.verdict} ({each.rate.per_100:.0f} per 100 pumps observed there,"
        f" {each.rest.per_100:.0f} elsewhere)."
        for each in groups
        if each.verdict.startswith("goes together")
    )
