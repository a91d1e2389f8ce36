"""Evidence of a controller trip: the minutes before and after, every channel logged."""

from datetime import datetime, timedelta

import numpy as np

from analysis.findings import Finding
from dashboards.charts import quantity, theme
from dashboards.charts.closeup import Row, closeup
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.week_strip import current_levels, voltage_levels

_BEFORE = timedelta(minutes=10)
_AFTER = timedelta(minutes=20)


def around(scene: Scene, finding: Finding) -> Chart | None:
    """Draw the trip that the finding tells of, or None where its instant is not in the week."""
    told = finding.measures.get("last_trip_at")
    if not isinstance(told, str):
        return None
    at = datetime.fromisoformat(told)
    window_us = (us_of(at - _BEFORE), us_of(at + _AFTER))
    part = scene.part(*window_us)
    if part.stop - part.start < 2:
        return None
    pump, pressure = scene.pump.pump, quantity.pressure(scene.units)
    set_kpa, volts = pump.pressure_setting_kpa, pump.supply_volts
    levels = (
        []
        if set_kpa is None
        else [theme.set_point(pressure.of(set_kpa), f"set {pressure.text(set_kpa, 0)}")]
    )
    rows: list[Row] = [
        ("pressure_kpa", pressure, levels),
        ("frequency_hz", quantity.FREQUENCY, []),
        ("current_a", quantity.CURRENT, current_levels(scene)),
        ("voltage_v", quantity.VOLTAGE, [] if volts is None else voltage_levels(volts)),
        ("drive_temp_c", quantity.temperature(scene.units), []),
    ]
    logged = [row for row in rows if np.isfinite(getattr(scene.samples, row[0])[part]).any()]
    if not logged:
        return None
    at_ms = scene.clock_ms(us_of(at))
    mark = theme.band(
        at_ms,
        scene.clock_ms(window_us[1]),
        f"code {finding.cause}" if finding.cause else "stopped",
    )
    return Chart(
        title="Before and after the trip",
        reading="The shaded part begins at the trip. Look left of it: current near its limit is an"
        " overload, sinking volts are the supply, pressure gone with little current is a dry pump;"
        " nothing at all points to wiring, splices or ground.",
        figure=closeup(scene, window_us, logged, [mark]),
    )
