"""What a logger writes of a pump set: its channels with sensor noise, and sensors that fail."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sample_data.catalogue import PumpSet
from sample_data.ills import SensorIll
from sample_data.plant import Floats
from sample_data.write import PRESSURE_KPA

SENTINEL_S = 180.0  # how long a sentinel shows at a time, on average
AIR_PERIODS_S = (3.7, 5.3, 9.1)  # at which trapped air swings in a sensor line: ours


@dataclass(frozen=True)
class Signals:
    """What a pump set did at the logger's instants, true values, shape (n,) each."""

    at_s: Floats
    pressure_kpa: Floats
    frequency_hz: Floats
    current_a: Floats
    voltage_v: Floats
    input_current_a: Floats
    flow_lpm: Floats
    suction_kpa: Floats
    drive_temp_c: Floats
    code: Floats


def averaged(signals: Signals, step_s: float) -> Signals:
    """Means over whole steps, stamped at the step's start, as some loggers write them."""
    block = np.floor(signals.at_s / step_s).astype(np.int64)
    first = np.flatnonzero(np.diff(block, prepend=block[0] - 1))
    count = np.diff(np.append(first, len(block)))
    means = {
        name: np.add.reduceat(getattr(signals, name), first) / count
        for name in signals.__dataclass_fields__
    }
    return replace(Signals(**means), at_s=(block[first] * step_s).astype(np.float64))


def logged(pump: PumpSet, signals: Signals, rng: np.random.Generator) -> dict[str, Floats]:
    """What the logger wrote: inner units, with sensor noise, not yet rounded.

    Returns
    -------
    dict of channel -> ndarray; ``at_s`` and the channels of the pump's ``LogSpec``.
    """
    n = len(signals.at_s)
    offset = _offset_kpa(pump, signals.at_s)
    pressure = np.maximum(signals.pressure_kpa + rng.normal(0.0, 0.35, n), 0.0) + offset
    channels = {
        "at_s": signals.at_s,
        "pressure": pressure,
        "frequency": np.where(
            signals.frequency_hz > 0, signals.frequency_hz + rng.normal(0.0, 0.05, n), 0.0
        ),
        "current": signals.current_a,
        "voltage": signals.voltage_v,
        "input_current": signals.input_current_a * (1 + rng.normal(0.0, 0.008, n)),
        "flow": signals.flow_lpm * (1 + rng.normal(0.0, 0.01, n)),
        "suction": np.maximum(signals.suction_kpa + rng.normal(0.0, 0.5, n), -95.0),
        "temp": signals.drive_temp_c + rng.normal(0.0, 0.2, n),
        "code": signals.code,
    }
    if pump.log.is_alternate is not None:
        leads = (pump.cal.local_hour(signals.at_s) // 24).astype(int) % 2 == pump.log.is_alternate
        for name in ("frequency", "current", "input_current", "flow"):
            channels[name] = np.where(leads, channels[name], 0.0)
    if pump.log.shut_from_s is not None:
        on = signals.at_s < pump.log.shut_from_s
        for name in ("pressure", "frequency", "current", "voltage", "input_current", "flow"):
            channels[name] = np.where(on, channels[name], 0.0)
    for ill in pump.sensors:
        channels[ill.channel] = _as_told(pump, ill, signals, channels[ill.channel], rng)
    keep = ("at_s", *pump.log.channels)
    return {name: channels[name] for name in keep}


def _during(ill: SensorIll, at_s: Floats) -> NDArray[np.bool_]:
    during: NDArray[np.bool_] = (at_s >= ill.from_s) & (at_s < ill.to_s)
    return during


def _offset_kpa(pump: PumpSet, at_s: Floats) -> Floats:
    """What the pressure sensor reads too much [kPa]."""
    offset = np.zeros(len(at_s))
    for ill in pump.sensors:
        if ill.channel == "pressure" and ill.how == "offset":
            offset[_during(ill, at_s)] = ill.value
    return offset


def _as_told(
    pump: PumpSet,
    ill: SensorIll,
    signals: Signals,
    values: Floats,
    rng: np.random.Generator,
) -> Floats:
    """The values of a channel as an ill sensor tells them."""
    at_s = signals.at_s
    on = _during(ill, at_s)
    if ill.how == "frozen":
        return np.where(on, ill.value, values)
    if ill.how == "sentinel":
        unit = PRESSURE_KPA[pump.log.pressure_unit] if ill.channel == "pressure" else 1.0
        return np.where(on & _now_and_then(at_s, ill.share, rng), ill.value * unit, values)
    if ill.how == "fahrenheit":
        return np.where(on, values * 1.8 + 32, values)
    if ill.how == "air":
        phases = [2 * np.pi * at_s / period for period in AIR_PERIODS_S]
        swing = sum((np.sin(phase) for phase in phases), np.zeros(len(at_s))) / 1.8
        on &= signals.frequency_hz > 0
        return np.where(on, np.maximum(values + ill.value * swing, 0.0), values)
    return values  # an offset is in the reading already, as the drive holds it at the setting


def _now_and_then(at_s: Floats, share: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Spells of some minutes that fill a share of the time."""
    gap_s = SENTINEL_S * (1 - share) / share
    n = int((at_s[-1] - at_s[0]) / gap_s * 1.3) + 5 if len(at_s) else 0
    rest, spell = rng.exponential(gap_s, n), rng.exponential(SENTINEL_S, n)
    ends = at_s[:1].sum() + np.cumsum(rest + spell)
    index = np.clip(np.searchsorted(ends, at_s, "right"), 0, max(n - 1, 0))
    shows: NDArray[np.bool_] = (at_s >= ends[index] - spell[index]) & (at_s < ends[index])
    return shows
