"""What each column of a log file is, found once from its header or its profile.

Columns are known by position from here on: no title of a file ever becomes part of a statement.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from ingest.columns import LOG_CHANNELS, LOGS
from ingest.log_profile import ColumnRef, Hold, LogProfile
from ingest.samples import CHANNELS
from ingest.shown import shown
from ingest.units import Conversion, conversion


class LayoutError(ValueError):
    """The file as a whole cannot be read; the text says why and what to do."""


@dataclass(frozen=True, kw_only=True)
class ChannelPlace:
    """Where one channel (or the fault code) stands and how it becomes the inner unit.

    Attributes
    ----------
    title : str
        Column title, or tag of a long table, as people know it.
    tag : str or None
        Tag that marks its rows in a long table.
    """

    field: str
    index: int
    title: str
    unit: str
    scale: Conversion
    tag: str | None = None


@dataclass(frozen=True, kw_only=True)
class Layout:
    """How the rows of a group of like files are read; positions count from 0.

    Attributes
    ----------
    skip : int
        Lines before the first row of data.
    time_format : str
        ``iso``, ``unix_s``, ``unix_ms`` or a strftime format.
    pump : int or None
        Column that names the pump; None where the file does.
    notes : tuple of str
        What is not read, and why.
    """

    n_columns: int
    time: tuple[int, ...]
    channels: tuple[ChannelPlace, ...]
    pump: int | None = None
    tag: int | None = None
    time_format: str = "iso"
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    skip: int = 1
    blank: tuple[str, ...] = ()
    hold: Hold | None = None
    notes: tuple[str, ...] = ()

    @property
    def is_long(self) -> bool:
        """One value a row."""
        return self.tag is not None

    @property
    def is_sparse(self) -> bool:
        """Rows are no whole samples: they hold one value, or what has changed."""
        return self.is_long or self.hold is not None


def plain_layout(titles: Sequence[str], skip: int) -> Layout:
    """Layout of a file in this program's own columns.

    Raises
    ------
    LayoutError
        A needed column is missing, or comes twice, or in two units.
    """
    names = [title.strip().strip('"').strip().lower() for title in titles]
    known = {name: (column, unit) for column in LOGS for name, unit in column.outer}
    places: dict[str, list[tuple[int, str, str]]] = {}
    for index, name in enumerate(names):
        if name in known:
            column, unit = known[name]
            places.setdefault(column.field, []).append((index, name, unit))
    for column in LOGS:
        _check_column(column.field, column.names, places, titles, needed=column.needed)
    notes = [
        f"column '{shown(t.strip())}' is not known and not read"
        for t, n in zip(titles, names, strict=True)
        if n and n not in known
    ]
    return Layout(
        n_columns=len(names),
        time=(places["ts"][0][0],),
        pump=places["pump_id"][0][0] if "pump_id" in places else None,
        channels=tuple(
            ChannelPlace(
                field=field,
                index=index,
                title=title,
                unit=unit,
                scale=conversion(unit) if unit else Conversion(),
            )
            for field in (*CHANNELS, "fault_code")
            for index, title, unit in places.get(field, ())
        ),
        skip=skip,
        notes=tuple(notes),
    )


def _check_column(
    field: str,
    names: Sequence[str],
    places: dict[str, list[tuple[int, str, str]]],
    titles: Sequence[str],
    *,
    needed: bool,
) -> None:
    found = places.get(field, [])
    if len(found) > 1:
        raise LayoutError(
            f"has columns {' and '.join(title for _, title, _ in found)}, expected only one of "
            "them: which is right is not guessed. Remove one, or describe the file in a profile."
        )
    if needed and not found:
        other = next(
            (sign for sign in (";", "\t", "|") if len(titles) == 1 and sign in titles[0]), None
        )
        sign = "tabs" if other == "\t" else f"'{other}'"
        hint = f" The header is separated by {sign}, not by commas." if other else ""
        raise LayoutError(
            f"has no column {' or '.join(names)}.{hint} "
            "Name the columns so, or describe the file in a log profile; pumprounds look proposes "
            "one."
        )


def profile_layout(profile: LogProfile, titles: Sequence[str], skip: int) -> Layout:
    """Layout of a file as its profile describes it.

    Parameters
    ----------
    profile : LogProfile
    titles : sequence of str
        The header's cells; without a header, the first row's cells.
    skip : int
        Lines before the first row of data.

    Raises
    ------
    LayoutError
        A column the profile names is not in the file.
    """
    names = [title.strip().strip('"').strip().lower() for title in titles]

    def place(ref: ColumnRef) -> int:
        if isinstance(ref, int):
            if ref > len(names):
                raise LayoutError(
                    f"has {len(names)} columns, but profile {profile.name} names column {ref}."
                )
            return ref - 1
        at = [index for index, name in enumerate(names) if name == ref.strip().lower()]
        if len(at) != 1:
            count = "no column" if not at else "more than one column"
            raise LayoutError(f"has {count} '{ref}', which profile {profile.name} names.")
        return at[0]

    is_long = profile.tag_column is not None and profile.value_column is not None
    order = {field: number for number, field in enumerate((*CHANNELS, "fault_code"))}
    return Layout(
        n_columns=len(names),
        time=tuple(place(ref) for ref in profile.time_columns),
        pump=None if profile.pump_column is None else place(profile.pump_column),
        tag=place(profile.tag_column) if profile.tag_column is not None else None,
        channels=tuple(
            ChannelPlace(
                field=value.field,
                index=place(
                    profile.value_column if is_long and profile.value_column else value.source
                ),
                title=str(value.source),
                unit=value.unit,
                scale=value.scale,
                tag=str(value.source) if is_long else None,
            )
            for value in sorted(profile.values, key=lambda value: order[value.field])
        ),
        time_format=profile.time_format,
        delimiter=profile.delimiter,
        decimal=profile.decimal,
        encoding=profile.encoding,
        skip=skip,
        blank=profile.blank,
        hold=profile.hold,
    )


RANGES = {channel.field: (channel.low, channel.high) for channel in LOG_CHANNELS}
"""Plausible range of each channel, in its inner unit, ends included."""

NEEDED_CHANNELS = tuple(channel.field for channel in LOG_CHANNELS if channel.needed)
