"""Faults of the drive and its sensors: heat, trips, readings that are not so; and their like.

Sizes, mild and strong, and why:

- Blocked fan: rise over the air at full load 32-36 or 55-60 C, from 12 C (sound); with 70 C in a
  hot house the drive slows down to hold its own limit.
- Sensor stuck: the suction's or the current's (a measure lost) or the pressure's (no water, or
  full speed against the relief valve).
- Sentinels: 0.4 % of the time in the current, 2 % in the pressure.
- Offset of the controlling sensor: 7-8 % or 15-17 % of the setting.
- Overload trips: 103-105 or 114-118 % of service-factor amps at the most that is drawn.
- Supply trips at 80 % of nominal volts, in evenings that fall to about 77 %.
"""

import numpy as np

from sample_data.catalogue import Leak, PumpSet
from sample_data.faults import DAY_S, HOUR_S, Effect, Span, pick
from sample_data.ills import Heating, LowVoltsTrip, SensorIll, Trips
from sample_data.protection import GROUND_FAULT, LOW_VOLTS
from sample_data.slow_states import LOADED_RISE_C
from sample_data.supply import Sag

UNKNOWN_CODE = 47  # stands in no list of the company
FOLD_BACK_C = 82.0


def blocked_fan(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Cool the drive less from week to week."""
    last = pick(rng, span, (32, 36), (55, 60))
    pump.heating.append(Heating(span.from_s, span.to_s, (LOADED_RISE_C, last)))


def folds_back(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Lose the fan of a drive in a hot house: it holds its limit by slowing down."""
    pump.log.hot_c = 16.0
    pump.fold_back_c = FOLD_BACK_C
    pump.heating.append(Heating(span.from_s, span.to_s, (70.0, 72.0)))


def stuck_high(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Freeze the pressure reading just above the setting: the drive stops, and never starts."""
    pump.sensors.append(
        SensorIll("pressure", span.from_s, span.to_s, "frozen", pump.set_kpa + 4.0)
    )


def stuck_low(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Freeze the pressure reading near nothing: full speed against the relief valve."""
    value = float(rng.uniform(6, 14))
    pump.sensors.append(SensorIll("pressure", span.from_s, span.to_s, "frozen", value))


def current_lost(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Log no current any more, while the pump works as before."""
    pump.sensors.append(SensorIll("current", span.from_s, span.to_s, "frozen", 0.0))


def suction_frozen(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Freeze the suction reading."""
    value = round(pump.suction_kpa) + 1.0
    pump.sensors.append(SensorIll("suction", span.from_s, span.to_s, "frozen", value))


def pressure_sentinel(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Log -1 for pressure now and then, as an open sensor loop is shown."""
    pump.sensors.append(SensorIll("pressure", span.from_s, span.to_s, "sentinel", -1.0, 0.02))


def current_sentinel(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Log 999 for current now and then."""
    pump.sensors.append(SensorIll("current", span.from_s, span.to_s, "sentinel", 999.0, 0.004))


def pressure_beyond_range(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Log 9999 for pressure now and then: beyond what any loader believes."""
    pump.sensors.append(SensorIll("pressure", span.from_s, span.to_s, "sentinel", 9999.0, 0.003))


def shifted_sensor(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Shift the controlling sensor: all speeds step at once, and a drained pipe reads not 0."""
    kpa = pick(rng, span, (0.07, 0.08), (-0.17, -0.15)) * pump.set_kpa
    pump.sensors.append(SensorIll("pressure", span.from_s, span.to_s, "offset", kpa))
    drained = pump.cal.at(3, 9.0)
    pump.off.append((drained, drained + 3 * HOUR_S))
    pump.leaks.append(Leak(drained, drained + 3 * HOUR_S, 12.0))


def air_in_sensor_line(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Let the logger's own pressure reading swing while the pump runs."""
    kpa = float(rng.uniform(0.05, 0.06)) * pump.set_kpa
    pump.sensors.append(SensorIll("pressure", span.from_s, span.to_s, "air", kpa))


def fahrenheit_as_celsius(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Log Fahrenheit under a Celsius heading."""
    pump.sensors.append(SensorIll("temp", span.from_s, span.to_s, "fahrenheit"))


def overload_trips(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Load the motor over its amps, with an overload that trips as it should."""
    pump.load_share = pick(rng, span, (1.03, 1.05), (1.14, 1.18))
    pump.register["overload_setting_amps"] = round(0.98 * pump.service_factor_amps, 1)
    pump.overload_tau_s = 420.0


def supply_trips(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Stand at the end of a line that sags every evening until the drive gives up."""
    depth = pick(rng, span, (0.205, 0.215), (0.235, 0.25))
    pump.sags.append(Sag(span.from_s, span.to_s, depth, seed=7))
    pump.volts_trip = LowVoltsTrip(0.80, 300.0, LOW_VOLTS)


def unknown_trips(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Trip out of long draws, with a code that nobody listed."""
    count = 3 if span.size == "mild" else 9
    pump.trips.append(Trips(span.from_s, span.to_s, count, UNKNOWN_CODE, 120.0))


def latched_trip(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Trip for good, from a wiring fault."""
    until = span.from_s + DAY_S
    pump.trips.append(Trips(span.from_s, until, 1, GROUND_FAULT, 1e9))


def untold_trips(pump: PumpSet, span: Span, rng: np.random.Generator) -> None:
    """Trip out of long draws; the log has no codes."""
    count = 4 if span.size == "mild" else 12
    pump.trips.append(Trips(span.from_s, span.to_s, count, GROUND_FAULT, 600.0))


DRIVE: tuple[Effect, ...] = (
    blocked_fan,
    folds_back,
    stuck_high,
    stuck_low,
    current_lost,
    suction_frozen,
    pressure_sentinel,
    current_sentinel,
    pressure_beyond_range,
    shifted_sensor,
    air_in_sensor_line,
    fahrenheit_as_celsius,
    overload_trips,
    supply_trips,
    unknown_trips,
    latched_trip,
    untold_trips,
)
