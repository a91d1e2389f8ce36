"""Whether a series of weekly values moved in one step, and when.

Weekly series are short (six to some dozens of values) and their scatter is known from the values
themselves, so one exact search over all splits is enough; a general change-point library adds a
penalty to choose, not certainty.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of
from analysis.limits import STEP_AT_ONCE_SHARE, STEP_OVER_NOISE

Floats = NDArray[np.float64]

_MAD_TO_SD = 1.4826


@dataclass(frozen=True, kw_only=True)
class Step:
    """A level before, a level after, and the first value of the new level."""

    at: int
    before: float
    after: float
    noise: float

    @property
    def size(self) -> float:
        """Level after less level before."""
        return self.after - self.before


def best_split(values: Floats, min_before: int = 1, min_after: int = 1) -> int | None:
    """First index of the second part, where two medians leave the least absolute deviation.

    Parameters
    ----------
    values : ndarray, shape (n,)
        In order of time, no NaN.
    min_before, min_after : int
        Fewest values on either side.

    Returns
    -------
    int or None
        None where the series is too short; the earliest where several splits are alike.
    """
    splits = range(min_before, values.size - min_after + 1)
    costs = [_deviation(values[:at]) + _deviation(values[at:]) for at in splits]
    return None if not costs else min_before + int(np.argmin(costs))


def find_step(
    values: Floats, *, least: float, floor: float, min_before: int = 2, min_after: int = 1
) -> Step | None:
    """The one step a series made, or None where it is steady, creeps or scatters.

    A step is what at least ``least`` and ``STEP_OVER_NOISE`` times the scatter from value to
    value parts, with ``STEP_AT_ONCE_SHARE`` of it between two neighbouring values: a creep of
    the same size is spread over many.

    Parameters
    ----------
    values : ndarray, shape (n,)
        In order of time, no NaN.
    least : float
        Smallest step that matters.
    floor : float
        Scatter below which the values cannot be known, such as the sensor's resolution.
    """
    at = best_split(values, min_before, min_after)
    if at is None:
        return None
    before, after = median_of(values[:at].tolist()), median_of(values[at:].tolist())
    others = np.delete(np.abs(np.diff(values)), at - 1)
    scatter = _MAD_TO_SD * median_of(others.tolist()) / np.sqrt(2.0) if others.size else 0.0
    noise = max(floor, scatter)
    size = after - before
    at_once = (values[at] - values[at - 1]) / size if size else 0.0
    is_step = (
        abs(size) >= max(least, STEP_OVER_NOISE.value * noise)
        and at_once >= STEP_AT_ONCE_SHARE.value
    )
    return Step(at=at, before=before, after=after, noise=noise) if is_step else None


def _deviation(values: Floats) -> float:
    return float(np.abs(values - median_of(values.tolist())).sum())
