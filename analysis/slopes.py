"""Slopes of a line through points, with their limits.

The same sums as ``scipy.stats.theilslopes`` and ``linregress``, against which the tests hold them:
those spend 1.1 and 0.7 ms a call on looking after their arguments, on the handful of weeks of each
pump, and 1 s to be imported.
"""

from functools import lru_cache
from math import pi, sqrt, tan
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of

Floats = NDArray[np.float64]


def theil_sen(x: Floats, y: Floats, level: float) -> tuple[float, float, float]:
    """Median of all pairwise slopes, with Sen's limits.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least two different ``x``.
    level : float
        Confidence, between 0.5 and 1.

    Returns
    -------
    slope, low, high : float
        In units of ``y`` over units of ``x``; the limits NaN where ties leave none.

    References
    ----------
    .. [1] P. K. Sen, JASA 63, 1968; the normal approximation of Kendall's tau, equation 2.6.
    """
    run = x[:, np.newaxis] - x
    is_later = run > 0.0
    slopes = np.sort((y[:, np.newaxis] - y)[is_later] / run[is_later])
    n, n_slopes = y.size, slopes.size
    variance = (n * (n - 1) * (2 * n + 5) - _ties(x) - _ties(y)) / 18.0
    if variance < 0.0 or n_slopes == 0:
        return median_of(slopes.tolist()), np.nan, np.nan
    reach = _normal(0.5 + level / 2.0) * np.sqrt(variance)
    above = min(round((n_slopes + reach) / 2.0), n_slopes - 1)
    below = max(round((n_slopes - reach) / 2.0) - 1, 0)
    return median_of(slopes.tolist()), float(slopes[below]), float(slopes[above])


def _ties(values: Floats) -> int:
    """What values that come more than once take from the variance of Kendall's score."""
    _, counts = np.unique(values, return_counts=True)
    if counts.size == values.size:
        return 0
    return int((counts * (counts - 1) * (2 * counts + 5)).sum())


def least_squares(x: Floats, y: Floats, level: float) -> tuple[float, float, float]:
    """Slope of the least-squares line, with limits by Student's t.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points and two different ``x``.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    slope, low, high : float
        In units of ``y`` over units of ``x``; the limits NaN where ``y`` does not vary.

    References
    ----------
    .. [1] Any text-book of statistics; certified example: NIST StRD, Norris.
    """
    off_x, off_y = x - x.mean(), y - y.mean()
    xx, xy, yy = float(off_x @ off_x), float(off_x @ off_y), float(off_y @ off_y)
    slope = xy / xx
    if yy == 0.0:
        return slope, np.nan, np.nan
    r = max(-1.0, min(1.0, xy / float(np.sqrt(xx * yy))))
    freedom = x.size - 2
    error = float(np.sqrt((1.0 - r**2) * yy / xx / freedom))
    reach = _student(0.5 + level / 2.0, freedom) * error
    return slope, slope - reach, slope + reach


@lru_cache
def _normal(share: float) -> float:
    return NormalDist().inv_cdf(share)


@lru_cache
def _student(share: float, freedom: int) -> float:
    """Quantile of Student's t, in closed form where three or four points leave hardly any."""
    if freedom == 1:
        return tan(pi * (share - 0.5))
    if freedom == 2:
        return (2.0 * share - 1.0) * sqrt(0.5 / (share * (1.0 - share)))
    from scipy.special import stdtrit

    return float(stdtrit(freedom, share))
