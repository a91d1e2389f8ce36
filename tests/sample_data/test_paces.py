"""Verdicts of the same pumps at several log intervals: how they are compared and counted."""

import pytest

from sample_data import paces
from sample_data.paces import (
    PACED,
    Answer,
    AtPace,
    cell,
    differing,
    main,
    paced,
    paces_text,
    read_answers,
    run_pace,
)
from sample_data.scenarios import SCENARIOS
from sample_data.trials import ProgramError

WEEK = "2026-W47"


def assessed(pump_id, kind, status, reason=""):
    return {"week": WEEK, "pump_id": pump_id, "kind": kind, "status": status, "reason": reason}


def found(pump_id, kind, cause):
    return {"week": WEEK, "pump_id": pump_id, "kind": kind, "cause": cause}


def at(pace_s, said, cause="", key=("P-1", "leak")):
    return AtPace(pace_s, {key: Answer(said, cause)})


@pytest.mark.parametrize(
    ("fine", "slow"),
    [
        (("found", "downstream"), ("", "")),
        (("clear", ""), ("", "")),
        (("found", "downstream"), ("found", "downstream")),
        (("found", "downstream"), ("found", "")),
    ],
)
def test_the_same_or_nothing_is_no_difference(fine, slow):
    assert differing([at(5, *fine), at(60, *slow)]) == []


@pytest.mark.parametrize("slow", [("clear", ""), ("found", "check_valve")])
def test_another_verdict_or_cause_is_told_with_its_paces(slow):
    fleets = [at(5, "found", "downstream"), at(10, ""), at(60, *slow)]

    ((pump_id, name, text),) = differing(fleets)

    assert (pump_id, name) == ("P-1", "leak")
    assert text == f"5 s found downstream, 60 s {slow[0]} {slow[1]}".rstrip()


def test_what_is_not_decided_has_no_answer():
    rows = [assessed("P-1", "leak", "not_assessed", "slow"), assessed("P-2", "leak", "shut_down")]

    assert read_answers([], rows, WEEK) == {
        ("P-1", "leak"): Answer(""),
        ("P-2", "leak"): Answer(""),
    }


def test_a_rule_is_clear_only_where_no_rule_was_left_out():
    ramp = found("P-1", "setting", "ramp")
    fine = AtPace(5, read_answers([ramp], [assessed("P-1", "setting", "found")], WEEK))
    left_out = read_answers([], [assessed("P-1", "setting", "clear", "ramp: too slow")], WEEK)
    whole = read_answers([], [assessed("P-1", "setting", "clear")], WEEK)

    assert differing([fine, AtPace(60, left_out)]) == []
    assert differing([fine, AtPace(60, whole)]) == [
        ("P-1", "setting:ramp", "5 s found ramp, 60 s clear")
    ]


def truth_row(pump_id, kind="", also_allowed=""):
    blank = dict.fromkeys(("began_on", "ended_on", "cause"), "")
    names = {"pump_id": pump_id, "kind": kind, "also_allowed": also_allowed, "scenario": "made"}
    return blank | names


TRUTH = [truth_row("P-1", "leak"), truth_row("P-2"), truth_row("P-3", "", "leak:downstream")]


def test_a_cell_counts_faults_found_and_sound_pumps_cleared():
    answers = {("P-1", "leak"): Answer("found"), ("P-2", "leak"): Answer("clear")}

    counted = cell(AtPace(5, answers), TRUTH, WEEK, "leak")

    assert counted.text() == "1/1, 1/1"  # P-3 may be either


def test_the_text_shows_the_table_and_every_difference():
    fleets = [at(5, "found"), at(60, "clear")]

    text = paces_text(fleets, TRUTH, WEEK, seed=3, weeks=2)

    assert "| kind | 5 s | 60 s |" in text
    assert "| `leak` | 1/1, 0/1 | 0/1, 0/1 |" in text
    assert "Verdicts that differ: 1" in text
    assert "leak: made: 5 s found, 60 s clear" in text


def test_every_scenario_named_is_there_and_logged_at_one_pace():
    chosen = paced([s for s in SCENARIOS if s.name in PACED], 10.0, 2.0)

    assert {s.name for s in chosen} == set(PACED)
    assert {s.intervals for s in chosen} == {((2.0, 10.0),)}
    kinds = {built.kind for s in chosen for built in s.built if built.kind}
    assert len(kinds) == 12


def test_a_program_that_fails_is_told(monkeypatch, capsys):
    def fails(*_):
        raise ProgramError("pace_1: failed")

    monkeypatch.setattr(paces, "run_pace", fails)

    assert main(["--paces", "1"]) == 1
    assert "pace_1: failed" in capsys.readouterr().err


@pytest.mark.parametrize("asked", ["", "0", "5,x"])
def test_paces_that_are_no_seconds_are_bad_usage(asked, capsys):
    with pytest.raises(SystemExit) as stop:
        main(["--paces", asked])

    assert stop.value.code == 2
    assert "whole seconds" in capsys.readouterr().err


FEW = (
    "leak with a sound tank at the interval of a dead one",
    "trickle through the day, small tank, fast ramp",
    "wire too thin for its length",
    "prime lost for a day, retries at fixed gaps",
    "wrong rotation since the motor was changed",
    "pressure reading stuck high, no start",
    "trips in a log without codes",
    "night irrigation",
)


@pytest.mark.slow
def test_the_same_pumps_get_the_same_verdict_at_every_pace_or_none(tmp_path):
    fleets = [run_pace(tmp_path / f"{pace_s}", 11, pace_s, 2, FEW) for pace_s in (5, 10, 30, 60)]

    assert differing(fleets) == []
    n_said = [sum(bool(answer.said) for answer in at.answers.values()) for at in fleets]
    assert n_said == sorted(n_said, reverse=True)  # a slower log decides less, never more
    assert all(n > 6 * len(FEW) for n in n_said)  # over half of twelve kinds at any pace
