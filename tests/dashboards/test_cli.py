import subprocess
import sys
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from dashboards import load_steps, steps
from dashboards.cli import main
from dashboards.write_pages import PagesReport
from ingest.errors import ProfileError, RegisterError, StoreError
from ingest.installed_base import Problem, Register
from ingest.load import LoadReport
from ingest.weeks import Week

COMMANDS = ("demo", "weekly", "load", "scan", "pages", "brief", "faults", "pictures", "archive")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


def load_report(**change: Any) -> LoadReport:
    values: dict[str, Any] = {
        "n_files": 2,
        "n_files_new": 2,
        "n_files_unchanged": 0,
        "rows_in": 100,
        "rows_kept": 90,
        "rows_repeated": 4,
        "rows_conflicting": 1,
        "rows_rejected": 5,
        "rejects": rejects(5),
        "n_rejects": 5,
        "weeks_touched": (),
    }
    return LoadReport(**(values | change))


def rejects(count: int) -> tuple[Problem, ...]:
    return tuple(
        Problem(file="a.csv", line=n, column=None, text="pressure_psi is 'OL'. Row left out.")
        for n in range(2, 2 + count)
    )


@pytest.fixture
def inputs(tmp_path: Path) -> list[str]:
    """Arguments of a load whose files exist."""
    (tmp_path / "register").mkdir()
    (tmp_path / "a.csv").write_text("timestamp\n", encoding="utf-8")
    return [
        str(tmp_path / "a.csv"),
        "--register",
        str(tmp_path / "register"),
        "--store",
        str(tmp_path / "fleet.duckdb"),
    ]


@pytest.fixture
def stand_ins(monkeypatch: pytest.MonkeyPatch, register: Register) -> Callable[..., list[str]]:
    """Replace what the steps call; the list returned fills with what was called, in order."""
    called: list[str] = []

    def stand_in(
        report: LoadReport | None = None, problems: tuple[Problem, ...] = ()
    ) -> list[str]:
        @contextmanager
        def session(*_: Any, **__: Any):
            called.append("open")
            yield None

        def scan(*_: Any) -> Week:
            called.append("scan")
            return Week(2026, 47)

        def write(*_: Any, **__: Any) -> PagesReport:
            called.append("pages")
            return PagesReport(n_calls=1, n_sites=4, n_not_heard=1)

        def note(name: str, value: Any) -> Callable[..., Any]:
            def call(*_: Any, **__: Any) -> Any:
                called.append(name)
                return value

            return call

        for module in (load_steps, steps):
            monkeypatch.setattr(module, "session", session)
        monkeypatch.setattr(
            load_steps, "load_register", note("register", (register, list(problems)))
        )
        monkeypatch.setattr(load_steps, "read_profile", note("profile", None))
        monkeypatch.setattr(load_steps, "load_logs", note("load", report or load_report()))
        monkeypatch.setattr(load_steps, "save_register", note("save", None))
        monkeypatch.setattr(load_steps, "write_reject_file", note("rejects", None))
        monkeypatch.setattr(steps, "scan", scan)
        monkeypatch.setattr(steps, "write_pages", write)
        return called

    return stand_in


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_has_help(command: str):
    result = run(command, "--help")

    assert result.exit_code == 0
    assert "Usage: " in result.output
    assert command in run("--help").output


def test_help_needs_none_of_the_heavy_libraries():
    code = (
        "import sys, dashboards.cli\n"
        "heavy = {'numpy', 'duckdb', 'pandas', 'scipy', 'plotly', 'pyarrow', 'jinja2', 'rich',"
        " 'matplotlib', 'xlsxwriter'}\n"
        "sys.stdout.write(' '.join(sorted(heavy & set(sys.modules))))"
    )

    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )

    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["weekly"], "Missing argument 'LOGS...'"),
        (["no-such-command"], "No such command 'no-such-command'"),
        (["scan", "--week", "2026-47"], "2026-47: not an ISO week. Write it as 2026-W47."),
        (["scan", "--week", "2026-W54"], "2026-W54: 2026 has no week 54."),
        (["scan", "--memory-limit", "much"], "much: not a size. Write it as 800MB or 2GB."),
        (["pages", "--capacity", "-1", "--out", "x"], "-1"),
        *(
            (["archive", f"--keep-raw={text}"], f"{text}: not a number of weeks. Write it as 26w.")
            for text in ("26", "0w", "-1w", "26 w", "26W", "1.5w", "w", "\u0662w", "99999w")
        ),
        (["archive"], "Name the weeks whose samples stay: --keep-raw 26w."),
    ],
)
def test_bad_usage_is_one_line_on_stderr_and_status_2(arguments: list[str], told: str):
    result = run(*arguments)

    assert result.exit_code == 2
    assert told in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


