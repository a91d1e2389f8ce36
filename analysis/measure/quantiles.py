"""Quantiles and robust spreads, weighted by held time where samples differ in length."""

from collections.abc import Sequence
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

MAD_TO_SD = 1.4826
"""Median absolute deviation of a normal distribution to its standard deviation (text-book)."""

_SAMPLED_FROM = 1000  # fewer are sorted about as fast as they are looked through

Floats = NDArray[np.floating[Any]]


def in_order(values: Floats, places: Sequence[int]) -> Floats:
    """Values that would stand at some places if all were sorted, NaN last.

    Of many values, a sorted sample tells about where a place lies (Floyd and Rivest, "Expected
    time bounds for selection", Communications of the ACM 18(3), 1975). A sample that misleads
    costs time and changes no answer.
    """
    if values.size < _SAMPLED_FROM:
        ordered = np.sort(values)
        return np.asarray([ordered[place] for place in places], values.dtype)
    stride = round(values.size ** (1 / 3))
    sample = np.sort(values[::stride])
    sample = sample[: sample.searchsorted(np.nan)]
    found = np.empty(len(places), values.dtype)
    n_below = n_upto = 0
    for n, place in enumerate(places):
        if not n_below <= place < n_upto:
            at = place / stride
            reach = 1.0 + 2.0 * (at * (1.0 - place / values.size)) ** 0.5  # two deviations of it
            guesses = sample[max(0, int(at - reach)) : int(at + reach) + 1]
            n_below, n_upto, near = _near(values, guesses, place)
        found[n] = near[min(place - n_below, near.size - 1)]
    return found


def _near(values: Floats, guesses: Floats, place: int) -> tuple[int, int, Floats]:
    """Sorted values around a place, or the one that all of them are, and what places they take.

    Halves the guesses, in order and without NaN, by counting the values below. In rounded values
    one of them mostly stands at the place; else those between its two nearest are sorted.
    """
    n_low, low, high = 0, None, None
    while guesses.size:
        guess = guesses[guesses.size // 2]
        n_below = int(np.count_nonzero(values < guess))
        if place < n_below:
            high = guess
            guesses = guesses[: guesses.searchsorted(guess)]
            continue
        n_upto = int(np.count_nonzero(values <= guess))
        if place < n_upto:
            return n_below, n_upto, np.asarray([guess])
        n_low, low = n_upto, guess
        guesses = guesses[guesses.searchsorted(guess, side="right") :]
    is_near = np.ones(values.shape, dtype=np.bool_) if high is None else values < high
    if low is not None:
        is_near &= ~(values <= low)  # NaN stays where no value is known to lie above
    near = np.sort(values[np.flatnonzero(is_near)])
    return n_low, n_low + near.size, near


def held_quantiles(
    values: Floats, held_s: NDArray[np.float64], shares: Sequence[float]
) -> list[float] | None:
    """Quantiles of samples that each count for as long as they were held.

    The value below or at which the share of the held time lies (the inverse of the weighted
    distribution function), so every answer is a value that was logged.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN is left out.
    held_s : ndarray of float64, shape (n,)
        Weights, not negative. [s]
    shares : sequence of float
        0 to 1.

    Returns
    -------
    list of float, or None where no value is left or nothing was held
    """
    n_valid = values.size - int(np.count_nonzero(np.isnan(values)))
    if n_valid == 0:
        return None
    if held_s.min() == held_s.max():
        if held_s[0] <= 0.0:
            return None
        places = [min(max(ceil(share * n_valid - 1e-9) - 1, 0), n_valid - 1) for share in shares]
        return [float(v) for v in in_order(values, places)]  # NaN goes last
    order = np.argsort(values)[:n_valid]
    reached_s = np.cumsum(held_s[order])
    total_s = float(reached_s[-1])
    if total_s <= 0.0:
        return None
    at = np.searchsorted(reached_s, np.asarray(shares) * total_s * (1.0 - 1e-12))
    return [float(v) for v in values[order[np.minimum(at, n_valid - 1)]]]


def held_quantile(values: Floats, held_s: NDArray[np.float64], share: float) -> float | None:
    """One of `held_quantiles`."""
    found = held_quantiles(values, held_s, (share,))
    return None if found is None else found[0]


def quantile(values: Floats, share: float) -> float | None:
    """Quantile of events that count alike, straight between neighbours; NaN is left out."""
    is_few = values.size < _SAMPLED_FROM
    if is_few:
        values = _sorted_seen(values)
    n = values.size if is_few else values.size - int(np.count_nonzero(np.isnan(values)))
    if n == 0:
        return None
    at = share * (n - 1)
    low = int(at)
    high = min(low + 1, n - 1)
    # NaN goes last
    below, above = (values[low], values[high]) if is_few else in_order(values, (low, high))
    return float(below + (float(above) - float(below)) * (at - low))


def _sorted_seen(values: Floats) -> Floats:
    """Values in order, NaN left out."""
    ordered = values.copy()
    ordered.sort()
    if ordered.size and np.isnan(ordered[-1]):
        ordered = ordered[: ordered.searchsorted(np.nan)]
    return ordered


def median(values: Floats) -> float | None:
    """Median of events that count alike; NaN is left out; None of none."""
    return quantile(values, 0.5)


def robust_sd(values: Floats) -> float | None:
    """Spread of events: 1.4826 times the median absolute deviation; None of fewer than 3."""
    middle = median(values)
    if middle is None or int(np.count_nonzero(~np.isnan(values))) < 3:
        return None
    deviation = median(np.abs(values - middle))
    return None if deviation is None else MAD_TO_SD * deviation


def robust_cv(values: Floats) -> float | None:
    """Robust spread over the median's size; None of fewer than 3 or a median of 0."""
    spread, middle = robust_sd(values), median(values)
    return None if spread is None or not middle else spread / abs(middle)


def row_medians(table: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of each row of a table, NaN left out; NaN for a row that holds none.

    Parameters
    ----------
    table : ndarray, shape (n, m)

    Returns
    -------
    ndarray, shape (n,)
    """
    ordered = np.sort(table, axis=1, kind="stable")  # NaN goes last; quicker of short rows
    n_valid = np.count_nonzero(~np.isnan(table.T.copy()), axis=0)  # quicker down than across
    rows = np.arange(len(ordered))
    low = ordered[rows, np.maximum(n_valid - 1, 0) // 2]
    high = ordered[rows, np.minimum(n_valid // 2, ordered.shape[1] - 1)]
    return np.asarray((low + high) / 2.0)
