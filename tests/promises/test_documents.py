"""What README and DEVELOPERS say is so: commands, kinds, causes, modules and set-up."""

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from analysis.findings import CAUSES, Kind, Status
from dashboards.cli import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
ASK_FOR_HELP = "from dashboards.cli import main; main(['--help'])"
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_readme_names_every_command_and_no_other() -> None:
    assert isinstance(main, click.Group)
    named = set(re.findall(r"`pumprounds (\w+)", README))

    assert named == set(main.commands)


@pytest.mark.parametrize("command", sorted(main.commands))
def test_every_command_has_help(command: str) -> None:
    assert (main.commands[command].help or "").strip()


@pytest.mark.parametrize("kind", Kind)
def test_the_readme_names_every_kind_and_its_causes(kind: Kind) -> None:
    row = next(line for line in README.splitlines() if line.startswith(f"| `{kind}`"))

    named = set(re.findall(r"`(\w+)`", row)) - {str(kind)}

    assert named == set() if kind in (Kind.SETTING, Kind.DATA_GAP) else named == set(CAUSES[kind])


@pytest.mark.parametrize("status", Status)
def test_the_readme_names_every_answer(status: Status) -> None:
    assert f"`{status}`" in README


def test_the_readme_holds_exactly_two_set_up_commands() -> None:
    block = README.split("<!-- set-up -->")[1].split("<!-- end -->")[0]

    commands = [line for line in block.splitlines() if line.startswith("    ")]

    assert len(commands) == 2
    assert "pumprounds demo" in commands[0]
    assert "pytest" in commands[1]


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_file_that_is_named_exists(text: str) -> None:
    named = re.findall(
        r"[`(]((?:ingest|analysis|dashboards|sample_data|tests)/[\w/.-]+)[`)]", text
    )

    missing = [path for path in named if "<" not in path and not (ROOT / path).exists()]

    assert named
    assert not missing


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_benchmark_command_that_is_named_can_be_given(text: str) -> None:
    commands = re.findall(r"python (tests/benchmark/\w+\.py)((?: [\w./-]+)*)", text)

    wrong = [
        f"{path} {option}"
        for path, arguments in commands
        for option in ["", *re.findall(r"--[\w-]+", arguments)]
        if not (ROOT / path).exists() or (option and f'"{option}"' not in _source(path))
    ]

    assert commands
    assert not wrong


def _source(path: str) -> str:
    return (ROOT / path).read_text(encoding="utf-8")


def test_developers_names_every_benchmark() -> None:
    folder = ROOT / "tests" / "benchmark"
    made = {path.name for path in folder.glob("*.py") if path.read_text().startswith('"""Time ')}

    named = set(re.findall(r"python tests/benchmark/(\w+\.py)", DEVELOPERS))

    assert made
    assert named == made


def test_the_top_level_holds_nothing_else() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    )

    top = {line.split("/")[0] for line in listed.stdout.splitlines()}

    assert {name for name in top if not name.startswith(".")} <= {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "ingest",
        "analysis",
        "dashboards",
        "sample_data",
        "tests",
    }


def test_every_file_of_the_packages_that_is_no_module_is_packaged() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    packages = project["tool"]["setuptools"]["packages"]
    data = project["tool"]["setuptools"]["package-data"]

    left_out = []
    for package in ("ingest", "analysis", "dashboards", "sample_data"):
        for path in (ROOT / package).rglob("*"):
            if path.suffix in ("", ".pyc") or not path.is_file():
                continue
            home = ".".join(path.relative_to(ROOT).parent.parts)
            is_packaged = home in packages if path.suffix == ".py" else _matches(path, data)
            if not is_packaged:
                left_out.append(str(path.relative_to(ROOT)))

    assert not left_out


def _matches(path: Path, data: dict[str, list[str]]) -> bool:
    return any(
        path.is_relative_to(folder) and path.relative_to(folder).match(pattern)
        for package, patterns in data.items()
        for folder in [ROOT.joinpath(*package.split("."))]
        for pattern in patterns
    )


def test_help_answers_without_loading_the_heavy_libraries() -> None:
    asked = subprocess.run(
        [
            sys.executable,
            "-X",
            "importtime",
            "-c",
            "from dashboards.cli import main; main(['--help'])",
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )

    loaded = {line.rpartition("|")[2].strip() for line in asked.stderr.splitlines()}

    assert not loaded & {"pandas", "sklearn", "scipy", "plotly", "pyarrow", "duckdb", "numpy"}