def test_a_missing_log_is_bad_usage(tmp_path: Path):
    result = run("load", tmp_path / "none.csv", "--register", tmp_path)

    assert result.exit_code == 2
    assert "none.csv" in result.stderr


@pytest.mark.parametrize("command", ["scan", "faults"])
def test_a_missing_store_is_one_line_and_status_1(tmp_path: Path, command: str):
    result = run(command, "--store", tmp_path / "none.duckdb")

    assert result.exit_code == 1
    assert "none.duckdb" in result.stderr
    assert result.stderr.count("\n") == 1
    assert not (tmp_path / "none.duckdb").exists()


def test_weekly_loads_scans_and_writes_pages_and_says_what_to_open(
    tmp_path: Path, inputs: list[str], stand_ins: Callable[..., list[str]]
):
    called = stand_ins()

    result = run("weekly", *inputs, "--out", tmp_path / "pages")

    assert result.exit_code == 0
    assert called == [
        *("register", "open", "load", "rejects", "save", "scan"),
        *("open", "pages"),  # read only, so that others may read meanwhile
    ]
    assert result.stdout.splitlines() == [
        "Register: 4 sites, 4 pumps.",
        "Logs: 2 files, 2 new; 90 rows added (4 repeated, 1 conflicting, 5 rejected);"
        " 0 files seen before.",
        "Logs: 5 problems",
        *(f"  {problem}" for problem in rejects(5)),
        "Call list: 1 of 4 sites with findings; 1 pump not heard from.",
        f"Open {tmp_path / 'pages' / 'index.html'}",
    ]
    assert result.stderr == ""


def test_weekly_archives_between_scan_and_pages_where_asked_to(
    tmp_path: Path,
    inputs: list[str],
    stand_ins: Callable[..., list[str]],
    monkeypatch: pytest.MonkeyPatch,
):
    called = stand_ins()
    monkeypatch.setattr(steps, "archive", lambda _, weeks: called.append(f"archive {weeks}"))

    result = run("weekly", *inputs, "--out", tmp_path / "pages", "--keep-raw", "26w")

    assert result.exit_code == 0
    assert called[-5:] == ["scan", "open", "archive 26", "open", "pages"]


@pytest.mark.parametrize(("option", "is_single_file"), [([], False), (["--single-file"], True)])
def test_a_page_is_one_file_on_request(
    tmp_path: Path,
    inputs: list[str],
    stand_ins: Callable[..., list[str]],
    monkeypatch: pytest.MonkeyPatch,
    option: list[str],
    is_single_file: bool,
):
    stand_ins()
    asked: list[bool] = []

    def write(*_: Any, is_single_file: bool, **__: Any) -> PagesReport:
        asked.append(is_single_file)
        return PagesReport(n_calls=1, n_sites=4, n_not_heard=1)

    monkeypatch.setattr(steps, "write_pages", write)

    result = run("weekly", *inputs, "--out", tmp_path / "pages", *option)

    assert result.exit_code == 0
    assert asked == [is_single_file]


def test_loading_twice_says_that_nothing_was_added(
    inputs: list[str], stand_ins: Callable[..., list[str]]
):
    stand_ins(
        load_report(
            n_files_new=0,
            n_files_unchanged=2,
            rows_kept=0,
            rows_repeated=0,
            rows_rejected=0,
            rejects=(),
        )
    )

    result = run("load", *inputs)

    assert result.exit_code == 0
    assert "0 rows added" in result.stdout
    assert "2 files seen before" in result.stdout


def test_the_first_20_rejects_are_listed_and_the_rest_counted(
    tmp_path: Path, inputs: list[str], stand_ins: Callable[..., list[str]]
):
    stand_ins(load_report(n_rejects=33, rejects=rejects(25)))

    result = run("weekly", *inputs, "--out", tmp_path / "pages")

    lines = result.stdout.splitlines()
    assert "  a.csv line 2: pressure_psi is 'OL'. Row left out." in lines
    assert "  a.csv line 21: pressure_psi is 'OL'. Row left out." in lines
    assert not any("line 22:" in line for line in lines)
    assert f"  ... and 13 more; all of them: {tmp_path / 'pages' / 'rejects.csv'}" in lines


def test_register_problems_are_listed_and_the_load_goes_on(
    inputs: list[str], stand_ins: Callable[..., list[str]]
):
    problem = Problem(
        file="pumps.csv",
        line=14,
        column="motor_hp",
        text="motor_hp is '5hp', expected a number such as 5. Pump P-0381 left out.",
    )
    called = stand_ins(problems=(problem,))

    result = run("load", *inputs)

    assert result.exit_code == 0
    assert "Register: 1 problem\n  pumps.csv line 14: motor_hp is '5hp'" in result.stdout
    assert "load" in called


