"""Odd habits of those who draw water: irrigation, softeners, trickles, fills, pulses."""

from collections.abc import Callable

import numpy as np

from sample_data.demand import Calendar, Draws


def _blocks(cal: Calendar, rows: list[tuple[int, float, float, float]]) -> Draws:
    """Draws from (day, local hour, length in h, L/min) rows."""
    days = [row for row in rows if 0 <= row[0] < cal.n_days]
    table = np.array(days, float).reshape(len(days), 4)
    start = cal.midnight_s[table[:, 0].astype(int)] + table[:, 1] * 3600
    return start, table[:, 2] * 3600, table[:, 3]


def night_irrigation(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """Three nights a week, three zones of equal length from about two o'clock."""
    hour = float(rng.uniform(1.5, 2.5))
    zones = rng.uniform(0.55, 0.9, 3) * large_lpm
    rows = [
        (day, hour + 0.6 * i, 0.6, float(flow))
        for day in range(cal.n_days)
        if day % 7 in (0, 2, 4)
        for i, flow in enumerate(zones)
    ]
    return _blocks(cal, rows)


def softener(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """Regeneration every fourth night at two: backwash, slow brine draw, rinse, refill."""
    first = int(rng.integers(0, 4))
    wash = min(14.0, 0.6 * large_lpm)
    rows = [
        row
        for day in range(first, cal.n_days, 4)
        for row in (
            (day, 2.0, 0.17, wash),
            (day, 2.17, 0.9, 2.8),
            (day, 3.07, 0.15, wash),
            (day, 3.22, 0.12, 5.0),
        )
    ]
    return _blocks(cal, rows)


def reverse_osmosis(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A filter that takes a trickle for a few hours in the day."""
    rows = [
        (
            day,
            float(rng.uniform(10, 15)),
            float(rng.uniform(2.5, 4.0)),
            float(rng.uniform(0.2, 0.4)),
        )
        for day in range(cal.n_days)
    ]
    return _blocks(cal, rows)


def _trickle(rng: np.random.Generator, cal: Calendar, mean_lpm: float, hours: float) -> Draws:
    """A trickle in hours of use that changes every few minutes."""
    rows = []
    for day in range(cal.n_days):
        at = float(rng.uniform(7.0, 9.5))
        left = hours * float(rng.uniform(0.85, 1.15))
        while left > 0:
            piece = float(rng.uniform(0.08, 0.3))
            flow = mean_lpm * float(rng.lognormal(-0.25, 0.7))
            rows.append((day, at, piece, min(flow, 1.75)))
            at += piece * float(rng.uniform(1.0, 1.5))
            left -= piece
    return _blocks(cal, rows)


def drip_zone(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """Drip lines and a humidifier on for much of the day, mild: about 0.6 L/min for 8 h."""
    return _trickle(rng, cal, float(rng.uniform(0.55, 0.68)), 8.0)


def drip_zones(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """The same, strong: about 1.2 L/min for 8 h, near the most that still counts as no flow."""
    return _trickle(rng, cal, float(rng.uniform(1.1, 1.3)), 8.0)


def frost_waterer(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A waterer bled on frosty nights: three nights of the last week, two of the one before."""
    flow = float(rng.uniform(0.7, 1.0))
    last = cal.n_days
    rows = [(last - back, 18.5, 13.5, flow) for back in (6, 4, 3, 11, 10)]
    return _blocks(cal, rows)


def pool_fill(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """One nine-hour fill in the last week, overnight, at a steady large flow."""
    back = int(rng.integers(3, 6))
    return _blocks(cal, [(cal.n_days - back, 20.0, 9.0, float(rng.uniform(0.5, 0.7)) * large_lpm)])


def process_valve(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A timer valve opens for 22 s every 65 s through the working day."""
    cycles = np.arange(0, 9 * 3600, 65.0)
    start = (cal.midnight_s[:-1, None] + 8 * 3600 + cycles[None, :]).ravel()
    return start, np.full(len(start), 22.0), np.full(len(start), 0.45 * large_lpm)


def long_drinks(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """Irrigation by day, two hours every day at the large flow."""
    rows = [
        (day, float(rng.uniform(8, 10)), float(rng.uniform(2.0, 2.6)), large_lpm)
        for day in range(cal.n_days)
    ]
    return _blocks(cal, rows)


def evening_bath(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A bath run every evening from seven, twenty minutes."""
    return _blocks(cal, [(day, 19.0, 0.34, 0.55 * large_lpm) for day in range(cal.n_days)])


def garden_watering(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A garden watered for more than an hour on four days a week, by day."""
    rows = [
        (day, float(rng.uniform(8.5, 16)), float(rng.uniform(1.1, 1.5)), 0.85 * large_lpm)
        for day in range(cal.n_days)
        if day % 7 in (0, 2, 4, 5)
    ]
    return _blocks(cal, rows)


def too_many_zones(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """Irrigation with more zones open than the pump can feed, three mornings a week."""
    hour = float(rng.uniform(5.0, 7.0))
    share = float(rng.uniform(1.62, 1.7))
    rows = [
        (day, hour, 1.5, share * large_lpm) for day in range(cal.n_days) if day % 7 in (1, 3, 5)
    ]
    return _blocks(cal, rows)


def pulsing_valves(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A dosing valve opens for 6 s every 13 s, over a steady flow, in the last days."""
    first = max(cal.n_days - 9, 0)
    begins = cal.midnight_s[first:-1] + float(rng.uniform(9, 11)) * 3600
    pulses = (begins[:, None] + np.arange(0.0, 1.2 * 3600, 13.0)[None, :]).ravel()
    start = np.concatenate((begins, pulses))
    length = np.concatenate((np.full(len(begins), 1.2 * 3600), np.full(len(pulses), 6.0)))
    flow = np.concatenate((np.full(len(begins), 0.2), np.full(len(pulses), 0.5))) * large_lpm
    return start, length, flow


def near_no_flow(rng: np.random.Generator, cal: Calendar, large_lpm: float) -> Draws:
    """A filter that rinses for four hours a day at a flow just below what keeps a pump awake."""
    hours = rng.uniform(9, 13, cal.n_days)
    rows = [
        (day, float(hours[day]) + n * 0.25, 0.25, float(rng.uniform(1.45, 1.75)))
        for day in range(cal.n_days)
        for n in range(16)
    ]
    return _blocks(cal, rows)


EXTRAS: dict[str, Callable[[np.random.Generator, Calendar, float], Draws]] = {
    function.__name__: function
    for function in (
        night_irrigation,
        softener,
        reverse_osmosis,
        drip_zone,
        drip_zones,
        frost_waterer,
        pool_fill,
        process_valve,
        long_drinks,
        evening_bath,
        garden_watering,
        too_many_zones,
        pulsing_valves,
        near_no_flow,
    )
}
