"""Whether 11/12/2026 is the 11th of December or the 12th of November, by a file's own evidence.

A number above 12 decides. Else, where the date moves on between two rows, the order in which it
moves by one day decides. Where neither tells, the answer is asked for, never guessed.
"""

import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta

_DATE = r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4})"
_TIME = r"(?:([T ])\s*\d{1,2}:\d{2}(:\d{2})?([.]\d{1,6})?(\s?[AaPp][Mm])?)?"
_STAMP = re.compile(_DATE + _TIME)
_ORDERS = ("%d{0}%m{0}%Y", "%m{0}%d{0}%Y")
_DAY = timedelta(days=1)


class UnknownOrderError(ValueError):
    """Nothing in the file tells day from month; the text says what to do."""


def stamp_format(first: str, stamps: Iterable[str]) -> str | None:
    """Return the strptime format of times such as ``16/11/2026 00:00:05``.

    Parameters
    ----------
    first : str
        The first time of the file.
    stamps : iterable of str
        All times of the file, in the order of its rows; read as far as needed.

    Returns
    -------
    str or None
        None where the first time is not written so.

    Raises
    ------
    UnknownOrderError
        Day and month cannot be told apart.
    """
    match = _STAMP.fullmatch(first.strip())
    if match is None:
        return None
    sign, gap, seconds, fraction, half = match.group(2, 5, 6, 7, 8)
    is_day_first = _is_day_first(stamps)
    if is_day_first is None:
        day, month = (order.format(sign) for order in _ORDERS)
        raise UnknownOrderError(
            f"has times such as '{first.strip()}', and nothing in it tells the day from the month."
            f" Say which in a log profile: format = '{day} ...' or '{month} ...'."
        )
    text = _ORDERS[0 if is_day_first else 1].format(sign)
    if gap:
        text += gap + ("%I:%M" if half else "%H:%M")
        text += (":%S" if seconds else "") + (".%f" if fraction else "")
        text += ("%p" if half.strip() == half else " %p") if half else ""
    return text


def _is_day_first(stamps: Iterable[str]) -> bool | None:
    before: tuple[date, date] | None = None
    for first, second, year in _dates(stamps):
        if first > 12 and second <= 12:
            return True
        if second > 12 and first <= 12:
            return False
        readings = _both(first, second, year)
        if readings is None:
            continue
        if before is not None and readings != before:
            steps = [abs(now - then) for now, then in zip(readings, before, strict=True)]
            if (steps[0] == _DAY) != (steps[1] == _DAY):
                return steps[0] == _DAY
        before = readings
    return None


def _dates(stamps: Iterable[str]) -> Iterator[tuple[int, int, int]]:
    last = ""
    for stamp in stamps:
        if stamp[:10] != last:
            last = stamp[:10]
            match = _STAMP.match(stamp.strip())
            if match:
                yield int(match[1]), int(match[3]), int(match[4])


def _both(first: int, second: int, year: int) -> tuple[date, date] | None:
    try:
        return date(year, second, first), date(year, first, second)
    except ValueError:
        return None


def column(lines: Iterable[str], index: int, delimiter: str) -> Iterator[str]:
    """Yield the cells of one column; lines that lack it are passed over."""
    for line in lines:
        cells = line.split(delimiter, index + 1)
        if len(cells) > index:
            yield cells[index].strip(' "')
