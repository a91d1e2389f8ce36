"""The words for what is wrong with a row of a log, and what to do about it."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ingest.batch_checks import WRONG_UNIT_RATIOS, PumpInFile
from ingest.cells import range_text
from ingest.columns import LOG_CHANNELS
from ingest.installed_base import Pump
from ingest.layout import NEEDED_CHANNELS, ChannelPlace
from ingest.probe import Probe
from ingest.row_problems import (
    CLOCK_LOST,
    HOUR_SKIPPED,
    NO_VALUE,
    TIME_AGAIN,
    TIME_TOO_FAR,
    TIME_UNREADABLE,
    TOO_FEW_CELLS,
    TOO_MANY_CELLS,
    not_a_number_bit,
    not_plausible_bit,
)
from ingest.shown import shown
from ingest.units import conversion

_COLUMNS = {column.field: column for column in LOG_CHANNELS}
_NUMBER = re.compile(r"\d{1,30}(\.\d{1,30})?([eE][+-]?\d{1,2})?")
_BROKEN = TOO_FEW_CELLS | TOO_MANY_CELLS
_USUAL_KPA = (50.0, 1500.0)  # where a pump set's pressure usually lies; only to word a question


@dataclass(frozen=True)
class Told:
    """One problem in words."""

    column: str | None
    reason: str
    advice: str


@dataclass(frozen=True, eq=False)
class ProblemKind:
    """One kind of problem a row may have.

    Attributes
    ----------
    unless : int
        Bits of problems that say it all, so that this one is not told too.
    field : str or None
        Channel whose value it is about.
    tell_same : callable or None
        Words where one value comes again and again among others that are plausible.
    """

    bit: int
    unless: int
    tell: Callable[[Probe, list[str]], Told]
    field: str | None = None
    tell_same: Callable[[Probe, list[str]], Told] | None = None


def _time_text(probed: Probe, cells: list[str]) -> str:
    return shown(
        " ".join(cells[index].strip() for index in probed.layout.time if index < len(cells))
    )


def _too_few(probed: Probe, cells: list[str]) -> Told:
    return Told(
        None,
        f"has {len(cells)} cells, expected {probed.layout.n_columns}: the line is broken.",
        "Row left out; export the file again.",
    )


def _too_many(probed: Probe, cells: list[str]) -> Told:
    return Told(
        None,
        f"has {len(cells)} cells, expected {probed.layout.n_columns}: the line is broken, "
        "or its columns changed.",
        "Row left out; export the file again, or split it where its columns change.",
    )


def _time_problem(what: str, advice: str) -> Callable[[Probe, list[str]], Told]:
    def tell(probed: Probe, cells: list[str]) -> Told:
        return Told(
            "timestamp",
            f"timestamp is '{_time_text(probed, cells)}', {what}.",
            f"Row left out; {advice}.",
        )

    return tell


def _no_value(probed: Probe, cells: list[str]) -> Told:
    return Told(
        None, "has no pressure, no frequency and no current.", "Row left out; check the logger."
    )


def _of_channel(
    field: str, tell: Callable[[ChannelPlace, str], tuple[str, str]]
) -> Callable[[Probe, list[str]], Told]:
    consequence = "Row left out" if field in NEEDED_CHANNELS else "Cell left blank"

    def told(probed: Probe, cells: list[str]) -> Told:
        place = next(channel for channel in probed.layout.channels if channel.field == field)
        cell = shown(cells[place.index].strip()) if place.index < len(cells) else ""
        reason, advice = tell(place, cell)
        return Told(place.title, reason, f"{consequence}; {advice}.")

    return told


def _not_a_number(place: ChannelPlace, cell: str) -> tuple[str, str]:
    return (
        f"{place.title} is '{cell}', expected a number.",
        "if it stands for no value, name it under 'blank' in a log profile",
    )


def _outside(place: ChannelPlace, cell: str) -> str:
    column = _COLUMNS[place.field]
    unit = place.unit if place.unit not in ("rpm", "pct") else ""
    usual = range_text(column, unit) if unit else "what a pump drive puts out"
    return f"{place.title} is {cell}, outside {usual}"


def _same_again(place: ChannelPlace, cell: str) -> tuple[str, str]:
    return (
        f"{_outside(place, cell)}, and the same each time: rather a mark for no reading.",
        "check the sensor and its wiring",
    )


def _not_plausible(place: ChannelPlace, cell: str) -> tuple[str, str]:
    reason = _outside(place, cell)
    other = _other_unit(place, cell)
    if other is not None:
        return f"{reason}; is it {other}?", "correct the column's unit"
    return f"{reason}.", "check the sensor and the column's unit"


def _other_unit(place: ChannelPlace, cell: str) -> str | None:
    """Pressure unit that the number may be in instead, if there is one."""
    everyday = everyday_unit(place, cell)
    is_psi = place.unit == "psi" and place.field.startswith(("pressure", "suction"))
    return everyday or ("kPa" if is_psi and (_number(cell) or 0) > 0 else None)


def everyday_unit(place: ChannelPlace, cell: str) -> str | None:
    """Pressure unit in which the number would be an everyday one, if there is one."""
    number = _number(cell)
    if number is None or not place.field.startswith(("pressure", "suction")):
        return None
    names = {"psi": "psi", "bar": "bar", "kpa": "kPa"}
    for unit in ("kpa", "psi", "bar"):
        if unit != place.unit and _USUAL_KPA[0] <= conversion(unit).inner(number) <= _USUAL_KPA[1]:
            return names[unit]
    return None


def _number(cell: str) -> float | None:
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return None


KINDS = (
    ProblemKind(TOO_FEW_CELLS, 0, _too_few),
    ProblemKind(TOO_MANY_CELLS, 0, _too_many),
    ProblemKind(
        TIME_UNREADABLE,
        _BROKEN,
        _time_problem(
            "which is no time",
            "write times as 2026-11-16T00:00:05Z, or give their format in a log profile",
        ),
    ),
    ProblemKind(
        CLOCK_LOST,
        _BROKEN,
        _time_problem("before 2010: the logger had lost its clock", "set the logger's clock"),
    ),
    ProblemKind(
        TIME_TOO_FAR,
        _BROKEN,
        _time_problem("far from all other times of the file", "set the logger's clock"),
    ),
    ProblemKind(
        HOUR_SKIPPED,
        _BROKEN,
        _time_problem(
            "a time the site's clocks skip",
            "check the site's timezone in sites.csv, or log times with their offset",
        ),
    ),
    ProblemKind(
        TIME_AGAIN,
        _BROKEN,
        _time_problem(
            "in a stretch of time that rows above have logged: the clock was set back",
            "the rows above stay; set the logger's clock by a time server",
        ),
    ),
    *(
        ProblemKind(
            not_a_number_bit(column.field), _BROKEN, _of_channel(column.field, _not_a_number)
        )
        for column in LOG_CHANNELS
    ),
    *(
        ProblemKind(
            not_plausible_bit(column.field),
            _BROKEN,
            _of_channel(column.field, _not_plausible),
            column.field,
            _of_channel(column.field, _same_again),
        )
        for column in LOG_CHANNELS
    ),
    ProblemKind(NO_VALUE, _BROKEN, _no_value),
)
"""Every kind that is told line by line, in the order one line's problems are told."""


