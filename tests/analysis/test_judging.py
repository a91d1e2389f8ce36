"""Every pump has one answer for every kind, and no answer is guessed."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from types import ModuleType
from typing import Any

import pytest

from analysis.context import Fleet
from analysis.detectors import DETECTORS
from analysis.findings import Assessment, Finding, Kind, Needs, Severity, Status
from analysis.history import History
from analysis.judging import judge_week, lacks
from analysis.records import TripEvent
from ingest.installed_base import FaultCode, Register, Visit
from ingest.weeks import Week

W46, W47 = Week(2026, 46), Week(2026, 47)
OVER_LIMIT = {
    "week": {"current_p95_a": 7.6, "current_max_a": 7.9, "over_limit_s": 40_000.0},
    "every_day": {"current_p95_a": 7.6, "over_limit_s": 5_700.0},
}


@pytest.fixture
def make_fleet(case_factory: ModuleType) -> Any:
    """Return a fleet of one pump with a healthy W46 and the week W47 given."""

    def make(
        *,
        week: dict[str, Any] | None = None,
        pump: dict[str, Any] | None = None,
        heard: bool = True,
        every_day: dict[str, Any] | None = None,
        weeks_before: int = 1,
        visits: tuple[Visit, ...] = (),
    ) -> Fleet:
        site, own = case_factory.healthy_site(), case_factory.healthy_pump(**(pump or {}))
        names = [W47.plus(-n) for n in range(weeks_before, 0, -1)]
        records = [case_factory.healthy_week(name) for name in names]
        days = [day for name in names for day in case_factory.healthy_days(name)]
        if heard:
            records.append(case_factory.healthy_week(W47, **(week or {})))
            days += case_factory.healthy_days(W47, every_day=every_day)
        return Fleet(
            register=Register(sites={site.site_id: site}, pumps={own.pump_id: own}, visits=visits),
            weeks={own.pump_id: records} if records else {},
            days={own.pump_id: days},
            op_map={},
        )

    return make


def answers(assessments: list[Assessment]) -> dict[Kind, Status]:
    return {a.kind: a.status for a in assessments}


def test_a_healthy_pump_is_clear_of_every_kind(make_fleet: Any) -> None:
    findings, assessments = judge_week(make_fleet(), "2026-W47", History())

    assert findings == []
    too_slow = {Kind.HUNTING: Status.NOT_ASSESSED}  # its log has one sample in 5 s
    assert answers(assessments) == {d.KIND: Status.CLEAR for d in DETECTORS} | too_slow


def test_every_registered_pump_has_one_answer_a_kind(make_fleet: Any) -> None:
    for fleet in (make_fleet(), make_fleet(heard=False), make_fleet(heard=False, weeks_before=0)):
        _, assessments = judge_week(fleet, "2026-W47", History())

        assert sorted(a.kind for a in assessments) == sorted(Kind)


def test_what_the_register_lacks_is_named(make_fleet: Any) -> None:
    fleet = make_fleet(pump={"service_factor_amps": None})

    _, assessments = judge_week(fleet, "2026-W47", History())

    margin = next(a for a in assessments if a.kind is Kind.OVERLOAD_MARGIN)
    assert margin.status is Status.NOT_ASSESSED
    assert margin.reason == "no service_factor_amps in the register"


def test_what_the_log_lacks_is_named(make_fleet: Any) -> None:
    fleet = make_fleet(week={"has_voltage": False})

    _, assessments = judge_week(fleet, "2026-W47", History())

    volts = next(a for a in assessments if a.kind is Kind.UNDERVOLTAGE)
    assert (volts.status, volts.reason) == (Status.NOT_ASSESSED, "no voltage_v in the log")


def test_all_that_is_lacking_is_said_at_once(case_factory: ModuleType) -> None:
    needs = Needs(
        log=("voltage_v",), register=("tank_l",), interval_max_s=30, observed_min_share=0.6
    )
    pump = case_factory.healthy_pump(tank_l=None)
    week = case_factory.healthy_week(has_voltage=False, log_interval_s=60.0, share_missing=0.5)

    said = lacks(needs, pump, week)

    assert said == (
        "no voltage_v in the log; no tank_l in the register;"
        " the log has one sample every 60 s; this needs 30 s or faster;"
        " only 50 % of the week was logged; this needs 60 %"
    )


def test_nothing_is_lacking_at_the_very_limits(case_factory: ModuleType) -> None:
    needs = Needs(interval_max_s=5, observed_min_share=0.6)
    week = case_factory.healthy_week(log_interval_s=5.0, share_missing=0.4)

    assert lacks(needs, case_factory.healthy_pump(), week) == ""


def test_a_pump_shut_down_all_week_is_neither_clear_nor_found(make_fleet: Any) -> None:
    fleet = make_fleet(week={"is_shut_down": True})

    findings, assessments = judge_week(fleet, "2026-W47", History())

    assert findings == []
    assert answers(assessments) == {
        kind: Status.CLEAR if kind is Kind.DATA_GAP else Status.SHUT_DOWN for kind in Kind
    }


def test_a_pump_silent_all_week_is_a_gap_since_its_last_sample(make_fleet: Any) -> None:
    fleet = make_fleet(heard=False)

    findings, assessments = judge_week(fleet, "2026-W47", History())

    assert answers(assessments) == {
        kind: Status.FOUND if kind is Kind.DATA_GAP else Status.NO_DATA for kind in Kind
    }
    assert [f.kind for f in findings] == [Kind.DATA_GAP]
    assert findings[0].first_seen == fleet.weeks["P-01"][-1].last_at


def test_a_pump_never_heard_from_is_no_data_and_no_finding(make_fleet: Any) -> None:
    findings, assessments = judge_week(
        make_fleet(heard=False, weeks_before=0), "2026-W47", History()
    )

    assert findings == []
    assert set(answers(assessments).values()) == {Status.NO_DATA}


def test_severity_follows_the_consequence_and_not_the_confidence(make_fleet: Any) -> None:
    findings, _ = judge_week(make_fleet(**OVER_LIMIT), "2026-W47", History())

    margin = next(f for f in findings if f.kind is Kind.OVERLOAD_MARGIN)
    assert (margin.consequence, margin.severity) == (4, Severity.HIGH)


def test_a_finding_of_the_week_before_keeps_its_first_sight(make_fleet: Any) -> None:
    first, answered = judge_week(make_fleet(**OVER_LIMIT), "2026-W47", History())
    earlier = [replace(f, week="2026-W46", first_seen=f.first_seen - timedelta(7)) for f in first]
    history = History()
    history.add(earlier, [replace(a, week="2026-W46") for a in answered])

    findings, _ = judge_week(make_fleet(**OVER_LIMIT), "2026-W47", history)

    margins = [f for f in findings if f.kind is Kind.OVERLOAD_MARGIN]
    assert margins
    assert [(f.first_seen, f.state) for f in margins] == [
        (f.first_seen, "same") for f in earlier if f.kind is Kind.OVERLOAD_MARGIN
    ]


def open_since_last_week(make_fleet: Any) -> History:
    """A thin margin found in W46."""
    first, answered = judge_week(make_fleet(**OVER_LIMIT), "2026-W47", History())
    history = History()
    history.add(
        [replace(f, week="2026-W46") for f in first],
        [replace(a, week="2026-W46") for a in answered],
    )
    return history


def test_a_finding_is_not_kept_open_over_a_clear_week(make_fleet: Any) -> None:
    history = open_since_last_week(make_fleet)

    findings, assessments = judge_week(make_fleet(), "2026-W47", history)

    assert findings == []
    assert answers(assessments)[Kind.OVERLOAD_MARGIN] is Status.CLEAR


def test_a_silent_week_clears_nothing(make_fleet: Any) -> None:
    history = open_since_last_week(make_fleet)

    findings, assessments = judge_week(make_fleet(heard=False), "2026-W47", history)

    assert [f.kind for f in findings] == [Kind.DATA_GAP]
    assert Status.CLEAR not in answers(assessments).values()


def test_a_margin_that_hovers_at_its_limit_stays_one_finding_over_weeks(
    make_fleet: Any,
) -> None:
    # 6.9 A is the limit: found at 6.3 A, two weeks clear at 6.2 A, found again
    thin = {"week": {"current_p95_a": 6.3}, "every_day": {"current_p95_a": 6.3}}
    hovers = {"week": {"current_p95_a": 6.2}, "every_day": {"current_p95_a": 6.2}}
    fleet, history = make_fleet(**thin, weeks_before=3), History()
    found, answered = judge_week(fleet, "2026-W47", history)
    history.add(
        [replace(f, week="2026-W44") for f in found],
        [replace(a, week="2026-W44") for a in answered],
    )
    for week in ("2026-W45", "2026-W46"):
        _, clear = judge_week(make_fleet(**hovers), "2026-W47", History())
        history.add([], [replace(a, week=week) for a in clear])
    records = [replace(r, current_p95_a=6.2) for r in fleet.weeks["P-01"][:-1]]
    again = replace(fleet, weeks={"P-01": [*records, fleet.weeks["P-01"][-1]]})

    findings, _ = judge_week(again, "2026-W47", history)

    assert [(f.kind, f.state) for f in findings] == [(Kind.OVERLOAD_MARGIN, "same")]


def test_the_past_before_a_fix_is_not_compared_with(
    make_fleet: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []
    fixed = Visit(
        visited_on=date(2026, 11, 4), site_id="S-01", pump_id="P-01", outcome="fixed", kind="leak"
    )
    looked_at = Visit(visited_on=date(2026, 11, 12), site_id="S-01", outcome="confirmed")
    detector = DETECTORS[0]
    monkeypatch.setattr(detector, "judge", lambda case: seen.append(len(case.past)) or ())

    judge_week(make_fleet(weeks_before=4), "2026-W47", History())
    judge_week(make_fleet(weeks_before=4, visits=(fixed, looked_at)), "2026-W47", History())

    assert seen == [4, 1]  # W46 alone lies wholly after Wednesday of W45


def test_trips_of_the_week_are_judged_with_the_codes_of_this_controller(
    make_fleet: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Any] = []
    monkeypatch.setattr(DETECTORS[0], "judge", lambda case: seen.append(case) or ())
    fleet = make_fleet(pump={"controller_model": "C-1"})
    codes = tuple(
        FaultCode(controller_model=model, fault_code="E05", meaning=meaning)
        for model, meaning in (("C-1", "overload"), ("C-2", "dry"))
    )
    fleet = replace(
        fleet,
        register=replace(fleet.register, fault_codes=codes),
        trips={"P-01": [trip("2026-W46"), trip("2026-W47")]},
    )

    judge_week(fleet, "2026-W47", History())

    assert [t.week for t in seen[0].trips] == ["2026-W47"]
    assert [c.meaning for c in seen[0].fault_codes] == ["overload"]


def trip(week: str) -> TripEvent:
    return TripEvent(
        pump_id="P-01",
        week=week,
        tripped_at=datetime(2026, 11, 17),
        until_at=datetime(2026, 11, 17),
        code="E05",
        n_retries=0,
        stopped_s=600.0,
        is_carried=False,
        is_open=False,
        is_latched=False,
    )


def test_settings_are_remembered_one_by_one() -> None:
    history = History()
    finding = Finding(
        week="2026-W46",
        site_id="S-01",
        pump_id="P-01",
        kind=Kind.SETTING,
        cause="min_hz",
        severity=Severity.LOW,
        confidence=0.9,
        first_seen=W46.monday,  # type: ignore[arg-type]  # any instant
        last_seen=W46.monday,  # type: ignore[arg-type]
        measures={},
        summary="",
        limit_source="",
        consequence=2,
        state="new",
    )
    answer = Assessment(
        week="2026-W46", site_id="S-01", pump_id="P-01", kind=Kind.SETTING, status=Status.FOUND
    )
    history.add([finding], [answer])

    same = history.of("P-01", finding)  # type: ignore[arg-type]  # has kind and cause
    other = history.of("P-01", replace(finding, cause="ramp"))  # type: ignore[arg-type]

    assert [p.finding for p in same] == [finding]
    assert [(p.finding, p.status) for p in other] == [(None, Status.CLEAR)]
