"""The invented site of the page tests, for chart tests."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def world() -> ModuleType:
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).parents[1] / "site_world.py"
    spec = importlib.util.spec_from_file_location("site_world", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
