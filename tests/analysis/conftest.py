"""Fixtures of the judging tests: ``make_case`` makes one pump's week with numbers changed."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from analysis.case import Case


def _load(name: str) -> ModuleType:
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def case_factory() -> ModuleType:
    return _load("case_factory")


@pytest.fixture(scope="session")
def make_case(case_factory: ModuleType) -> Callable[..., Case]:
    return case_factory.make_case


@pytest.fixture(scope="session")
def year_of_faults() -> ModuleType:
    return _load("year_of_faults")
