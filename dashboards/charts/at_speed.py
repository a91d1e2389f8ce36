"""Evidence of a pump that ran without pressure, or of a reading that cannot be: one spell, close.

Pressure, speed and motor current on one time axis, because they tell a dry pump from a burst.
"""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from analysis.findings import Finding
from analysis.limits import AT_MAX_WITHIN_HZ, SHORT_OF_SETTING_SHARE
from dashboards.charts import quantity, theme
from dashboards.charts.local_time import us_of
from dashboards.charts.quantity import Quantity
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.spells import Spell, spells_where
from dashboards.charts.week_strip import current_levels

_BUCKETS = 300
_SHORT_SHARE = 1.0 - SHORT_OF_SETTING_SHARE.value
_JOIN_S = 60.0
_AROUND_SHARE = 1.0  # of the spell, on either side
_AROUND_MIN_US = 300_000_000
_AROUND_MAX_US = 3_600_000_000
_ROWS = ("pressure_kpa", "frequency_hz", "current_a")
_DOMAINS = ([0.70, 1.0], [0.36, 0.64], [0.0, 0.30])


@dataclass(frozen=True)
class View:
    """What part of the week to draw and what is shaded in it."""

    from_us: int
    to_us: int
    shown: Spell


def ran_dry(scene: Scene, finding: Finding) -> Chart | None:
    """Draw the longest dry spell of a finding; None where its instant is not in the week.

    Other spells without pressure, such as refilling after it, may be longer and are not it.
    """
    began, length_s = (finding.measures.get(name) for name in ("longest_dry_at", "dry_s_longest"))
    if not isinstance(began, str) or not isinstance(length_s, int | float):
        return None
    from_us = us_of(datetime.fromisoformat(began))
    shown = Spell(from_us, from_us + int(length_s * 1e6))
    return _three_rows(scene, _around(shown), "The longest dry spell", "dry")


def pressure_short(scene: Scene) -> Chart | None:
    """Draw the longest spell of running short of the setting; None where there is none."""
    min_hz = scene.pump.pump.min_hz
    return _spell_chart(scene, _SHORT_SHARE, min_hz, "A spell short of the setting", "short")


def _spell_chart(
    scene: Scene, share: float, speed_hz: float, title: str, name: str
) -> Chart | None:
    week, pump = scene.pump.week, scene.pump.pump
    setting_kpa = pump.pressure_setting_kpa or (week.held_pressure_kpa if week else None)
    frequency_hz = scene.samples.frequency_hz
    if setting_kpa is None or not np.isfinite(frequency_hz).any():
        return None
    top_hz = min(speed_hz, float(np.nanmax(frequency_hz))) - AT_MAX_WITHIN_HZ.value
    shows = (scene.samples.pressure_kpa < share * setting_kpa) & (frequency_hz >= top_hz)
    view = _view(scene, shows)
    return None if view is None else _three_rows(scene, view, title, name)


def _view(scene: Scene, shows: NDArray[np.bool_]) -> View | None:
    spells = spells_where(scene.samples.ts_us, shows, _JOIN_S, scene.gap_s)
    if not spells:
        return None
    return _around(max(spells, key=lambda spell: (spell.duration_s, -spell.from_us)))


def _around(shown: Spell) -> View:
    around_us = int(_AROUND_SHARE * (shown.to_us - shown.from_us))
    around_us = min(max(around_us, _AROUND_MIN_US), _AROUND_MAX_US)
    return View(shown.from_us - around_us, shown.to_us + around_us, shown)


def _three_rows(scene: Scene, view: View, title: str, name: str) -> Chart | None:
    part = scene.part(view.from_us, view.to_us)
    if part.stop - part.start < 2:
        return None
    pressure, pump = quantity.pressure(scene.units), scene.pump.pump
    whats: dict[str, Quantity] = {
        "pressure_kpa": pressure,
        "frequency_hz": quantity.FREQUENCY,
        "current_a": quantity.CURRENT,
    }
    levels = {
        "pressure_kpa": []
        if pump.pressure_setting_kpa is None
        else [
            theme.set_point(
                pressure.of(pump.pressure_setting_kpa),
                f"set {pressure.text(pump.pressure_setting_kpa, 0)}",
            )
        ],
        "frequency_hz": [theme.set_point(pump.max_hz, f"maximum {pump.max_hz:.0f} Hz")],
        "current_a": current_levels(scene),
    }
    layout = theme.layout(460, showlegend=False)
    traces, shapes = [], []
    for index, channel in enumerate(_ROWS):
        row, what = str(index + 1) if index else "", whats[channel]
        thinned = scene.thinned(channel, what, _BUCKETS, part)
        traces.append(
            theme.line(thinned.x_ms, thinned.y, what.name, what.hover, xaxis="x", yaxis=f"y{row}")
        )
        layout[f"yaxis{row}"] = theme.axis(
            what.title,
            domain=_DOMAINS[index],
            range=theme.span(thinned.y, *(level["y0"] for level in levels[channel])),
            nticks=5,
        )
        shapes += [level | {"yref": f"y{row}"} for level in levels[channel]]
        shapes.append(
            theme.band(
                scene.clock_ms(view.shown.from_us),
                scene.clock_ms(view.shown.to_us),
                "" if index else name,
                yref=f"y{row} domain",
            )
        )
    layout["xaxis"] = theme.time_axis(
        f"Time ({scene.zone})",
        scene.clock_ms(view.from_us),
        scene.clock_ms(view.to_us),
        anchor=f"y{len(_ROWS)}",
    )
    layout["shapes"] = shapes
    return Chart(
        title=title,
        reading="Pressure, speed and motor current around that spell (shaded): at like speed a"
        " dry pump takes less current than one that moves water.",
        figure=theme.figure(traces, layout),
    )
