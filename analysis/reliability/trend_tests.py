"""Is there a trend in when things fail at all: tests against a steady rate.

Both tests take the events of one system or of several alike ones, each watched from age 0 to an
age of its own; given how many events each had, a steady rate spreads them evenly over its watch.
So systems that joined later make no trend of their own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, kw_only=True)
class TrendTest:
    """One test of a steady rate.

    Attributes
    ----------
    n : int
        Events that counted.
    statistic : float
        Laplace's U, or chi-squared of the handbook's test.
    chance_worse, chance_better : float
        Chance that a steady rate looks so much worse, or better, or more so; 0 to 1.
    """

    n: int
    statistic: float
    chance_worse: float
    chance_better: float


def laplace_test(
    at: Sequence[ArrayLike], ends: Sequence[float], *, is_ended_by_event: bool = False
) -> TrendTest | None:
    """Laplace's test: do events lie late or early in their watch.

    ``U = (sum of ages - sum of n T / 2) / sqrt(sum of n T2 / 12)``, for one system
    ``(mean age - T/2) / (T sqrt(1 / (12 n)))`` [1]_; near to normal from four events on.

    Parameters
    ----------
    at : sequence of array-like
        Ages of each system's events.
    ends : sequence of float
        Age up to which each was watched.
    is_ended_by_event : bool
        Each watch ended with its last event, which then does not count.

    Returns
    -------
    TrendTest or None
        Positive U is worse; None without an event that counts.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
    """
    from scipy.special import ndtr

    n, excess, variance = 0, 0.0, 0.0
    for one, end in zip(at, ends, strict=True):
        ages = _counted(one, is_ended_by_event)
        n += ages.size
        excess += float((ages - end / 2.0).sum())
        variance += ages.size * end**2 / 12.0
    if n == 0:
        return None
    u = excess / np.sqrt(variance)
    return TrendTest(
        n=n, statistic=float(u), chance_worse=float(ndtr(-u)), chance_better=float(ndtr(u))
    )


def handbook_test(
    at: Sequence[ArrayLike], ends: Sequence[float], *, is_ended_by_event: bool = False
) -> TrendTest | None:
    """Military handbook test: is the power law's shape 1.

    ``2 * sum(ln(T / t))`` is chi-squared with two degrees of freedom an event, where the rate
    is steady; small is worse [1]_ [2]_.

    Parameters
    ----------
    at, ends, is_ended_by_event
        As for ``laplace_test``.

    References
    ----------
    .. [1] MIL-HDBK-189, Reliability Growth Management, 1981.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
    """
    from scipy.special import gammainc, gammaincc

    n, total = 0, 0.0
    for one, end in zip(at, ends, strict=True):
        ages = _counted(one, is_ended_by_event)
        n += ages.size
        total += float(np.log(end / ages).sum())
    if n == 0:
        return None
    return TrendTest(
        n=n,
        statistic=2.0 * total,
        chance_worse=float(gammainc(n, total)),
        chance_better=float(gammaincc(n, total)),
    )


def _counted(one: ArrayLike, is_ended_by_event: bool) -> np.ndarray:
    ages = np.sort(np.asarray(one, dtype=np.float64))
    return ages[:-1] if is_ended_by_event else ages
