"""The week at a glance: pressure, speed, current and voltage on one time axis.

Set point, limits and the spells of each finding are drawn in and named.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.findings import Finding, Kind
from analysis.limits import RUNNING_ABOVE_HZ, VOLTAGE_LOW_PCT, VOLTAGE_RANGE_A_PCT
from dashboards import labels
from dashboards.charts import quantity, theme
from dashboards.charts.local_time import instant_ms, quiet_window, us_of
from dashboards.charts.quantity import Quantity
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.spells import Spell, busy_hours, silences, spells_where

ROW_HEIGHT_PX = 150
LANE_HEIGHT_PX = 24
_JOIN_S = 600.0
_SILENCE_S = 1800.0
_ROW_GAP = 0.03


def week_strip(scene: Scene, findings: Sequence[Finding], n_buckets: int) -> Chart:
    """Draw one pump's week.

    Parameters
    ----------
    scene : Scene
        The pump's week; channels that were not logged get no row.
    findings : sequence of Finding
        Findings of this pump, each with a lane over the rows.
    n_buckets : int
        Buckets of the thinning: at most four points each.
    """
    rows = _rows(scene)
    height = len(rows) * ROW_HEIGHT_PX + len(findings) * LANE_HEIGHT_PX + 70
    lane_share = len(findings) * LANE_HEIGHT_PX / (height - 70)
    domains = _domains(len(rows), 1.0 - lane_share)
    layout = theme.layout(height, showlegend=False)
    traces, shapes = [], []
    for index, (channel, what, levels) in enumerate(rows):
        row = str(index + 1) if index else ""
        thinned = scene.thinned(channel, what, n_buckets)
        traces.append(
            theme.line(thinned.x_ms, thinned.y, what.name, what.hover, xaxis="x", yaxis=f"y{row}")
        )
        layout[f"yaxis{row}"] = theme.axis(
            what.title,
            domain=domains[index],
            range=theme.span(thinned.y, *(level["y0"] for level in levels)),
            nticks=5,
        )
        shapes += [level | {"yref": f"y{row}"} for level in levels]
        shapes += [
            theme.band(
                scene.clock_ms(spell.from_us),
                scene.clock_ms(spell.to_us),
                yref=f"y{row} domain",
            )
            for spell in _spells(scene, channel, findings)
        ]
    shapes += _lanes(scene, findings, 1.0 - lane_share)
    shapes += _no_data(scene)
    last = str(len(rows)) if len(rows) > 1 else ""
    layout["xaxis"] = dict(scene.week_axis(anchor=f"y{last}"))
    layout["shapes"] = shapes
    return Chart(
        title="The week",
        reading=_reading(rows, findings),
        figure=theme.figure(traces, layout),
    )


def _rows(scene: Scene) -> list[tuple[str, Quantity, list[dict[str, Any]]]]:
    pump, pressure = scene.pump.pump, quantity.pressure(scene.units)
    set_kpa, charge_kpa = pump.pressure_setting_kpa, pump.precharge_kpa
    volts = pump.supply_volts
    rows: list[tuple[str, Quantity, list[dict[str, Any]]]] = [
        (
            "pressure_kpa",
            pressure,
            [
                theme.set_point(pressure.of(kpa), f"{name} {pressure.text(kpa, 0)}")
                for name, kpa in (("set", set_kpa), ("pre-charge", charge_kpa))
                if kpa is not None
            ],
        ),
        (
            "frequency_hz",
            quantity.FREQUENCY,
            [
                theme.set_point(pump.max_hz, f"maximum {pump.max_hz:.0f} Hz"),
                theme.set_point(pump.min_hz, f"minimum {pump.min_hz:.0f} Hz"),
            ],
        ),
        ("current_a", quantity.CURRENT, current_levels(scene)),
        (
            "voltage_v",
            quantity.VOLTAGE,
            [] if volts is None else voltage_levels(volts),
        ),
    ]
    logged = [row for row in rows if np.isfinite(getattr(scene.samples, row[0])).any()]
    return logged or rows[:1]


def voltage_levels(supply_volts: float) -> list[dict[str, Any]]:
    """Nominal supply and its limits as level lines."""
    low = supply_volts * VOLTAGE_LOW_PCT.value / 100
    watch = supply_volts * VOLTAGE_RANGE_A_PCT.value / 100
    return [
        theme.set_point(supply_volts, f"nominal {supply_volts:.0f} V"),
        theme.limit(
            watch,
            f"{VOLTAGE_RANGE_A_PCT.value:.0f} % {watch:.0f} V",
            line={"color": theme.PURPLE, "width": 1.2, "dash": "dot"},
        ),
        theme.limit(low, f"{VOLTAGE_LOW_PCT.value:.0f} % {low:.0f} V"),
    ]


def current_levels(scene: Scene) -> list[dict[str, Any]]:
    """Service-factor amps, rated amps and overload setting as level lines, those registered."""
    pump = scene.pump.pump
    levels = (
        ("service-factor", pump.service_factor_amps, theme.limit),
        ("rated", pump.rated_amps, theme.set_point),
        ("overload setting", pump.overload_setting_amps, theme.set_point),
    )
    merged: dict[float, tuple[list[str], Any]] = {}
    for name, amps, draw in levels:
        if amps is not None:
            merged.setdefault(amps, ([], draw))[0].append(name)
    return [
        draw(amps, f"{' = '.join(names)} {amps:.1f} A") for amps, (names, draw) in merged.items()
    ]


def _spells(scene: Scene, channel: str, findings: Sequence[Finding]) -> list[Spell]:
    """Spells to shade in a channel's row for the findings that show in it."""
    kinds = {finding.kind for finding in findings}
    samples, pump = scene.samples, scene.pump.pump
    if channel == "frequency_hz" and Kind.SHORT_CYCLING in kinds:
        return busy_hours(samples, RUNNING_ABOVE_HZ.value)
    if channel == "pressure_kpa" and Kind.LEAK in kinds:
        return _quiet_windows(scene)
    if channel == "voltage_v" and Kind.UNDERVOLTAGE in kinds and pump.supply_volts:
        low = pump.supply_volts * VOLTAGE_LOW_PCT.value / 100
        return spells_where(samples.ts_us, samples.voltage_v < low, _JOIN_S, scene.gap_s)
    if channel == "current_a" and Kind.OVERLOAD_MARGIN in kinds and pump.service_factor_amps:
        over = samples.current_a > pump.service_factor_amps
        return spells_where(samples.ts_us, over, _JOIN_S, scene.gap_s)
    return []


