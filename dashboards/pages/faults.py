"""What recurs, as a page: rates by kind and group of pumps, and whether it gets worse."""

from dataclasses import dataclass

from analysis.fault_report import FaultReport
from analysis.findings import Kind
from analysis.recurrence import Recurrence
from analysis.recurrence_groups import GroupRate, Subject
from analysis.recurrence_rates import MIN_FINDINGS, MIN_PUMPS
from analysis.wording import count_text
from dashboards.pages.base import page_frame, render
from dashboards.pages.faults_rates import (
    CrossTable,
    KindLine,
    KindTable,
    cross_table,
    kind_line,
    kind_table,
    standing_out_text,
)
from dashboards.pages.faults_trends import TrendsText, trends_text
from dashboards.pages.faults_visits import VisitsText, visits_text
from ingest.weeks import Week


@dataclass(frozen=True, kw_only=True)
class FaultsPage:
    """Everything the page of recurring faults shows.

    Attributes
    ----------
    n_pumps, span : str
        Pumps in the register, weeks looked at.
    kinds : tuple of KindLine
        All kinds, the highest rate first.
    standing_out : tuple of str
        One clause for each group whose rate is clearly apart from the other pumps'.
    crosses : tuple of CrossTable
        Who fitted which model where, for what stands out.
    trends : TrendsText
        Whether it gets worse.
    visits : VisitsText
        What visits teach.
    tables : tuple of KindTable
        For each kind that was found, and each cause that stands out, the groups that show it.
    rule : str
        When the answer is "too few to say".
    """

    n_pumps: str
    span: str
    kinds: tuple[KindLine, ...]
    standing_out: tuple[str, ...]
    crosses: tuple[CrossTable, ...]
    trends: TrendsText
    visits: VisitsText
    tables: tuple[KindTable, ...]
    rule: str


def render_faults(week: Week, page: FaultsPage) -> str:
    """Return the page of recurring faults as HTML."""
    return render("faults.html", page_frame("Recurring faults", week, "faults"), page)


def faults_page(report: FaultReport) -> FaultsPage:
    """Put together what the page of recurring faults shows."""
    result = report.recurrence
    by_size = sorted(result.kinds, key=lambda each: -(each.rate.per_100 or 0.0))
    return FaultsPage(
        n_pumps=count_text(result.n_pumps, "pump"),
        span=count_text(result.n_weeks, "week"),
        kinds=tuple(kind_line(each) for each in by_size),
        standing_out=tuple(standing_out_text(each) for each in result.standing_out),
        crosses=tuple(cross_table(each) for each in result.crosses),
        trends=trends_text(report.trends),
        visits=visits_text(report.visits),
        tables=_tables(result, [each.kind for each in by_size]),
        rule=(
            f"Under {MIN_PUMPS.value:.0f} pumps observed or {MIN_FINDINGS.value:.0f} pumps with"
            " the finding the answer is: too few to say."
        ),
    )


def _tables(result: Recurrence, kinds: list[Kind]) -> tuple[KindTable, ...]:
    """Tables of the kinds, and of causes only where a group stands out by them."""
    by_subject: dict[Subject, list[GroupRate]] = {}
    for group in result.groups:
        by_subject.setdefault((group.kind, group.cause), []).append(group)
    ordered = sorted(by_subject, key=lambda subject: (kinds.index(subject[0]), subject[1]))
    named = {(each.kind, each.cause) for each in result.standing_out}
    return tuple(
        kind_table(subject, by_subject[subject])
        for subject in ordered
        if not subject[1] or subject in named
    )
