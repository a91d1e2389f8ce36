"""Bins of the operating maps to learn current from: which count, how much, and whose."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.few import median_of
from analysis.limits import (
    EXPECTED_BIN_MIN_HELD_S,
    EXPECTED_BIN_MIN_SAMPLES,
    EXPECTED_HELD_CAP_S,
    EXPECTED_PRESSURE_MIN_PCT,
)
from analysis.records import OpMapBin
from ingest.installed_base import Pump

Floats = NDArray[np.float64]
Maps = Sequence[tuple[OpMapBin, ...]]

_CELL_HZ = 2.0
_CELL_KPA = 20.0
MAX_PEERS = 12  # more pumps of a model do not narrow what one pump's offset leaves open
_OWN_BINS_FOR_OFFSET = 3


@dataclass(frozen=True, kw_only=True)
class CurrentBins:
    """Bins to learn from as arrays of one length."""

    frequency_hz: Floats
    pressure_kpa: Floats
    suction_kpa: Floats
    current_a: Floats
    weight: Floats
    group: NDArray[np.int64]  # week, or pump, left out together in validation

    @property
    def points(self) -> Floats:
        """Frequency and boost of each bin, shape (n, 2). [Hz], [kPa]."""
        return np.column_stack((self.frequency_hz, self.pressure_kpa - self.suction_kpa))


def bins_of(maps: Maps, pump: Pump) -> CurrentBins | None:
    """Settled bins as arrays; None where there are none."""
    rows = [
        (
            b.frequency_mean_hz,
            b.pressure_mean_kpa,
            b.suction_mean_kpa if b.suction_mean_kpa is not None else pump.suction_kpa or 0.0,
            b.current_mean_a,
            weight_of(b),
            n,
        )
        for n, week in enumerate(maps)
        for b in week
        if b.current_mean_a is not None and is_settled(b)
    ]
    if not rows:
        return None
    at_hz, at_kpa, suction, current, weight, group = (np.array(c) for c in zip(*rows, strict=True))
    return CurrentBins(
        frequency_hz=at_hz,
        pressure_kpa=at_kpa,
        suction_kpa=suction,
        current_a=current,
        weight=weight,
        group=group,
    )


def is_settled(b: OpMapBin) -> bool:
    """Enough running at a pressure that shows water in the pump."""
    return (
        b.current_mean_a is not None
        and b.current_mean_a > 0.0
        and b.n >= EXPECTED_BIN_MIN_SAMPLES.value
        and b.held_s >= EXPECTED_BIN_MIN_HELD_S.value
        and b.pressure_bin_pct >= EXPECTED_PRESSURE_MIN_PCT.value
    )


def weight_of(b: OpMapBin) -> float:
    """Time held, as a share of what counts at most."""
    return min(b.held_s, EXPECTED_HELD_CAP_S.value) / EXPECTED_HELD_CAP_S.value


def with_peers(own: CurrentBins, peers: Sequence[Maps], pump: Pump) -> tuple[CurrentBins, int]:
    """The pump's bins and its peers', each peer brought to the pump's level by one factor.

    The factor is the median ratio of currents in bins both have; a peer without
    ``_OWN_BINS_FOR_OFFSET`` of them is left out.
    """
    mine = _by_cell(own)
    parts = [own]
    for weeks in peers[:MAX_PEERS]:
        theirs = bins_of(weeks, pump)
        if theirs is None:
            continue
        cells = _by_cell(theirs)
        shared = sorted(mine.keys() & cells.keys())
        if len(shared) < _OWN_BINS_FOR_OFFSET:
            continue
        factor = median_of([mine[cell] / cells[cell] for cell in shared])
        parts.append(replace(theirs, current_a=theirs.current_a * factor))
    group = np.concatenate([np.full(p.current_a.size, n) for n, p in enumerate(parts)])
    return CurrentBins(
        frequency_hz=np.concatenate([p.frequency_hz for p in parts]),
        pressure_kpa=np.concatenate([p.pressure_kpa for p in parts]),
        suction_kpa=np.concatenate([p.suction_kpa for p in parts]),
        current_a=np.concatenate([p.current_a for p in parts]),
        weight=np.concatenate([p.weight for p in parts]),
        group=group,
    ), len(parts) - 1


def _by_cell(bins: CurrentBins) -> dict[tuple[int, int], float]:
    """Mean current by cell of 2 Hz and 20 kPa of boost."""
    cells: dict[tuple[int, int], list[float]] = {}
    for (at_hz, boost_kpa), current_a in zip(bins.points, bins.current_a, strict=True):
        cells.setdefault((int(at_hz // _CELL_HZ), int(boost_kpa // _CELL_KPA)), []).append(
            float(current_a)
        )
    return {cell: float(np.mean(currents)) for cell, currents in cells.items()}


def weighted_quantile(values: Floats, weight: Floats, share: float) -> float:
    """Smallest value at or under which that share of the weight lies."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weight[order])
    at = np.searchsorted(reached, share * reached[-1])
    return float(values[order][min(int(at), values.size - 1)])
