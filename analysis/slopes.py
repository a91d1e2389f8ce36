"""Slopes that a few odd points cannot lead."""

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
