"""Evidence of short cycling: a typical spell of cycles, and starts by day over the weeks."""

import numpy as np
from numpy.typing import NDArray

from analysis.limits import RUNNING_ABOVE_HZ
from dashboards.charts import quantity, theme
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.speed import speed_below
from dashboards.charts.tank_law import falls_in_stops, tank_law_line

CYCLES_SHOWN = 8
WINDOW_LEAST_S = 120.0
WINDOW_MOST_S = 7200.0
"""A window of about eight cycles, two minutes to two hours. Ours: enough to see the rhythm, few
enough to see each slope."""
_DAYS_SHOWN = 91
_WINDOW_BUCKETS = 300
_QUARTILE_PCT = 25
_DOTS_MOST = 400
_DAY_S = 86_400.0
_CLOCK, _CLOCK_OF_SECONDS = "%H:%M\n%a %d %b", "%H:%M:%S\n%a %d %b"
_MINUTES_US = 600_000_000  # ticks of a longer window fall on full minutes
_LEAST_OBSERVED_SHARE = 0.25


def typical_window(
    ts_us: NDArray[np.int64], frequency_hz: NDArray[np.float32]
) -> tuple[int, int] | None:
    """Spell with the most typical cycles.

    The start whose following window holds the number of starts nearest to what the lower
    quartile of start-to-start times gives (cycles come in bursts, so their median is often a
    pause); the middle one of equally good starts.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants in order. [us]
    frequency_hz : ndarray of float32, shape (n,)
        0 when stopped. [Hz]

    Returns
    -------
    tuple of int, or None
        First and last instant of the spell [us]; None with fewer than three starts.
    """
    running = frequency_hz > RUNNING_ABOVE_HZ.value
    starts_us = ts_us[1:][running[1:] & ~running[:-1]]
    if starts_us.size < 3:
        return None
    period_s = float(np.percentile(np.diff(starts_us), _QUARTILE_PCT)) / 1e6
    window_s = min(max(CYCLES_SHOWN * period_s, WINDOW_LEAST_S), WINDOW_MOST_S)
    window_us = int(window_s * 1e6)
    n_within = np.searchsorted(starts_us, starts_us + window_us) - np.arange(starts_us.size)
    is_whole = starts_us + window_us <= ts_us[-1]
    off = np.where(is_whole, np.abs(n_within - window_s / period_s), np.inf)
    best = np.flatnonzero(off == off.min())
    start_us = int(starts_us[best[best.size // 2]])
    lead_us = window_us // 20
    return start_us - lead_us, start_us + window_us


def typical_cycles(scene: Scene) -> Chart | None:
    """Draw pressure and speed over a typical spell, or None where there is too little to show."""
    window = typical_window(scene.samples.ts_us, scene.samples.frequency_hz)
    if window is None:
        return None
    pressure = quantity.pressure(scene.units)
    part = scene.part(*window)
    pressures = scene.thinned("pressure_kpa", pressure, _WINDOW_BUCKETS, part)
    pump, week = scene.pump.pump, scene.pump.week
    levels = []
    if pump.pressure_setting_kpa is not None:
        text = f"set {pressure.text(pump.pressure_setting_kpa, 0)}"
        levels.append(theme.set_point(pressure.of(pump.pressure_setting_kpa), text))
    if week is not None and week.restart_pressure_kpa is not None:
        text = f"usual restart {pressure.text(week.restart_pressure_kpa)}"
        levels.append(theme.limit(pressure.of(week.restart_pressure_kpa), text))
    falls = falls_in_stops(
        scene.samples.ts_us[part],
        scene.samples.frequency_hz[part],
        scene.samples.pressure_kpa[part],
    )
    layout = theme.layout(
        420,
        shapes=levels,
        yaxis=theme.axis(
            pressure.title,
            domain=[0.42, 1.0],
            range=theme.span(pressures.y, *(s["y0"] for s in levels)),
        ),
        yaxis2=theme.axis(quantity.FREQUENCY.title, domain=[0.0, 0.34], rangemode="tozero"),
        xaxis=theme.time_axis(
            f"Time ({scene.zone})",
            scene.clock_ms(window[0]),
            scene.clock_ms(window[1]),
            anchor="y2",
            tickformat=_CLOCK if window[1] - window[0] >= _MINUTES_US else _CLOCK_OF_SECONDS,
        ),
    )
    has_dots = part.stop - part.start <= _DOTS_MOST
    traces = [
        theme.line(
            pressures.x_ms,
            pressures.y,
            pressure.name,
            pressure.hover,
            mode="lines+markers" if has_dots else "lines",
            marker={"size": 4, "color": theme.BLUE},
        ),
        speed_below(scene, _WINDOW_BUCKETS, part),
    ]
    reading = (
        "Pressure above, speed below, over a spell with this pump's usual rhythm: how steeply"
        " pressure falls when stopped, where it restarts, how short run and stop are. Dots, where"
        " drawn, are the logged samples."
    )
    if falls:
        traces.append(tank_law_line(scene, part, falls))
        reading += (
            " Dotted curves are what gas in a tank does (Boyle's law) if water is drawn steadily"
            " from stop to restart: pressure that bends away below them has run out of tank."
        )
    return Chart(
        title="Typical cycles",
        reading=reading,
        figure=theme.figure(traces, layout),
    )


def starts_by_day(scene: Scene, limit_per_day: float | None, limit_text: str) -> Chart:
    """Draw starts a day over the last weeks, with the limit where one is given.

    A day partly observed is scaled to a whole one; with less than a quarter observed it is left
    blank.
    """
    days = [day for day in scene.pump.days if day.observed_s > 0][-_DAYS_SHOWN:]
    values: list[float | None] = [
        round(day.n_starts * _DAY_S / day.observed_s, 1)
        if day.observed_s >= _LEAST_OBSERVED_SHARE * _DAY_S
        else None
        for day in days
    ]
    shapes = []
    if limit_per_day is not None:
        shapes.append(theme.limit(limit_per_day, limit_text))
    layout = theme.layout(
        260,
        shapes=shapes,
        yaxis=theme.axis("Starts (per day)", rangemode="tozero"),
        xaxis=theme.axis(f"Day ({scene.zone})", type="date", tickformat="%d %b"),
    )
    bars = theme.bars(
        [d.local_date.isoformat() for d in days], values, "Starts", "%{y:.0f} starts"
    )
    return Chart(
        title="Starts by day",
        reading="Each bar is a day at the site; a step tells when it began.",
        figure=theme.figure([bars], layout),
    )
