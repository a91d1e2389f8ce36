"""How a site without findings stands, in one word and one sentence: five different answers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.findings import Status
from analysis.wording import count_text, join_text, local_date_text, local_time_text


@dataclass(frozen=True, kw_only=True)
class PumpState:
    """What is known of one pump's week.

    Attributes
    ----------
    is_heard : bool
        It sent samples in the week.
    n_clear, n_open : int
        Kinds judged clear, and kinds without an answer.
    last_at : datetime or None
        Last sample known, UTC; None where it never sent any.
    """

    pump_id: str
    is_heard: bool
    is_shut_down: bool
    n_clear: int
    n_open: int
    last_at: datetime | None


def standing_of(pumps: Sequence[PumpState]) -> Status:
    """Answer for a site without findings: the least comforting one that holds for a pump.

    ``clear`` needs every pump heard from and at least one kind judged on each that runs.
    """
    if not pumps or not all(pump.is_heard for pump in pumps):
        return Status.NO_DATA
    if all(pump.is_shut_down for pump in pumps):
        return Status.SHUT_DOWN
    if any(pump.n_clear == 0 and not pump.is_shut_down for pump in pumps):
        return Status.NOT_ASSESSED
    return Status.CLEAR


def headline(pumps: Sequence[PumpState], standing: Status, timezone: str) -> str:
    """Sentence that says why nothing is said to be wrong."""
    if not pumps:
        return "The register has no pump at this site."
    if standing is Status.NO_DATA:
        return " ".join(silences(pumps, timezone))
    if standing is Status.SHUT_DOWN:
        return "Shut down: no pump ran and pressure stayed flat near zero all week."
    n_open = sum(pump.n_open for pump in pumps)
    if standing is Status.NOT_ASSESSED:
        return f"Not assessed: {count_text(n_open, 'check')} without an answer, reasons below."
    text = f"Nothing found: {count_text(sum(p.n_clear for p in pumps), 'check')} clear"
    return f"{text}, {n_open} not assessed." if n_open else f"{text}."


def silences(pumps: Sequence[PumpState], timezone: str) -> tuple[str, ...]:
    """Sentence on the pumps that were not heard from; none where all were."""
    silent = [pump for pump in pumps if not pump.is_heard]
    if not silent:
        return ()
    told = join_text([_last_sign(pump, timezone) for pump in silent])
    return (f"No data this week: {told}. Silence does not mean that all is well.",)


def _last_sign(pump: PumpState, timezone: str) -> str:
    if pump.last_at is None:
        return f"{pump.pump_id} has never sent any"
    day = local_date_text(pump.last_at, timezone)
    clock = local_time_text(pump.last_at, timezone)
    return f"{pump.pump_id} was last heard {day} {pump.last_at.year} at {clock}"