def test_nothing_usable_is_status_1_and_saves_no_register(
    inputs: list[str], stand_ins: Callable[..., list[str]]
):
    called = stand_ins(load_report(rows_kept=0, rows_repeated=0, rejects=rejects(5)))

    result = run("load", *inputs)

    assert result.exit_code == 1
    assert result.stderr == "pumprounds: Nothing usable in 2 log files: no row was loaded.\n"
    assert "a.csv line 2" in result.stdout
    assert "save" not in called


@pytest.mark.parametrize(
    ("broken", "error"),
    [
        ("load_register", RegisterError("pumps.csv is missing.")),
        ("read_profile", ProfileError("own.toml: no timestamp.")),
    ],
)
def test_register_and_profiles_are_read_before_the_store_is_opened(
    tmp_path: Path,
    inputs: list[str],
    stand_ins: Callable[..., list[str]],
    monkeypatch: pytest.MonkeyPatch,
    broken: str,
    error: Exception,
):
    called = stand_ins()

    def fail(*_: Any) -> None:
        raise error

    monkeypatch.setattr(load_steps, broken, fail)
    (tmp_path / "own.toml").write_text("", encoding="utf-8")

    result = run("load", *inputs, "--profile", tmp_path / "own.toml")

    assert result.exit_code == 1
    assert result.stderr == f"pumprounds: {error}\n"
    assert "open" not in called


def test_an_error_of_several_lines_is_told_in_one(
    inputs: list[str], stand_ins: Callable[..., list[str]], monkeypatch: pytest.MonkeyPatch
):
    stand_ins()

    def fail(*_: Any, **__: Any) -> None:
        raise StoreError("fleet.duckdb: locked\n  by process 7")

    monkeypatch.setattr(load_steps, "load_logs", fail)

    result = run("load", *inputs)

    assert result.exit_code == 1
    assert result.stderr == "pumprounds: fleet.duckdb: locked by process 7\n"


def test_an_output_that_cannot_be_written_is_one_line(
    tmp_path: Path, inputs: list[str], stand_ins: Callable[..., list[str]]
):
    stand_ins()
    (tmp_path / "file").write_text("", encoding="utf-8")

    result = run("weekly", *inputs, "--out", tmp_path / "file")

    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1


def test_a_first_load_that_fails_leaves_no_store_behind(tmp_path: Path):
    register = tmp_path / "register"
    register.mkdir()
    (register / "sites.csv").write_text("site_id\nS1\n", encoding="utf-8")
    (register / "pumps.csv").write_text("pump_id,site_id\nP1,S1\n", encoding="utf-8")
    (tmp_path / "a.csv").write_text("x,y\n1,2\n", encoding="utf-8")
    store = tmp_path / "fleet.duckdb"

    result = run("load", tmp_path / "a.csv", "--register", register, "--store", store)

    assert result.exit_code == 1
    assert "a.csv: has no column timestamp" in result.stdout
    assert result.stderr == "pumprounds: Nothing usable in 1 log file: no row was loaded.\n"
    assert not store.exists()


def test_a_demo_never_writes_into_a_folder_of_other_files(tmp_path: Path):
    (tmp_path / "letters.txt").write_text("mine", encoding="utf-8")

    result = run("demo", tmp_path)

    assert result.exit_code == 2
    assert "is not empty" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["letters.txt"]


@pytest.mark.parametrize("raised", [KeyboardInterrupt(), RuntimeError("Query interrupted")])
def test_a_command_stopped_by_key_says_so_in_one_line(monkeypatch, inputs, raised):
    def stopped(*arguments: object, **options: object) -> None:
        raise raised

    monkeypatch.setattr(load_steps, "read_inputs", stopped)

    result = run("load", *inputs)

    assert result.exit_code == 1
    assert result.stderr.strip() == (
        "pumprounds: stopped before the end; what was finished is kept"
    )


def test_an_error_nobody_expected_is_not_hidden(monkeypatch, inputs):
    def broken(*arguments: object, **options: object) -> None:
        raise RuntimeError("something else")

    monkeypatch.setattr(load_steps, "read_inputs", broken)

    assert isinstance(run("load", *inputs).exception, RuntimeError)


def test_a_brief_answers_without_loading_the_heavy_libraries(store, tmp_path):
    store.execute("insert into coverage select 1, week, 1, first_at, last_at, true from pump_week")
    store.close()
    asked = subprocess.run(
        [
            *(sys.executable, "-X", "importtime", "-c"),
            "import sys; from dashboards.cli import main; main(sys.argv[1:])",
            *("brief", "S-01", "--store", str(tmp_path / "fleet.duckdb")),
        ],
        capture_output=True,
        text=True,
        check=True,
    )

    loaded = {line.rpartition("|")[2].strip() for line in asked.stderr.splitlines()}

    assert "S-01" in asked.stdout
    assert "duckdb" in loaded
    assert not loaded & {"matplotlib", "pandas", "plotly", "pyarrow", "scipy", "sklearn"}
