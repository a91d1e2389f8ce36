"""Motors: how warm a load makes them, how often they may start, how unbalanced their supply is."""

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

HP_KW = 0.7456998716
"""One mechanical horsepower. [kW]"""

_NEMA_MG_10_HP = np.array([1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 25.0])
_NEMA_MG_10_STARTS_PER_HOUR = {
    2: np.array([15.0, 12.9, 11.5, 9.9, 8.1, 7.0, 6.2, 5.4, 4.4]),
    4: np.array([30.0, 25.7, 23.0, 19.8, 16.3, 13.9, 12.5, 10.7, 8.8]),
}
_NEMA_MG_10_WK2_STARTS_LB_FT2 = {
    2: np.array([1.2, 1.8, 2.4, 3.5, 5.7, 8.3, 11.0, 16.0, 26.0]),
    4: np.array([5.8, 8.6, 11.0, 17.0, 27.0, 39.0, 51.0, 75.0, 122.0]),
}
_NEMA_MG_10_REST_S = {
    2: np.array([75.0, 76.0, 77.0, 80.0, 83.0, 88.0, 92.0, 100.0, 115.0]),
    4: np.array([38.0, 38.0, 39.0, 40.0, 42.0, 44.0, 46.0, 50.0, 58.0]),
}

_SUBMERSIBLE_UP_TO_HP = np.array([0.75, 5.5, 30.0, np.inf])
_SUBMERSIBLE_STARTS_PER_DAY = {
    1: np.array([300.0, 100.0, 50.0, np.nan]),
    3: np.array([300.0, 300.0, 100.0, 100.0]),
}
_SUBMERSIBLE_SOFT_STARTS_PER_DAY = {
    1: np.array([300.0, 100.0, 50.0, np.nan]),
    3: np.array([300.0, 300.0, 200.0, 100.0]),
}

# exp() of a double overflows past 709; a block of samples spans no more time constants than this
_BLOCK_TIME_CONSTANTS = 300.0


def thermal_state(
    ts_s: ArrayLike,
    current_a: ArrayLike,
    tau_s: float,
    k: float,
    setting_a: float,
    *,
    start_state: float = 0.0,
    longest_hold_s: float = np.inf,
) -> NDArray[np.float64]:
    """Heat of a motor by the thermal replica, sample by sample; 1 is the trip.

    ``H' = Heq + (H - Heq) exp(-dt / tau)`` with ``Heq = (I / (k Ib)) ** 2`` [1]_, exact for a
    current that holds from each sample to the next. One time constant serves heating and
    cooling: a stopped motor without its fan cools slower than this.

    Parameters
    ----------
    ts_s : array-like, shape (n,)
        Instants, in order, at any spacing. [s]
    current_a : array-like, shape (n,)
        Motor current from each instant on; a NaN counts as the last known value. [A]
    tau_s : float
        Thermal time constant. [s]
    k : float
        Multiple of the setting the motor carries for ever (1.05 is usual).
    setting_a : float
        Basic current ``Ib``: the overload setting or rated current. [A]
    start_state : float
        Heat at the first known sample; 0 is cold.
    longest_hold_s : float
        A sample's current is held no longer than this; after it the motor counts as stopped
        until the next sample. [s]

    Returns
    -------
    ndarray, shape (n,)
        Heat at each instant; NaN before the first known current.

    References
    ----------
    .. [1] IEC 60255-149 (before it IEC 60255-8).
    """
    time_s = np.asarray(ts_s, dtype=np.float64)
    current = np.asarray(current_a, dtype=np.float64)
    state = np.full(time_s.shape, np.nan)
    known = ~np.isnan(current)
    if not known.any():
        return state
    first = int(np.argmax(known))
    current, known = current[first:], known[first:]
    if not known.all():
        current = current[np.maximum.accumulate(np.where(known, np.arange(known.size), 0))]
    target = np.square(current / (k * setting_a))
    age = (time_s[first:] - time_s[first]) / tau_s  # in time constants
    step = np.diff(age)
    held = np.minimum(step, longest_hold_s / tau_s)
    gain = -target[:-1] * np.expm1(-held) * np.exp(held - step)
    state[first:] = _decaying_sum(age, gain, start_state)
    return state


