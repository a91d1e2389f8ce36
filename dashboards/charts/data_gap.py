"""Evidence of a data gap: what was observed of each day of the week."""

import numpy as np

from analysis.wording import duration_text
from dashboards.charts import theme
from dashboards.charts.local_time import us_of
from dashboards.charts.scene import Chart, Scene
from dashboards.charts.spells import silences
from ingest.weeks import local_days

_BAR_PX = 16
_HOUR_US = 3_600_000_000


def observed_by_day(scene: Scene) -> Chart:
    """Draw a bar for each day, broken where the log is silent."""
    ts_us = scene.samples.ts_us
    x: list[float | None] = []
    y: list[str | None] = []
    names = []
    for day, from_at, to_at in local_days(scene.brief.week, scene.timezone):
        name = f"{day:%a %d %b}"
        names.append(name)
        from_us, to_us = us_of(from_at), us_of(to_at)
        inside = ts_us[slice(*np.searchsorted(ts_us, (from_us, to_us)).tolist())]
        at = from_us
        for silence in [*silences(inside, from_us, to_us, scene.gap_s), None]:
            end = to_us if silence is None else silence.from_us
            if end > at:
                x += [(at - from_us) / _HOUR_US, (end - from_us) / _HOUR_US, None]
                y += [name, name, None]
            at = to_us if silence is None else silence.to_us
    trace = {
        "type": "scatter",
        "mode": "lines",
        "name": "observed",
        "x": [None if hour is None else round(hour, 4) for hour in x],
        "y": y,
        "line": {"color": theme.BLUE, "width": _BAR_PX},
        "hovertemplate": "%{y}, %{x:.1f} h after midnight<extra>observed</extra>",
        "showlegend": False,
    }
    layout = theme.layout(
        310,
        yaxis=theme.axis(
            "Day",
            type="category",
            categoryorder="array",
            categoryarray=names[::-1],
            range=[-0.6, 6.6],
        ),
        xaxis=theme.axis(f"Hours after midnight ({scene.zone})", range=[0, 24], dtick=3),
        plot_bgcolor="#eeece6",
    )
    return Chart(
        title="What was observed",
        reading=f"Bars are time with data; a silence of over {duration_text(scene.gap_s)} is"
        " left empty. Nothing is known of the empty time.",
        figure=theme.figure([trace], layout),
    )
