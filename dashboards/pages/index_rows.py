"""One row of the call list: a site in words, with its scores of the weeks as a small drawing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.call_rules import URGENCY
from analysis.calls import Call
from analysis.wording import since_text
from dashboards import labels
from dashboards.pages.site_links import site_href

SPARK_WIDTH, SPARK_HEIGHT = 72, 20
SPARK_TOP_SCORE = 5.0  # a sure emergency fills the height, so that rows can be compared


@dataclass(frozen=True, kw_only=True)
class Spark:
    """A site's scores over the weeks as marks of a small drawing.

    ``bars`` are (x, y, width, height) in the drawing's own units, the last one this week;
    ``text`` says the same in words.
    """

    bars: tuple[tuple[float, float, float, float], ...]
    text: str


@dataclass(frozen=True, kw_only=True)
class CallRow:
    """One site as the list shows it.

    Attributes
    ----------
    others : tuple of str
        Summaries of its further findings.
    since : str
        "Mon 16 Nov", or that it was there when the log began.
    since_at : str
        The same instant as sortable text, UTC.
    urgency : int
        Place of its action, 0 the most urgent.
    utility : str
        Region whose one call to the utility covers its low supply, or "".
    rides_with : str
        Urgent site on whose trip it can be looked at too, or "".
    reasons : tuple of str
        Why it stands where it stands.
    is_waiting : bool
        Its visit is past this week's room.
    """

    rank: int
    site_id: str
    title: str
    href: str
    region: str
    pumps: str
    summary: str
    others: tuple[str, ...]
    since: str
    since_at: str
    severity: str
    confidence: float
    state: str
    action: str
    urgency: int
    then: str
    utility: str
    rides_with: str
    reasons: tuple[str, ...]
    is_waiting: bool
    kinds: tuple[str, ...]
    kind_names: str
    spark: Spark


def call_row(call: Call, log_begins: Mapping[str, datetime], utility: str) -> CallRow:
    """Return one site of the call list as the page shows it.

    Parameters
    ----------
    call : Call
        The site.
    log_begins : mapping
        First sample of each pump, UTC, where known.
    utility : str
        Region whose one call to the utility covers it, or "".
    """
    lead = call.findings[0]
    return CallRow(
        rank=call.rank,
        site_id=call.site_id,
        title=call.title,
        href=site_href(call.site_id),
        region=call.region,
        pumps=", ".join(call.pumps),
        summary=call.summary,
        others=tuple(f.summary for f in call.findings[1:]),
        since=since_text(call.first_seen, log_begins.get(lead.pump_id), call.timezone),
        since_at=f"{call.first_seen:%Y%m%d%H%M}",
        severity=str(call.severity),
        confidence=call.confidence,
        state=call.state,
        action=str(call.action),
        urgency=URGENCY[call.action],
        then=call.then,
        utility=utility,
        rides_with=call.rides_with,
        reasons=call.reasons,
        is_waiting=not call.is_within_capacity,
        kinds=tuple(str(kind) for kind in call.kinds),
        kind_names=", ".join(labels.kind_text(kind) for kind in call.kinds),
        spark=_spark(call.trend),
    )


def _spark(trend: Sequence[float | None]) -> Spark:
    """Draw the site's scores week by week; a week that was not scanned leaves a hole."""
    step = SPARK_WIDTH / len(trend)
    bars = []
    for n, score in enumerate(trend):
        if score is not None:
            height = max(1.0, min(1.0, score / SPARK_TOP_SCORE) * SPARK_HEIGHT)
            bars.append(
                (
                    round(n * step, 1),
                    round(SPARK_HEIGHT - height, 1),
                    round(step * 0.7, 1),
                    round(height, 1),
                )
            )
    told = ", ".join("not scanned" if score is None else f"{score:.1f}" for score in trend)
    return Spark(bars=tuple(bars), text=f"Score by week, this week last: {told}")
