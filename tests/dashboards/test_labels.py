import pytest

from analysis.findings import CAUSES, Kind, Status
from dashboards import labels


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_and_cause_has_a_name_people_say(kind: Kind):
    assert kind in labels.KINDS
    assert [cause for cause in CAUSES[kind] if cause not in labels.CAUSES] == []


def test_every_answer_has_a_name():
    assert set(labels.STATUSES) == {str(status) for status in Status}


def test_a_cause_the_log_does_not_tell_is_said_so():
    assert labels.cause_text("") == "cause not told by the log"


def test_a_code_without_a_name_is_shown_as_the_code_it_is():
    assert labels.cause_text("E-17") == "code E-17"


def test_certainty_is_a_word_with_its_figure():
    assert labels.confidence_text(0.7) == "likely (0.70)"
