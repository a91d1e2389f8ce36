"""The stretches of time that a pump set is simulated through, from its draws and its ills."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sample_data.catalogue import PumpSet
from sample_data.demand import Draws, everyday, join
from sample_data.habits import EXTRAS
from sample_data.ills import PumpEnd
from sample_data.plant import Floats, Motor, PumpCurve, Tank
from sample_data.rig import Segment
from sample_data.slow_states import (
    STEP_S,
    heat_ceilings,
    low_volts_spans,
    volts_ceilings,
    well_states,
)

MOST_DRAW = 1.05  # of the large flow: what the taps of a house together can pass
LIFT_WANDER = 0.012  # of the duty's boost: well level, street pressure
LONG_DRAW_S = 240.0
LARGE_DRAW = 0.5  # of the large flow
WEAR_STEP_S = 43_200.0
RUN_IN_S = 21_600.0  # simulated before the log begins

Span = tuple[float, float]


@dataclass(frozen=True)
class Events:
    """What falls into this pump's own draws: losses of suction, trips with their codes."""

    dry: tuple[Span, ...]
    trips: tuple[tuple[float, float, int], ...]


def _draws(pump: PumpSet, rng: np.random.Generator) -> Draws:
    parts = [everyday(rng, pump.cal, pump.profile, pump.large_lpm, pump.use_factor)]
    parts += [EXTRAS[name](rng, pump.cal, pump.large_lpm) for name in pump.extras]
    start, length, flow = join(parts)
    here = np.ones(len(start), bool)
    for from_s, to_s in pump.quiet:
        here &= (start + length < from_s) | (start > to_s)
    return start[here], length[here], flow[here]


def _within_draws(
    draws: Draws,
    least_lpm: float,
    span: Span,
    count: int,
    lasts_s: float,
    rng: np.random.Generator,
) -> list[float]:
    """Instants within long, large draws of a time, each so long before its draw's end."""
    start, length, flow = draws
    fits = (start >= span[0]) & (start + length < span[1]) & (length > LONG_DRAW_S + lasts_s)
    fits &= flow >= least_lpm
    found = np.flatnonzero(fits)
    picked = rng.choice(found, min(count, len(found)), replace=False)
    last = start[picked] + length[picked] - lasts_s
    instants: list[float] = np.sort(rng.uniform(start[picked] + 90, last)).tolist()
    return instants


def _events(pump: PumpSet, draws: Draws, source_v: Floats, rng: np.random.Generator) -> Events:
    dry = [*pump.dry, *pump.open_motor]
    least = LARGE_DRAW * pump.large_lpm
    for gulp in pump.gulps:
        span = (gulp.from_s, gulp.to_s)
        at = _within_draws(draws, least, span, gulp.count, gulp.lasts_s, rng)
        dry += [(t, t + gulp.lasts_s) for t in at]
    trips = []
    for trip in pump.trips:
        at = _within_draws(draws, least, (trip.from_s, trip.to_s), trip.count, 30.0, rng)
        trips += [(t, t + trip.wait_s, trip.code) for t in at]
    if pump.volts_trip:
        low = low_volts_spans(pump, source_v)
        trips += [(from_s, to_s, pump.volts_trip.code) for from_s, to_s in low]
    return Events(tuple(dry), tuple(trips))


def _change_marks(end: PumpEnd) -> Floats:
    return np.append(np.arange(end.from_s, end.to_s, WEAR_STEP_S), end.to_s)


def _edges(pump: PumpSet, draws: Draws, events: Events, begin: float) -> Floats:
    start, length, _ = draws
    spans: list[tuple[float, ...]] = [
        *((loss.from_s, loss.to_s) for loss in pump.check),
        *((leak.from_s, leak.to_s) for leak in pump.leaks),
        *((ill.from_s, ill.to_s) for ill in pump.sensors),
        *((g.from_s,) for g in pump.gas),
        *pump.outages,
        *pump.off,
        *events.dry,
        *(trip[:2] for trip in events.trips),
    ]
    end = pump.cal.length_s
    is_fine = pump.well or pump.needs_volts or pump.fold_back_c is not None
    parts = [
        np.array([begin, end]),
        start,
        start + length,
        np.array([x for span in spans for x in span], float),
        *(_change_marks(change) for change in pump.ends),
        np.arange(0.0, end, STEP_S if is_fine else 6 * 3600.0),
    ]
    return np.unique(np.clip(np.concatenate(parts), begin, end))


def _demand(pump: PumpSet, draws: Draws, edges: Floats) -> Floats:
    """Flow drawn from each edge on: what taps can pass, and leaks [L/min]."""
    start, length, flow = draws
    total = np.zeros(len(edges))
    for at, change in ((start, flow), (start + length, -flow)):
        index = np.searchsorted(edges, np.clip(at, edges[0], edges[-1]))
        total += np.bincount(index, change, len(edges))
    draw: Floats = np.clip(np.cumsum(total), 0.0, pump.most_draw * pump.large_lpm)
    draw[draw < 1e-9] = 0.0
    for leak in pump.leaks:
        draw[_during(edges, [(leak.from_s, leak.to_s)])] += leak.lpm
    return draw


