"""Where in the week a finding shows: spells of time to shade on a chart, from the samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.samples import PumpSamples

MOST_SPELLS = 40
_US_PER_S = 1_000_000


@dataclass(frozen=True)
class Spell:
    """A spell of time, UTC microseconds."""

    from_us: int
    to_us: int

    @property
    def duration_s(self) -> float:
        """Length [s]."""
        return (self.to_us - self.from_us) / _US_PER_S


def spells_where(
    ts_us: NDArray[np.int64], holds: NDArray[np.bool_], join_s: float, gap_s: float
) -> list[Spell]:
    """Spells in which a condition holds, neighbours joined, the ``MOST_SPELLS`` longest kept.

    Parameters
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants in order. [us]
    holds : ndarray of bool, shape (n,)
        The condition at each sample; a sample counts until the next one, at most ``gap_s``.
    join_s : float
        Spells closer together than this are drawn as one. [s]
    gap_s : float
        A longer step between samples is a silence. [s]

    Returns
    -------
    list of Spell
        In order of time.
    """
    at = np.flatnonzero(holds)
    if at.size == 0:
        return []
    step_us = np.diff(ts_us, append=ts_us[-1])
    until_us = ts_us + np.minimum(step_us, int(gap_s * _US_PER_S))
    starts, ends = ts_us[at], until_us[at]
    is_new = np.r_[True, starts[1:] - ends[:-1] > join_s * _US_PER_S]
    firsts = np.flatnonzero(is_new)
    lasts = np.r_[firsts[1:] - 1, at.size - 1]
    found = [Spell(int(a), int(b)) for a, b in zip(starts[firsts], ends[lasts], strict=True)]
    return _longest(found)


def silences(ts_us: NDArray[np.int64], from_us: int, to_us: int, least_s: float) -> list[Spell]:
    """Silences of at least ``least_s`` between ``from_us`` and ``to_us``, edges included."""
    edges = np.concatenate(([from_us], ts_us, [to_us]))
    step_us = np.diff(edges)
    found = [
        Spell(int(edges[i]), int(edges[i + 1]))
        for i in np.flatnonzero(step_us >= least_s * _US_PER_S)
    ]
    return _longest(found)


def busy_hours(
    samples: PumpSamples, running_above_hz: float, least_share_of_peak: float = 0.5
) -> list[Spell]:
    """Hours with at least that share of the busiest hour's starts, neighbours joined.

    An hour with fewer than six starts is never busy: one each ten minutes is everyday use (our
    choice).
    """
    running = samples.frequency_hz > running_above_hz
    starts_us = samples.ts_us[1:][running[1:] & ~running[:-1]]
    if starts_us.size == 0:
        return []
    hour_us = 3600 * _US_PER_S
    hours, n_starts = np.unique(starts_us // hour_us, return_counts=True)
    busy = hours[n_starts >= max(6.0, least_share_of_peak * n_starts.max())]
    if busy.size == 0:
        return []
    groups = np.split(busy, np.flatnonzero(np.diff(busy) > 1) + 1)
    return _longest([Spell(int(g[0]) * hour_us, int(g[-1] + 1) * hour_us) for g in groups])


def _longest(found: list[Spell]) -> list[Spell]:
    if len(found) <= MOST_SPELLS:
        return found
    kept = sorted(found, key=lambda spell: (-spell.duration_s, spell.from_us))[:MOST_SPELLS]
    return sorted(kept, key=lambda spell: spell.from_us)
