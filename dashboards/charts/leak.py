"""Evidence of a leak: one night's pressure with its falls and restarts, and night by night."""

from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import FALL_SAMPLES_MIN, NIGHT_OBSERVED_SHARE, RUNNING_ABOVE_HZ
from analysis.records import PumpDay
from dashboards.charts import quantity, theme
from dashboards.charts.local_time import quiet_window, us_of
from dashboards.charts.quantity import Quantity
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.speed import speed_below

_MARGIN = timedelta(minutes=20)
_FALLS_DRAWN = 6
_NIGHT_BUCKETS = 300
_RESTARTS_MARKED = 80
_NIGHTS_SHOWN = 56
_S_PER_MIN = 60.0


def typical_night(days: tuple[PumpDay, ...]) -> PumpDay | None:
    """Night to show: the one with the median fall (or the median starts where none falls)."""
    nights = [day for day in days if day.night_observed_share >= NIGHT_OBSERVED_SHARE.value]
    if not nights:
        return None

    def size(day: PumpDay) -> tuple[float, float]:
        return abs(day.night_fall_p50_kpa_per_min or 0.0), float(day.night_n_starts)

    ranked = sorted(nights, key=lambda day: (*size(day), day.local_date))
    return ranked[len(ranked) // 2]


def falls(
    ts_us: NDArray[np.int64], frequency_hz: NDArray[np.float32], kpa: NDArray[np.float32]
) -> list[tuple[int, int, float, float]]:
    """Straight lines through the pressure of each stop with at least five samples.

    Returns
    -------
    list of tuple
        First and last sample's position, intercept at the first [kPa] and slope [kPa/min];
        least squares.
    """
    stopped = frequency_hz <= RUNNING_ABOVE_HZ.value
    edges = np.flatnonzero(np.diff(stopped.astype(np.int8))) + 1
    bounds = np.concatenate(([0], edges, [stopped.size]))
    lines = []
    for first, end in pairwise(bounds.tolist()):
        if end - first < FALL_SAMPLES_MIN.value or not stopped[first]:
            continue
        minutes = (ts_us[first:end] - ts_us[first]) / 60e6
        values = kpa[first:end].astype(np.float64)
        if not np.isfinite(values).all():
            continue
        centred = minutes - minutes.mean()
        slope = float(centred @ values / (centred @ centred))
        start = float(values.mean() - slope * minutes.mean())
        lines.append((first, end - 1, start, slope))
    return lines


def night(scene: Scene) -> Chart | None:
    """Draw a typical night, or None where no night of the week was observed."""
    week = scene.pump.week
    if week is None or week.quiet_from_hour is None:
        return None
    shown = typical_night(tuple(d for d in scene.pump.days if d.week == week.week))
    if shown is None:
        return None
    quiet_from, quiet_to = quiet_window(shown, week.quiet_from_hour, scene.timezone)
    view = us_of(quiet_from - _MARGIN), us_of(quiet_to + _MARGIN)
    part = scene.part(*view)
    if part.stop - part.start < 2:
        return None
    pressure = quantity.pressure(scene.units)
    x_ms, hz = scene.x_ms[part], scene.samples.frequency_hz[part]
    kpa = scene.samples.pressure_kpa[part]
    shapes = [
        theme.band(
            scene.clock_ms(us_of(quiet_from)),
            scene.clock_ms(us_of(quiet_to)),
            "quietest 3 h of this site",
            fillcolor=theme.QUIET_SHADE,
        )
    ]
    set_kpa = scene.pump.pump.pressure_setting_kpa
    if set_kpa is not None:
        shapes.append(theme.set_point(pressure.of(set_kpa), f"set {pressure.text(set_kpa, 0)}"))
    slopes = falls(scene.samples.ts_us[part], hz, kpa)
    shapes += _slope_strokes(slopes, x_ms, pressure)
    layout = theme.layout(
        420,
        shapes=shapes,
        yaxis=theme.axis(
            pressure.title,
            domain=[0.36, 1.0],
            range=theme.span(
                pressure.of_array(kpa), None if set_kpa is None else pressure.of(set_kpa)
            ),
        ),
        yaxis2=theme.axis(quantity.FREQUENCY.title, domain=[0.0, 0.28], rangemode="tozero"),
        xaxis=theme.time_axis(
            f"Time ({scene.zone})",
            scene.clock_ms(view[0]),
            scene.clock_ms(view[1]),
            anchor="y2",
            tickformat="%H:%M\n%a %d %b",
        ),
    )
    return Chart(
        title=f"A typical night, {shown.local_date:%a %d %b}",
        reading="Pressure above, speed below. Dotted lines are the falls while the pump rests,"
        " with their slope; triangles are restarts. Equal slopes in every stop, night after night,"
        " are a leak; flat stops are not.",
        figure=theme.figure(_night_traces(scene, part, pressure, week.f0_hz), layout),
    )


def _night_traces(
    scene: Scene, part: slice, pressure: Quantity, f0_hz: float | None
) -> list[dict[str, Any]]:
    pressures = scene.thinned("pressure_kpa", pressure, _NIGHT_BUCKETS, part)
    x_ms = scene.x_ms[part]
    running = scene.samples.frequency_hz[part] > RUNNING_ABOVE_HZ.value
    starts = np.flatnonzero(running[1:] & ~running[:-1])
    counted = f"restart ({starts.size} in view)"
    if starts.size > _RESTARTS_MARKED:
        starts = starts[:0]
    traces = [
        theme.line(pressures.x_ms, pressures.y, pressure.name, pressure.hover),
        theme.line(
            x_ms[starts],
            pressure.of_array(scene.samples.pressure_kpa[part][starts]),
            counted,
            f"restart at {pressure.hover}",
            mode="markers",
            marker={"symbol": "triangle-up", "size": 10, "color": theme.INK},
            showlegend=bool(starts.size),
        ),
        speed_below(scene, _NIGHT_BUCKETS, part),
    ]
    if f0_hz is not None:
        traces.append(
            theme.line(
                x_ms[[0, -1]],
                [f0_hz, f0_hz],
                f"speed at no flow, {f0_hz:.1f} Hz",
                "no flow %{y:.1f} Hz",
                yaxis="y2",
                line={"color": theme.INK, "width": 1.2, "dash": "dash"},
                showlegend=True,
            )
        )
    return traces


def _slope_strokes(
    slopes: list[tuple[int, int, float, float]], x_ms: NDArray[np.float64], pressure: Quantity
) -> list[dict[str, Any]]:
    """Longest falls as dotted lines; only the longest carries its slope in words."""
    longest = sorted(slopes, key=lambda fall: x_ms[fall[0]] - x_ms[fall[1]])[:_FALLS_DRAWN]
    strokes = []
    for rank, (first, last, start, slope) in enumerate(longest):
        minutes = (x_ms[last] - x_ms[first]) / 60_000.0
        per_min = slope / pressure.unit.per_shown
        rate = f"{per_min:+.2g} {pressure.unit.label}/min"
        strokes.append(
            theme.stroke(
                [float(x_ms[first]), float(x_ms[last])],
                [pressure.of(start), pressure.of(start + slope * minutes)],
                rate if rank == 0 else "",
            )
        )
    return strokes


def nights(scene: Scene) -> Chart:
    """Draw the nights of the last weeks: litres where the tank is known, else the fall.

    A pump that never rests at night shows no fall; then its running time is drawn.
    """
    days = scene.pump.days[-_NIGHTS_SHOWN:]
    title, values, note = _night_values(days, scene.units)
    layout = theme.layout(
        260,
        yaxis=theme.axis(title, rangemode="tozero"),
        xaxis=theme.axis(f"Night beginning ({scene.zone})", type="date", tickformat="%d %b"),
    )
    bars = theme.bars([d.local_date.isoformat() for d in days], values, title, "%{y:.3g}")
    return Chart(
        title="Night by night",
        reading=f"One bar a night; none where the night was not observed or nothing fell. {note}",
        figure=theme.figure([bars], layout),
    )


def _night_values(days: Sequence[PumpDay], units: str) -> tuple[str, list[float | None], str]:
    """Axis title, a value a night, and what it rests on."""
    flow, pressure = quantity.flow(units), quantity.pressure(units)
    if any(day.night_leak_lpm is not None for day in days):
        return (
            f"Loss in the quiet window ({flow.unit.label})",
            [_shown(day.night_leak_lpm, flow.unit.per_shown) for day in days],
            "By the tank's law from its registered volume and pre-charge.",
        )
    if any(day.night_fall_p50_kpa_per_min is not None for day in days):
        return (
            f"Fall in the quiet window ({pressure.unit.label}/min)",
            [_shown(day.night_fall_p50_kpa_per_min, pressure.unit.per_shown) for day in days],
            "Without tank volume and pre-charge the fall is shown, not litres.",
        )
    is_seen = [day.night_observed_share >= NIGHT_OBSERVED_SHARE.value for day in days]
    return (
        "Running in the quiet window (min)",
        [
            _shown(day.night_run_s, _S_PER_MIN) if seen else None
            for day, seen in zip(days, is_seen, strict=True)
        ],
        "No stop at night was long enough for a fall: the running time is shown.",
    )


def _shown(inner: float | None, per_shown: float) -> float | None:
    return None if inner is None else round(abs(inner) / per_shown, 4)