def _decaying_sum(
    age: NDArray[np.float64], gain: NDArray[np.float64], start: float
) -> NDArray[np.float64]:
    """Solve ``y[i + 1] = y[i] exp(age[i] - age[i + 1]) + gain[i]`` from ``y[0] = start``.

    Within a block ``y[i] = exp(-age[i]) (y[0] + cumsum(gain exp(age)))``, ages counted from the
    block's first sample; every term is positive, so nothing cancels.
    """
    result = np.empty_like(age)
    starts = np.arange(0.0, age[-1] + _BLOCK_TIME_CONSTANTS, _BLOCK_TIME_CONSTANTS)
    edges = np.unique(np.append(np.searchsorted(age, starts), age.size))
    value = start
    for begin, end in pairwise(edges):
        if begin > 0:
            value = result[begin - 1] * np.exp(age[begin - 1] - age[begin]) + gain[begin - 1]
        growth = np.exp(age[begin:end] - age[begin])
        result[begin] = value
        summed = np.cumsum(gain[begin : end - 1] * growth[1:])
        result[begin + 1 : end] = (value + summed) / growth[1:]
    return result


def trip_time_s(
    current_a: ArrayLike,
    tau_s: ArrayLike,
    k: ArrayLike,
    setting_a: ArrayLike,
    prior_a: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Time a steady current takes to bring the thermal replica to its trip.

    ``tau ln((I^2 - Ip^2) / (I^2 - (k Ib)^2))`` [1]_: cold with ``Ip = 0``, hot after long running
    at ``Ip``.

    Parameters
    ----------
    current_a : array-like
        Steady current. [A]
    tau_s : array-like
        Thermal time constant. [s]
    k : array-like
        Multiple of the setting carried for ever.
    setting_a : array-like
        Basic current. [A]
    prior_a : array-like
        Steady current before. [A]

    Returns
    -------
    ndarray
        Infinite where the current never trips, 0 where the prior current already had; NaN where
        an input is. [s]

    References
    ----------
    .. [1] IEC 60255-149 (before it IEC 60255-8).
    """
    tau, heat, prior, limit = np.broadcast_arrays(
        np.asarray(tau_s, dtype=np.float64),
        np.square(np.asarray(current_a, dtype=np.float64)),
        np.square(np.asarray(prior_a, dtype=np.float64)),
        np.square(np.multiply(k, np.asarray(setting_a, dtype=np.float64))),
    )
    trips = (heat > limit) & (prior < limit)
    ratio = np.where(trips, heat - prior, 1.0) / np.where(trips, heat - limit, 1.0)
    time_s = np.where(heat <= limit, np.inf, tau * np.log(ratio))
    time_s = np.where(prior >= limit, 0.0, time_s)
    unknown = np.isnan(tau) | np.isnan(heat) | np.isnan(prior) | np.isnan(limit)
    return np.asarray(np.where(unknown, np.nan, time_s))


def class_tau_s(trip_s: ArrayLike, multiple: ArrayLike) -> NDArray[np.float64]:
    """Time constant of the replica that trips, cold, as an overload of a trip class does.

    ``tau = t / ln(m^2 / (m^2 - 1))``, the cold trip time at ``m`` times the setting solved for
    tau with ``k = 1``.

    Parameters
    ----------
    trip_s : array-like
        Trip time of the class: 10 for class 10. [s]
    multiple : array-like
        Multiple of the setting at which it is stated: 7.2 (IEC 60947-4-1), 6 (NEMA).

    Returns
    -------
    ndarray
        NaN where an input is or the multiple is not over 1. [s]

    References
    ----------
    .. [1] IEC 60255-149; trip classes of IEC 60947-4-1, Table 2.
    """
    times = np.asarray(multiple, dtype=np.float64)
    square = np.square(np.where(times > 1.0, times, np.nan))
    return np.asarray(np.divide(trip_s, np.log(square / (square - 1.0))))


def unbalance_pct(a: ArrayLike, b: ArrayLike, c: ArrayLike) -> NDArray[np.float64]:
    """Unbalance of three line-to-line voltages (or three currents).

    100 times the largest deviation from the mean over the mean [1]_.

    Parameters
    ----------
    a, b, c : array-like
        The three values, one unit.

    Returns
    -------
    ndarray
        NaN where an input is or the mean is not positive. [%]

    References
    ----------
    .. [1] NEMA MG 1-12.45, 14.36.
    """
    three = np.stack(np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in (a, b, c))))
    mean = three.mean(axis=0)
    largest = np.abs(three - mean).max(axis=0)
    return np.asarray(100.0 * largest / np.where(mean > 0.0, mean, np.nan))


def allowed_starts_per_hour(
    hp: ArrayLike, poles: int, load_wk2_lb_ft2: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Most starts an hour of a motor started at full voltage.

    Column A of the table, and with the load's inertia no more than ``B / Wk2`` [1]_. Between two
    sizes the larger one counts. It speaks of full-voltage starts: a drive's ramped start heats a
    motor far less, so behind a drive this is a comparison, not a limit.

    Parameters
    ----------
    hp : array-like
        Rated shaft power; the table as kept here spans 1 to 25 hp. [hp]
    poles : int
        2 or 4.
    load_wk2_lb_ft2 : array-like, optional
        Inertia of the load. [lb ft2]

    Returns
    -------
    ndarray
        NaN where an input is or the table has no such motor. [1/h]

    References
    ----------
    .. [1] NEMA MG 10, Table 2-3 (Design A and B motors).
    """
    starts = _nema_mg_10(_NEMA_MG_10_STARTS_PER_HOUR, hp, poles)
    if load_wk2_lb_ft2 is None:
        return starts
    inertia = np.asarray(load_wk2_lb_ft2, dtype=np.float64)
    most = _nema_mg_10(_NEMA_MG_10_WK2_STARTS_LB_FT2, hp, poles)
    has_inertia = inertia > 0.0
    by_inertia = np.where(has_inertia, most / np.where(has_inertia, inertia, 1.0), np.inf)
    by_inertia = np.where(inertia >= 0.0, by_inertia, np.nan)
    return np.asarray(np.minimum(starts, by_inertia))


def least_rest_s(hp: ArrayLike, poles: int) -> NDArray[np.float64]:
    """Least rest between two full-voltage starts.

    Parameters
    ----------
    hp : array-like
        Rated shaft power, 1 to 25 hp; between two sizes the larger one counts. [hp]
    poles : int
        2 or 4.

    Returns
    -------
    ndarray
        NaN where the input is or the table has no such motor. [s]

    References
    ----------
    .. [1] NEMA MG 10, Table 2-3, column C.
    """
    return _nema_mg_10(_NEMA_MG_10_REST_S, hp, poles)


def submersible_starts_per_day(
    hp: ArrayLike, phases: int, *, is_soft_started: bool = False
) -> NDArray[np.float64]:
    """Most starts in 24 h, evenly spread, of a submersible well-pump motor.

    Between two groups of the table the larger motors' figure counts. With a soft start or a
    drive the three-phase motors of 7.5 to 30 hp are allowed 200.

    Parameters
    ----------
    hp : array-like
        Rated shaft power. [hp]
    phases : int
        1 or 3: phases of the motor.
    is_soft_started : bool
        The motor starts through a soft start or a properly set drive.

    Returns
    -------
    ndarray
        NaN where the input is, where it is not positive, or the table has no such motor. [1/d]

    References
    ----------
    .. [1] Generic trade table of submersible motors; a water-well trade journal agrees on 300
       under 1 hp and 50 above 5 hp.
    """
    table = _SUBMERSIBLE_SOFT_STARTS_PER_DAY if is_soft_started else _SUBMERSIBLE_STARTS_PER_DAY
    power = np.asarray(hp, dtype=np.float64)
    starts = table.get(phases)
    if starts is None:
        return np.full(power.shape, np.nan)
    row = np.minimum(np.searchsorted(_SUBMERSIBLE_UP_TO_HP, power), starts.size - 1)
    return np.asarray(np.where(power > 0.0, starts[row], np.nan))


def _nema_mg_10(
    column: dict[int, NDArray[np.float64]], hp: ArrayLike, poles: int
) -> NDArray[np.float64]:
    """One column of the table at the next size up; NaN outside it."""
    power = np.asarray(hp, dtype=np.float64)
    values = column.get(poles)
    if values is None:
        return np.full(power.shape, np.nan)
    row = np.minimum(np.searchsorted(_NEMA_MG_10_HP, power), values.size - 1)
    is_listed = (power >= _NEMA_MG_10_HP[0]) & (power <= _NEMA_MG_10_HP[-1])
    return np.asarray(np.where(is_listed, values[row], np.nan))
