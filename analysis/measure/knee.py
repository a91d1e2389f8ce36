"""Knees: stops in which pressure sinks gently and then drops as off a cliff.

At the pre-charge a pressure tank is empty: above it the tank gives water, below only the pipes
do, and pressure drops many times faster. The knee is then at the same pressure in every stop. A
tap that opens after a hold bends the fall as well, but at the pressure of the hold, or at
another pressure each time; such bends are told apart by where they lie.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import KNEE_RATIO
from analysis.measure.falls import Points
from analysis.measure.quantiles import median
from analysis.measure.trace import Trace
from analysis.physics.tank import ATMOSPHERE_KPA

_SAMPLES_MIN = 8
_KNEES_MIN = 3
_STEPS = 2.0
_GENTLE_SHARE = 0.01
_CLIFF_SHARE = 0.02
_SAME_SHARE = 0.02


def knee_measures(week: Trace, whole: Points, step_kpa: float) -> dict[str, Any]:
    """Knee pressure and the share of falls that bend there.

    A fall counts where it is deep enough to show a knee: by 1 % of the absolute pressure before
    and 2 % after, and by two steps of the resolution. Of the knees only those within 2 % of
    their median count, which is where a pre-charge would put them all.

    Parameters
    ----------
    whole : Points
        Samples of whole stops.
    step_kpa : float
        Resolution. [kPa]

    Returns
    -------
    dict
        ``knee_pressure_kpa`` and ``knee_share``; both None where no fall is deep enough.
    """
    keep = np.flatnonzero((whole.count >= _SAMPLES_MIN) & whole.ranges.is_whole)
    if keep.size == 0:
        return {"knee_pressure_kpa": None, "knee_share": None}
    top_kpa = whole.pressure_kpa[whole.start]
    last = whole.start + whole.count - 1
    after = whole.ranges.end  # the first row of the next run: where the cliff led
    end_kpa = np.fmin(whole.pressure_kpa[last], week.samples.pressure_kpa[after])
    end_s = week.time.t_s[after] - whole.from_s
    at = _farthest_above_chord(whole, top_kpa, end_kpa, end_s)
    knee_kpa, knee_s = whole.pressure_kpa[at], whole.t_s[at]
    abs_kpa = top_kpa + ATMOSPHERE_KPA
    gentle_kpa, cliff_kpa = top_kpa - knee_kpa, knee_kpa - end_kpa
    gentle_min = np.maximum(_STEPS * step_kpa, _GENTLE_SHARE * abs_kpa)
    cliff_min = np.maximum(_STEPS * step_kpa, _CLIFF_SHARE * abs_kpa)
    is_deep = (top_kpa - end_kpa)[keep] >= (gentle_min + cliff_min)[keep]
    is_knee = (gentle_kpa >= gentle_min) & (cliff_kpa >= cliff_min)
    is_knee &= cliff_kpa * knee_s >= KNEE_RATIO.value * gentle_kpa * (end_s - knee_s)
    found_kpa = knee_kpa[keep][is_knee[keep]]
    if not is_deep.any():
        return {"knee_pressure_kpa": None, "knee_share": None}
    middle_kpa = median(found_kpa)
    if middle_kpa is None or found_kpa.size < _KNEES_MIN:
        return {"knee_pressure_kpa": None, "knee_share": 0.0}
    same = np.abs(found_kpa - middle_kpa) <= _SAME_SHARE * (middle_kpa + ATMOSPHERE_KPA)
    n_deep = int(np.count_nonzero(is_deep))
    return {
        "knee_pressure_kpa": middle_kpa,
        "knee_share": min(1.0, int(np.count_nonzero(same)) / n_deep),
    }


def _farthest_above_chord(
    points: Points,
    top_kpa: NDArray[np.float64],
    end_kpa: NDArray[np.float64],
    end_s: NDArray[np.float64],
) -> NDArray[np.int64]:
    """In each stop, the sample farthest above the straight line from its top to its end."""
    per_s = (end_kpa - top_kpa) / end_s
    above_kpa = points.pressure_kpa - np.repeat(per_s, points.count) * points.t_s
    highest_kpa = np.maximum.reduceat(above_kpa, points.start)
    is_highest = np.flatnonzero(above_kpa == np.repeat(highest_kpa, points.count))
    return is_highest[np.searchsorted(is_highest, points.start)]
