"""Log files of the invented fleet in the layouts that real ones come in."""

import gzip
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet
from numpy.typing import NDArray

from sample_data.demand import Calendar
from sample_data.plant import GAL, PSI, Floats

TIME_STYLES = ("naive", "offset", "utc", "unix_s", "unix_ms")
CONTAINERS = ("csv", "csv.gz", "csv.zst", "parquet")
PRESSURE_KPA = {"psi": PSI, "kpa": 1.0, "bar": 100.0}


@dataclass(frozen=True)
class Layout:
    """How one pump's log is laid out.

    Attributes
    ----------
    container : str
        One of ``CONTAINERS``.
    times : str
        One of ``TIME_STYLES``.
    pressure_unit : str
        ``psi``, ``kpa`` or ``bar``, with so many digits.
    is_metric : bool
        Flow in L/min and temperature in C, else gpm and F.
    """

    container: str
    times: str
    pressure_unit: str
    pressure_digits: int
    is_metric: bool


def time_column(at_s: Floats, cal: Calendar, style: str) -> pa.Array:
    """Instants as a logger would write them."""
    begin = np.datetime64(cal.begin_at, "s")
    whole = np.round(at_s).astype(np.int64)
    utc = begin + whole.astype("timedelta64[s]")
    if style == "unix_s":
        return pa.array(utc.astype(np.int64))
    if style == "unix_ms":
        return pa.array(utc.astype(np.int64) * 1000)
    ahead = cal.offset_s(at_s).astype(np.int64)
    if style == "naive":
        return pc.cast(pa.array(utc + ahead.astype("timedelta64[s]")), pa.string())
    if style == "utc":
        return _iso(utc, pa.scalar("Z"))
    offsets = {int(o): _offset_text(int(o)) for o in np.unique(ahead)}
    keys = np.array(sorted(offsets))
    texts = pa.array([offsets[int(k)] for k in keys])
    suffix = texts.take(pa.array(np.searchsorted(keys, ahead)))
    return _iso(utc + ahead.astype("timedelta64[s]"), suffix)


def _iso(moments: NDArray[np.datetime64], suffix: pa.Array | pa.Scalar) -> pa.Array:
    text = pc.cast(pa.array(moments), pa.string())
    dated = pc.replace_substring(text, " ", "T")
    return pc.binary_join_element_wise(dated, suffix, "")


