"""The statement that turns rows of like log files into typed rows in inner units.

Cells are read as text and converted one by one, so that a bad cell costs no more than it must;
that is hardly slower than typed columns. Only column positions, numbers and names of our own
become part of a statement: what users write goes in as parameters.
"""

from collections.abc import Sequence
from datetime import datetime

from ingest.layout import NEEDED_CHANNELS, RANGES, ChannelPlace, Layout
from ingest.row_problems import (
    CLOCK_LOST,
    HAS_NAN,
    NO_VALUE,
    PUMP_UNKNOWN,
    TIME_TOO_FAR,
    TIME_UNREADABLE,
    TOO_FEW_CELLS,
    TOO_MANY_CELLS,
    not_a_number_bit,
    not_plausible_bit,
)

FIRST_AT = datetime(2010, 1, 1)  # noqa: DTZ001  # instants are UTC without zone here
"""Earlier stamps come from a clock that was lost: clocks restart at 1970, 1980 or 2000-01-01.

Ours: they then run on for weeks or years, and no log this program is for is older than 2010.
"""

TOO_FAR_AT = datetime(2100, 1, 1)  # noqa: DTZ001
"""Later stamps come from no clock."""

FIRST_INSTANT, END_OF_TIME = (f"timestamp '{at:%Y-%m-%d}'" for at in (FIRST_AT, TOO_FAR_AT))

BLANK_WORDS = ("", "nan", "null", "none", "na", "n/a")
"""How software writes "no value", whatever its case; a profile adds a logger's own."""

_FILE_CODE = "file_index::integer"

# A date, perhaps a time, nothing that could be an offset or a zone.
_LOCAL_TIME = r"^\s*\d{4}[-/]\d{1,2}[-/]\d{1,2}([T ][\d:.]*)?\s*$"


def staging_select(
    layout: Layout, source: str, types: Sequence[str], *, first_is_unix: bool
) -> str:
    """Select that reads ``source`` as rows of the raw table.

    Parameters
    ----------
    layout : Layout
    source : str
        What stands in the from clause; its columns are ``c0``, ``c1``, ... and ``file_index``, the
        file's place in the list that is read; for text also ``extra``, which holds what a line
        has beyond its columns.
    types : sequence of str
        Column types of a Parquet file; empty for text.
    first_is_unix : bool
        Which reading of a time is tried first.
    """
    is_text = not types
    parts = {
        "file_no": f"$file_nos[{_FILE_CODE} + 1]::usmallint",
        "pump_no": f"{_pump_no(layout)}::integer",
        **({"tag_no": _tag_no(layout)} if layout.is_long else {}),
        **_time(layout, types, first_is_unix=first_is_unix),
    }
    texts: dict[str, str] = {}
    for channel in layout.channels:
        texts[channel.field] = _cell(layout, channel, types)
        if channel.field != "fault_code":
            parts[channel.field] = _number(channel, texts[channel.field])
    if "fault_code" in texts:
        parts["fault_code"] = _fault_code(texts["fault_code"], is_held=layout.hold is not None)
    cells = ", ".join(f"{text} as {field}_cell" for field, text in texts.items())
    read = ", ".join(f"{part} as {name}" for name, part in parts.items())
    problems = _problems(layout, [f for f in texts if f != "fault_code"], is_text=is_text)
    return (  # built of positions, numbers and our own names only
        f"select {', '.join(parts)}, {problems}::uinteger as problems"  # noqa: S608  # see above
        f" from (select *, {read} from (select *, file_index, {cells} from {source}))"
    )


def _pump_no(layout: Layout) -> str:
    of_file = f"$expected_nos[{_FILE_CODE} + 1]"
    if layout.pump is None:
        return of_file
    # Nearly every row is of its file's first pump: one comparison spares the look-up.
    name = f"c{layout.pump}::varchar"
    return (
        f"case when {name} = $expected[{_FILE_CODE} + 1] then {of_file}"
        f" else $label_nos[enum_code(try_cast(trim({name}) as pump_label)) + 1] end"
    )


def _tag_no(layout: Layout) -> str:
    return f"list_position($tags, trim(c{layout.tag}::varchar))::usmallint"


def _cell(layout: Layout, channel: ChannelPlace, types: Sequence[str]) -> str:
    cell = f"c{channel.index}"
    if not types and layout.decimal == ",":
        # A point would be a thousands separator here; such a cell must not pass for a number.
        is_odd = f"contains({cell}, '.')"
        cell = f"case when {is_odd} then '?' || {cell} else replace({cell}, ',', '.') end"
    if layout.tag is None:
        return cell
    tags = [c.tag for c in layout.channels]
    return f"case when {_tag_no(layout)} = {tags.index(channel.tag) + 1} then {cell} end"


def _number(channel: ChannelPlace, cell: str) -> str:
    if channel.scale.factor == 1 and channel.scale.offset == 0:
        return f"try_cast({cell} as float)"
    factor, offset = repr(channel.scale.factor), repr(channel.scale.offset)
    shift = f" + ({offset})" if channel.scale.offset else ""
    return f"(try_cast({cell} as double) * ({factor}){shift})::float"


def _fault_code(cell: str, *, is_held: bool) -> str:
    code = f"trim({cell}::varchar)"
    if is_held:  # a blank says "as before" there; "no fault" must end what is held
        return (
            f"case when {code} in ('0', '0.0') then '0'"
            f" when not list_contains($blank, lower({code})) then {code} end"
        )
    is_none = f"{code} in ('', '0', '0.0') or list_contains($blank, lower({code}))"
    return f"case when {is_none} then null else {code} end"


