"""Which column (or tag) of an unknown log is which quantity, and in which unit, with the evidence.

A title that names the quantity, a unit that belongs to it and values that behave like it each
count; none alone is believed against another. What rests on the size of the values only is marked
to be checked.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from ingest.installed_base import Register
from ingest.log_profile import QUANTITIES
from ingest.units import conversion

_NAMES = {
    "suction": r"suction|inlet|saug|succi|aspir",
    "pressure": r"press|druck|presi|tryk|p[_.]?out|^p$|discharge|^pt\d",
    "frequency": r"freq|hz|speed|rpm|drehz|n_drive|vfd.?out",
    "input_current": r"(input|supply|line|mains).{0,3}(current|amp)",
    "current": r"current|amp|strom|corrient|courant|i_motor|motor|vfd\.a$",
    "voltage": r"volt|spann|tensi|mains|^u[_ ]",
    "flow": r"flow|durchfl|d[eé]bit|caudal",
    "drive_temp": r"temp",
    "fault_code": r"fault|alarm|err|st[oö]r",
}
_UNIT_WORDS = {
    "psi": "psi",
    "psig": "psi",
    "psia": "psi_abs",
    "bar": "bar",
    "kpa": "kpa",
    "mbar": "mbar",
    "mpa": "mpa",
    "hz": "hz",
    "rpm": "rpm",
    "1/min": "rpm",
    "%": "pct",
    "a": "a",
    "amps": "a",
    "ma": "ma",
    "v": "v",
    "kv": "kv",
    "gpm": "gpm",
    "lpm": "lpm",
    "l/min": "lpm",
    "l/s": "lps",
    "m3/h": "m3h",
    "m³/h": "m3h",
    "c": "c",
    "°c": "c",
    "f": "f",
    "°f": "f",
}
_UNIT_IN_TITLE = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]|_([a-z]+)$")
_MIN_SCORE = 3  # ours: a name, a unit, or behaviour nothing else explains
_NEAR = 0.25  # ours: a usual pressure this near the register's setting tells the unit


@dataclass(frozen=True)
class Guess:
    """One quantity's column, unit and why; ``doubts`` are for a person to settle."""

    quantity: str
    place: int
    title: str
    unit: str
    evidence: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    at_60_hz: float | None = None


@dataclass(frozen=True)
class Series:
    """One column or tag: its title, the unit written beside it, its values (NaN where none)."""

    place: int
    title: str
    unit_word: str
    values: NDArray[np.float64]


def guess_quantities(series: Sequence[Series], register: Register | None) -> list[Guess]:
    """Match each quantity with the series that fits best, each series once.

    Parameters
    ----------
    series : sequence of Series
        On the same rows, so that they can be compared; of a long table each has its own rows.
    register : Register or None
        To tell units by: pressure settings, service-factor amps.
    """
    scores: list[tuple[float, str, int, tuple[str, ...]]] = []
    drive = _drive(series)
    for number, one in enumerate(series):
        for quantity in QUANTITIES:
            score, evidence = _score(one, quantity, drive)
            if score >= _MIN_SCORE:
                scores.append((score, quantity, number, evidence))
    order = list(QUANTITIES)
    scores.sort(key=lambda s: (-s[0], order.index(s[1]), s[2]))
    guesses: dict[str, Guess] = {}
    taken: set[int] = set()
    for _, quantity, number, evidence in scores:
        if quantity not in guesses and number not in taken:
            taken.add(number)
            guesses[quantity] = _with_unit(series[number], quantity, evidence, register)
    return sorted(guesses.values(), key=lambda guess: order.index(guess.quantity))


def _drive(series: Sequence[Series]) -> NDArray[np.bool_] | None:
    """Whether the pump runs, by the series that looks most like a drive's output frequency."""
    for one in series:
        if _is_frequency(one.values) and re.search(_NAMES["frequency"], one.title.lower()):
            return np.asarray(one.values > 0)
    return next((np.asarray(one.values > 0) for one in series if _is_frequency(one.values)), None)


def _is_frequency(values: NDArray[np.float64]) -> bool:
    """Whether values are 0 at times, and else between 15 and 75, as no other quantity is."""
    known = values[~np.isnan(values)]
    on = known[known != 0]
    return len(on) > 0 and len(on) < len(known) and float(on.min()) >= 15 and float(on.max()) <= 75


def _score(
    one: Series, quantity: str, drive: NDArray[np.bool_] | None
) -> tuple[float, tuple[str, ...]]:
    score, evidence = 0.0, []
    title = one.title.lower()
    if re.search(_NAMES[quantity], title):
        score += 3
        evidence.append(f"'{one.title}' names it")
    unit = _unit_of(one)
    if unit and unit in QUANTITIES[quantity][1]:
        score += 2
        evidence.append(f"its unit is {unit}")
    elif unit:
        score -= 4
    known = one.values[~np.isnan(one.values)]
    if quantity == "fault_code":
        return score, tuple(evidence)
    if len(known) == 0:
        return 0, ()
    behaves = _behaves(quantity, known, one.values, drive)
    if behaves is None:
        return score - 3, tuple(evidence)
    if behaves:
        score += 3 if quantity in ("frequency", "current", "voltage") else 1
        evidence.append(behaves)
    return score, tuple(evidence)


