"""A week of samples thinned for a screen, without losing a dip or bridging a silence."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_FLOAT = NDArray[np.float64]


@dataclass(frozen=True)
class Thinned:
    """What is drawn of a channel: x and y of equal length, NaN in y where the line breaks."""

    x_ms: _FLOAT
    y: NDArray[np.float32]


def thin(x_ms: _FLOAT, y: NDArray[np.float32], n_buckets: int, gap_ms: float = np.inf) -> Thinned:
    """Keep the first, least, greatest and last value of each bucket, in order of time.

    A bucket is a run of equally many samples; its least and greatest value are always kept, so a
    dip of one sample survives. The line breaks where neighbouring samples lie further apart than
    ``gap_ms``, or where the clock steps back (only the ``n_buckets`` longest such breaks, so that
    a log full of holes stays drawable).

    Parameters
    ----------
    x_ms : ndarray of float64, shape (n,)
        Times of the samples. [ms]
    y : ndarray of float32, shape (n,)
        Values; samples with NaN are left out before anything else.
    n_buckets : int
        At most ``4 * n_buckets`` samples are kept beside those around breaks.
    gap_ms : float
        Longest step that a line may bridge. [ms]

    Returns
    -------
    Thinned
        Fewer or equally many samples, and one NaN per break.
    """
    has_value = np.isfinite(y)
    if not has_value.all():
        x_ms, y = x_ms[has_value], y[has_value]
    n = y.size
    if n == 0:
        return Thinned(np.empty(0), np.empty(0, dtype=np.float32))
    breaks = _breaks(x_ms, gap_ms, n_buckets)
    if n <= 4 * n_buckets:
        kept = np.arange(n)
    else:
        is_kept = np.zeros(n, dtype=np.bool_)
        is_kept[np.concatenate([_extremes(y, n_buckets), breaks - 1, breaks])] = True
        kept = np.flatnonzero(is_kept)
    at = np.searchsorted(kept, breaks)
    return Thinned(
        np.insert(x_ms[kept], at, x_ms[breaks - 1]),
        np.insert(y[kept], at, np.float32(np.nan)),
    )


def _extremes(y: NDArray[np.float32], n_buckets: int) -> NDArray[np.intp]:
    size = -(-y.size // n_buckets)
    n_full = y.size // size
    firsts = np.arange(n_full) * size
    buckets = y[: n_full * size].reshape(n_full, size)
    parts = [
        firsts,
        firsts + buckets.argmin(axis=1),
        firsts + buckets.argmax(axis=1),
        firsts + size - 1,
    ]
    rest = n_full * size
    if rest < y.size:
        tail = y[rest:]
        parts.append(
            np.array([rest, rest + tail.argmin(), rest + tail.argmax(), y.size - 1], dtype=np.intp)
        )
    return np.concatenate(parts)


def _breaks(x_ms: _FLOAT, gap_ms: float, n_most: int) -> NDArray[np.intp]:
    """Positions of the samples before which the line breaks."""
    step_ms = np.diff(x_ms)
    found = np.flatnonzero((step_ms > gap_ms) | (step_ms < 0))
    if found.size > n_most:
        order = np.argsort(-np.abs(step_ms[found]), kind="stable")
        found = np.sort(found[order[:n_most]])
    return found + 1
