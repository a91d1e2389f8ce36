import re

import pytest

from analysis.advice import ALWAYS_BRING, CAUTIONS, STANDING, advice_for, cautions_for
from analysis.advice_table import ADVICE
from analysis.findings import CAUSES, Kind

EVERY_CAUSE = [(kind, cause) for kind in Kind for cause in ("", *CAUSES[kind])]


@pytest.mark.parametrize(("kind", "cause"), EVERY_CAUSE)
def test_every_kind_and_cause_has_checks_parts_alternatives_and_cautions(kind, cause):
    advice = ADVICE[kind, cause]

    assert len(advice.checks) >= 3
    assert advice.parts
    assert advice.alternatives
    assert advice.cautions
    assert set(advice.cautions) <= set(CAUTIONS)


def test_the_table_has_no_cause_that_cannot_be_found():
    assert set(ADVICE) == set(EVERY_CAUSE)


def test_a_cause_without_advice_of_its_own_gets_that_of_its_kind():
    assert advice_for(Kind.LEAK, "unheard of") == ADVICE[Kind.LEAK, ""]


@pytest.mark.parametrize(("kind", "cause"), EVERY_CAUSE)
def test_no_advice_raises_a_limit_or_bypasses_protection(kind, cause):
    advice = ADVICE[kind, cause]

    text = " ".join((*advice.checks, *advice.parts)).lower()
    assert not re.search(r"\b(raise|increase|bypass|override|disable|jumper|turn up)\b", text)


def test_the_last_check_of_an_opened_tank_comes_after_it_is_drained():
    checks = ADVICE[Kind.SHORT_CYCLING, "tank_charge_lost"].checks

    drained = next(n for n, text in enumerate(checks) if "drain to zero" in text)
    assert "locked out" in checks[drained]
    assert drained < next(n for n, text in enumerate(checks) if "Set the pre-charge" in text)


def test_every_page_warns_of_shock_stored_charge_and_grounding_and_defers_to_local_code():
    cautions = cautions_for([])

    assert [caution.title for caution in cautions] == [
        "Electric shock",
        "Stored charge",
        "Grounding and protection",
        STANDING.title,
    ]
    # at least five minutes, then measure: common practice, no source
    assert "at least five minutes" in cautions[1].text
    assert "measure" in cautions[1].text
    for word in ("Local code", "manual", "authority having jurisdiction", "licensed"):
        assert word in STANDING.text


def test_cautions_of_several_findings_stand_once_each():
    advice = [advice_for(Kind.LEAK, "downstream"), advice_for(Kind.SHORT_CYCLING, "leak")]

    titles = [caution.title for caution in cautions_for(advice)]

    assert len(titles) == len(set(titles))
    assert {"Pressure", "Water quality", "Ask before shutting water"} <= set(titles)


def test_the_truck_always_carries_meter_gauge_and_lock():
    text = " ".join(ALWAYS_BRING)

    for tool in ("true-RMS meter", "test gauge", "tyre gauge", "lock and tag"):
        assert tool in text
