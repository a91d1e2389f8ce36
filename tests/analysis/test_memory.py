"""Since when a finding is open, and whether it is new, back, worse, the same or better."""

from dataclasses import replace
from datetime import datetime
from types import ModuleType

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
    ("before", "now", "first_seen"),
    [
        ("downstream", "check_valve", THIS_WEEK),  # that date was another fault's
        ("downstream", "downstream", LONG_AGO),
        ("", "check_valve", LONG_AGO),  # what was not named may have been the same
        ("check_valve", "", LONG_AGO),
    ],
)
def test_another_cause_is_there_since_its_own_evidence(
    before: str, now: str, first_seen: datetime
) -> None:
    told = found("2026-W46", leak_lpm=0.3)
    assert told.finding is not None
    past = [replace(told, finding=replace(told.finding, cause=before))]

    assert recall(replace(judged(leak_lpm=0.3), cause=now), past) == (first_seen, "same")


CYCLING = found("2026-W44", Kind.SHORT_CYCLING, starts_per_day=320)


@pytest.mark.parametrize(
    ("change", "state"),
    [
        ({"starts_per_day": 250.0}, "back"),
        ({"starts_per_day": 295.0}, "same"),  # not a tenth less than the 320 that opened it
        ({"share_missing": 0.3}, "same"),
        ({"n_starts": 0, "run_s": 0.0, "starts_per_day": 0.0}, "same"),
    ],
    ids=["well inside", "hovers at the limit", "a third unseen", "nobody used it"],
)
def test_only_clean_weeks_close_a_spell(
    case_factory: ModuleType, change: dict[str, float], state: str
) -> None:
    record = case_factory.healthy_week(**change)
    clear = [Past(f"2026-W4{n}", Status.CLEAR, None, record) for n in (5, 6)]
    now = judged(Kind.SHORT_CYCLING, starts_per_day=330)

    assert recall(now, [CYCLING, *clear])[1] == state


def test_the_close_limit_lies_inside_the_least_size_of_the_spell(case_factory: ModuleType) -> None:
    # found at 900 and at 310: 290 is under a third of the first, but no tenth less than 310
    spell = [
        found("2026-W43", Kind.SHORT_CYCLING, starts_per_day=900),
        found("2026-W44", Kind.SHORT_CYCLING, starts_per_day=310),
    ]
    record = case_factory.healthy_week(starts_per_day=290.0)
    clear = [Past(f"2026-W4{n}", Status.CLEAR, None, record) for n in (5, 6)]

    assert recall(judged(Kind.SHORT_CYCLING, starts_per_day=330), [*spell, *clear])[1] == "same"


def test_a_vacant_house_that_holds_flat_does_close_a_leak(case_factory: ModuleType) -> None:
    record = case_factory.healthy_week(n_starts=0, run_s=0.0)
    clear = [Past(f"2026-W4{n}", Status.CLEAR, None, record) for n in (5, 6)]

    assert recall(judged(), [found("2026-W44"), *clear]) == (THIS_WEEK, "back")


def test_amps_close_to_those_that_opened_it_do_not_close_a_thin_margin(
    case_factory: ModuleType,
) -> None:
    spell = [found("2026-W44", Kind.OVERLOAD_MARGIN, current_p95_a=6.3)]
    now = judged(Kind.OVERLOAD_MARGIN, current_p95_a=6.4)

    def after(amps: float) -> str:
        record = case_factory.healthy_week(current_p95_a=amps)
        clear = [Past(f"2026-W4{n}", Status.CLEAR, None, record) for n in (5, 6)]
        return recall(now, [*spell, *clear])[1]

    assert (after(6.2), after(6.0)) == ("same", "back")


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
