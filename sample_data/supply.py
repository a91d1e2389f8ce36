"""The invented supply: source volts through the day, and the ohms between meter and drive."""

from dataclasses import dataclass

import numpy as np

from sample_data.plant import Floats

COPPER_OHM_MM2_PER_M = 0.0175  # near 23 C
COPPER_PER_K = 0.0039
WIRE_C = 35.0  # conductors in a cool building under part load: common practice
AWG_MM2 = {14: 2.081, 12: 3.309, 10: 5.261, 8: 8.366, 6: 13.30, 4: 21.15, 2: 33.62}
MINUTE_S = 60.0
CONTACT_OHM = 0.03  # of sound lugs and the breaker: ours


def wire_loop_ohm(mm2: float, one_way_m: float) -> float:
    """Resistance there and back of a copper branch circuit, cool [ohm]."""
    warm = 1 + COPPER_PER_K * (WIRE_C - 23.0)
    return 2 * one_way_m * COPPER_OHM_MM2_PER_M * warm / mm2


@dataclass(frozen=True)
class Sag:
    """A daily fall of the source: from when, how deep, in which local hours.

    ``depth_share`` is the share of nominal volts lost at the worst of an average evening.
    """

    from_s: float
    to_s: float
    depth_share: float
    from_hour: float = 16.5
    to_hour: float = 22.5
    seed: int = 0


@dataclass(frozen=True)
class Generator:
    """A time on a standby generator, volts wandering."""

    from_s: float
    to_s: float
    mean_share: float
    swing_share: float


def smooth_noise(rng: np.random.Generator, n: int, steps: float, sd: float) -> Floats:
    """Correlated noise: white noise on knots ``steps`` apart, joined by straight lines."""
    knots = rng.normal(0.0, sd, int(n / steps) + 2)
    result: Floats = np.interp(np.arange(n) / steps, np.arange(len(knots)), knots)
    return result


def source_volts(
    rng: np.random.Generator,
    local_hour: Floats,
    nominal_v: float,
    level_share: float,
    sags: tuple[Sag, ...] = (),
    generators: tuple[Generator, ...] = (),
) -> Floats:
    """Volts at the meter, once a minute.

    Parameters
    ----------
    rng : numpy Generator
        The site's own.
    local_hour : ndarray, shape (minutes,)
        Local hours since the first local midnight, rising. [h]
    nominal_v : float
        What the supply is called. [V]
    level_share : float
        Its usual level over nominal.
    sags, generators : tuples
        What is wrong with it.

    Returns
    -------
    ndarray, shape (minutes,). [V]
    """
    n = len(local_hour)
    hour = local_hour % 24
    shape: Floats = -0.006 * np.exp(-0.5 * ((hour - 19.0) / 2.2) ** 2) + 0.003 * np.cos(
        (hour - 3.5) / 24 * 2 * np.pi
    )
    level: Floats = level_share + shape
    level = level + smooth_noise(rng, n, 25, 0.0022) + smooth_noise(rng, n, 600, 0.0015)
    at_s: Floats = np.arange(n, dtype=np.float64) * MINUTE_S
    for sag in sags:
        level = level - _sag_share(sag, local_hour, at_s)
    for run in generators:
        on = (at_s >= run.from_s) & (at_s < run.to_s)
        wander = run.mean_share + smooth_noise(rng, n, 4, run.swing_share)
        level = np.where(on, np.clip(wander, 0.925, 1.055), level)
    return level * nominal_v


def _sag_share(sag: Sag, local_hour: Floats, at_s: Floats) -> Floats:
    """Share of nominal lost; the region's seed gives all its sites the same evenings."""
    rng = np.random.default_rng(sag.seed)
    day = (local_hour // 24).astype(int)
    depth = sag.depth_share * rng.uniform(0.85, 1.15, int(day.max()) + 2)
    hour = local_hour % 24
    middle = (sag.from_hour + sag.to_hour) / 2
    half = (sag.to_hour - sag.from_hour) / 2
    edge = np.clip((half - np.abs(hour - middle)) / 0.75 + 0.5, 0.0, 1.0)
    flicker = 1 + smooth_noise(rng, len(hour), 8, 0.06)
    active = (at_s >= sag.from_s) & (at_s < sag.to_s)
    result: Floats = np.where(active, depth[day] * edge * flicker, 0.0)
    return result
