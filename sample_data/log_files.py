"""Which files the logs of a site become: one pump or several a file, by week or whole."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa

from sample_data.catalogue import PumpSet
from sample_data.demand import Calendar
from sample_data.plant import Floats
from sample_data.profiles import LOGBOOK, TAGS_PREFIX
from sample_data.write import (
    CONTAINERS,
    TIME_STYLES,
    Layout,
    decimal_comma_bytes,
    table_of,
    tag_value_bytes,
    write_log,
)

LogRecord = dict[str, Floats]
SHARED_EVERY = 3  # of the sites with two pumps, every third has one file for both


def layout_of(pump: PumpSet, site_n: int) -> Layout:
    """The layout of a pump's log: by its site, so that all layouts occur."""
    is_metric = pump.log.pressure_unit != "psi"
    times = "naive" if "naive" in pump.log.traits else TIME_STYLES[site_n % len(TIME_STYLES)]
    container = CONTAINERS[(site_n * 3 + site_n // 4) % len(CONTAINERS)]
    return Layout(container, times, pump.log.pressure_unit, pump.log.pressure_digits, is_metric)


def weeks_of(log: LogRecord, cal: Calendar) -> Iterator[tuple[str, LogRecord]]:
    """A log cut at the local weeks, with their ISO names."""
    for first in range(0, cal.n_days, 7):
        from_s, to_s = cal.midnight_s[first], cal.midnight_s[first + 7]
        low, high = np.searchsorted(log["at_s"], [from_s, to_s])
        if high > low:
            yield cal.week_name(first), {name: v[low:high] for name, v in log.items()}


def write_site_logs(
    folder: Path, site_n: int, pumps: Sequence[PumpSet], logs: Iterator[LogRecord]
) -> None:
    """Write the logs of one site's pumps."""
    place = folder / pumps[0].site_id
    place.mkdir(exist_ok=True)
    plain = all(not {"doubled", "tags", "twin_a"} & set(p.log.traits) for p in pumps)
    if len(pumps) > 1 and plain and site_n % SHARED_EVERY == 0:
        _write_together(place, site_n, pumps, list(logs))
        return
    for pump, log in zip(pumps, logs, strict=True):
        _write_one(place, site_n, pump, log)


def _write_together(
    place: Path, site_n: int, pumps: Sequence[PumpSet], logs: Sequence[LogRecord]
) -> None:
    layout = layout_of(pumps[0], site_n)
    if layout.container == "parquet":
        layout = replace(layout, container="csv")
    tables: dict[str, list[pa.Table]] = {}
    for pump, log in zip(pumps, logs, strict=True):
        for week, part in weeks_of(log, pump.cal):
            table = table_of(part, pump.cal, layout)
            ids = pa.array([pump.pump_id]).take(pa.array(np.zeros(len(table), int)))
            tables.setdefault(week, []).append(table.add_column(1, "pump_id", ids))
    for week, parts in sorted(tables.items()):
        joined = pa.concat_tables(parts, promote_options="default")
        write_log(place, f"all_pumps_{pumps[0].site_id}_{week}", joined, layout.container)


def _write_one(place: Path, site_n: int, pump: PumpSet, log: LogRecord) -> None:
    layout = layout_of(pump, site_n)
    if "tags" in pump.log.traits:
        for week, part in weeks_of(log, pump.cal):
            data = tag_value_bytes(part, pump.cal, pump.pump_id)
            (place / f"{TAGS_PREFIX}{week}.csv").write_bytes(data)
        return
    if pump.log.pressure_unit == "bar" and "flow" in pump.log.traits:
        for week, part in weeks_of(log, pump.cal):
            data = decimal_comma_bytes(part, pump.cal)
            (place / f"{LOGBOOK}{pump.pump_id}_{week}.csv").write_bytes(data)
        return
    if layout.container == "parquet" and "doubled" in pump.log.traits:
        layout = replace(layout, container="csv")
    if layout.container == "parquet":
        write_log(place, pump.pump_id, table_of(log, pump.cal, layout), "parquet")
        return
    for week, part in weeks_of(log, pump.cal):
        table = table_of(part, pump.cal, layout)
        write_log(place, f"{pump.pump_id}__{week}", table, layout.container)
        if "doubled" in pump.log.traits:
            write_log(place, f"{pump.pump_id}__{week}_again", table, layout.container)
    if "doubled" in pump.log.traits:
        half = slice(len(log["at_s"]) // 2, None)
        again = {name: values[half] for name, values in log.items()}
        write_log(
            place,
            f"{pump.pump_id}__resent",
            table_of(again, pump.cal, replace(layout, container="csv")),
            "csv.gz",
        )
