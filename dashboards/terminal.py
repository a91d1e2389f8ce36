"""The pre-read and what recurs, as text: good in 80 columns, plain when piped.

Both are printed from the same dataclasses as the pages, so they cannot disagree.
"""

import textwrap
from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from analysis.brief_contents import Brief, FindingBrief, PumpBrief
from analysis.brief_roots import FindingGroup, grouped
from analysis.brief_visits import VisitLine
from analysis.fault_report import FaultReport
from dashboards import labels
from dashboards.pages.base import week_span
from dashboards.pages.faults import faults_page
from dashboards.pages.faults_rates import RateText
from ingest.weeks import Week

PLAIN_WIDTH = 80
FIRST_CHECKS = 3
BLANK = "____ (read on site)"


def console() -> Console:
    """Return a console on stdout: in colour on a terminal, plain and 80 columns wide elsewhere."""
    made = Console(highlight=False)
    return made if made.is_terminal else Console(highlight=False, width=PLAIN_WIDTH)


def print_brief(brief: Brief, to: Console | None = None) -> None:
    """Print the pre-read of one site, in the order a technician needs it."""
    to = to or console()
    place = f", {brief.site.region}" if brief.site.region else ""
    to.print(f"[bold]{escape(brief.site.title)}[/] ({escape(brief.site.site_id)}{escape(place)})")
    to.print(f"Week {brief.week}, {week_span(brief.week)}, times in {brief.site.timezone}")
    to.print()
    to.print(f"[bold]{escape(_filled(to, brief.headline))}[/]")
    for text in brief.also_know:
        to.print(escape(_filled(to, text)))
    for number, group in enumerate(grouped(brief.findings), start=1):
        _print_group(to, number, group, is_headline=group.lead.finding.summary == brief.headline)
    _print_list(to, "Load before leaving", brief.bring)
    _print_list(to, "Cautions", [f"{caution.title}: {caution.text}" for caution in brief.cautions])
    for pump in brief.pumps:
        _print_pump(to, pump)
    _print_list(to, "Earlier visits", [_visit_text(visit) for visit in brief.visits])


def print_faults(week: Week, report: FaultReport, to: Console | None = None) -> None:
    """Print what recurs up to a week: what stands out, trends, kinds, then groups."""
    to = to or console()
    page = faults_page(report)
    to.print(
        f"[bold]Recurring faults[/], {page.span} to {week}, {week_span(week)}; {page.n_pumps}"
    )
    _print_list(to, "What stands out", page.standing_out)
    moved = [line for line in page.trends.cohorts if line.is_clear]
    _print_list(
        to,
        "Is it getting worse",
        [
            page.trends.span,
            *(f"{each.name}, same {each.pumps}: {each.own}; {each.verdict}" for each in moved),
            *(
                f"{each.name}, {each.of}: {each.begun}, shape {each.shape}; {each.verdict}"
                for each in page.trends.long
            ),
        ],
    )
    to.print()
    table = _rate_table("Kind")
    for line in page.kinds:
        table.add_row(line.name, *_rate_cells(line.rate), line.note)
    to.print(table)
    for kind in page.tables:
        to.print()
        table = _rate_table(f"{kind.name} by")
        for group in kind.lines:
            name = escape(f"{group.grouping} {group.group}")
            table.add_row(name, *_rate_cells(group.rate), escape(group.verdict))
        to.print(table)
    to.print()
    to.print(
        "Rates are pumps with the fault per 100 pumps observed, with the exact 95 % Poisson"
        f" interval. {page.rule} Groups overlap; none is shown to be the reason."
    )