def _behaves(
    quantity: str,
    known: NDArray[np.float64],
    values: NDArray[np.float64],
    drive: NDArray[np.bool_] | None,
) -> str | None:
    """How values behave like a quantity; "" where they tell nothing, None where they cannot."""
    low, high = float(known.min()), float(known.max())
    if quantity == "frequency":
        if _is_frequency(known):
            return f"0 at times, else {_least_on(known):g} to {high:g}"
        return "" if low >= 0 and high <= 4000 else None
    if quantity == "current":
        if low < -0.5:
            return None
        is_same_log = drive is not None and len(drive) == len(values)
        if is_same_log and drive is not None and 0 < np.mean(drive) < 1 and high > 0:
            agree = np.mean((values > 0.05 * high) == drive)
            if agree > 0.95 and not _is_frequency(known):
                return "flows when the drive runs, and only then"
        return ""
    if quantity == "voltage":
        if low > 80 and high < 700 and float(np.std(known)) < 0.1 * float(np.mean(known)):
            return f"steady between {low:g} and {high:g}"
        return ""
    if quantity == "pressure":
        return f"{low:g} to {high:g}" if low > 0 and high > low else ""
    return ""


def _least_on(known: NDArray[np.float64]) -> float:
    return float(known[known != 0].min())


def _unit_of(one: Series) -> str:
    found = _UNIT_IN_TITLE.search(one.title.lower())
    words = [one.unit_word.lower().strip("[]() "), *(found.groups() if found else ())]
    return next((_UNIT_WORDS[word] for word in words if word and word in _UNIT_WORDS), "")


def _with_unit(
    one: Series, quantity: str, evidence: tuple[str, ...], register: Register | None
) -> Guess:
    unit, at_60_hz = _unit_of(one), None
    doubts: list[str] = []
    known = one.values[~np.isnan(one.values)]
    more: list[str] = []
    if quantity in ("pressure", "suction"):
        unit, more, doubts = _pressure_unit(quantity, unit, known, register)
    elif quantity == "frequency":
        unit, doubts, at_60_hz = _frequency_unit(unit, known)
    elif quantity == "current":
        doubts = _current_doubts(known, unit or "a", register)
    if not unit:
        unit = QUANTITIES[quantity][2]
        if quantity in ("flow", "drive_temp"):
            doubts.append(f"no unit is written beside it; {unit} is only the usual one")
    return Guess(quantity, one.place, one.title, unit, (*evidence, *more), tuple(doubts), at_60_hz)


def _pressure_unit(
    quantity: str, unit: str, known: NDArray[np.float64], register: Register | None
) -> tuple[str, list[str], list[str]]:
    settings = [
        pump.pressure_setting_kpa
        for pump in (register.pumps.values() if register else ())
        if pump.pressure_setting_kpa
    ]
    usual = float(np.median(known))
    if not settings or quantity == "suction":
        if unit:
            return unit, [], []
        guess = "bar" if usual < 15 else "psi" if usual < 150 else "kpa"
        return guess, [], [f"its unit is guessed by the size of the values (usually {usual:g})"]
    setting = median(settings)
    ratios = {name: conversion(name).inner(usual) / setting for name in ("psi", "bar", "kpa")}
    best = min(ratios, key=lambda name: abs(np.log(max(ratios[name], 1e-9))))
    if not unit:
        told = f"usually {usual:g}, as {best} near the register's setting of {setting:.0f} kPa"
        return best, [told], [] if abs(ratios[best] - 1) < _NEAR else [told]
    if unit in ratios and best != unit and abs(ratios[best] - 1) < _NEAR:
        return (
            unit,
            [],
            [
                f"it is usually {usual:g}, as {unit} {conversion(unit).inner(usual):.0f} kPa, "
                f"but the register's settings are about {setting:.0f} kPa: as if it were {best}"
            ],
        )
    return unit, [], []


def _frequency_unit(unit: str, known: NDArray[np.float64]) -> tuple[str, list[str], float | None]:
    high = float(known.max())
    if not unit:
        unit = "hz" if high <= 75 else "pct" if high <= 130 else "rpm"
    if unit == "pct":
        return unit, ["100 % is taken for 60 Hz"], 100
    if unit == "rpm":
        return unit, ["3450 rpm is taken for 60 Hz, as of a two-pole motor"], 3450
    return unit, [], None


def _current_doubts(known: NDArray[np.float64], unit: str, register: Register | None) -> list[str]:
    limits = [
        pump.service_factor_amps
        for pump in (register.pumps.values() if register else ())
        if pump.service_factor_amps
    ]
    high = float(np.quantile(known, 0.95)) * (0.001 if unit == "ma" else 1)
    if limits and high > 1.5 * max(limits):
        return [
            f"it reaches {high:g} A, but no pump's service-factor current is above "
            f"{max(limits):g} A: another unit, or the supply's current?"
        ]
    return []


def numbers(cells: Sequence[str], decimal: str) -> NDArray[np.float64]:
    """Values of cells; NaN where a cell is no number."""
    return np.array([_number(cell.replace(decimal, ".")) for cell in cells], dtype=np.float64)


def _number(cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        return np.nan
    return value if np.isfinite(value) else np.nan


def by_quantity(guesses: Sequence[Guess]) -> Mapping[str, Guess]:
    """Guesses by their quantity."""
    return {guess.quantity: guess for guess in guesses}
