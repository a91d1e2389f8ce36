"""The same pump logged at several paces gets the same verdict or none, never another one."""

from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest
from scipy.signal import lfilter

from analysis.case import Case
from analysis.detectors import controller_trip, hunting, overheating
from analysis.findings import NotAssessed
from ingest.weeks import Week

PACES_S = (1.0, 5.0, 10.0, 30.0, 60.0)
DAYS_S = 3 * 86400.0
REGISTER = {
    "pressure_setting_kpa": 400.0,
    "min_hz": 30.0,
    "max_hz": 60.0,
    "overload_setting_amps": 8.0,
    "supply_volts": 230.0,
    "ramp": "fast",
}


@pytest.fixture
def verdicts(measure: Callable, case_factory: ModuleType) -> Callable:
    """What a detector says at each pace of a pump given as a function of time."""

    def say(detector: ModuleType, plant: Callable, past: Callable | None = None) -> list[str]:
        answers = []
        for pace_s in PACES_S:
            t_s = np.arange(0.0, DAYS_S, pace_s)
            now = measure(t_s, register=REGISTER, **plant(t_s))
            before = []
            if past is not None:
                weeks = [Week(2026, 47).plus(-n) for n in (3, 2, 1)]
                before = [
                    measure(t_s, week=week, register=REGISTER, **past(t_s)) for week in weeks
                ]
            case = Case(
                site=case_factory.healthy_site(timezone="UTC"),
                pump=case_factory.healthy_pump(**REGISTER),
                curve=(),
                week=now.week,
                days=now.days,
                trips=now.trips,
                past=tuple(record.week for record in before),
                past_days=tuple(day for record in before for day in record.days),
            )
            verdict = detector.judge(case)
            answers.append("not assessed" if isinstance(verdict, NotAssessed) else _name(verdict))
        return answers

    return say


def _name(verdict: tuple) -> str:
    return verdict[0].cause or "found" if verdict else "clear"


def running(t_s, amps=6.0):
    """Runs of 5 min every half hour by day, at rest at night."""
    on = (t_s % 1800.0 < 300.0) & (t_s % 86400.0 > 6 * 3600.0)
    rng = np.random.default_rng(2)
    return on, {
        "frequency_hz": np.where(on, 48.0 + rng.normal(0, 0.05, t_s.size), 0.0),
        "pressure_kpa": np.where(on, 400.0, 392.0) + rng.normal(0, 0.5, t_s.size),
        "current_a": np.where(on, amps, 0.0),
        "voltage_v": np.where(on, 227.0, 231.0),
    }


def hunts(period_s, share=0.05):
    def plant(t_s):
        on, made = running(t_s)
        turn = 2 * np.pi * t_s / period_s
        made["frequency_hz"] += on * 1.3 * np.sin(turn)
        made["pressure_kpa"] += on * share * 400.0 * np.sin(turn - 0.9)
        return made

    return plant


@pytest.mark.parametrize(
    ("period_s", "said"),
    [
        (9.0, ["ramp_too_fast", *["not assessed"] * 4]),
        (25.0, ["ramp_too_fast", "ramp_too_fast", *["not assessed"] * 3]),
    ],
)
def test_hunting(verdicts, period_s, said):
    assert verdicts(hunting, hunts(period_s)) == said


def test_a_steady_control(verdicts):
    assert verdicts(hunting, hunts(9.0, share=0.0)) == ["clear", *["not assessed"] * 4]


def box(rise_c, air_c=22.0):
    """A drive that warms with its runs, time constant 10 min (Newton's law)."""

    def plant(t_s):
        _, made = running(t_s)
        minute = np.arange(0.0, DAYS_S, 60.0)
        keep = np.exp(-60.0 / 600.0)
        share = lfilter([1 - keep], [1, -keep], running(minute)[0].astype(float))
        return made | {"drive_temp_c": air_c + rise_c * np.interp(t_s, minute, share)}

    return plant


def test_a_drive_that_lost_its_fan(verdicts):
    assert verdicts(overheating, box(90.0), past=box(30.0)) == ["found"] * 5


def test_a_drive_in_a_hot_tin_house(verdicts):
    assert verdicts(overheating, box(40.0, air_c=45.0), past=box(40.0, air_c=45.0)) == (
        ["clear"] * 5
    )


def trips(code, wait_s, at_s=(40000.0, 126000.0)):
    """The pump trips in its last run before each instant and waits."""

    def plant(t_s):
        _, made = running(t_s)
        codes = np.full(t_s.size, None, dtype=object)
        for from_s in at_s:
            out = (t_s >= from_s) & (t_s < from_s + wait_s)
            made["frequency_hz"] = np.where(out, 0.0, made["frequency_hz"])
            made["current_a"] = np.where(out, 0.0, made["current_a"])
            made["pressure_kpa"] = np.where(out, 150.0, made["pressure_kpa"])
            codes[out] = code
        return made | {"fault_code": codes if code else None}

    return plant


@pytest.mark.parametrize("wait_s", [400.0, 30000.0])
def test_trips_with_a_code(verdicts, wait_s):
    assert verdicts(controller_trip, trips("E05", wait_s)) == ["E05"] * 5


def test_a_trip_for_good_without_a_code(verdicts):
    # 39 700 s is within a run of five minutes; it never starts again
    assert verdicts(controller_trip, trips(None, DAYS_S, (39700.0,))) == ["found"] * 5


def test_no_trips(verdicts):
    assert verdicts(controller_trip, trips(None, 0.0)) == ["clear"] * 5
