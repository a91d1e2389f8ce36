"""The operating map: settled running by speed and pressure, what later weeks are compared on."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.measure.trace import Trace
from analysis.records import OpMapBin

BIN_HZ = 2.0
BIN_PCT = 5.0
_PCT = 100.0
_PRESSURE_BINS = 64  # up to 320 % of the setting; what is beyond lies in the last


def op_map(week: Trace, held_kpa: float | None) -> tuple[OpMapBin, ...]:
    """Bin a week's settled running.

    Bins are 2 Hz by 5 % of the pressure setting, or of the held pressure where none is
    registered. Means are weighted by held time; a channel that is blank in all of a bin's
    samples has none there.

    Parameters
    ----------
    held_kpa : float or None
        Held pressure. [kPa]

    Returns
    -------
    tuple of OpMapBin
        In order of frequency, then pressure; empty where nothing can be binned.
    """
    setting_kpa = week.pump.pressure_setting_kpa or held_kpa
    settled, samples = week.settled, week.samples
    if setting_kpa is None or setting_kpa <= 0.0 or settled.rows.size == 0:
        return ()
    frequency_hz = settled.frequency_hz
    pressure_pct = settled.pressure_kpa * np.float32(_PCT / setting_kpa)
    is_known = ~(np.isnan(frequency_hz) | np.isnan(pressure_pct))
    keep = None if is_known.all() else np.flatnonzero(is_known)

    def of(channel: NDArray[np.float32]) -> NDArray[np.float32]:
        return channel if keep is None else channel[keep]

    frequency_hz, pressure_pct = of(frequency_hz), of(pressure_pct)
    rows = settled.rows if keep is None else settled.rows[keep]
    held_s = settled.held_s if keep is None else settled.held_s[keep]
    if rows.size == 0:
        return ()
    column = (np.clip(pressure_pct, 0.0, None) / BIN_PCT).astype(np.int64)
    cell = (frequency_hz / BIN_HZ).astype(np.int64) * _PRESSURE_BINS
    cell += np.minimum(column, _PRESSURE_BINS - 1)
    n = np.bincount(cell)
    filled = np.flatnonzero(n)
    total_s = np.asarray(np.bincount(cell, weights=held_s), dtype=np.float64)
    current_a = of(settled.current_a)

    def averaged(values: NDArray[np.float32]) -> NDArray[np.float64]:
        return _means(cell, values, held_s, total_s)

    def averaged_if_logged(name: str) -> NDArray[np.float64]:
        if name not in week.logged:
            return np.full(total_s.shape, np.nan)
        return averaged(getattr(samples, name)[rows])

    mean_a = averaged(current_a)
    off_a = current_a - mean_a.astype(np.float32)[cell]
    means = {
        "frequency_mean_hz": averaged(frequency_hz),
        "pressure_mean_kpa": averaged(of(settled.pressure_kpa)),
        "current_mean_a": mean_a,
        "current_sd_a": np.sqrt(averaged(off_a * off_a)),
        "voltage_mean_v": averaged_if_logged("voltage_v"),
        "flow_mean_lpm": averaged_if_logged("flow_lpm"),
        "suction_mean_kpa": averaged_if_logged("suction_kpa"),
    }
    columns: dict[str, list[Any]] = {name: _listed(mean[filled]) for name, mean in means.items()}
    return tuple(
        OpMapBin(
            pump_id=samples.pump_id,
            week=str(week.clock.week),
            frequency_bin_hz=float(at // _PRESSURE_BINS * BIN_HZ),
            pressure_bin_pct=float(at % _PRESSURE_BINS * BIN_PCT),
            n=int(n[at]),
            held_s=float(total_s[at]),
            **{name: values[i] for name, values in columns.items()},
        )
        for i, at in enumerate(filled.tolist())
    )


def _means(
    cell: NDArray[np.int64],
    values: NDArray[np.float32],
    held_s: NDArray[np.float64],
    total_s: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Mean of each cell weighted by held time; NaN where a cell holds no value."""
    mean = np.full(total_s.shape, np.nan)
    is_blank = np.isnan(values)
    if is_blank.any():
        if is_blank.all():
            return mean
        held_s = np.where(is_blank, 0.0, held_s)
        total_s = np.asarray(np.bincount(cell, weights=held_s), dtype=np.float64)
        values = np.where(is_blank, np.float32(0.0), values)
    np.divide(np.bincount(cell, weights=values * held_s), total_s, out=mean, where=total_s > 0.0)
    return mean


def _listed(values: NDArray[np.float64]) -> list[float | None]:
    return [None if np.isnan(v) else v for v in values.tolist()]