def unknown_pump(name: str | None, n_rows: int, known: Iterable[str], *, is_in_name: bool) -> Told:
    """Words for rows of a pump that is not in the register, with the one it likely is."""
    where = "names" if not is_in_name else "is by its name a log of"
    return Told(
        "pump_id",
        f"{where} pump '{shown(name or '')}', which is not in the register ({n_rows} rows)."
        f"{like_pump(name or '', known)}",
        "Rows left out; add the pump to pumps.csv or correct its id, then load the file again.",
    )


def like_pump(name: str, known: Iterable[str]) -> str:
    """Words for the registered pump a name may stand for; none where there is not just one.

    Spreadsheets turn ``00123`` into ``123`` and ``1E5`` into ``1.00E+05``.
    """
    alike = sorted({pump_id for pump_id in known if _is_number_like(name, pump_id)})
    if len(alike) == 1:
        return f" Is it '{alike[0]}', as a spreadsheet damages it?"
    plain = _letters(name)
    alike = sorted({pump_id for pump_id in known if plain and _letters(pump_id) == plain})
    return f" Is it '{alike[0]}'?" if len(alike) == 1 else ""


def _is_number_like(name: str, pump_id: str) -> bool:
    if not (_NUMBER.fullmatch(name) and _NUMBER.fullmatch(pump_id)):
        return False
    mantissa, is_power, _ = name.upper().partition("E")
    n_digits = len(mantissa.partition(".")[2])
    if is_power:
        return f"{float(pump_id):.{n_digits}e}" == f"{float(name):.{n_digits}e}"
    return float(name) == float(pump_id)


def _letters(name: str) -> str:
    return "".join(sign for sign in name.casefold() if sign.isalnum())


def wrong_unit(probed: Probe, one: PumpInFile, pump: Pump) -> Told:
    """Words for a file whose pressures miss the pump's setting by a unit's factor."""
    place = next(c for c in probed.layout.channels if c.field == "pressure_kpa")
    running, setting = float(one.running_kpa or 0), float(pump.pressure_setting_kpa or 1)
    shown = place.scale.outer(running)
    ratio = running / setting
    factor = min(
        (f for r in WRONG_UNIT_RATIOS for f in (r, 1 / r)), key=lambda f: abs(ratio / f - 1)
    )
    return Told(
        place.title,
        f"{place.title} of pump {pump.pump_id} is usually {shown:.4g} while running, which is "
        f"{running:.0f} kPa, but the register's pressure setting is {setting:.0f} kPa: "
        f"{ratio:.3g} times as much, as if in another unit ({_units_of(factor)}).",
        f"{one.n_rows} rows left out; correct the column's unit or the setting, then load the "
        "file again.",
    )


def _units_of(factor: float) -> str:
    pair = {6.895: "kPa and psi", 14.5: "psi and bar", 100.0: "kPa and bar"}
    larger = factor if factor > 1 else 1 / factor
    return f"{pair[min(pair, key=lambda ratio: abs(ratio - larger))]} taken for each other"
