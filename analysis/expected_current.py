"""What motor current a pump's own past lets expect at a frequency and pressure.

Learned from the op_maps of earlier weeks; what the current rests on besides speed, pressure and
suction (well level, water temperature, supply volts at top speed) is in the width of the interval.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.limits import (
    EXPECTED_BIN_MIN_HELD_S,
    EXPECTED_BIN_MIN_SAMPLES,
    EXPECTED_HELD_CAP_S,
    EXPECTED_MIN_BAND_PCT,
    EXPECTED_MIN_BINS,
    EXPECTED_MIN_WEEKS,
    EXPECTED_PRESSURE_MIN_PCT,
    EXPECTED_REACH_SHARE,
    EXPECTED_WORST_ERROR_PCT,
)
from analysis.records import OpMapBin
from ingest.installed_base import Pump

Floats = NDArray[np.float64]
Maps = Sequence[tuple[OpMapBin, ...]]

_LEVEL = 0.95  # share of bin means the interval is to hold
_FOLDS = 4
_HALF_BIN_HZ = 1.0
_HALF_BIN_SHARE = 0.025  # half of the op_map's 5 % pressure bin
_NEAR_HZ = 2.0
_MAX_PEERS = 12  # more pumps of a model do not narrow what one pump's offset leaves open
_OWN_BINS_FOR_OFFSET = 3
_CELL_KPA = 20.0


@dataclass(frozen=True, kw_only=True)
class ExpectedCurrent:
    """A fitted expectation, how well it holds, and where.

    Attributes
    ----------
    pipeline_ : sklearn.pipeline.Pipeline
        From (frequency, boost) to current as a share of ``level_a``.
    level_a : float
        Median current of the bins learned from. [A]
    n_weeks, n_bins : int
        Weeks and bin-weeks learned from.
    n_peers : int
        Other pumps of the same model learned from; 0 where the pump's own past sufficed.
    includes_week_judged : bool
        The week judged is among them, as earlier weeks were too few: what is wrong all through
        that week is then partly taken for normal.
    validation_error_pct : float
        Root mean square error over bins of weeks left out of the fit, weighted as the fit: by
        the time held and Huber's weights.
        [% of ``level_a``]
    band_share : float
        Half width of the 95 % interval in the middle of the data, from the same errors.
    frequency_low_hz, frequency_high_hz, pressure_low_kpa, pressure_high_kpa : float
        Where it holds. [Hz], [kPa]
    """

    pipeline_: Any = field(repr=False)
    level_a: float
    n_weeks: int
    n_bins: int
    n_peers: int
    includes_week_judged: bool
    validation_error_pct: float
    band_share: float
    frequency_low_hz: float
    frequency_high_hz: float
    pressure_low_kpa: float
    pressure_high_kpa: float
    suction_kpa: float
    usual_: tuple[Floats, Floats, Floats] = field(repr=False)  # [Hz], [kPa], weight

    def predict(
        self, frequency_hz: float, pressure_kpa: float, suction_kpa: float | None = None
    ) -> tuple[float, float, float] | None:
        """Current to expect, with its 95 % interval for the mean of an op_map bin.

        A single reading scatters more than a bin's mean.

        Parameters
        ----------
        frequency_hz, pressure_kpa : float
            Where the pump runs. [Hz], [kPa]
        suction_kpa : float, optional
            Suction pressure; its usual value where not given. [kPa]

        Returns
        -------
        tuple of (expected_a, low_a, high_a), or None outside the range where it holds.
        """
        if not (
            self.frequency_low_hz <= frequency_hz <= self.frequency_high_hz
            and self.pressure_low_kpa <= pressure_kpa <= self.pressure_high_kpa
        ):
            return None
        suction = self.suction_kpa if suction_kpa is None else suction_kpa
        return self._at(frequency_hz, pressure_kpa - suction)

    def at_frequency(self, frequency_hz: float) -> tuple[float, float, float] | None:
        """Current to expect at a frequency and the pressure usual there.

        For running in which the pressure is gone, as when a pump loses its water. Up to
        ``EXPECTED_REACH_SHARE`` above the highest speed learned from, with a widening interval.

        Returns
        -------
        tuple of (expected_a, low_a, high_a), or None outside the range where it holds.
        """
        top_hz = self.frequency_high_hz * (1.0 + EXPECTED_REACH_SHARE.value)
        if not self.frequency_low_hz <= frequency_hz <= top_hz:
            return None
        at_hz, boost_kpa, weight = self.usual_
        near = np.abs(at_hz - np.clip(frequency_hz, at_hz.min(), at_hz.max())) <= _NEAR_HZ
        if not near.any():
            near = np.ones(at_hz.shape, dtype=np.bool_)
        return self._at(frequency_hz, _weighted_quantile(boost_kpa[near], weight[near], 0.5))

    def residual_pct(self, bins: Sequence[OpMapBin]) -> tuple[float, float] | None:
        """How far bins of a week lie off the expectation, weighted by the time held.

        Returns
        -------
        tuple of (mean deviation, half width of its 95 % interval), both in percent of the
        expected current, or None where no bin lies in the range. The errors of bins of one
        week are taken as common to them, so more bins do not narrow the interval.
        """
        off, half, weight = [], [], []
        for b in bins:
            if b.current_mean_a is None or not _is_settled(b):
                continue
            got = self.predict(b.frequency_mean_hz, b.pressure_mean_kpa, b.suction_mean_kpa)
            if got is not None:
                off.append(100.0 * (b.current_mean_a / got[0] - 1.0))
                half.append(100.0 * (got[2] - got[0]) / got[0])
                weight.append(_weight(b))
        if not off:
            return None
        return float(np.average(off, weights=weight)), float(np.average(half, weights=weight))

    def _at(self, frequency_hz: float, boost_kpa: float) -> tuple[float, float, float] | None:
        from analysis.robust_ridge import leverage

        row = np.array([[frequency_hz, boost_kpa]])
        expected_a = self.level_a * float(self.pipeline_.predict(row)[0])
        if expected_a <= 0.0:
            return None
        spread = float(np.sqrt(1.0 + leverage(self.pipeline_, row)[0]))
        half_a = self.level_a * self.band_share * spread
        return expected_a, max(0.0, expected_a - half_a), expected_a + half_a


@dataclass(frozen=True, kw_only=True)
class _Bins:
    """Bins to learn from as arrays of one length."""

    frequency_hz: Floats
    pressure_kpa: Floats
    suction_kpa: Floats
    current_a: Floats
    weight: Floats
    group: NDArray[np.int64]  # week, or pump, left out together in validation

    @property
    def points(self) -> Floats:
        return np.column_stack((self.frequency_hz, self.pressure_kpa - self.suction_kpa))


def fit_expected_current(
    maps: Maps,
    pump: Pump,
    week: str | None = None,
    peers: Sequence[Maps] = (),
) -> ExpectedCurrent | None:
    """Learn what current a pump takes at a frequency and pressure.

    Huber-weighted ridge regression of current on ``f, f^2, p, p^2/f^2`` (p: pressure less
    suction): the magnetising part, and by the affinity laws a torque of ``f^2`` times a function
    of ``p/f^2``. Bins count by the time held, up to ``EXPECTED_HELD_CAP_S``. Bins under
    ``EXPECTED_PRESSURE_MIN_PCT`` of the setting are left out: there the pump may be dry.

    Parameters
    ----------
    maps : sequence of tuple of OpMapBin
        One entry a week since the pump's baseline, oldest first.
    pump : Pump
        Its register row: the suction pressure where none is logged.
    week : str, optional
        The week judged; it is learned from only where the earlier ones are fewer than
        ``EXPECTED_MIN_WEEKS`` or have too few bins, and no peers are given.
    peers : sequence of maps
        Weeks of other pumps of the same model, used where the pump's own earlier weeks do not
        suffice: their currents are first brought to this pump's level by one factor each.

    Returns
    -------
    ExpectedCurrent or None
        None where fewer than ``EXPECTED_MIN_BINS`` bin-weeks are there, or where bins of weeks
        left out are missed by more than ``EXPECTED_WORST_ERROR_PCT``.
    """
    earlier = [m for m in maps if not (m and m[0].week == week)]
    own = _bins_of(earlier, pump)
    if own is not None and np.unique(own.group).size >= EXPECTED_MIN_WEEKS.value:
        fitted = _fit(own, n_peers=0, includes_week_judged=False)
        if fitted is not None:
            return fitted
    all_own = _bins_of(maps, pump)
    if all_own is None:
        return None
    if peers:
        pooled, n_peers = _pooled(all_own if own is None else own, peers, pump)
        fitted = (
            None
            if n_peers == 0
            else _fit(pooled, n_peers=n_peers, includes_week_judged=own is None)
        )
        if fitted is not None:
            return fitted
    return _fit(all_own, n_peers=0, includes_week_judged=True)


def _fit(bins: _Bins, *, n_peers: int, includes_week_judged: bool) -> ExpectedCurrent | None:
    if bins.current_a.size < EXPECTED_MIN_BINS.value:
        return None
    import sklearn

    level_a = float(np.median(bins.current_a))
    share = bins.current_a / level_a
    with sklearn.config_context(assume_finite=True, skip_parameter_validation=True):
        pipeline = _learn(bins.points, share, bins.weight)
        error = _validation_errors(bins, share)
    kept = pipeline[-1].weight_  # odd bins count little here, as in the fit
    error_pct = 100.0 * float(np.sqrt(np.average(error**2, weights=kept)))
    if error_pct > EXPECTED_WORST_ERROR_PCT.value:
        return None
    band = _weighted_quantile(np.abs(error), kept, _LEVEL)
    at_hz, at_kpa = bins.frequency_hz, bins.pressure_kpa
    half_kpa = _HALF_BIN_SHARE * _weighted_quantile(at_kpa, bins.weight, 0.5)
    return ExpectedCurrent(
        pipeline_=pipeline,
        level_a=level_a,
        n_weeks=np.unique(bins.group).size if n_peers == 0 else 0,
        n_bins=bins.current_a.size,
        n_peers=n_peers,
        includes_week_judged=includes_week_judged,
        validation_error_pct=error_pct,
        band_share=max(band, EXPECTED_MIN_BAND_PCT.value / 100.0),
        frequency_low_hz=float(at_hz.min()) - _HALF_BIN_HZ,
        frequency_high_hz=float(at_hz.max()) + _HALF_BIN_HZ,
        pressure_low_kpa=float(at_kpa.min()) - half_kpa,
        pressure_high_kpa=float(at_kpa.max()) + half_kpa,
        suction_kpa=_weighted_quantile(bins.suction_kpa, bins.weight, 0.5),
        usual_=(at_hz, bins.points[:, 1], bins.weight),
    )


def _learn(points: Floats, share: Floats, weight: Floats) -> Any:
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import FunctionTransformer, StandardScaler

    from analysis.robust_ridge import HuberRidge

    pipeline = make_pipeline(FunctionTransformer(_basis), StandardScaler(), HuberRidge())
    return pipeline.fit(points, share, huberridge__sample_weight=weight)


def _basis(points: Floats) -> Floats:
    """Columns ``f, f^2, p, p^2/f^2`` of (frequency, boost), in units of 60 Hz and bar."""
    speed, boost = points[:, 0] / 60.0, points[:, 1] / 100.0
    return np.column_stack((speed, speed**2, boost, (boost / speed) ** 2))


def _validation_errors(bins: _Bins, share: Floats) -> Floats:
    """Errors at each bin of fits that saw nothing of its week (or pump).

    Groups are dealt in turn to ``_FOLDS`` folds; with a single group, bins are.
    """
    groups = np.unique(bins.group)
    dealt = np.searchsorted(groups, bins.group) if groups.size > 1 else np.arange(share.size)
    fold = dealt % min(_FOLDS, int(dealt.max()) + 1)
    points = bins.points
    error = np.zeros(share.size)
    for one in range(int(fold.max()) + 1):
        out = fold == one
        pipeline = _learn(points[~out], share[~out], bins.weight[~out])
        error[out] = share[out] - pipeline.predict(points[out])
    return error


def _pooled(own: _Bins, peers: Sequence[Maps], pump: Pump) -> tuple[_Bins, int]:
    """The pump's bins and its peers', each peer brought to the pump's level by one factor.

    The factor is the median ratio of currents in bins both have; a peer without
    ``_OWN_BINS_FOR_OFFSET`` of them is left out.
    """
    mine = _by_cell(own)
    parts = [own]
    for weeks in peers[:_MAX_PEERS]:
        theirs = _bins_of(weeks, pump)
        if theirs is None:
            continue
        cells = _by_cell(theirs)
        shared = sorted(mine.keys() & cells.keys())
        if len(shared) < _OWN_BINS_FOR_OFFSET:
            continue
        factor = float(np.median([mine[cell] / cells[cell] for cell in shared]))
        parts.append(replace(theirs, current_a=theirs.current_a * factor))
    group = np.concatenate([np.full(p.current_a.size, n) for n, p in enumerate(parts)])
    return _Bins(
        frequency_hz=np.concatenate([p.frequency_hz for p in parts]),
        pressure_kpa=np.concatenate([p.pressure_kpa for p in parts]),
        suction_kpa=np.concatenate([p.suction_kpa for p in parts]),
        current_a=np.concatenate([p.current_a for p in parts]),
        weight=np.concatenate([p.weight for p in parts]),
        group=group,
    ), len(parts) - 1


def _by_cell(bins: _Bins) -> dict[tuple[int, int], float]:
    """Mean current by cell of 2 Hz and 20 kPa of boost."""
    cells: dict[tuple[int, int], list[float]] = {}
    for (at_hz, boost_kpa), current_a in zip(bins.points, bins.current_a, strict=True):
        cells.setdefault((int(at_hz // _NEAR_HZ), int(boost_kpa // _CELL_KPA)), []).append(
            float(current_a)
        )
    return {cell: float(np.mean(currents)) for cell, currents in cells.items()}


def _bins_of(maps: Maps, pump: Pump) -> _Bins | None:
    """Settled bins as arrays; None where there are none."""
    rows = [
        (
            b.frequency_mean_hz,
            b.pressure_mean_kpa,
            b.suction_mean_kpa if b.suction_mean_kpa is not None else pump.suction_kpa or 0.0,
            b.current_mean_a,
            _weight(b),
            n,
        )
        for n, week in enumerate(maps)
        for b in week
        if b.current_mean_a is not None and _is_settled(b)
    ]
    if not rows:
        return None
    at_hz, at_kpa, suction, current, weight, group = (np.array(c) for c in zip(*rows, strict=True))
    return _Bins(
        frequency_hz=at_hz,
        pressure_kpa=at_kpa,
        suction_kpa=suction,
        current_a=current,
        weight=weight,
        group=group,
    )


def _is_settled(b: OpMapBin) -> bool:
    return (
        b.current_mean_a is not None
        and b.current_mean_a > 0.0
        and b.n >= EXPECTED_BIN_MIN_SAMPLES.value
        and b.held_s >= EXPECTED_BIN_MIN_HELD_S.value
        and b.pressure_bin_pct >= EXPECTED_PRESSURE_MIN_PCT.value
    )


def _weight(b: OpMapBin) -> float:
    return min(b.held_s, EXPECTED_HELD_CAP_S.value) / EXPECTED_HELD_CAP_S.value


def _weighted_quantile(values: Floats, weight: Floats, share: float) -> float:
    """Smallest value at or under which that share of the weight lies."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weight[order])
    at = np.searchsorted(reached, share * reached[-1])
    return float(values[order][min(int(at), values.size - 1)])
