"""Do failures come faster or slower as a repairable system ages: the power law (Crow-AMSAA).

Expected failures up to age t are ``scale * t ** shape``: a shape above 1 gets worse, below 1
better. Ages start at 0; events are instants of age, or counts of spans such as weeks.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, kw_only=True)
class PowerLaw:
    """A fitted power law.

    Attributes
    ----------
    n : int
        Events it was fitted to.
    shape : float
        Above 1 worse, below 1 better; of maximum likelihood, which is biased upwards.
    shape_unbiased : float or None
        The same without that bias; None where there are too few events, or none is published.
    scale : float
        Expected events up to age 1.
    end : float
        Age up to which it was watched.
    n_systems : int
        Systems with that age.
    """

    n: int
    shape: float
    shape_unbiased: float | None
    scale: float
    end: float
    n_systems: int = 1

    @property
    def rate_now(self) -> float:
        """Events of one system per unit of age, at ``end``."""
        return float(self.scale * self.shape * self.end ** (self.shape - 1.0))

    @property
    def time_between_now(self) -> float:
        """Mean age between events of one system, at ``end``."""
        return 1.0 / self.rate_now


def fit_power_law(at: ArrayLike, end: float, *, is_ended_by_event: bool = False) -> PowerLaw:
    """Fit one system's events by maximum likelihood.

    ``shape = n / sum(ln(end / at))`` and ``scale = n / end ** shape``; without bias
    ``(n - 1) / sum`` where watched to a set age, ``(n - 2) / sum`` where watched to the last
    event [1]_.

    Parameters
    ----------
    at : array-like
        Ages of the events, above 0 and up to ``end``, in any order.
    end : float
        Age up to which the system was watched, in the same unit.
    is_ended_by_event : bool
        The watch ended because of the last event, at ``end``.

    Raises
    ------
    ValueError
        No event before ``end``, or one outside 0 to ``end``.

    References
    ----------
    .. [1] MIL-HDBK-189, Reliability Growth Management, 1981, appendix C; IEC 61164.
    """
    ages = _ages(at, end)
    n = ages.size
    total = float(np.log(end / ages).sum())
    if total <= 0.0:
        raise ValueError("no event before the end of the watch: a power law needs one")
    shape = n / total
    lost = 2 if is_ended_by_event else 1
    return PowerLaw(
        n=n,
        shape=shape,
        shape_unbiased=(n - lost) / total if n > lost else None,
        scale=float(n / end**shape),
        end=float(end),
    )


def fit_systems(at: Sequence[ArrayLike], ends: Sequence[float]) -> PowerLaw:
    """Fit one power law to several alike systems, each watched from age 0 to its own end.

    Solves ``n / shape + sum(ln at) = scale * sum(end ** shape * ln end)`` with
    ``scale = n / sum(end ** shape)`` [1]_; for equal ends that is
    ``shape = n / sum(ln(end / at))``.

    Returns
    -------
    PowerLaw
        With the longest end.

    Raises
    ------
    ValueError
        No event before its system's end, or one outside 0 to that end.

    References
    ----------
    .. [1] L. H. Crow, "Reliability analysis for complex, repairable systems", in Reliability
       and Biometry, SIAM, 1974; MIL-HDBK-189, 1981.
    """
    from scipy.optimize import brentq

    ages = [_ages(one, end) for one, end in zip(at, ends, strict=True)]
    n = sum(one.size for one in ages)
    shares = [np.log(end / one) for one, end in zip(ages, ends, strict=True) if one.size]
    if not shares or float(np.concatenate(shares).sum()) <= 0.0:
        raise ValueError("no event before the end of the watch: a power law needs one")
    longest = float(max(ends))
    log_ends = np.log(np.asarray(ends, dtype=np.float64) / longest)
    sum_log_at = sum(float(np.log(one / longest).sum()) for one in ages)

    def score(shape: float) -> float:
        power = np.exp(shape * log_ends)
        mean_log_end = float((power * log_ends).sum() / power.sum())
        return n / shape + sum_log_at - n * mean_log_end

    shape = float(brentq(score, 1e-6, _above(score)))
    weight = float(np.exp(shape * log_ends).sum())
    return PowerLaw(
        n=n,
        shape=shape,
        shape_unbiased=None,
        scale=n / (weight * longest**shape),
        end=longest,
        n_systems=len(ends),
    )


def fit_counts(ends: ArrayLike, counts: ArrayLike) -> PowerLaw:
    """Fit one system's events counted by span, such as week by week.

    Solves ``sum(n_i * ((b_i ** k ln b_i - a_i ** k ln a_i) / (b_i ** k - a_i ** k) - ln T)) = 0``
    for the shape k, with spans from a_i to b_i and the last end T [1]_.

    Parameters
    ----------
    ends : array-like
        End of each span, rising; the first span begins at 0.
    counts : array-like
        Events in each span.

    Raises
    ------
    ValueError
        Ends do not rise from above 0, no event at all, or all in one span that leaves no shape.

    References
    ----------
    .. [1] MIL-HDBK-189, Reliability Growth Management, 1981, grouped data.
    """
    from scipy.optimize import brentq

    to = np.asarray(ends, dtype=np.float64)
    number = np.asarray(counts, dtype=np.float64)
    if to.size == 0 or to[0] <= 0.0 or np.any(np.diff(to) <= 0.0) or to.size != number.size:
        raise ValueError("ends of spans must rise from above 0, one for each count")
    n = int(number.sum())
    last = float(to[-1])
    b = to / last
    a = np.concatenate(([0.0], b[:-1]))

    def score(shape: float) -> float:
        power_a, power_b = a**shape, b**shape
        log_a = np.log(np.where(a > 0.0, a, 1.0))
        middle = (power_b * np.log(b) - power_a * log_a) / (power_b - power_a)
        return float((number * middle).sum())

    low, high = 1e-3, 50.0
    if n == 0 or score(low) * score(high) > 0.0:
        raise ValueError("the counts leave no power law: no event, or all at one edge")
    shape = float(brentq(score, low, high))
    return PowerLaw(n=n, shape=shape, shape_unbiased=None, scale=n / last**shape, end=last)


def nist_fit(at: ArrayLike, end: float, level: float = 0.80) -> tuple[PowerLaw, float, float]:
    """Fit one system watched to a set age with the shape that is free of bias, with limits.

    ``shape = (n - 1) / sum(ln(end / at))``; time between events now is
    ``M = end / (n * shape)``, its limits ``M n (n - 1) / (n + z2/4 + sqrt(n z2/2 + z4/16))2``
    and ``M n (n - 1) / (n - z sqrt(n/2))2`` [1]_.

    Returns
    -------
    PowerLaw
        With the shape that is free of bias.
    low, high : float
        Limits of the mean time between events now; ``high`` is infinite where so few events
        give none.

    Raises
    ------
    ValueError
        Fewer than two events, or one outside 0 to ``end``.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.2.
    """
    from scipy.special import ndtri

    plain = fit_power_law(at, end)
    n = plain.n
    if plain.shape_unbiased is None:
        raise ValueError("one event: limits need two or more")
    z = float(ndtri(0.5 + level / 2.0))
    shape = plain.shape_unbiased
    fitted = PowerLaw(
        n=n, shape=shape, shape_unbiased=shape, scale=float(n / end**shape), end=float(end)
    )
    middle = end / (n * shape)
    low = middle * n * (n - 1) / (n + z**2 / 4 + sqrt(n * z**2 / 2 + z**4 / 16)) ** 2
    room = n - z * sqrt(n / 2)
    high = middle * n * (n - 1) / room**2 if room > 0.0 else inf
    return fitted, low, high


def misfit(at: ArrayLike, end: float) -> float:
    """Cramer-von Mises distance of one system's events from the power law, watched to an age.

    ``1 / 12n + sum(((t_i / end) ** shape - (2i - 1) / 2n) ** 2)`` with the shape that is free of
    bias [1]_. About 0.22 is passed by chance in 1 of 10.

    Raises
    ------
    ValueError
        Fewer than two events, or one outside 0 to ``end``.

    References
    ----------
    .. [1] MIL-HDBK-189, Reliability Growth Management, 1981, appendix C.
    """
    fitted = fit_power_law(at, end)
    if fitted.shape_unbiased is None:
        raise ValueError("one event: a distance needs two or more")
    ages = np.sort(_ages(at, end))
    n = ages.size
    even = (2.0 * np.arange(1, n + 1) - 1.0) / (2.0 * n)
    return float(1.0 / (12.0 * n) + (((ages / end) ** fitted.shape_unbiased - even) ** 2).sum())


def _ages(at: ArrayLike, end: float) -> NDArray[np.float64]:
    ages = np.asarray(at, dtype=np.float64)
    if ages.size and not (ages.min() > 0.0 and ages.max() <= end):
        raise ValueError(f"events must lie above 0 and up to the end of the watch, {end:g}")
    return ages


def _above(score: Callable[[float], float]) -> float:
    """Return a shape past the root: the score falls below 0 as the shape grows."""
    high = 1.0
    while score(high) > 0.0:
        high *= 2.0
    return high
