"""Until when a pump is under warranty, and whether that is about to end.

A claim needs what this program has: dates, volts and amps. It also needs to be made in time, so
among sites that are otherwise equal one whose warranty is about to end comes first.
"""

from calendar import monthrange
from collections.abc import Iterable
from datetime import date, timedelta

from analysis.findings import Finding
from analysis.limits import Limit
from analysis.wording import count_text
from ingest.installed_base import Pump, Register
from ingest.weeks import parse_week

ENDS_SOON_DAYS = Limit(
    60, "days", "ours: a visit, the proof and the maker's answer take a month or two"
)


def warranty_until(pump: Pump) -> date | None:
    """Return the day so many months after installation, or that month's last; None if blank."""
    if pump.installed_on is None or pump.warranty_months is None:
        return None
    months = pump.installed_on.month - 1 + round(pump.warranty_months)
    year, month = pump.installed_on.year + months // 12, months % 12 + 1
    return date(year, month, min(pump.installed_on.day, monthrange(year, month)[1]))


def warranty_notes(findings: Iterable[Finding], register: Register) -> tuple[str, ...]:
    """Clauses on pumps with findings whose warranty ends within ``ENDS_SOON_DAYS`` of the week."""
    notes = {}
    for finding in findings:
        pump = register.pumps.get(finding.pump_id)
        until_on = warranty_until(pump) if pump else None
        sunday = parse_week(finding.week).monday + timedelta(days=6)
        if until_on and 0 <= (until_on - sunday).days <= ENDS_SOON_DAYS.value:
            left = count_text((until_on - sunday).days, "day")
            notes[finding.pump_id] = f"warranty of {finding.pump_id} until {until_on}, {left} left"
    return tuple(notes[pump_id] for pump_id in sorted(notes))
