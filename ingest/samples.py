"""Samples of one pump as sorted arrays, fetched from the store in batches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import duckdb
import numpy as np
from numpy.typing import NDArray

CHANNELS = (
    "pressure_kpa",
    "frequency_hz",
    "current_a",
    "voltage_v",
    "suction_kpa",
    "flow_lpm",
    "drive_temp_c",
    "input_current_a",
)


@dataclass(frozen=True, kw_only=True)
class PumpSamples:
    """One pump's samples in time order, each instant once.

    Attributes
    ----------
    ts_us : ndarray of int64, shape (n,)
        UTC instants, microseconds since 1970.
    pressure_kpa, ... : ndarray of float32, shape (n,)
        NaN where the log had no value.
    fault_code : ndarray of object, shape (n,), or None
        Codes as logged, None where there was none; None when the pump logged none at all.
    """

    pump_id: str
    ts_us: NDArray[np.int64]
    pressure_kpa: NDArray[np.float32]
    frequency_hz: NDArray[np.float32]
    current_a: NDArray[np.float32]
    voltage_v: NDArray[np.float32]
    suction_kpa: NDArray[np.float32]
    flow_lpm: NDArray[np.float32]
    drive_temp_c: NDArray[np.float32]
    input_current_a: NDArray[np.float32]
    fault_code: NDArray[np.object_] | None = None


def read_samples(
    con: duckdb.DuckDBPyConnection,
    pump_ids: Sequence[str],
    from_at: datetime,
    to_at: datetime,
) -> Iterator[PumpSamples]:
    """Samples of the pumps in ``[from_at, to_at)``, one pump at a time, in order of pump id.

    Pumps without samples in the range are left out. Times are UTC without zone.
    """
    raise NotImplementedError
