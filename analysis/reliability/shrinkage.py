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
    from scipy.optimize import minimize
    from scipy.special import gammaln

    k = np.asarray(events, dtype=np.float64)
    e = np.asarray(exposure, dtype=np.float64)
    if k.size < 3 or k.sum() == 0.0:
        return None
    usual = float(k.sum() / e.sum())

    def unlikeliness(at: NDArray[np.float64]) -> float:
        shape = np.exp(min(at[0], _LOG_SHAPE_MAX))
        expected = usual * np.exp(at[1]) * e
        chance = (
            gammaln(k + shape)
            - gammaln(shape)
            - shape * np.log1p(expected / shape)
            + k * (np.log(expected) - np.log(shape + expected))
        )
        return float(-chance.sum())

    starts = [np.array([start, 0.0]) for start in (-1.0, 1.0, 4.0)]
    fits = [
        minimize(
            unlikeliness,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000, "maxfev": 4000},
        )
        for start in starts
    ]
    best = min(fits, key=lambda fit: float(fit.fun))
    return GammaPrior(
        shape=float(np.exp(min(best.x[0], _LOG_SHAPE_MAX))),
        mean=float(usual * np.exp(best.x[1])),
    )


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