def _print_group(to: Console, number: int, group: FindingGroup, *, is_headline: bool) -> None:
    """Print findings of one root: the worst, then what goes with it and how."""
    lead = group.lead
    to.print()
    to.print(f"[bold]{number}. {escape(_name(lead))}[/], pump {escape(lead.finding.pump_id)}")
    if not is_headline:
        _indented(to, lead.finding.summary)
    _indented(to, f"{str(lead.action).capitalize()}. {_certainty(lead)}")
    for member in group.members:
        found = member.found
        _indented(to, f"{member.tie}: {_name(found)}. {found.finding.summary}")
        _indented(to, _certainty(found))
    for kind in group.also:
        _indented(to, f"Goes with it: {labels.kind_text(kind)}")
    for other in group.alternatives:
        _indented(to, f"Or: {other}")
    for loss in dict.fromkeys(text for one in group.findings for text in (one.loss, one.no_loss)):
        if loss:
            _indented(to, loss)
    for checks in dict.fromkeys(found.checks for found in group.findings):
        for step, check in enumerate(checks[:FIRST_CHECKS], start=1):
            _indented(to, f"Check {step}: {check}")


def _name(found: FindingBrief) -> str:
    finding = found.finding
    return f"{labels.kind_text(finding.kind)}: {labels.cause_text(finding.cause)}"


def _certainty(found: FindingBrief) -> str:
    finding = found.finding
    return (
        f"Severity {finding.severity}; {labels.confidence_text(finding.confidence)},"
        f" {found.sure_from}; since {found.since}; {labels.state_text(finding.state)}"
    )


def _print_pump(to: Console, pump: PumpBrief) -> None:
    to.print()
    to.print(f"[bold]Pump {escape(pump.pump.pump_id)}[/]")
    facts = [*pump.nameplate, *pump.settings]
    _print_pairs(to, [(fact.name, fact.value or BLANK) for fact in facts])
    known = [value for value in pump.normal if value.this_week or value.usual]
    if known:
        to.print("  Normal here (this week; usually)")
        _print_pairs(
            to, [(each.name, f"{each.this_week or '-'}; {each.usual or '-'}") for each in known]
        )
    _print_pairs(to, [(fact.name, fact.value or "-") for fact in (*pump.habits, *pump.quality)])
    for answer in pump.not_assessed:
        status = labels.STATUSES[answer.status]
        _indented(to, f"{labels.kind_text(answer.kind)} {status}: {answer.reason}")
    if pump.clear:
        _indented(to, f"Clear: {', '.join(labels.kind_text(kind) for kind in pump.clear)}")
    for limit in pump.cannot_tell:
        _indented(to, f"Not visible: {limit}")


def _print_pairs(to: Console, pairs: Iterable[tuple[str, str]]) -> None:
    table = Table.grid(padding=(0, 2))
    table.add_column(min_width=24)
    table.add_column()
    for name, value in pairs:
        table.add_row(escape(name), escape(value))
    to.print(Padding(table, (0, 0, 0, 2), expand=False))


def _print_list(to: Console, title: str, lines: Sequence[str]) -> None:
    if lines:
        to.print()
        to.print(f"[bold]{title}[/]")
        for line in lines:
            _indented(to, f"- {line}")


def _indented(to: Console, text: str) -> None:
    to.print(escape(_filled(to, text, indent="  ")))


def _filled(to: Console, text: str, indent: str = "") -> str:
    """Text in lines of the console's width, none of them padded with spaces."""
    return textwrap.fill(
        text,
        to.width,
        initial_indent=indent,
        subsequent_indent=f"{indent}  " if text.startswith("- ") else indent,
        break_on_hyphens=False,
    )


def _visit_text(visit: VisitLine) -> str:
    told = [
        part
        for part in (visit.pump_id, visit.kind, visit.outcome, visit.found, visit.done)
        if part
    ]
    since = f" Since then: {visit.since_then}" if visit.since_then else ""
    sizes = f". {visit.sizes}" if visit.sizes else ""
    return f"{visit.visited_on}: {'; '.join(told)}.{since}{sizes}"


def _rate_table(first: str) -> Table:
    table = Table(box=None, padding=(0, 1), pad_edge=False, title=None)
    table.add_column(first)
    table.add_column("Found at", justify="right", no_wrap=True)
    table.add_column("Per 100", justify="right", no_wrap=True)
    table.add_column("95 %", justify="right", no_wrap=True)
    table.add_column("")
    return table


def _rate_cells(rate: RateText) -> tuple[str, str, str]:
    return rate.found, rate.per_100, rate.limits
