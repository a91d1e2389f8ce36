"""Evidence of hunting: a dozen swings of pressure and speed, sample by sample."""

from dashboards.charts import quantity, theme
from dashboards.charts.closeup import closeup
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import Chart, Scene

_SWINGS_SHOWN = 12
_US = 1_000_000


def swings(scene: Scene) -> Chart | None:
    """Draw the last swings of the week, or None where none were measured."""
    week = scene.pump.week
    if week is None or week.hunting_last_at is None or week.hunting_period_s is None:
        return None
    end_us = us_of(week.hunting_last_at)
    span_us = int(_SWINGS_SHOWN * week.hunting_period_s * _US)
    pressure, set_kpa = quantity.pressure(scene.units), scene.pump.pump.pressure_setting_kpa
    levels = (
        []
        if set_kpa is None
        else [theme.set_point(pressure.of(set_kpa), f"set {pressure.text(set_kpa, 0)}")]
    )
    figure = closeup(
        scene,
        (end_us - span_us, end_us + span_us // _SWINGS_SHOWN),
        [("pressure_kpa", pressure, levels), ("frequency_hz", quantity.FREQUENCY, [])],
        [],
    )
    return Chart(
        title="The last swings of the week",
        reading="Pressure above, speed below, on one time axis. Both swing at one period, pressure"
        " a little after speed. Pressure that swings while speed stands still would be air or"
        " noise; pressure that drops just when speed rises would be a draw that comes and goes.",
        figure=figure,
    )
