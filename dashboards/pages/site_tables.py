"""Tables of a site's page: one row a fact, one column a pump, so that two pumps fit one side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import TypeVar

from analysis.brief import PumpBrief
from analysis.brief_facts import Fact, NormalValue

Told = TypeVar("Told", Fact, NormalValue)


@dataclass(frozen=True, kw_only=True)
class Cell:
    """What one pump's column holds.

    Attributes
    ----------
    text : str
        The value; "" where it is not known.
    usual : str
        What is usual beside it; "" where nothing is said of it.
    """

    text: str
    usual: str = ""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One quantity of all pumps of the site."""

    name: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, kw_only=True)
class PumpTables:
    """The tables of a site's page.

    Attributes
    ----------
    pump_ids : tuple of str
        Heads of the columns.
    nameplate, settings : tuple of Row
        As registered; an empty cell is to be read on site.
    normal : tuple of Row
        What a meter should show here, this week and usually.
    habits : tuple of Row
        What the pump's past tells: rhythm, flow, expected current.
    quality : tuple of Row
        How good the log is; an empty cell is a pump without data.
    cannot_tell : tuple of str
        What the log cannot show, with the pumps it holds for where not for all.
    """

    pump_ids: tuple[str, ...]
    nameplate: tuple[Row, ...]
    settings: tuple[Row, ...]
    normal: tuple[Row, ...]
    habits: tuple[Row, ...]
    quality: tuple[Row, ...]
    cannot_tell: tuple[str, ...]


def pump_tables(pumps: Sequence[PumpBrief]) -> PumpTables:
    """Put the facts of a site's pumps side by side."""
    return PumpTables(
        pump_ids=tuple(pump.pump.pump_id for pump in pumps),
        nameplate=_rows([pump.nameplate for pump in pumps], _fact),
        settings=_rows([pump.settings for pump in pumps], _fact),
        normal=_rows([pump.normal for pump in pumps], _normal),
        habits=_rows([pump.habits for pump in pumps], _fact),
        quality=_rows([pump.quality for pump in pumps], _fact),
        cannot_tell=_cannot_tell(pumps),
    )


def _rows(columns: Sequence[Sequence[Told]], cell_of: Callable[[Told], Cell]) -> tuple[Row, ...]:
    """Rows in the order of the columns; a name that only some pumps have leaves blanks."""
    of_pump = [{told.name: cell_of(told) for told in column} for column in columns]
    side_by_side = zip_longest(*([told.name for told in column] for column in columns))
    names = dict.fromkeys(name for group in side_by_side for name in group if name is not None)
    blank = Cell(text="")
    return tuple(
        Row(name=name, cells=tuple(cells.get(name, blank) for cells in of_pump)) for name in names
    )


def _fact(fact: Fact) -> Cell:
    return Cell(text=fact.value or "")


def _normal(value: NormalValue) -> Cell:
    """Value of this week and, where it differs, the usual one."""
    now, usual = value.this_week, value.usual
    if usual is None:
        return Cell(text=now or "not logged", usual="no earlier weeks" if now else "")
    return Cell(text=now or "not logged", usual="as usual" if usual == now else f"usually {usual}")


def _cannot_tell(pumps: Sequence[PumpBrief]) -> tuple[str, ...]:
    heard = [pump for pump in pumps if pump.week is not None]
    lines = dict.fromkeys(text for pump in heard for text in pump.cannot_tell)
    told = []
    for text in lines:
        of_pumps = [pump.pump.pump_id for pump in heard if text in pump.cannot_tell]
        told.append(text if len(of_pumps) == len(heard) else f"{', '.join(of_pumps)}: {text}")
    return tuple(told)
