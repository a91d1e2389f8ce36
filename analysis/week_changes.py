"""What judging a week again, with data that came late, has changed of its findings."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.findings import Finding


@dataclass(frozen=True, order=True)
class Change:
    """One finding that came, went or is told otherwise now.

    Attributes
    ----------
    before, now : str
        Severity and cause, such as ``high tank_charge_lost``; "" where there was no finding.
    """

    week: str
    site_id: str
    pump_id: str
    kind: str
    before: str
    now: str

    def __str__(self) -> str:
        if not self.before:
            what = f"new, {self.now}"
        elif not self.now:
            what = f"gone, was {self.before}"
        else:
            what = f"{self.now}, was {self.before}"
        return f"{self.week} {self.pump_id} {self.kind}: {what}"


def changes_between(week: str, before: Sequence[Finding], now: Sequence[Finding]) -> list[Change]:
    """List the findings of a week that differ in severity or cause, in order."""
    old, new = _told(before), _told(now)
    return sorted(
        Change(week, *key, before=old.get(key, ""), now=new.get(key, ""))
        for key in old.keys() | new.keys()
        if old.get(key) != new.get(key)
    )


def _told(findings: Sequence[Finding]) -> dict[tuple[str, str, str], str]:
    """Severity and cause by site, pump and kind; a kind may be found for several causes."""
    told: dict[tuple[str, str, str], str] = {}
    for one in sorted(findings, key=lambda f: f.cause):
        key = (one.site_id, one.pump_id, str(one.kind))
        text = f"{one.severity} {one.cause}".strip()
        told[key] = f"{told[key]}; {text}" if key in told else text
    return told
