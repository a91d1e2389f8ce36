"""What visits found moves the order of the call list as it moves the precision of a kind."""

from types import ModuleType
from typing import Any

import pytest

from analysis.calls import rank_calls
from analysis.context import Fleet
from analysis.findings import Finding, Kind
from analysis.history import History
from analysis.judging import judge_week
from analysis.visit_report import visit_report
from ingest.installed_base import Register, Site, Visit
from ingest.weeks import Week

W45, W46, W47 = (Week(2026, n) for n in (45, 46, 47))
LOADED = {"current_p95_a": 7.6, "current_max_a": 7.9, "over_limit_s": 40_000.0}


@pytest.fixture
def judged(case_factory: ModuleType) -> Any:
    """Return the findings of W47 and the register: two alike pumps over their limit for weeks."""

    def make(*visits: Visit) -> tuple[list[Finding], Register]:
        sites = {name: case_factory.healthy_site(site_id=name) for name in ("S-01", "S-02")}
        pumps = {
            f"P-{site}": case_factory.healthy_pump(pump_id=f"P-{site}", site_id=site)
            for site in sites
        }
        register = Register(sites=sites, pumps=pumps, visits=visits)
        weeks = (W45, W46, W47)
        fleet = Fleet(
            register=register,
            weeks={
                one: [case_factory.healthy_week(w, pump_id=one, **LOADED) for w in weeks]
                for one in pumps
            },
            days={
                one: [
                    day
                    for w in weeks
                    for day in case_factory.healthy_days(
                        w,
                        every_day={
                            "pump_id": one,
                            "current_p95_a": 7.6,
                            "over_limit_s": 5_700.0,
                        },
                    )
                ]
                for one in pumps
            },
            op_map={},
        )
        history = History()
        for week in weeks[:-1]:
            history.add(*judge_week(fleet, str(week), history))
        findings, _ = judge_week(fleet, str(W47), history)
        return [f for f in findings if f.kind is Kind.OVERLOAD_MARGIN], register

    return make


def visit(site: str, outcome: str) -> Visit:
    return Visit(
        visited_on=W46.monday,
        site_id=site,
        pump_id=f"P-{site}",
        kind="overload_margin",
        outcome=outcome,
    )


def order(findings: list[Finding], register: Register) -> list[str]:
    return [call.site_id for call in rank_calls(findings, register)]


def test_alike_pumps_stand_in_order_of_their_id(judged: Any):
    findings, register = judged()

    assert order(findings, register) == ["S-01", "S-02"]
    assert findings[0].confidence == findings[1].confidence


def test_what_was_not_found_goes_down(judged: Any):
    assert order(*judged(visit("S-01", "not_found"))) == ["S-02", "S-01"]


def test_what_was_confirmed_goes_up(judged: Any):
    plain, _ = judged()
    findings, register = judged(visit("S-02", "confirmed"))

    assert plain[1].confidence < findings[1].confidence
    assert order(findings, register) == ["S-02", "S-01"]


def test_what_is_seen_again_after_a_fix_goes_up_as_back(judged: Any):
    fixed = Visit(
        visited_on=W46.monday.fromordinal(W46.monday.toordinal() + 6),
        site_id="S-02",
        pump_id="P-S-02",
        kind="overload_margin",
        outcome="fixed",
    )

    findings, register = judged(fixed)

    assert [f.state for f in findings] == ["same", "back"]
    assert order(findings, register) == ["S-02", "S-01"]


def test_the_same_outcomes_move_the_precision_of_the_kind():
    def share(*visits: Visit) -> float:
        register = Register(sites={"S-01": Site(site_id="S-01")}, visits=visits)
        (told,) = visit_report(str(W47), register, ()).precision
        return told.share

    # by hand: the prior's 4 right and 1 wrong with one more of either
    assert share(visit("S-01", "confirmed")) == pytest.approx(5 / 6)
    assert share(visit("S-01", "not_found")) == pytest.approx(4 / 6)
