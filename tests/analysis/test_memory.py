"""Since when a finding is open, and whether it is new, back, worse, the same or better."""

from datetime import datetime

import pytest

from analysis.findings import Finding, Judged, Kind, Severity, Status
from analysis.memory import Past, recall

THIS_WEEK = datetime(2026, 11, 17, 6)
LONG_AGO = datetime(2026, 10, 13, 6)


def judged(kind: Kind = Kind.LEAK, **measures: float) -> Judged:
    return Judged(
        kind=kind,
        cause="",
        consequence=2,
        confidence=0.7,
        since_at=THIS_WEEK,
        until_at=THIS_WEEK,
        measures=measures,
        summary="",
        limit_source="",
    )


def found(week: str, kind: Kind = Kind.LEAK, **measures: float) -> Past:
    finding = Finding(
        week=week,
        site_id="S-1",
        pump_id="P-1",
        kind=kind,
        cause="",
        severity=Severity.LOW,
        confidence=0.7,
        first_seen=LONG_AGO,
        last_seen=LONG_AGO,
        measures=measures,
        summary="",
        limit_source="",
        consequence=2,
        state="new",
    )
    return Past(week=week, status=Status.FOUND, finding=finding)


def answered(week: str, status: Status) -> Past:
    return Past(week=week, status=status, finding=None)


def test_a_first_finding_is_new_since_its_own_evidence() -> None:
    assert recall(judged(leak_lpm=0.3), []) == (THIS_WEEK, "new")


def test_a_finding_of_last_week_keeps_its_first_sight() -> None:
    past = [found("2026-W46", leak_lpm=0.3)]

    assert recall(judged(leak_lpm=0.31), past) == (LONG_AGO, "same")


@pytest.mark.parametrize(
    "status", [Status.NO_DATA, Status.NOT_ASSESSED, Status.SHUT_DOWN], ids=str
)
def test_weeks_without_an_answer_never_end_a_spell(status: Status) -> None:
    past = [found("2026-W40", leak_lpm=0.3), *(answered(f"2026-W4{n}", status) for n in range(7))]

    assert recall(judged(leak_lpm=0.3), past) == (LONG_AGO, "same")


def test_one_clear_week_does_not_end_a_spell_and_two_do() -> None:
    one = [found("2026-W44", leak_lpm=0.3), answered("2026-W45", Status.CLEAR)]
    two = [*one, answered("2026-W46", Status.CLEAR)]

    assert recall(judged(leak_lpm=0.3), one) == (LONG_AGO, "same")
    assert recall(judged(leak_lpm=0.3), two) == (THIS_WEEK, "back")


@pytest.mark.parametrize(
    ("kind", "name", "before", "now", "state"),
    [
        (Kind.LEAK, "leak_lpm", 0.40, 0.51, "worse"),
        (Kind.LEAK, "leak_lpm", 0.40, 0.49, "same"),
        (Kind.LEAK, "leak_lpm", 0.40, 0.29, "better"),
        (Kind.SHORT_CYCLING, "starts_per_day", 300, 900, "worse"),
        (Kind.UNDERVOLTAGE, "voltage_min_pct", 88.0, 84.0, "worse"),
        (Kind.UNDERVOLTAGE, "voltage_min_pct", 88.0, 87.0, "same"),
        (Kind.UNDERVOLTAGE, "voltage_min_pct", 84.0, 89.0, "better"),
    ],
)
def test_a_quarter_more_is_worse_and_a_quarter_less_is_better(
    kind: Kind, name: str, before: float, now: float, state: str
) -> None:
    past = [found("2026-W46", kind, **{name: before})]

    assert recall(judged(kind, **{name: now}), past)[1] == state


def test_a_size_that_is_not_known_is_called_the_same() -> None:
    past = [found("2026-W46")]

    assert recall(judged(leak_lpm=0.3), past)[1] == "same"
