"""How far a count or a share may be off by chance: exact Poisson limits and Wilson's interval."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def poisson_limits(
    k: ArrayLike, exposure: ArrayLike = 1.0, level: float = 0.95
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Exact limits of a rate from ``k`` events in an exposure.

    ``chi2(a / 2, 2 k) / 2`` (0 for none) and ``chi2(1 - a / 2, 2 k + 2) / 2``, over the
    exposure [1]_.

    Parameters
    ----------
    k : array-like
        Events counted.
    exposure : array-like
        What they were counted in: pump-years, pump-weeks.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    low, high : ndarray
        Events per unit of exposure; NaN where an input is, ``k`` is negative or the exposure is
        not positive.

    References
    ----------
    .. [1] F. Garwood, "Fiducial limits for the Poisson distribution", Biometrika 28, 1936.
    """
    from scipy.special import gammaincinv

    events = np.asarray(k, dtype=np.float64)
    events = np.where(events >= 0.0, events, np.nan)
    span = np.asarray(exposure, dtype=np.float64)
    span = np.where(span > 0.0, span, np.nan)
    tail = (1.0 - level) / 2.0
    # chi2 with 2 a degrees of freedom is twice a gamma of shape a
    low = np.where(events == 0.0, 0.0, gammaincinv(np.where(events == 0.0, 1.0, events), tail))
    high = gammaincinv(events + 1.0, 1.0 - tail)
    return np.asarray(low / span), np.asarray(high / span)


def wilson_interval(
    k: ArrayLike, n: ArrayLike, level: float = 0.95
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Interval of a share from ``k`` in ``n``, without continuity correction.

    ``(p + z2/2n -/+ z sqrt(p q/n + z2/4n2)) / (1 + z2/n)`` [1]_.

    Parameters
    ----------
    k, n : array-like
        How many of how many.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    low, high : ndarray
        0 to 1; NaN where an input is, ``n`` is not positive or ``k`` is not within 0 to ``n``.

    References
    ----------
    .. [1] R. G. Newcombe, "Two-sided confidence intervals for the single proportion",
       Statistics in Medicine 17, 1998, method 3.
    """
    from scipy.special import ndtri

    total = np.asarray(n, dtype=np.float64)
    total = np.where(total > 0.0, total, np.nan)
    share = np.asarray(k, dtype=np.float64) / total
    share = np.where((share >= 0.0) & (share <= 1.0), share, np.nan)
    z = float(ndtri(0.5 + level / 2.0))
    centre = share + z**2 / (2.0 * total)
    half = z * np.sqrt(share * (1.0 - share) / total + z**2 / (4.0 * total**2))
    scale = 1.0 + z**2 / total
    return np.maximum(0.0, (centre - half) / scale), np.minimum(1.0, (centre + half) / scale)
