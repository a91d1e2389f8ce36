"""Small groups drawn towards the others: empirical Bayes of gamma-distributed rates.

A group of six pumps with two faults is not the worst of the fleet. Rates of groups are taken as
draws of one gamma distribution, which is fitted to all groups; each group's own rate is then what
its count says in the light of the others.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

_LOG_SHAPE_MAX = 12.0  # beyond it all groups have one rate as far as a count can show


@dataclass(frozen=True, kw_only=True)
class GammaPrior:
    """How rates differ from group to group: gamma of this shape and mean."""

    shape: float
    mean: float

    @property
    def exposure(self) -> float:
        """Exposure the others lend a group: the gamma's rate parameter."""
        return self.shape / self.mean


def fit_prior(events: ArrayLike, exposure: ArrayLike) -> GammaPrior | None:
    """Fit the gamma of the groups' rates by maximum likelihood of their counts.

    A Poisson count whose rate is gamma is negative binomial [1]_; both parameters are found
    numerically.

    Parameters
    ----------
    events, exposure : array-like
        Of each group; exposures above 0.

    Returns
    -------
    GammaPrior or None
        None with fewer than three groups or without an event: nothing then tells how groups
        differ. A very large shape says that they do not.

    References
    ----------
    .. [1] D. Clayton, J. Kaldor, "Empirical Bayes estimates of age-standardized relative risks
       for use in disease mapping", Biometrics 43, 1987.
    """
    from scipy.optimize import minimize_scalar

    k = np.asarray(events, dtype=np.float64)
    e = np.asarray(exposure, dtype=np.float64)
    if k.size < 3 or k.sum() == 0.0:
        return None

    def unlikeliness(log_shape: float) -> float:
        return -_log_likelihood(k, e, float(np.exp(log_shape)))

    at = np.linspace(-5.0, _LOG_SHAPE_MAX, 18)
    best = at[int(np.argmin([unlikeliness(log_shape) for log_shape in at]))]
    span = (best - 1.0, min(best + 1.0, _LOG_SHAPE_MAX))
    found = minimize_scalar(unlikeliness, bounds=span, method="bounded", options={"xatol": 1e-7})
    shape = float(np.exp(found.x))
    return GammaPrior(shape=shape, mean=_mean_at(k, e, shape))


def _log_likelihood(k: NDArray[np.float64], e: NDArray[np.float64], shape: float) -> float:
    """Log of the counts' chance at a shape and the mean that is likeliest with it."""
    from scipy.special import gammaln

    due = _mean_at(k, e, shape) * e
    chance = (
        gammaln(k + shape)
        - gammaln(shape)
        - shape * np.log1p(due / shape)
        + k * (np.log(due) - np.log(shape + due))
    )
    return float(chance.sum())


def _mean_at(k: NDArray[np.float64], e: NDArray[np.float64], shape: float) -> float:
    """Likeliest mean: ``sum((k - m e) / (shape + m e)) = 0``, which falls as m grows."""
    from scipy.optimize import brentq

    def score(mean: float) -> float:
        return float(((k - mean * e) / (shape + mean * e)).sum())

    highest = float((k / e).max())
    return float(brentq(score, 1e-12 * highest, highest, rtol=1e-12))


def shrunk(
    prior: GammaPrior, events: ArrayLike, exposure: ArrayLike, level: float = 0.95
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Each group's rate in the light of the others: gamma of ``shape + k`` and ``b + e``.

    Returns
    -------
    middle, low, high : ndarray
        Mean and limits; the limits leave out that the prior is itself an estimate.
    """
    from scipy.special import gammaincinv

    shape = prior.shape + np.asarray(events, dtype=np.float64)
    rate = prior.exposure + np.asarray(exposure, dtype=np.float64)
    tail = (1.0 - level) / 2.0
    low = gammaincinv(shape, tail) / rate
    high = gammaincinv(shape, 1.0 - tail) / rate
    return np.asarray(shape / rate), np.asarray(low), np.asarray(high)
