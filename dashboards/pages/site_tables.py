"""Tables of a site's page: one row a fact, one column a pump, so that two pumps fit one side."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import TypeVar

from analysis.brief_contents import PumpBrief
from analysis.brief_facts import Fact, NormalValue
from analysis.findings import Assessment
from dashboards import labels

_NOT_PRINTED = ("Samples", "Peers compared with")

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
    """One quantity of all pumps of the site; one that is not printed spares the paper its line."""

    name: str
    cells: tuple[Cell, ...]
    is_printed: bool = True


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
    unanswered : tuple of str
        Kinds without an answer and why; here and below with the pumps where not for all of them.
    clear : tuple of str
        Kinds judged and clear, those of the same pumps in one line.
    cannot_tell : tuple of str
        What the log cannot show.
    """

    pump_ids: tuple[str, ...]
    nameplate: tuple[Row, ...]
    settings: tuple[Row, ...]
    normal: tuple[Row, ...]
    habits: tuple[Row, ...]
    quality: tuple[Row, ...]
    unanswered: tuple[str, ...]
    clear: tuple[str, ...]
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
        unanswered=_with_pumps(
            {pump.pump.pump_id: [_answer(one) for one in pump.not_assessed] for pump in pumps}
        ),
        clear=_clear(pumps),
        cannot_tell=_with_pumps(
            {pump.pump.pump_id: pump.cannot_tell for pump in pumps if pump.week is not None}
        ),
    )


def _rows(columns: Sequence[Sequence[Told]], cell_of: Callable[[Told], Cell]) -> tuple[Row, ...]:
    """Rows in the order of the columns; a name that only some pumps have leaves blanks."""
    of_pump = [{told.name: cell_of(told) for told in column} for column in columns]
    side_by_side = zip_longest(*([told.name for told in column] for column in columns))
    names = dict.fromkeys(name for group in side_by_side for name in group if name is not None)
    blank = Cell(text="")
    return tuple(
        Row(
            name=name,
            cells=tuple(cells.get(name, blank) for cells in of_pump),
            is_printed=name not in _NOT_PRINTED,
        )
        for name in names
    )


def _fact(fact: Fact) -> Cell:
    return Cell(text=fact.value or "")


def _normal(value: NormalValue) -> Cell:
    """Value of this week and, where it differs, the usual one."""
    now, usual = value.this_week, value.usual
    if usual is None:
        return Cell(text=now or "not logged", usual="no earlier weeks" if now else "")
    return Cell(text=now or "not logged", usual="as usual" if usual == now else f"usually {usual}")


def _answer(one: Assessment) -> str:
    told = f"{labels.kind_text(one.kind)}: {labels.STATUSES[one.status]}"
    return f"{told}, {one.reason}" if one.reason else told


def _clear(pumps: Sequence[PumpBrief]) -> tuple[str, ...]:
    """Kinds clear at the same pumps in one line, those at all pumps first."""
    at: dict[tuple[str, ...], list[str]] = {tuple(pump.pump.pump_id for pump in pumps): []}
    for kind in dict.fromkeys(kind for pump in pumps for kind in pump.clear):
        pump_ids = tuple(pump.pump.pump_id for pump in pumps if kind in pump.clear)
        at.setdefault(pump_ids, []).append(labels.kind_text(kind).lower())
    lines = [(pump_ids, ", ".join(kinds)) for pump_ids, kinds in at.items() if kinds]
    return tuple(
        text if len(pump_ids) == len(pumps) else f"at {', '.join(pump_ids)} {text}"
        for pump_ids, text in lines
    )


def _with_pumps(lines: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Lines of the pumps, each once, with the pumps it holds for where not for all."""
    told = []
    for text in dict.fromkeys(text for of_pump in lines.values() for text in of_pump):
        pump_ids = [pump_id for pump_id, of_pump in lines.items() if text in of_pump]
        told.append(text if len(pump_ids) == len(lines) else f"{', '.join(pump_ids)}: {text}")
    return tuple(told)
