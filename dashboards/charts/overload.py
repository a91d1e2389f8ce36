"""Evidence of overload margin: motor current at like speed over weeks, against its limits."""

from collections.abc import Mapping
from statistics import median
from typing import Any

from analysis.case import CurrentDrift
from analysis.records import OpMapBin
from dashboards.charts import quantity, theme
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.week_strip import current_levels

_WEEKS_SHOWN = 26
_BIN_HZ = 2


def like_cell(cells: tuple[OpMapBin, ...]) -> tuple[float, float] | None:
    """Cell of speed and pressure to compare over weeks: in most weeks, then longest held."""
    weeks: dict[tuple[float, float], set[str]] = {}
    held_s: dict[tuple[float, float], float] = {}
    for cell in cells:
        if cell.current_mean_a is None:
            continue
        key = (cell.frequency_bin_hz, cell.pressure_bin_pct)
        weeks.setdefault(key, set()).add(cell.week)
        held_s[key] = held_s.get(key, 0.0) + cell.held_s
    if not weeks:
        return None
    return max(weeks, key=lambda key: (len(weeks[key]), held_s[key], key))


def current_over_weeks(scene: Scene, drift: CurrentDrift | None) -> Chart | None:
    """Draw weekly current against the limits, or None where no current was logged.

    Parameters
    ----------
    scene : Scene
        The pump's weeks.
    drift : CurrentDrift or None
        Slope with its interval, drawn through the like-speed currents; None: no line.
    """
    records = [*scene.pump.past, *([scene.pump.week] if scene.pump.week else [])]
    records = [w for w in records if w.current_p95_a is not None][-_WEEKS_SHOWN:]
    if not records:
        return None
    dates = {w.week: w.from_at.date().isoformat() for w in records}
    p95 = [None if w.current_p95_a is None else round(w.current_p95_a, 2) for w in records]
    traces = [
        theme.dated(list(dates.values()), p95, "95th percentile, all speeds", "%{y:.1f} A")
        | {"marker": {"symbol": "diamond", "size": 8, "color": theme.INK}}
    ]
    traces[0]["line"] = {"color": theme.INK, "width": 1, "dash": "dot"}
    traces += _like_speed(scene, dates, drift)
    layout = theme.layout(
        400,
        shapes=current_levels(scene),
        yaxis=theme.axis(quantity.CURRENT.title),
        xaxis=theme.axis(f"Week beginning ({scene.zone})", type="date", tickformat="%d %b"),
    )
    return Chart(
        title="Motor current by week, against its limits",
        reading="Diamonds are the highest 5 % of settled running; dots are like with like, the"
        " same speed and pressure each week. Dots that climb are a load that rises; level dots"
        " near the limit are a load that is high.",
        figure=theme.figure(traces, layout),
    )


def _like_speed(
    scene: Scene, dates: Mapping[str, str], drift: CurrentDrift | None
) -> list[dict[str, Any]]:
    key = like_cell(tuple(cell for cell in scene.pump.op_map if cell.week in dates))
    if key is None:
        return []
    hz, pressure_pct = key
    cells = {
        cell.week: cell
        for cell in scene.pump.op_map
        if (cell.frequency_bin_hz, cell.pressure_bin_pct) == key and cell.week in dates
    }
    weeks = [week for week in dates if week in cells]
    means = [_rounded(cells[week].current_mean_a) for week in weeks]
    spread = [_rounded(cells[week].current_sd_a) or 0.0 for week in weeks]
    name = f"at {hz:.0f} to {hz + _BIN_HZ:.0f} Hz, {pressure_pct:.0f} % of set pressure"
    trace = theme.dated([dates[week] for week in weeks], means, name, "%{y:.2f} A")
    trace["error_y"] = {"type": "data", "array": spread, "thickness": 1, "width": 3}
    known = [mean for mean in means if mean is not None]
    if drift is None or len(known) < 2:
        return [trace]
    return [trace, *_drift_lines([dates[week] for week in weeks], known, drift)]


def _drift_lines(
    dates: list[str], means: list[float], drift: CurrentDrift
) -> list[dict[str, Any]]:
    """Line of the drift through the middle of the weeks, with the ends of its interval."""
    middle = (len(means) - 1) / 2
    level = median(means)
    lines = []
    for pct, name, dash in (
        (drift.pct_per_week, f"drift {_signed(drift.pct_per_week)} % a week", "solid"),
        (drift.low_pct_per_week, f"95 % interval from {_signed(drift.low_pct_per_week)}", "dot"),
        (drift.high_pct_per_week, f"to {_signed(drift.high_pct_per_week)} % a week", "dot"),
    ):
        values: list[float | None] = [
            round(level * (1 + pct / 100 * (n - middle)), 3) for n in range(len(means))
        ]
        line = theme.dated(dates, values, name, "%{y:.2f} A")
        line |= {"mode": "lines", "line": {"color": theme.VERMILION, "width": 1.5, "dash": dash}}
        lines.append(line)
    return lines


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _signed(pct: float) -> str:
    """Number with its sign, one decimal; what rounds to nothing has none."""
    text = f"{pct:+.1f}"
    return "0.0" if float(text) == 0.0 else text