def _problems(layout: Layout, fields: Sequence[str], *, is_text: bool) -> str:
    """Bits of every problem; a row with every cell filled and plausible takes a short way."""
    plain = [
        "pump_no is not null",
        f"ts >= {FIRST_INSTANT}",
        f"ts < {END_OF_TIME}",
        *(f"{field} between {low!r} and {high!r}" for field, (low, high) in _ranges(fields)),
    ]
    bits = [
        f"case when pump_no is null then {PUMP_UNKNOWN} else 0 end",
        f"case when ts is null then {TIME_UNREADABLE}"
        f" when ts < {FIRST_INSTANT} then {CLOCK_LOST}"
        f" when ts >= {END_OF_TIME} then {TIME_TOO_FAR} else 0 end",
    ]
    if is_text:
        last = _last_column(layout)
        plain += ["extra is null", f"c{last} is not null"]
        bits += [
            f"case when extra <> '' then {TOO_MANY_CELLS} else 0 end",
            f"case when c{last} is null then {TOO_FEW_CELLS} else 0 end",
        ]
    if layout.is_sparse:
        plain.append("false")  # each row has some channels only; that is no problem
    for field, (low, high) in _ranges(fields):
        bits.append(
            f"case when {field} is null then case when {field}_cell is null"
            f" or list_contains($blank, lower(trim({field}_cell::varchar)))"
            f" then 0 else {not_a_number_bit(field)} end"
            f" when isnan({field}) then {HAS_NAN}"
            f" when {field} between {low!r} and {high!r} then 0"
            f" else {not_plausible_bit(field)} end"
        )
    if not layout.is_sparse:
        needed = " and ".join(
            f"({field}_cell is null or list_contains($blank, lower(trim({field}_cell::varchar))))"
            for field in NEEDED_CHANNELS
        )
        bits.append(f"case when {needed} then {NO_VALUE} else 0 end")
    return f"case when {' and '.join(plain)} then 0 else {_or(bits)} end"


def _last_column(layout: Layout) -> int:
    """Last column that is read: with a delimiter at the header's end rows may have one less."""
    places = [*layout.time, layout.pump, layout.tag, *(c.index for c in layout.channels)]
    return max(place for place in places if place is not None)


def _or(bits: list[str]) -> str:
    """Combine bits; two channels may both hold a NaN, so they are not simply added."""
    return " | ".join(f"({bit})" for bit in bits)


def _ranges(fields: Sequence[str]) -> list[tuple[str, tuple[float, float]]]:
    return [(field, RANGES[field]) for field in fields]


def _time(layout: Layout, types: Sequence[str], *, first_is_unix: bool) -> dict[str, str]:
    """Instants as they read, and whether they are still the site's local time."""
    kind = types[layout.time[0]] if types and len(layout.time) == 1 else "VARCHAR"
    cells = [f"c{index}" for index in layout.time]
    text = cells[0] if len(cells) == 1 else f"concat_ws(' ', {', '.join(cells)})"
    if kind.startswith("TIMESTAMP"):
        if kind.endswith("TIME ZONE") or kind.startswith("TIMESTAMPTZ"):
            return {"is_local": "false", "ts": _utc(f"{text}::timestamptz")}
        is_local = f"{text} is not null"
        return {"is_local": is_local, "ts": f"try_cast({text} as timestamp)"}
    if kind != "VARCHAR":
        return {"is_local": "false", "ts": _unix(text, "auto")}
    if layout.time_format in ("unix_s", "unix_ms"):
        return {"is_local": "false", "ts": _unix(text, layout.time_format)}
    if layout.time_format != "iso":
        has_offset = "%z" in layout.time_format.lower()
        parsed = f"try_strptime(trim({text}), $time_format)"
        if has_offset:
            return {"is_local": "false", "ts": _utc(parsed)}
        return {"is_local": "true", "ts": f"{parsed}::timestamp"}
    # A time in UTC, the commonest, is read by the shortest way; the database would drop any other
    # offset without a word if it were read as a plain timestamp.
    iso = (
        f"case when is_local then try_cast({text} as timestamp)"
        f" else {_utc(f'try_cast({text} as timestamptz)')} end"
    )
    ways = [_unix(text, "auto"), iso] if first_is_unix else [iso, _unix(text, "auto")]
    is_local = (
        f"case when {text}[-3] = ':' then not ({text}[-6] in ('+', '-'))"
        f" else coalesce(regexp_matches({text}, '{_LOCAL_TIME}'), false) end"
    )
    if first_is_unix:
        is_local = f"try_cast({text} as double) is null and {is_local}"
    is_utc = f"ends_with({text}, 'Z')"
    return {
        "is_local": f"case when {is_utc} then false else {is_local} end",
        "ts": f"case when {is_utc} then try_cast({text} as timestamp)"
        f" else coalesce({', '.join(ways)}) end",
    }


def _utc(instant: str) -> str:
    """UTC of an instant with offset; a cast would look the session's zone up for each row."""
    return f"case when isfinite({instant}) then make_timestamp(epoch_us({instant})) end"


def _unix(text: str, kind: str) -> str:
    """Seconds or milliseconds since 1970, told apart by size: 1e11 s would be the year 5138."""
    number = f"try_cast({text} as double)"
    in_s = f"make_timestamp(round({number} * 1e6)::bigint)"
    in_ms = f"make_timestamp(round({number} * 1e3)::bigint)"
    is_s = f"{number} between 0 and 99999999999"
    is_ms = f"{number} between 0 and 99999999999999"
    if kind == "unix_s":
        return f"case when {is_s} then {in_s} end"
    if kind == "unix_ms":
        return f"case when {is_ms} then {in_ms} end"
    return f"case when {is_s} then {in_s} when {is_ms} then {in_ms} end"
