import csv
import json
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pytest
from pyarrow import parquet

from analysis.calls import rank_calls
from analysis.findings import Assessment, Finding, Kind, Severity, Status
from dashboards import export
from ingest.installed_base import Register


def finding(**change: object) -> Finding:
    values: dict[str, object] = {
        "week": "2026-W47",
        "site_id": "S-01",
        "pump_id": "P-01",
        "kind": Kind.LEAK,
        "cause": "downstream",
        "severity": Severity.MEDIUM,
        "confidence": 0.8,
        "first_seen": datetime(2026, 11, 17, 5, 30),
        "last_seen": datetime(2026, 11, 22, 5),
        "measures": {"leak_lpm": 0.3, "leak_l_per_day": 432, "also": ["short_cycling"]},
        "summary": "Something draws 0.3 L/min every night, even at 03:00.",
        "limit_source": "ours",
        "consequence": 3,
        "state": "new",
    }
    return Finding(**(values | change))


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_findings_carry_the_contract_columns_in_order(tmp_path: Path):
    export.write_findings(tmp_path, [finding()])

    header = (tmp_path / "findings.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == (
        "week,site_id,pump_id,kind,cause,severity,confidence,first_seen,last_seen,measures,"
        "summary,limit_source"
    )
    assert parquet.read_schema(tmp_path / "findings.parquet").names == header.split(",")


def test_times_are_utc_iso_8601_and_measures_one_json_object(tmp_path: Path):
    export.write_findings(tmp_path, [finding()])

    (row,) = rows_of(tmp_path / "findings.csv")
    assert row["first_seen"] == "2026-11-17T05:30:00Z"
    assert row["confidence"] == "0.8"
    assert row["measures"] == '{"also":["short_cycling"],"leak_l_per_day":432,"leak_lpm":0.3}'


def test_parquet_says_the_same_as_csv(tmp_path: Path):
    export.write_findings(tmp_path, [finding()])

    (row,) = parquet.read_table(tmp_path / "findings.parquet").to_pylist()
    assert row["first_seen"] == datetime(2026, 11, 17, 5, 30, tzinfo=UTC)
    assert json.loads(row["measures"])["leak_lpm"] == 0.3
    assert row["summary"] == finding().summary


def test_findings_are_the_same_bytes_whatever_order_they_come_in(tmp_path: Path):
    found = [finding(pump_id=f"P-{n}", site_id=f"S-{n % 3}") for n in range(6)]

    export.write_findings(tmp_path / "a", found)
    export.write_findings(tmp_path / "b", found[::-1])

    for name in ("findings.csv", "findings.parquet"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_no_findings_still_leave_a_header(tmp_path: Path):
    export.write_findings(tmp_path, [])

    assert rows_of(tmp_path / "findings.csv") == []
    assert parquet.read_table(tmp_path / "findings.parquet").num_rows == 0


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t"])
def test_free_text_never_reads_as_a_formula(tmp_path: Path, start: str):
    export.write_findings(tmp_path, [finding(summary=f"{start}1+1")])

    (row,) = rows_of(tmp_path / "findings.csv")
    assert row["summary"] == f"'{start}1+1"


def test_an_id_is_never_altered(tmp_path: Path):
    export.write_findings(tmp_path, [finding(site_id='-7 "east", wing', pump_id="=P")])

    (row,) = rows_of(tmp_path / "findings.csv")
    assert (row["site_id"], row["pump_id"]) == ('-7 "east", wing', "=P")


def test_a_measure_that_is_no_number_is_null(tmp_path: Path):
    text = export.measures_json({"b": float("nan"), "a": [1.0, float("inf")]})

    assert text == '{"a":[1.0,null],"b":null}'


def test_calls_carry_the_contract_columns_in_rank_order(tmp_path: Path):
    summary = finding().summary
    calls = rank_calls(
        [
            finding(),
            finding(kind=Kind.SHORT_CYCLING, consequence=2),
            finding(site_id="S-02", consequence=4, severity=Severity.HIGH, state="worse"),
        ],
        Register(),
    )

    export.write_calls(tmp_path, calls)

    assert [list(row.values()) for row in rows_of(tmp_path / "calls.csv")] == [
        ["1", "S-02", "this week", "4.00", "worse", "high", "0.8", "leak", summary],
        ["2", "S-01", "phone", "3.10", "new", "medium", "0.8", "leak short_cycling", summary],
    ]
    header = (tmp_path / "calls.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == "rank,site_id,action,score,state,severity,confidence,kinds,summary"


def test_the_workbook_says_the_same_as_the_calls_csv(tmp_path: Path):
    calls = rank_calls([finding(), finding(site_id="S-02", consequence=4)], Register())

    export.write_calls(tmp_path, calls)
    export.write_calls_workbook(tmp_path, calls)

    sheet = openpyxl.load_workbook(tmp_path / "calls.xlsx")["calls"]
    header, *rows = sheet.iter_rows(values_only=True)
    table = [dict(zip(header, row, strict=True)) for row in rows]
    for cells, row in zip(table, rows_of(tmp_path / "calls.csv"), strict=True):
        assert {name: str(cells[name]) for name in row if name != "score"} == {
            name: value for name, value in row.items() if name != "score"
        }
        assert cells["score"] == float(row["score"])


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "https://example.org/", "mailto:"])
def test_no_text_of_the_workbook_is_a_formula_or_a_link(tmp_path: Path, start: str):
    text = f"{start}1+1"
    calls = rank_calls([finding(site_id=text, summary=text)], Register())

    export.write_calls_workbook(tmp_path, calls)

    sheet = openpyxl.load_workbook(tmp_path / "calls.xlsx")["calls"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == text]
    assert len(cells) == 2
    assert all(cell.data_type == "s" and cell.hyperlink is None for cell in cells)


def test_the_workbook_is_the_same_bytes_each_time(tmp_path: Path):
    calls = rank_calls([finding()], Register())

    for name in ("a", "b"):
        export.write_calls_workbook(tmp_path / name, calls)

    assert (tmp_path / "a" / "calls.xlsx").read_bytes() == (
        tmp_path / "b" / "calls.xlsx"
    ).read_bytes()


def test_assessments_carry_the_contract_columns(tmp_path: Path):
    answer = Assessment(
        week="2026-W47",
        site_id="S-01",
        pump_id="P-01",
        kind=Kind.LEAK,
        status=Status.NOT_ASSESSED,
        reason="no tank_l in the register",
    )

    export.write_assessments(tmp_path, [answer])

    text = (tmp_path / "assessments.csv").read_text(encoding="utf-8")
    assert text == (
        "week,site_id,pump_id,kind,status,reason\n"
        "2026-W47,S-01,P-01,leak,not_assessed,no tank_l in the register\n"
    )


def test_rejects_name_file_and_line(tmp_path: Path):
    export.write_rejects(
        tmp_path,
        [
            ("a.csv", 7, "pressure_psi is 'OL'", "row left out", "=2+2"),
            ("b.csv", None, "no timestamp column", "file left out", ""),
        ],
    )

    assert [list(row.values()) for row in rows_of(tmp_path / "rejects.csv")] == [
        ["a.csv", "7", "pressure_psi is 'OL'", "row left out", "'=2+2"],
        ["b.csv", "", "no timestamp column", "file left out", ""],
    ]
