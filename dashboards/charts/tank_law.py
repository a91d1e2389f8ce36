"""The law of the pressure tank drawn on falls of pressure: what gas would do at a steady draw."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median_low
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import RUNNING_ABOVE_HZ
from analysis.physics.tank import leak_lpm_from_fall, pressure_at_steady_draw_kpa
from analysis.wording import duration_text, flow_text
from dashboards.charts import quantity, theme
from dashboards.charts.scene import Scene

_LEAST_SAMPLES = 3  # with two, every law is a straight line
_LEAST_FALL_KPA = 7.0  # about 1 psi: less is the sensor's own step
_FALLS_DRAWN = 24
_POINTS = 13


@dataclass(frozen=True)
class Fall:
    """A fall of pressure within one stop, between two of its samples (positions)."""

    first: int
    last: int
    from_kpa: float
    to_kpa: float
    duration_s: float


def falls_in_stops(
    ts_us: NDArray[np.int64], frequency_hz: NDArray[np.float32], kpa: NDArray[np.float32]
) -> list[Fall]:
    """Falls from the highest pressure of each stop to the last before the restart.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants in order. [us]
    frequency_hz : ndarray of float32, shape (n,)
        0 when stopped. [Hz]
    kpa : ndarray of float32, shape (n,)
        Pressure, gauge. [kPa]

    Returns
    -------
    list of Fall
        In order of time; stops with fewer than three samples, without a fall of about 1 psi or
        cut by an end of the arrays have none.
    """
    stopped = frequency_hz <= RUNNING_ABOVE_HZ.value
    edges = np.flatnonzero(np.diff(stopped.astype(np.int8))) + 1
    found = []
    for first, end in pairwise(edges.tolist()):
        if not stopped[first] or not np.isfinite(kpa[first:end]).all():
            continue
        top = first + int(np.argmax(kpa[first:end]))
        if end - top < _LEAST_SAMPLES or kpa[top] - kpa[end - 1] < _LEAST_FALL_KPA:
            continue
        found.append(
            Fall(
                first=top,
                last=end - 1,
                from_kpa=float(kpa[top]),
                to_kpa=float(kpa[end - 1]),
                duration_s=float(ts_us[end - 1] - ts_us[top]) / 1e6,
            )
        )
    return found


def tank_law_line(scene: Scene, part: slice, falls: Sequence[Fall]) -> dict[str, Any]:
    """Boyle curves between the ends of the falls, broken between them.

    Its name says how fast the typical fall is and, where tank and pre-charge are registered, what
    draw that would take.
    """
    pressure = quantity.pressure(scene.units)
    x_ms = scene.x_ms[part]
    share = np.linspace(0.0, 1.0, _POINTS)
    x: list[float] = []
    y: list[float] = []
    for fall in falls[:_FALLS_DRAWN]:
        kpa = pressure_at_steady_draw_kpa(fall.from_kpa, fall.to_kpa, share)
        x += [*(x_ms[fall.first] + share * (x_ms[fall.last] - x_ms[fall.first])).tolist(), np.nan]
        y += [*pressure.of_array(kpa.astype(np.float32)).tolist(), np.nan]
    name = f"tank law at a steady draw{_typical_text(scene, falls)}"
    return theme.line(
        x,
        y,
        theme.escaped(name),
        f"tank law {pressure.hover}",
        line={"color": theme.INK, "width": 2, "dash": "dot"},
        showlegend=True,
    )


def _typical_text(scene: Scene, falls: Sequence[Fall]) -> str:
    """Say how fast the typical fall is, and what draw that means for the registered tank."""
    pump, pressure = scene.pump.pump, quantity.pressure(scene.units)
    duration_s = median_low(fall.duration_s for fall in falls)
    fall = next(fall for fall in falls if fall.duration_s == duration_s)
    drop = pressure.text(fall.from_kpa - fall.to_kpa, 0)
    text = f", typical fall {drop} in {duration_text(duration_s)}"
    if pump.tank_l is None or pump.precharge_kpa is None:
        return text
    lpm = leak_lpm_from_fall(
        pump.tank_l, pump.precharge_kpa, fall.from_kpa, fall.to_kpa, duration_s
    )
    return f"{text}: {flow_text(float(lpm), scene.units)} if the tank is as registered"
