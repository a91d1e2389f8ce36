"""What the commands take: types that say how a value is written, and the options they share."""

import os
import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ingest.errors import WeekError

if TYPE_CHECKING:
    from ingest.weeks import Week

DEFAULT_STORE = "fleet.duckdb"
DEFAULT_MEMORY = "1GB"


class WeekType(click.ParamType["Week"]):
    """An ISO week such as 2026-W47."""

    name = "week"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> "Week":
        """Read the week, or say how it is written."""
        from ingest.weeks import Week, parse_week

        if isinstance(value, Week):
            return value
        try:
            return parse_week(str(value))
        except WeekError as error:
            self.fail(str(error), param, ctx)


class DayType(click.ParamType["date"]):
    """A day such as 2026-11-17."""

    name = "day"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> date:
        """Read the day, or say how it is written."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value}: not a day. Write it as 2026-11-17.", param, ctx)


class LogsType(click.ParamType["Path | str"]):
    """A file or folder that exists, or the address of an object store, ``s3://...``."""

    name = "path"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> "Path | str":
        """Leave an address as text; else check that there is such a file or folder."""
        if isinstance(value, str) and "://" in value:
            return value
        found: Path = EXISTING.convert(value, param, ctx)
        return found


class SizeType(click.ParamType[str]):
    """An amount of memory such as 800MB or 2GB."""

    name = "size"
    _pattern = re.compile(r"[1-9]\d*(\.\d+)?\s*[KMGT]i?B", re.IGNORECASE)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Take the size as the store reads it, or say how it is written."""
        text = str(value).strip()
        if not self._pattern.fullmatch(text):
            self.fail(f"{text}: not a size. Write it as 800MB or 2GB.", param, ctx)
        return text


class WeekCountType(click.ParamType[int]):
    """A number of weeks such as 26w."""

    name = "weeks"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Read the number, or say how it is written."""
        if not re.fullmatch(r"[1-9][0-9]{0,3}w", str(value)):
            self.fail(f"{value}: not a number of weeks. Write it as 26w.", param, ctx)
        return int(str(value)[:-1])


EXISTING = click.Path(exists=True, path_type=Path)
FOLDER_IN = click.Path(exists=True, file_okay=False, path_type=Path)
FILE_IN = click.Path(exists=True, dir_okay=False, path_type=Path)
FOLDER_OUT = click.Path(file_okay=False, path_type=Path)
STORE_FILE = click.Path(dir_okay=False, path_type=Path)

logs_argument = click.argument("logs", nargs=-1, required=True, type=LogsType())
looked_at_argument = click.argument("logs", nargs=-1, required=True, type=EXISTING)
register_option = click.option(
    "--register", required=True, type=FOLDER_IN, help="Folder with sites.csv and pumps.csv."
)
store_option = click.option(
    "--store", type=STORE_FILE, default=DEFAULT_STORE, show_default=True, help="The store's file."
)
out_option = click.option(
    "--out", required=True, type=FOLDER_OUT, help="Folder the pages are written to."
)
week_option = click.option(
    "--week",
    type=WeekType(),
    help="ISO week to report, such as 2026-W47; else the last with data for most pumps.",
)
profile_option = click.option(
    "--profile",
    "profiles",
    multiple=True,
    type=FILE_IN,
    help="TOML log profile for logs of another layout; may be given several times.",
)
capacity_option = click.option(
    "--capacity",
    type=click.IntRange(min=0),
    help="Visits this week has room for; the call list is cut there, emergencies never.",
)
weights_option = click.option(
    "--weights",
    type=FILE_IN,
    help="TOML file with the company's own weights for the order of the call list.",
)
single_file_option = click.option(
    "--single-file",
    "is_single_file",
    is_flag=True,
    help="Make each site's page one file, to mail or carry on a stick; its plots stand still.",
)
in_place_option = click.option(
    "--in-place",
    is_flag=True,
    help="Leave Parquet logs where they lie; the store notes what they hold, and where.",
)
keep_raw_option = click.option(
    "--keep-raw",
    "keep_weeks",
    type=WeekCountType(),
    help="Weeks whose samples stay in the store, such as 26w; measured older ones are archived.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON for another program."
)
workers_option = click.option(
    "--workers",
    type=click.IntRange(min=1),
    default=len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count(),
    show_default="one a processor",
    help="Processes that measure and draw at the same time; the results are the same.",
)
cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Scheduler of a running Dask cluster whose workers measure, such as tcp://10.0.0.5:8786.",
)
memory_option = click.option(
    "--memory-limit",
    type=SizeType(),
    default=DEFAULT_MEMORY,
    show_default=True,
    help="Memory the store may use before it spills to disk.",
)
