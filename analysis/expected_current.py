"""What motor current a pump's own past lets expect at a frequency and pressure.

Learned from the op_maps of earlier weeks; what the current rests on besides speed, pressure and
suction (well level, water temperature, supply volts at top speed) is in the width of the interval.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.current_bins import (
    CurrentBins,
    Floats,
    Maps,
    bins_of,
    is_settled,
    weight_of,
    weighted_quantile,
    with_peers,
)
from analysis.few import median_of
from analysis.limits import (
    EXPECTED_MIN_BAND_PCT,
    EXPECTED_MIN_BINS,
    EXPECTED_MIN_WEEKS,
    EXPECTED_REACH_SHARE,
    EXPECTED_WORST_ERROR_PCT,
)
from analysis.records import OpMapBin
from analysis.robust_ridge import Law, learn_law
from ingest.installed_base import Pump

_LEVEL = 0.95  # share of bin means the interval is to hold
_FOLDS = 4
_HALF_BIN_HZ = 1.0
_HALF_BIN_SHARE = 0.025  # half of the op_map's 5 % pressure bin
_NEAR_HZ = 2.0


@dataclass(frozen=True, kw_only=True)
class ExpectedCurrent:
    """A fitted expectation, how well it holds, and where.

    Attributes
    ----------
    law_ : Law
        From (frequency, boost), as `_basis` lays them out, to current as a share of ``level_a``.
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

    law_: Law = field(repr=False)
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
        return self._at(frequency_hz, weighted_quantile(boost_kpa[near], weight[near], 0.5))

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
            if b.current_mean_a is None or not is_settled(b):
                continue
            got = self.predict(b.frequency_mean_hz, b.pressure_mean_kpa, b.suction_mean_kpa)
            if got is not None:
                off.append(100.0 * (b.current_mean_a / got[0] - 1.0))
                half.append(100.0 * (got[2] - got[0]) / got[0])
                weight.append(weight_of(b))
        if not off:
            return None
        return float(np.average(off, weights=weight)), float(np.average(half, weights=weight))

    def _at(self, frequency_hz: float, boost_kpa: float) -> tuple[float, float, float] | None:
        row = _basis(np.array([[frequency_hz, boost_kpa]]))
        expected_a = self.level_a * float(self.law_.predict(row)[0])
        if expected_a <= 0.0:
            return None
        spread = float(np.sqrt(1.0 + self.law_.leverage(row)[0]))
        half_a = self.level_a * self.band_share * spread
        return expected_a, max(0.0, expected_a - half_a), expected_a + half_a


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
    own = bins_of(earlier, pump)
    if own is not None and np.unique(own.group).size >= EXPECTED_MIN_WEEKS.value:
        fitted = _fit(own, n_peers=0, includes_week_judged=False)
        if fitted is not None:
            return fitted
    all_own = bins_of(maps, pump)
    if all_own is None:
        return None
    if peers:
        pooled, n_peers = with_peers(all_own if own is None else own, peers, pump)
        fitted = _fit(pooled, n_peers=n_peers, includes_week_judged=own is None)
        if n_peers > 0 and fitted is not None:
            return fitted
    return _fit(all_own, n_peers=0, includes_week_judged=True)


def _fit(bins: CurrentBins, *, n_peers: int, includes_week_judged: bool) -> ExpectedCurrent | None:
    if bins.current_a.size < EXPECTED_MIN_BINS.value:
        return None
    level_a = median_of(bins.current_a.tolist())
    share = bins.current_a / level_a
    law = learn_law(_basis(bins.points), share, bins.weight)
    error = _validation_errors(bins, share)
    kept = law.weight  # odd bins count little here, as in the fit
    error_pct = 100.0 * float(np.sqrt(np.average(error**2, weights=kept)))
    if error_pct > EXPECTED_WORST_ERROR_PCT.value:
        return None
    band = weighted_quantile(np.abs(error), kept, _LEVEL)
    at_hz, at_kpa = bins.frequency_hz, bins.pressure_kpa
    half_kpa = _HALF_BIN_SHARE * weighted_quantile(at_kpa, bins.weight, 0.5)
    return ExpectedCurrent(
        law_=law,
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
        suction_kpa=weighted_quantile(bins.suction_kpa, bins.weight, 0.5),
        usual_=(at_hz, bins.points[:, 1], bins.weight),
    )


def _basis(points: Floats) -> Floats:
    """Columns ``f, f^2, p, p^2/f^2`` of (frequency, boost), in units of 60 Hz and bar."""
    speed, boost = points[:, 0] / 60.0, points[:, 1] / 100.0
    return np.column_stack((speed, speed**2, boost, (boost / speed) ** 2))


def _validation_errors(bins: CurrentBins, share: Floats) -> Floats:
    """Errors at each bin of fits that saw nothing of its week (or pump).

    Groups are dealt in turn to ``_FOLDS`` folds; with a single group, bins are.
    """
    groups = np.unique(bins.group)
    dealt = np.searchsorted(groups, bins.group) if groups.size > 1 else np.arange(share.size)
    fold = dealt % min(_FOLDS, int(dealt.max()) + 1)
    columns = _basis(bins.points)
    error = np.zeros(share.size)
    for one in range(int(fold.max()) + 1):
        out = fold == one
        law = learn_law(columns[~out], share[~out], bins.weight[~out])
        error[out] = share[out] - law.predict(columns[out])
    return error