def _offset_text(ahead_s: int) -> str:
    sign = "+" if ahead_s >= 0 else "-"
    hours, rest = divmod(abs(ahead_s) // 60, 60)
    return f"{sign}{hours:02d}:{rest:02d}"


def outer_columns(log: dict[str, Floats], layout: Layout) -> dict[str, Floats]:
    """The channels in the layout's units, rounded as logged."""
    unit, digits = layout.pressure_unit, layout.pressure_digits
    made: dict[str, Floats] = {}
    for name, values in log.items():
        if name in ("pressure", "suction"):
            made[f"{name}_{unit}"] = np.round(values / PRESSURE_KPA[unit], digits)
        elif name == "frequency":
            made["frequency_hz"] = np.round(values, 1)
        elif name in ("current", "input_current"):
            made[f"{name}_a"] = np.round(values, 2)
        elif name == "voltage":
            made["voltage_v"] = np.round(values, 1)
        elif name == "flow":
            made["flow_lpm" if layout.is_metric else "flow_gpm"] = np.round(
                values / (1.0 if layout.is_metric else GAL), 1
            )
        elif name == "temp":
            made["drive_temp_c" if layout.is_metric else "drive_temp_f"] = np.round(
                values if layout.is_metric else values * 1.8 + 32, 0
            )
    return {name: values + 0.0 for name, values in made.items()}  # no minus zero


def code_column(codes: Floats, layout: Layout) -> pa.Array:
    """Fault codes as text; none is 0 in logs with Unix times, blank in others."""
    shown = pa.array(codes.astype(np.int64), mask=None if "unix" in layout.times else codes == 0)
    return pc.cast(shown, pa.string())


def table_of(log: dict[str, Floats], cal: Calendar, layout: Layout) -> pa.Table:
    """A log as a table with the layout's times and columns."""
    columns = {name: pa.array(v) for name, v in outer_columns(log, layout).items()}
    if "code" in log:
        columns["fault_code"] = code_column(log["code"], layout)
    if layout.container == "parquet" and not layout.times.startswith("unix"):
        times = _moments(log["at_s"], cal, layout.times == "naive")
    else:
        times = time_column(log["at_s"], cal, layout.times)
    return pa.table({"timestamp": times, **columns})


def _moments(at_s: Floats, cal: Calendar, is_naive: bool) -> pa.Array:
    """Instants as Parquet types them: UTC, or local without a zone."""
    ahead = cal.offset_s(at_s) if is_naive else 0.0
    begin = np.datetime64(cal.begin_at, "us")
    moments = begin + (np.round(at_s + ahead) * 1e6).astype(np.int64).astype("timedelta64[us]")
    return pa.array(moments, pa.timestamp("us", None if is_naive else "UTC"))


def csv_bytes(table: pa.Table, delimiter: str = ",", header: str | None = None) -> bytes:
    """A table as CSV text with plain headings."""
    sink = BytesIO()
    sink.write(((header or delimiter.join(table.column_names)) + "\n").encode())
    options = pa.csv.WriteOptions(
        include_header=False, delimiter=delimiter, quoting_style="none", batch_size=65536
    )
    pa.csv.write_csv(table, sink, options)
    return sink.getvalue()


def write_log(folder: Path, stem: str, table: pa.Table, container: str) -> Path:
    """Write a log file; the same table gives the same bytes."""
    path = folder / f"{stem}.{container}"
    if container == "parquet":
        pa.parquet.write_table(table, path, compression="zstd", row_group_size=200_000)
        return path
    data = csv_bytes(table)
    if container == "csv.gz":
        data = gzip.compress(data, compresslevel=1, mtime=0)
    elif container == "csv.zst":
        data = pa.compress(data, codec="zstd", asbytes=True)
    path.write_bytes(data)
    return path


def decimal_comma_bytes(log: dict[str, Floats], cal: Calendar) -> bytes:
    """A log with ``;`` between fields, decimal commas, day first and own headings."""
    layout = Layout("csv", "naive", "bar", 2, True)
    outer = outer_columns(log, layout)
    begin = np.datetime64(cal.begin_at, "s")
    ahead = cal.offset_s(log["at_s"]) + np.round(log["at_s"])
    moments = pa.array(begin + ahead.astype(np.int64).astype("timedelta64[s]"))
    names = {
        "pressure_bar": "Pressure out [bar]",
        "frequency_hz": "Speed [Hz]",
        "current_a": "Motor [A]",
        "voltage_v": "Mains [V]",
        "flow_lpm": "Flow [l/min]",
    }
    columns = {"When": pc.strftime(moments, format="%d.%m.%Y %H:%M:%S")}
    for name, heading in names.items():
        if name in outer:
            text = pc.cast(pa.array(outer[name]), pa.string())
            columns[heading] = pc.replace_substring(text, ".", ",")
    return csv_bytes(pa.table(columns), ";")


TAGS = {
    "pressure_bar": "P_OUT",
    "pressure_kpa": "P_OUT",
    "pressure_psi": "P_OUT",
    "frequency_hz": "N_DRIVE",
    "current_a": "I_MOTOR",
    "voltage_v": "U_MAINS",
}


def tag_value_bytes(log: dict[str, Floats], cal: Calendar, station: str) -> bytes:
    """A long table: one row per instant and tag, pressure in kPa."""
    layout = Layout("csv", "unix_s", "kpa", 0, True)
    outer = outer_columns(log, layout)
    times = time_column(log["at_s"], cal, "unix_s").to_numpy()
    tags = [name for name in outer if name in TAGS]
    table = pa.table(
        {
            "station": pa.array([station]).take(pa.array(np.zeros(len(times) * len(tags), int))),
            "epoch": pa.array(np.repeat(times, len(tags))),
            "tag": pa.array([TAGS[t] for t in tags]).take(
                pa.array(np.tile(np.arange(len(tags)), len(times)))
            ),
            "value": pa.array(np.stack([outer[t] for t in tags], axis=1).ravel()),
        }
    )
    return csv_bytes(table)
