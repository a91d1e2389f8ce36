"""The invented year's rows as a register, findings and answers."""

from datetime import date, datetime
from typing import Any

from analysis.findings import SEVERITY_OF_CONSEQUENCE, Assessment, Finding, Kind, Status
from ingest.installed_base import Pump, Register, Site, Visit

NO_TIME = datetime(2026, 1, 1)


def as_register(year: Any) -> Register:
    return Register(
        sites={row["site_id"]: Site(**row) for row in year.sites},
        pumps={
            row["pump_id"]: Pump(
                pump_id=row["pump_id"],
                site_id=row["site_id"],
                pump_model=row["pump_model"],
                installed_on=date.fromisoformat(row["installed_on"]),
            )
            for row in year.pumps
        },
        visits=tuple(
            Visit(**{**row, "visited_on": date.fromisoformat(row["visited_on"])})
            for row in year.visits
        ),
    )


def as_answers(year: Any, up_to: str = "9999-W01") -> tuple[list[Finding], list[Assessment]]:
    rows = [row for row in year.answers if row["week"] <= up_to]
    return [_finding(row) for row in rows if row["status"] == "found"], [
        Assessment(
            week=row["week"],
            site_id=row["site_id"],
            pump_id=row["pump_id"],
            kind=Kind(row["kind"]),
            status=Status(row["status"]),
        )
        for row in rows
    ]


def _finding(row: dict[str, Any]) -> Finding:
    return Finding(
        week=row["week"],
        site_id=row["site_id"],
        pump_id=row["pump_id"],
        kind=Kind(row["kind"]),
        cause=row["cause"],
        severity=SEVERITY_OF_CONSEQUENCE[row["consequence"]],
        confidence=row["confidence"],
        first_seen=NO_TIME,
        last_seen=NO_TIME,
        measures={"starts_per_day": row["starts_per_day"]},
        summary="",
        limit_source="",
        consequence=row["consequence"],
        state="same",
    )