def _quiet_windows(scene: Scene) -> list[Spell]:
    week = scene.pump.week
    if week is None or week.quiet_from_hour is None:
        return []
    windows = [
        quiet_window(day, week.quiet_from_hour, scene.timezone)
        for day in scene.pump.days
        if day.week == week.week
    ]
    return [Spell(us_of(from_at), us_of(to_at)) for from_at, to_at in windows]


def _lanes(scene: Scene, findings: Sequence[Finding], top_of_rows: float) -> list[dict[str, Any]]:
    """One bar per finding over the rows, from its first to its last sign within the week."""
    from_ms, to_ms = scene.week_ms
    lanes = []
    for index, finding in enumerate(findings):
        share = (1.0 - top_of_rows) / len(findings)
        low = 1.0 - (index + 1) * share
        began = instant_ms(finding.first_seen, scene.timezone)
        earlier = "" if began >= from_ms else " (began earlier)"
        start = min(max(began, from_ms), to_ms)
        end = min(max(instant_ms(finding.last_seen, scene.timezone), start), to_ms)
        lanes.append(
            theme.band(
                start,
                max(end, start + 0.02 * (to_ms - from_ms)),
                f"{labels.kind_text(finding.kind)}{earlier}",
                y0=low + 0.1 * share,
                y1=low + 0.85 * share,
                line={"width": 1, "color": theme.INK},
            )
        )
    return lanes


def _no_data(scene: Scene) -> list[dict[str, Any]]:
    from_us, to_us = scene.week_us
    return [
        theme.band(
            scene.clock_ms(silence.from_us),
            scene.clock_ms(silence.to_us),
            "no data",
            fillcolor=theme.NO_DATA_SHADE,
        )
        for silence in silences(scene.samples.ts_us, from_us, to_us, _SILENCE_S)
    ]


def _domains(n_rows: int, top: float) -> list[list[float]]:
    """Vertical share of each row, the first on top."""
    each = (top - _ROW_GAP * n_rows) / n_rows
    tops = [top - _ROW_GAP - index * (each + _ROW_GAP) for index in range(n_rows)]
    return [[max(0.0, high - each), high] for high in tops]


def _reading(rows: Sequence[tuple[str, Quantity, Any]], findings: Sequence[Finding]) -> str:
    names = ", ".join(what.name.lower() for _, what, _ in rows)
    text = f"From top to bottom: {names}; each line keeps the lowest and highest value seen."
    if findings:
        text += " Bars on top run from a finding's first to its last sign; shaded spells show it."
    return text
