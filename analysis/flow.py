"""Flow without a meter: from the published curve, speed, pressure and suction.

An estimate with a band, by the affinity laws. Near shut-off the curve is flat: there a pressure
2 psi off moves the flow by much, so the band is wide and a small leak cannot be sized by it. A
worn pump looks like less flow; the pump's own no-flow speed is used to carry the curve to what
the pump makes today.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.limits import (
    FLOW_CURVE_MAX_SCALE,
    FLOW_CURVE_MIN_SCALE,
    FLOW_CURVE_PCT,
    FLOW_NO_FLOW_ERROR_HZ,
    FLOW_PRESSURE_ERROR_KPA,
)
from analysis.no_flow import UNKNOWN, NoFlow
from analysis.physics.pump import WATER_KPA_PER_M, flow_from_curve_lpm
from ingest.installed_base import CurvePoint, Pump

Floats = NDArray[np.float64]

_RATED_HZ = (60.0, 50.0)
_LOWEST_60_HZ = 55.0  # a pump with a top speed below this is taken to have a 50 Hz curve


@dataclass(frozen=True)
class FlowBand:
    """Estimated flow with its band, arrays of one shape; NaN where the curve says nothing."""

    lpm: Floats
    low_lpm: Floats
    high_lpm: Floats


@dataclass(frozen=True, kw_only=True)
class OwnCurve:
    """The published curve as this pump makes it today.

    Attributes
    ----------
    flow_lpm, head_kpa : ndarray, shape (m,)
        Published points at ``rated_hz``. [L/min], [kPa]
    head_share : float
        Boost this pump makes over the published one, from its no-flow speed; 1 where unknown.
    head_share_low, head_share_high : float
        What it may be: from the published curve to the one carried to f0 with its error. A pump
        that has worn widens the band by its wear.
    added_kpa : float
        Boost beside discharge pressure where suction is unknown: lift or (negative) inlet
        pressure, from f0. [kPa]
    suction_kpa : float
        Usual suction pressure; 0 where unknown. [kPa]
    is_fitted : bool
        The no-flow speed was there to carry the curve to.
    """

    flow_lpm: Floats
    head_kpa: Floats
    rated_hz: float
    head_share: float
    head_share_low: float
    head_share_high: float
    added_kpa: float
    suction_kpa: float
    is_fitted: bool

    def flow(
        self,
        frequency_hz: ArrayLike,
        pressure_kpa: ArrayLike,
        suction_kpa: ArrayLike | None = None,
    ) -> FlowBand:
        """Estimate the flow.

        Parameters
        ----------
        frequency_hz, pressure_kpa : array-like
            Speed and discharge pressure. [Hz], [kPa]
        suction_kpa : array-like, optional
            Suction pressure; the usual one where NaN or not given. [kPa]

        Returns
        -------
        FlowBand
            The band is from ``FLOW_PRESSURE_ERROR_KPA`` of boost and from ``head_share_low`` to
            ``head_share_high``; NaN below the lowest published head (run-out).
        """
        suction = np.asarray(self.suction_kpa if suction_kpa is None else suction_kpa, dtype=float)
        suction = np.where(np.isnan(suction), self.suction_kpa, suction)
        boost_kpa = np.asarray(pressure_kpa, dtype=np.float64) - suction + self.added_kpa
        error_kpa = FLOW_PRESSURE_ERROR_KPA.value
        middle = self._flow(frequency_hz, boost_kpa, self.head_share)
        least = self._flow(frequency_hz, boost_kpa + error_kpa, self.head_share_low)
        most = self._flow(frequency_hz, boost_kpa - error_kpa, self.head_share_high)
        run_out = np.asarray(frequency_hz, dtype=np.float64) / self.rated_hz * self.flow_lpm.max()
        most = np.where(np.isnan(most), run_out, most)
        return FlowBand(
            lpm=middle,
            low_lpm=np.where(np.isnan(middle), np.nan, np.minimum(least, middle)),
            high_lpm=np.where(np.isnan(middle), np.nan, np.maximum(most, middle)),
        )

    def _flow(self, frequency_hz: ArrayLike, boost_kpa: Floats, head_share: float) -> Floats:
        head_m = self.head_kpa * head_share / WATER_KPA_PER_M
        return flow_from_curve_lpm(self.flow_lpm, head_m, frequency_hz, boost_kpa, self.rated_hz)


def own_curve(points: Sequence[CurvePoint], pump: Pump, no_flow: NoFlow | None) -> OwnCurve | None:
    """Carry a published curve to what the pump makes at its no-flow speed.

    Where suction is known, the ratio of boost at f0 to the published shut-off boost there is this
    pump's share of the curve: wear, a sensor's offset and the curve's own tolerance in one.
    Where suction is unknown (a well's lift), f0 gives the boost beside the discharge pressure
    instead, and wear cannot be told from a lower water level.

    Parameters
    ----------
    points : sequence of CurvePoint
        Of the pump's model, at the rated speed: 60 Hz, or 50 Hz for a pump whose top speed is
        below ``55`` Hz.
    pump : Pump
        Its register row.
    no_flow : NoFlow or None
        No-flow speed of a week.

    Returns
    -------
    OwnCurve or None
        None without a curve of two points or more that starts at no flow, where neither suction
        nor f0 is known, or where the curve is so far from f0 that it is not this pump's.

    References
    ----------
    .. [1] Affinity laws, any pump text-book.
    """
    flow_lpm = np.array([p.flow_lpm for p in points], dtype=np.float64)
    head_kpa = np.array([p.head_m for p in points], dtype=np.float64) * WATER_KPA_PER_M
    if flow_lpm.size < 2 or flow_lpm.min() > 0.0 or head_kpa.min() < 0.0:
        return None
    rated_hz = _RATED_HZ[0] if pump.max_hz >= _LOWEST_60_HZ else _RATED_HZ[1]
    spread = FLOW_CURVE_PCT.value / 100.0
    if no_flow is None:
        if pump.suction_kpa is None:
            return None
        share, added_kpa, suction_kpa = 1.0, 0.0, pump.suction_kpa
        low, high = 1.0 - 2.0 * spread, 1.0 + spread  # wear is not known either
    else:
        shutoff_kpa = float(head_kpa.max()) * (no_flow.f0_hz / rated_hz) ** 2
        is_known = no_flow.suction_from != UNKNOWN
        share = no_flow.boost_kpa / shutoff_kpa if is_known else 1.0
        added_kpa = 0.0 if is_known else shutoff_kpa - no_flow.pressure_kpa
        suction_kpa = no_flow.suction_kpa
        error = 2.0 * FLOW_NO_FLOW_ERROR_HZ.value / no_flow.f0_hz
        low, high = share * (1.0 - error), share * (1.0 + error)
        if is_known:  # f0 may stand for wear or for a sensor that is off: up to the curve itself
            low, high = min(low, 1.0), max(high, 1.0)
        if not FLOW_CURVE_MIN_SCALE.value <= share <= FLOW_CURVE_MAX_SCALE.value:
            return None
    return OwnCurve(
        flow_lpm=flow_lpm,
        head_kpa=head_kpa,
        rated_hz=rated_hz,
        head_share=share,
        head_share_low=low,
        head_share_high=high,
        added_kpa=added_kpa,
        suction_kpa=suction_kpa,
        is_fitted=no_flow is not None,
    )
