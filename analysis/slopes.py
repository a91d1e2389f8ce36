"""Slopes of a line through points, with their limits."""

import numpy as np
from numpy.typing import NDArray


def theil_sen(
    x: NDArray[np.float64], y: NDArray[np.float64], level: float
) -> tuple[float, float, float]:
    """Median of all pairwise slopes, with Sen's limits.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least two different ``x``.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    slope, low, high : float
        In units of ``y`` over units of ``x``.

    References
    ----------
    .. [1] P. K. Sen, JASA 63, 1968; the normal approximation of Kendall's tau.
    """
    from scipy import stats

    sen = stats.theilslopes(y, x, alpha=level)
    return float(sen.slope), float(sen.low_slope), float(sen.high_slope)


def least_squares(
    x: NDArray[np.float64], y: NDArray[np.float64], level: float
) -> tuple[float, float, float]:
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
        In units of ``y`` over units of ``x``.

    References
    ----------
    .. [1] Any text-book of statistics; certified example: NIST StRD, Norris.
    """
    from scipy import stats

    line = stats.linregress(x, y)
    reach = float(stats.t.ppf(0.5 + level / 2.0, x.size - 2)) * float(line.stderr)
    return float(line.slope), float(line.slope) - reach, float(line.slope) + reach
