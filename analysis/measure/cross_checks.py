"""Readings held against each other: what two channels, or two moments, cannot both say."""

from typing import Any

import numpy as np

from analysis.limits import (
    DROPOUT_BACK_SHARE,
    DROPOUT_SHARE,
    REST_BELOW_SUCTION_KPA,
    SLOW_LOG_S,
)
from analysis.measure.quantiles import median
from analysis.measure.segments import STOPPED
from analysis.measure.trace import Trace

_BACK_WITHIN = 3  # samples
_NO_AMPS_SHARE = 0.02
_AMPS_AT_LEAST = 0.05


def cross_checks(week: Trace) -> dict[str, Any]:
    """Fields of `PumpWeek` on channels against each other.

    Returns
    -------
    dict
        By field name; units as documented there.
    """
    return {"n_pressure_dropouts": _dropouts(week), **_against_each_other(week)}


def _dropouts(week: Trace) -> int | None:
    """Times the pressure fell to nothing and was back where it was within three samples.

    With its speed unmoved all the while, as a control answers a real fall; only in logs fast
    enough that no run is hidden between two samples.
    """
    setting_kpa = week.pump.pressure_setting_kpa
    if setting_kpa is None or week.time.interval_s > SLOW_LOG_S.value:
        return None
    pressure_kpa, frequency_hz = week.samples.pressure_kpa, week.samples.frequency_hz
    near_kpa = DROPOUT_BACK_SHARE.value * setting_kpa
    falls = np.flatnonzero(np.diff(pressure_kpa) < -DROPOUT_SHARE.value * setting_kpa)
    n = 0
    for before in falls.tolist():
        if pressure_kpa[before + 1] > near_kpa:
            continue
        after = slice(before + 1, before + 2 + _BACK_WITHIN)
        is_back = np.abs(pressure_kpa[after] - pressure_kpa[before]) <= near_kpa
        moved_hz = np.abs(frequency_hz[after] - frequency_hz[before])
        n += bool(is_back.any()) and bool((moved_hz[: int(np.argmax(is_back)) + 1] < 1.0).all())
    return n


def _against_each_other(week: Trace) -> dict[str, float | None]:
    """What two channels say that cannot both be true."""
    samples, settled = week.samples, week.settled
    is_stopped = week.state == STOPPED
    found: dict[str, float | None] = {
        "current_at_rest_a": median(np.where(is_stopped, samples.current_a, np.float32(np.nan))),
        "no_current_run_share": _no_current_share(week),
    }
    if "suction_kpa" not in week.logged:
        return found
    over = samples.suction_kpa[settled.rows] > settled.pressure_kpa + REST_BELOW_SUCTION_KPA.value
    total_s = float(settled.held_s.sum())
    below_kpa = samples.suction_kpa[is_stopped] - samples.pressure_kpa[is_stopped]
    known = below_kpa[~np.isnan(below_kpa)]
    return found | {
        "suction_over_pressure_share": (
            float(settled.held_s[over].sum()) / total_s if total_s > 0.0 else None
        ),
        "rest_below_suction_kpa": median(known),
    }


def _no_current_share(week: Trace) -> float | None:
    """Share of settled running time without motor current."""
    settled, pump = week.settled, week.pump
    known = ~np.isnan(settled.current_a)
    total_s = float(settled.held_s[known].sum())
    if total_s <= 0.0:
        return None
    reference_a = pump.rated_amps or pump.service_factor_amps or 0.0
    none_a = max(_AMPS_AT_LEAST, _NO_AMPS_SHARE * reference_a)
    return float(settled.held_s[settled.current_a <= none_a].sum()) / total_s
