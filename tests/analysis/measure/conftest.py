"""Fixtures of the measuring tests: weeks made from seconds and channels."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.measure.local_clock import local_clock
from analysis.measure.measure import measure_week
from analysis.measure.trace import Trace, lay_out
from analysis.records import PumpRecord
from ingest.installed_base import Pump, Site
from ingest.samples import CHANNELS, PumpSamples
from ingest.weeks import Week, week_bounds

WEEK = Week(2026, 47)


@pytest.fixture(scope="session")
def make_samples() -> Callable[..., PumpSamples]:
    """Samples at seconds of the week; a channel not given carries nothing."""

    def make(
        t_s: Any,
        *,
        timezone: str = "UTC",
        week: Week = WEEK,
        fault_code: Any = None,
        **channels: Any,
    ) -> PumpSamples:
        t_s = np.asarray(t_s, dtype=np.float64)
        from_at, _ = week_bounds(week, timezone)
        from_us = np.datetime64(from_at, "us").astype(np.int64)
        blank = np.full(t_s.size, np.nan, dtype=np.float32)
        given = {
            name: np.broadcast_to(np.asarray(values, dtype=np.float32), t_s.shape).copy()
            for name, values in channels.items()
        }
        return PumpSamples(
            pump_id="P-1",
            ts_us=from_us + np.round(t_s * 1e6).astype(np.int64),
            **{name: given.get(name, blank) for name in CHANNELS},
            fault_code=fault_code,
        )

    return make


@pytest.fixture(scope="session")
def make_trace(make_samples: Callable[..., PumpSamples]) -> Callable[..., Trace]:
    """The same, cut and marked; ``register`` gives fields of the pump."""

    def make(
        t_s: Any,
        *,
        timezone: str = "UTC",
        week: Week = WEEK,
        register: dict[str, Any] | None = None,
        **channels: Any,
    ) -> Trace:
        samples = make_samples(t_s, timezone=timezone, week=week, **channels)
        pump = Pump(pump_id="P-1", site_id="S-1", **(register or {}))
        return lay_out(samples, pump, local_clock(week, timezone))

    return make


@pytest.fixture(scope="session")
def measure(make_samples: Callable[..., PumpSamples]) -> Callable[..., PumpRecord]:
    """The record of a week made the same way."""

    def made(
        t_s: Any,
        *,
        timezone: str = "UTC",
        week: Week = WEEK,
        register: dict[str, Any] | None = None,
        **channels: Any,
    ) -> PumpRecord:
        samples = make_samples(t_s, timezone=timezone, week=week, **channels)
        pump = Pump(pump_id="P-1", site_id="S-1", **(register or {}))
        return measure_week(samples, pump, Site(site_id="S-1", timezone=timezone), week)

    return made


@pytest.fixture(scope="session")
def leaking_tank() -> Callable[..., dict[str, Any]]:
    """A week of a leaking Boyle tank with the leak built in."""
    # importlib mode puts no test folder on sys.path, so the file is loaded from where it lies
    path = Path(__file__).with_name("boyle_week.py")
    spec = importlib.util.spec_from_file_location("boyle_week", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.leaking_tank
