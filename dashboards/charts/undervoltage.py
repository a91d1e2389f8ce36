"""Evidence of undervoltage: volts against the pump's own load, by hour, and over the week."""

from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import RUNNING_ABOVE_HZ, SETTLE_S
from analysis.physics.electrical import loop_resistance_ohm
from analysis.supply_current import estimated_supply_a
from dashboards.charts import quantity, theme
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.week_strip import voltage_levels

_AMPS_CELL = 0.2
_VOLTS_CELL = 0.5
_WEEKS_SHOWN = 26


class LoadBasis(StrEnum):
    """What stands for the pump's own load on the axis."""

    LOGGED = "Supply current"
    ESTIMATED = "Supply current, estimated from motor amps"
    MOTOR = "Motor current"


def own_load_a(scene: Scene) -> tuple[NDArray[np.float32], LoadBasis]:
    """Supply current of each sample as logged, or else estimated from the motor's.

    Where the motor's volts are not registered it is the motor's own current.
    """
    samples, pump, week = scene.samples, scene.pump.pump, scene.pump.week
    if week is not None and week.has_input_current:
        return samples.input_current_a, LoadBasis.LOGGED
    if pump.motor_volts is None:
        return samples.current_a, LoadBasis.MOTOR
    estimated = estimated_supply_a(
        pump,
        samples.current_a,
        samples.frequency_hz,
        samples.voltage_v,
        None if week is None else week.magnetising_share,
    )
    stopped = samples.frequency_hz <= RUNNING_ABOVE_HZ.value
    return np.where(stopped, 0.0, estimated).astype(np.float32), LoadBasis.ESTIMATED


def volts_against_load(scene: Scene) -> Chart | None:
    """Draw volts against own load, or None where the log shows no volts."""
    samples, week, pump = scene.samples, scene.pump.week, scene.pump.pump
    if week is None or not np.isfinite(samples.voltage_v).any():
        return None
    amps, basis = own_load_a(scene)
    settled = _settled(samples.ts_us, samples.frequency_hz)
    usable = np.isfinite(amps) & np.isfinite(samples.voltage_v)
    idle, running = usable & (samples.frequency_hz <= RUNNING_ABOVE_HZ.value), usable & settled
    traces = [
        _cloud(
            amps[running], samples.voltage_v[running], "running, settled", "circle", theme.BLUE
        ),
        _cloud(
            np.zeros(int(idle.sum()), dtype=np.float32),
            samples.voltage_v[idle],
            "stopped",
            "square-open",
            theme.INK,
        ),
        *_wiring_lines(scene, basis, float(np.nanmax(amps, initial=0.0))),
    ]
    levels = [] if pump.supply_volts is None else voltage_levels(pump.supply_volts)
    layout = theme.layout(
        420,
        shapes=levels,
        yaxis=theme.axis(
            quantity.VOLTAGE.title,
            range=theme.span(samples.voltage_v, *(level["y0"] for level in levels)),
        ),
        xaxis=theme.axis(f"{basis} (A)", rangemode="tozero"),
    )
    return Chart(
        title="Volts against this pump's own load",
        reading="Squares at zero are the idle volts, dots the volts while running. Points along"
        " the dashed line sag with this pump's own current: wiring. A wide column at zero that"
        " reaches low is the supply's own. The dotted line is what the registered conductor gives"
        " at 75 C; steeper than it points to a joint, a breaker or another conductor.",
        figure=theme.figure(traces, layout),
    )


def volts_over_week(scene: Scene, n_buckets: int) -> Chart | None:
    """Draw the volts of the week with nominal, 95 % and 90 %, or None where none are logged."""
    thinned = scene.thinned("voltage_v", quantity.VOLTAGE, n_buckets)
    if not thinned.y.size:
        return None
    volts = scene.pump.pump.supply_volts
    levels = [] if volts is None else voltage_levels(volts)
    layout = theme.layout(
        280,
        shapes=levels,
        yaxis=theme.axis(
            quantity.VOLTAGE.title, range=theme.span(thinned.y, *(s["y0"] for s in levels))
        ),
        xaxis=dict(scene.week_axis()),
    )
    trace = theme.line(thinned.x_ms, thinned.y, quantity.VOLTAGE.name, quantity.VOLTAGE.hover)
    return Chart(
        title="Volts over the week",
        reading="Lowest and highest value of every few minutes are kept. The minimum is the lowest"
        " seen: a sag between two samples is not.",
        figure=theme.figure([trace], layout),
    )