def _during(edges: Floats, spans: Iterable[Span]) -> NDArray[np.bool_]:
    inside = np.zeros(len(edges), bool)
    for from_s, to_s in spans:
        inside |= (edges >= from_s) & (edges < to_s)
    return inside


def _curves(pump: PumpSet, edges: Floats) -> list[PumpCurve | None]:
    """The pump end from each edge on, ``None`` where it is as published."""
    curves: list[PumpCurve | None] = [None] * len(edges)
    for end in pump.ends:
        marks = _change_marks(end)
        share = (marks - end.from_s) / max(end.to_s - end.from_s, 1.0)
        worn = [
            pump.model.curve.worn(*(a + (b - a) * x for a, b in (end.head, end.bend, end.torque)))
            for x in share.tolist()
        ]
        for n in np.flatnonzero(_during(edges, [(end.from_s, end.to_s)])):
            curves[n] = worn[int(np.searchsorted(marks, edges[n], "right")) - 1]
    return curves


def segments_of(
    pump: PumpSet, motor: Motor, source_v: Floats, rng: np.random.Generator
) -> list[Segment]:
    """Stretches in which demand, leaks, tank, power and all ills stay the same.

    Parameters
    ----------
    pump : PumpSet
        As built.
    motor : Motor
        Its motor.
    source_v : ndarray, shape (minutes,)
        Volts at the meter. [V]
    rng : numpy Generator
        For demand, wandering levels and where events fall.
    """
    draws = _draws(pump, rng)
    events = _events(pump, draws, source_v, rng)
    begin = max(0.0, pump.log.intervals[0][0] - RUN_IN_S)
    edges = _edges(pump, draws, events, begin)
    draw = _demand(pump, draws, edges)
    day_s = np.arange(0.0, pump.cal.length_s, 6 * 3600.0)
    level = rng.normal(0.0, 0.5 * LIFT_WANDER, len(day_s)) * pump.duty_boost_kpa
    lift = pump.lift_kpa + level[np.clip(np.searchsorted(day_s, edges, "right") - 1, 0, None)]
    is_dry = _during(edges, events.dry)
    if pump.well:
        sucks_air, more_lift = well_states(edges, draw, pump.well)
        is_dry, lift = is_dry | sucks_air, lift + more_lift
    ceiling = np.minimum(
        heat_ceilings(pump, motor, edges, draw), volts_ceilings(pump, edges, source_v)
    )
    plain = _plain(pump, edges, draw, lift)
    return _with_ills(pump, plain, events, edges, (is_dry, ceiling))


def _plain(pump: PumpSet, edges: Floats, draw: Floats, lift: Floats) -> list[Segment]:
    whole = Tank(pump.tank_l, pump.charge_kpa)
    tanks = [whole, *(replace(whole, gas_share=g.share) for g in pump.gas)]
    tank_n = np.searchsorted(np.array([g.from_s for g in pump.gas]), edges, "right")
    power = ~_during(edges, [*pump.outages, *pump.off])
    loss, share = np.zeros(len(edges)), np.ones(len(edges))
    for c in pump.check:
        on = _during(edges, [(c.from_s, c.to_s)])
        loss[on], share[on] = c.lpm, c.share
    return [
        Segment(begin, end, lpm, tanks[n], on, head, back, of_stops)
        for begin, end, lpm, n, on, head, back, of_stops in zip(
            edges[:-1].tolist(),
            edges[1:].tolist(),
            draw.tolist(),
            tank_n.tolist(),
            power.tolist(),
            lift.tolist(),
            loss.tolist(),
            share.tolist(),
            strict=False,
        )
    ]


def _with_ills(
    pump: PumpSet,
    plain: list[Segment],
    events: Events,
    edges: Floats,
    held_back: tuple[NDArray[np.bool_], Floats],
) -> list[Segment]:
    is_dry, ceiling = held_back
    offset, code = np.zeros(len(edges)), np.zeros(len(edges), int)
    is_full, is_idle = np.zeros(len(edges), bool), np.zeros(len(edges), bool)
    for from_s, to_s, shown in events.trips:
        code[_during(edges, [(from_s, to_s)])] = shown
    for ill in pump.sensors:
        on = _during(edges, [(ill.from_s, ill.to_s)])
        if ill.channel == "pressure" and ill.how == "offset":
            offset[on] = ill.value
        elif ill.channel == "pressure" and ill.how == "frozen":
            is_high = ill.value > pump.set_kpa - pump.band_kpa
            (is_idle if is_high else is_full)[on] = True
    curves = _curves(pump, edges)
    touched = is_dry | is_full | is_idle | (code > 0) | (offset != 0) | np.isfinite(ceiling)
    return [
        replace(
            seg,
            has_power=seg.has_power and not code[n],
            curve=curves[n],
            ceiling_hz=float(ceiling[n]),
            offset_kpa=float(offset[n]),
            code=int(code[n]),
            is_dry=bool(is_dry[n]),
            is_full=bool(is_full[n]),
            is_idle=bool(is_idle[n]),
        )
        if touched[n] or curves[n] is not None
        else seg
        for n, seg in enumerate(plain)
    ]
