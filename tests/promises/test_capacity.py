"""The capacity table of DEVELOPERS.md is the one its constants give."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def capacity() -> ModuleType:
    path = ROOT / "tests" / "benchmark" / "capacity.py"
    spec = importlib.util.spec_from_file_location("capacity", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["capacity"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def test_the_table_is_what_the_measured_constants_give(capacity: ModuleType) -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

    assert "\n".join(capacity.table()) in text


def test_cost_follows_rows_and_pumps(capacity: ModuleType) -> None:
    one, ten = (capacity.need_of(pumps, 5) for pumps in (1_000, 10_000))
    slow = capacity.need_of(1_000, 60)

    assert one.rows == 1_000 * 7 * 86_400 / 5
    assert ten.store_gb == pytest.approx(10 * one.store_gb)
    assert ten.wall_h(16) == pytest.approx(10 * one.wall_h(16))
    assert one.csv_gb == pytest.approx(12 * slow.csv_gb)
    assert one.spread_core_h < 12 * slow.spread_core_h  # what each pump costs does not grow


def test_cores_shorten_only_what_is_spread(capacity: ModuleType) -> None:
    need = capacity.need_of(100_000, 1)

    assert need.wall_h(64) - need.alone_h == pytest.approx((need.wall_h(2) - need.alone_h) / 32)
