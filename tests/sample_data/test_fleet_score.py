import csv

import pytest

from sample_data.score import is_active, main, score, score_text

COLUMNS = (
    "pump_id",
    "site_id",
    "scenario",
    "kind",
    "cause",
    "size",
    "began_on",
    "ended_on",
    "also_allowed",
    "note",
)


def truth_row(pump_id: str, kind: str = "", cause: str = "", **more: str) -> dict[str, str]:
    return (
        dict.fromkeys(COLUMNS, "")
        | {
            "pump_id": pump_id,
            "scenario": f"scenario of {pump_id}",
            "kind": kind,
            "cause": cause,
        }
        | more
    )


def finding(pump_id: str, kind: str, cause: str = "", severity: str = "low") -> dict[str, str]:
    return {
        "week": "2026-W47",
        "pump_id": pump_id,
        "kind": kind,
        "cause": cause,
        "severity": severity,
        "summary": "words",
    }


TRUTH = [
    truth_row("P-1", "leak", "downstream"),
    truth_row("P-2", "leak", "check_valve", also_allowed="short_cycling;setting:ramp"),
    truth_row("P-3"),
    truth_row("P-4", "setting", "ramp"),
    truth_row("P-4", "setting", "precharge"),
]


def kind_of(result, kind):
    return next(k for k in result.kinds if k.kind == kind)


def test_hits_misses_false_findings_and_causes_are_counted_by_kind():
    findings = [
        finding("P-1", "leak", "downstream"),
        finding("P-2", "leak", "downstream"),
        finding("P-3", "leak", "downstream"),
    ]

    leak = kind_of(score(TRUTH, findings, "2026-W47"), "leak")

    assert (leak.n_true, leak.n_hits, leak.n_misses, leak.n_false) == (2, 2, 0, 1)
    assert leak.precision == pytest.approx(2 / 3)
    assert leak.recall == 1.0
    assert leak.cause_accuracy == 0.5


def test_settings_are_told_apart_by_their_rule():
    findings = [finding("P-4", "setting", "ramp"), finding("P-4", "setting", "min_hz")]

    setting = kind_of(score(TRUTH, findings, "2026-W47"), "setting")

    assert (setting.n_hits, setting.n_misses, setting.n_false) == (1, 1, 1)


def test_a_fault_named_within_another_finding_is_a_hit_without_a_cause_of_its_own():
    findings = [finding("P-4", "short_cycling") | {"measures": '{"also": ["setting"]}'}]

    setting = kind_of(score(TRUTH, findings, "2026-W47"), "setting")

    assert (setting.n_hits, setting.n_nested, setting.n_misses) == (2, 2, 0)
    assert setting.cause_accuracy is None


def test_what_is_also_allowed_is_neither_a_hit_nor_false():
    findings = [
        finding("P-2", "short_cycling", "leak"),
        finding("P-2", "setting", "ramp"),
        finding("P-2", "setting", "min_hz"),
    ]

    result = score(TRUTH, findings, "2026-W47")

    assert kind_of(result, "short_cycling").n_false == 0
    assert kind_of(result, "setting").n_false == 1


def test_high_findings_on_healthy_pumps_are_counted_whatever_is_allowed():
    truth = [truth_row("P-3", also_allowed="leak")]

    result = score(truth, [finding("P-3", "leak", "", "high")], "2026-W47")

    assert len(result.high_on_healthy) == 1
    assert result.false == ()


def test_findings_of_another_week_do_not_count():
    result = score(TRUTH, [finding("P-3", "leak") | {"week": "2026-W46"}], "2026-W47")

    assert result.false == ()


def test_kinds_that_are_not_judged_are_left_out():
    result = score([*TRUTH, truth_row("P-5", "dry_running")], [], "2026-W47", ["leak"])

    assert [k.kind for k in result.kinds] == ["leak"]


@pytest.mark.parametrize(
    ("began", "ended", "expected"),
    [
        ("", "", True),
        ("2026-11-22", "", True),  # the week's Sunday
        ("2026-11-23", "", False),
        ("2026-10-20", "2026-11-16", False),  # ended on the week's Monday
        ("2026-10-20", "2026-11-18", True),
    ],
)
def test_a_fault_counts_for_the_weeks_it_was_there(began, ended, expected):
    row = truth_row("P-1", "leak", "downstream", began_on=began, ended_on=ended)

    assert is_active(row, "2026-W47") is expected


def test_the_command_prints_the_table_of_a_folder(tmp_path, capsys):
    (tmp_path / "pages").mkdir()
    tables = (("truth.csv", TRUTH), ("pages/findings.csv", [finding("P-1", "leak", "downstream")]))
    for name, rows in tables:
        with (tmp_path / name).open("w", newline="") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)

    status = main([str(tmp_path)])

    out = capsys.readouterr().out
    assert status == 0
    assert "leak" in out
    assert "Missed: P-2 leak (scenario of P-2): check_valve" in out


def test_the_command_names_a_missing_file(tmp_path, capsys):
    assert main([str(tmp_path)]) == 1
    assert "truth.csv: cannot be read" in capsys.readouterr().err
    assert main([]) == 2


def test_a_kind_without_faults_shows_no_recall():
    text = score_text(score([truth_row("P-3")], [finding("P-3", "leak")], "2026-W47"))

    assert "False: P-3 leak" in text
    assert "   -" in text