def idle_volts_by_hour(scene: Scene) -> Chart | None:
    """Draw the median idle volts by local hour, or None where none are known."""
    week, pump = scene.pump.week, scene.pump.pump
    if week is None or week.idle_v_by_hour is None:
        return None
    values = np.array([np.nan if v is None else v for v in week.idle_v_by_hour], dtype=np.float32)
    levels = [] if pump.supply_volts is None else voltage_levels(pump.supply_volts)
    layout = theme.layout(
        280,
        shapes=levels,
        showlegend=False,
        yaxis=theme.axis(
            "Idle voltage (V)", range=theme.span(values, *(level["y0"] for level in levels))
        ),
        xaxis=theme.axis(f"Hour of day ({scene.zone})", range=[-0.5, 23.5], dtick=3),
    )
    trace = theme.points(
        np.arange(24), values, "idle volts", "%{x:.0f} h: %{y:.1f} V", mode="lines+markers"
    )
    return Chart(
        title="Idle volts by hour of day",
        reading="Pump stopped. Low in the same hours every day is the supply's doing: other loads"
        " of the house or the street.",
        figure=theme.figure([trace], layout),
    )


def drop_over_weeks(scene: Scene) -> Chart | None:
    """Draw the drop at starts by week, or None with fewer than two weeks of it."""
    records = [*scene.pump.past, *([scene.pump.week] if scene.pump.week else [])]
    with_drop = [w for w in records if w.own_drop_v is not None][-_WEEKS_SHOWN:]
    if len(with_drop) < 2:
        return None
    weeks = [w.from_at.date().isoformat() for w in with_drop]
    drops = [None if w.own_drop_v is None else round(w.own_drop_v, 2) for w in with_drop]
    layout = theme.layout(
        260,
        showlegend=False,
        yaxis=theme.axis("Drop from idle to running (V)", rangemode="tozero"),
        xaxis=theme.axis(f"Week beginning ({scene.zone})", type="date", tickformat="%d %b"),
    )
    return Chart(
        title="Drop at start by week",
        reading="Median of idle volts just before a start less volts once settled. A drop that"
        " grows week by week is a joint going bad, and may heat.",
        figure=theme.figure([theme.dated(weeks, drops, "drop", "%{y:.1f} V")], layout),
    )


def _settled(ts_us: NDArray[np.int64], frequency_hz: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Running, and running for at least the settling time."""
    running = frequency_hz > RUNNING_ABOVE_HZ.value
    start_us = np.where(running & ~np.r_[False, running[:-1]], ts_us, np.iinfo(np.int64).min)
    began_us = np.maximum.accumulate(start_us)
    settled: NDArray[np.bool_] = running & (ts_us - SETTLE_S.value * 1e6 >= began_us)
    return settled


def _cloud(
    amps: NDArray[np.float32], volts: NDArray[np.float32], name: str, symbol: str, color: str
) -> dict[str, Any]:
    """Each occupied cell of 0.2 A by 0.5 V once, so that a week stays a small picture."""
    if amps.size == 0:
        return theme.points(amps, volts, name, "", showlegend=False)
    column = np.rint(amps / _AMPS_CELL).astype(np.int64)
    row = np.rint(volts / _VOLTS_CELL).astype(np.int64)
    first_column, first_row = int(column.min()), int(row.min())
    n_rows = int(row.max()) - first_row + 1
    is_hit = np.zeros((int(column.max()) - first_column + 1, n_rows), dtype=np.bool_)
    is_hit[column - first_column, row - first_row] = True
    columns, rows = np.nonzero(is_hit)
    return theme.points(
        (columns + first_column) * _AMPS_CELL,
        (rows + first_row) * _VOLTS_CELL,
        name,
        "%{x:.1f} A, %{y:.1f} V",
        marker={"symbol": symbol, "size": 5, "color": color},
    )


def _wiring_lines(scene: Scene, basis: LoadBasis, amps_most: float) -> list[dict[str, Any]]:
    """Line measured at this pump's starts and line of the registered conductor.

    Against motor current there is no line for the conductor: its ohms are per supply ampere.
    """
    week, pump = scene.pump.week, scene.pump.pump
    if week is None or week.idle_v_median is None or amps_most <= 0:
        return []
    ends = np.array([0.0, amps_most])
    lines = []
    measured, unit = week.loop_resistance_ohm, "ohm"
    if basis is LoadBasis.MOTOR:
        measured, unit = week.apparent_resistance_ohm, "V per motor ampere"
    if measured is not None:
        text = f"measured {measured:.2g} {unit}"
        lines.append(_ohm_line(ends, week.idle_v_median, measured, text, "dash", theme.VERMILION))
    mm2, metres = pump.supply_wire_mm2, pump.supply_wire_m
    if mm2 is not None and metres is not None and basis is not LoadBasis.MOTOR:
        ohms = float(loop_resistance_ohm(mm2, metres, phases=pump.supply_phases))
        text = f"registered conductor {ohms:.2g} ohm"
        lines.append(_ohm_line(ends, week.idle_v_median, ohms, text, "dot", theme.INK))
    return lines


def _ohm_line(
    amps: NDArray[np.float64], idle_v: float, ohms: float, name: str, dash: str, color: str
) -> dict[str, Any]:
    return theme.points(
        amps,
        idle_v - ohms * amps,
        name,
        f"{theme.escaped(name)}: %{{y:.1f}} V at %{{x:.1f}} A",
        mode="lines",
        line={"color": color, "width": 2, "dash": dash},
    )
