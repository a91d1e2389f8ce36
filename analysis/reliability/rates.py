"""Rates of counts: time between events with limits, two groups compared, many at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log

import numpy as np
from numpy.typing import ArrayLike, NDArray


def time_between_limits(time: float, events: int, level: float = 0.95) -> tuple[float, float]:
    """Limits of the mean time between events, watched for a set time.

    ``2 T / chi2(1 - a/2, 2r + 2)`` to ``2 T / chi2(a/2, 2r)``; without an event the lower limit
    is one-sided, ``T / -ln a``, and there is no upper one [1]_.

    Parameters
    ----------
    time : float
        Time watched, all systems together.
    events : int
        Events in it.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    low, high : float
        In the unit of ``time``; ``high`` is infinite without an event.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1.
    """
    from scipy.special import gammaincinv

    tail = (1.0 - level) / 2.0
    if events == 0:
        return time / -log(1.0 - level), inf
    low = time / float(gammaincinv(events + 1.0, 1.0 - tail))
    return low, time / float(gammaincinv(float(events), tail))


def chance_tails(events: int, exposure: float, others: int, rest: float) -> tuple[float, float]:
    """Chance of a group's count, or one further out, if its rate were that of the others.

    Given the sum of two Poisson counts, the first is binomial with its share of the exposure
    [1]_.

    Returns
    -------
    more, less : float
        Chance of so many or more, and of so few or fewer, 0 to 1.

    References
    ----------
    .. [1] J. Przyborowski, H. Wilenski, "Homogeneity of results in testing samples from Poisson
       series", Biometrika 31, 1940.
    """
    from scipy.special import bdtr, bdtrc

    n_all = events + others
    share = exposure / (exposure + rest)
    more = 1.0 if events == 0 else float(bdtrc(events - 1, n_all, share))
    return more, float(bdtr(events, n_all, share))


@dataclass(frozen=True, kw_only=True)
class Stratum:
    """One stratum of a comparison: a group's events and exposure, and the others' in it."""

    events: int
    exposure: float
    others: int
    rest: float


@dataclass(frozen=True, kw_only=True)
class Stratified:
    """A group compared with others of its own stratum only.

    Attributes
    ----------
    events : int
        The group's events in strata that hold others too, the only ones that tell.
    expected : float
        What it would have there at the rates of its strata.
    more, less : float
        Chance of so many or more, and of so few or fewer, 0 to 1.
    """

    events: int
    expected: float
    more: float
    less: float


def stratified_tails(strata: Sequence[Stratum]) -> Stratified:
    """Compare a group with the others stratum by stratum, exactly.

    Within a stratum the group's events are binomial given the stratum's total [1]_; their sum
    over strata has the convolution of these distributions.

    References
    ----------
    .. [1] J. Przyborowski, H. Wilenski, Biometrika 31, 1940; N. E. Breslow, N. E. Day,
       Statistical Methods in Cancer Research II, IARC, 1987, section 3.6 (comparison within
       strata).
    """
    telling = [s for s in strata if s.exposure > 0.0 and s.rest > 0.0 and s.events + s.others > 0]
    chances = np.ones(1)
    expected = 0.0
    for one in telling:
        total = one.events + one.others
        share = one.exposure / (one.exposure + one.rest)
        expected += total * share
        chances = np.convolve(chances, _binomial(total, share))
    events = sum(one.events for one in telling)
    more = float(min(1.0, chances[events:].sum()))
    return Stratified(
        events=events,
        expected=expected,
        more=more,
        less=float(min(1.0, chances[: events + 1].sum())),
    )


def _binomial(n: int, share: float) -> NDArray[np.float64]:
    """Chance of 0 to ``n`` events of ``n``, each the group's with the same chance."""
    from scipy.special import gammaln, xlog1py, xlogy  # scipy.stats takes half a second to load

    k = np.arange(n + 1)
    ways = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
    return np.asarray(np.exp(ways + xlogy(k, share) + xlog1py(n - k, -share)))


def false_discovery(chances: ArrayLike) -> NDArray[np.float64]:
    """Adjust the chances of many tests at once, by Benjamini and Hochberg's step-up rule.

    What stands at or under q holds, in the mean, at most a share q of false findings [1]_.

    Parameters
    ----------
    chances : array-like
        One p-value a test, 0 to 1.

    Returns
    -------
    ndarray, in the order given.

    References
    ----------
    .. [1] Y. Benjamini, Y. Hochberg, "Controlling the false discovery rate", Journal of the
       Royal Statistical Society B 57, 1995.
    """
    values = np.asarray(chances, dtype=np.float64)
    order = np.argsort(values)[::-1]  # the largest first
    rank = np.arange(values.size, 0, -1)
    adjusted = np.empty_like(values)
    adjusted[order] = np.minimum.accumulate(np.minimum(values[order] * values.size / rank, 1.0))
    return adjusted
