"""Any bytes are read or told: no crash, every row accounted for, a store that agrees with itself.

A short search each time; ``FUZZ_EXAMPLES=20000 pytest tests/ingest/test_fuzz_readers.py`` is a
long one. What long ones found stands in ``test_found_by_fuzzing.py``.
"""

import gzip
import json
import os
import unicodedata
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pyarrow as pa
import pyarrow.parquet
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from ingest.errors import ProfileError
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.profile import read_profile
from ingest.store import open_store, save_register
from ingest.verify import verify_store

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"
REGISTER = Register(
    sites={
        "S-1": Site(site_id="S-1"),
        "S-2": Site(site_id="S-2", timezone="America/Chicago"),
    },
    pumps={
        "P-1": Pump(pump_id="P-1", site_id="S-1", pressure_setting_kpa=400.0),
        "P-2": Pump(pump_id="P-2", site_id="S-2"),
    },
)
N_EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "25"))
PHASES = (Phase.explicit, Phase.generate)  # shrinking takes minutes


def spliced(text: str, more: bytes, at: int) -> bytes:
    plain = text.encode("utf-8", "surrogatepass")
    return plain[:at] + more + plain[at:]


def at_second(k: int) -> str:
    return f"2026-11-16T{k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}Z,400,45,3"


cells = st.one_of(
    st.sampled_from(
        [
            "",
            "400",
            "45",
            "3",
            "OL",
            "---",
            '"',
            "'",
            "nan",
            "inf",
            "-1e999",
            "1e400",
            "P-1",
            "P-2",
            "2026-11-16T00:00:00Z",
            "2026-11-01T01:30:00",
            "2026-03-08T02:30:00",
            "1970-01-01T00:00:00Z",
            "9999-12-31T23:59:59Z",
            "0001-01-01",
            "infinity",
            "epoch",
            "290000-01-01",
            "1794787200",
            "1794787200000",
            "99999999999999999999",
            "16/11/2026 00:00",
            "11/12/2026 00:00:00",
            "24:00:00",
            "timestamp",
            "pressure_kpa",
            "\x00",
            "\r",
            "\ufeff",
            "é",
            "\u202e",
        ]
    ),
    st.text(max_size=12),
    st.integers(-(10**12), 10**12).map(str),
    st.floats().map(str),
)
good_rows = st.integers(0, 10_000).map(at_second)
any_rows = st.lists(cells, max_size=7).map(",".join)
rows = st.one_of(good_rows, any_rows, st.just(HEADER), st.just(""), st.text(max_size=30))
headers = st.one_of(
    st.just(HEADER),
    st.just(f"pump_id,{HEADER},voltage_v,fault_code"),
    st.just(HEADER.replace(",", ";")),
    st.permutations(HEADER.split(",")).map(",".join),
    st.lists(cells, max_size=6).map(",".join),
)
texts = st.tuples(
    headers, st.lists(rows, max_size=30), st.sampled_from(["\n", "\r\n", "\r"]), st.booleans()
).map(lambda made: made[2].join([made[0], *made[1]]) + (made[2] if made[3] else ""))
contents = st.one_of(
    st.binary(max_size=300),
    texts.map(lambda text: text.encode("utf-8", "surrogatepass")),
    texts.map(lambda text: text.encode("utf-16", "surrogatepass")),
    st.tuples(texts, st.binary(max_size=5), st.integers(0, 200)).map(lambda made: spliced(*made)),
)
names = st.sampled_from(["P-1.csv", "P-2__x.csv", "P-9.csv", "P-1.csv.gz", "P-1.parquet"])


def check(folder: Path, *, in_place: bool = False) -> None:
    with open_store(folder / "s.duckdb", threads=1) as con:
        save_register(con, REGISTER)
        report = load_logs(con, [folder / "logs"], REGISTER, in_place=in_place)
        assert report.rows_in == (
            report.rows_kept
            + report.rows_repeated
            + report.rows_conflicting
            + report.rows_rejected
        )
        assert verify_store(con).faults == ()
        told = "".join(map(str, (*report.rejects, *report.notes)))
        assert not {sign for sign in told if unicodedata.category(sign) in ("Cc", "Cf", "Cs")}
        again = load_logs(con, [folder / "logs"], REGISTER, in_place=in_place)
        assert (again.rows_kept, again.n_files_new) == (0, 0)


@settings(
    max_examples=N_EXAMPLES,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    database=None,
    phases=PHASES,
)
@given(files=st.lists(st.tuples(names, contents), min_size=1, max_size=3), is_packed=st.booleans())
def test_any_bytes_are_read_or_told(files, is_packed):
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "logs").mkdir()
        for number, (file, content) in enumerate(files):
            packed = gzip.compress(content) if is_packed and file.endswith(".gz") else content
            path = folder / "logs" / str(number) / file
            path.parent.mkdir()
            path.write_bytes(packed)
        check(folder)


def parquet_bytes() -> bytes:
    """A sound Parquet log of two pumps, in several row groups."""
    n = 60
    at = [datetime(2026, 11, 16, tzinfo=UTC) + timedelta(minutes=k) for k in range(n)]
    table = pa.table(
        {
            "timestamp": pa.array(at * 2, pa.timestamp("us", "UTC")),
            "pump_id": ["P-1"] * n + ["P-2"] * n,
            "pressure_kpa": [400.0 + k % 3 for k in range(2 * n)],
            "frequency_hz": [45.0 * (k % 5 < 2) for k in range(2 * n)],
            "current_a": [3.0 * (k % 5 < 2) for k in range(2 * n)],
            "fault_code": ["E7" if k == 9 else "" for k in range(2 * n)],
        }
    )
    out = pa.BufferOutputStream()
    pyarrow.parquet.write_table(table, out, row_group_size=50)
    return out.getvalue().to_pybytes()


PARQUET = parquet_bytes()


@settings(max_examples=8 * N_EXAMPLES, deadline=None, database=None, phases=PHASES)
@given(
    changes=st.lists(st.tuples(st.integers(0, len(PARQUET) - 1), st.integers(1, 255)), max_size=4),
    cut=st.one_of(st.just(len(PARQUET)), st.integers(0, len(PARQUET))),
)
@example(changes=[(3656, 98), (0, 193), (245, 245), (223, 41)], cut=len(PARQUET))
@example(changes=[(181, 176), (683, 109), (469, 145)], cut=len(PARQUET))
@example(changes=[(330, 186), (453, 32), (1, 1), (330, 186)], cut=len(PARQUET))
@example(changes=[(3573, 35), (753, 187), (3573, 35)], cut=len(PARQUET))
@example(changes=[(4027, 66), (201, 17), (1101, 216), (2604, 204)], cut=5168)
def test_parquet_with_spoilt_bytes_is_left_copied_or_told(changes, cut):
    spoilt = bytearray(PARQUET)
    for at, by in changes:
        spoilt[at] ^= by
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "logs").mkdir()
        (folder / "logs" / "a.parquet").write_bytes(bytes(spoilt[:cut]))
        check(folder, in_place=True)


KEYS = """
files delimiter decimal encoding header skip_lines skip_after_header blank time pump long log
values column columns format timezone id file_name names tag_column value_column pressure
frequency current unit factor offset at_60_hz tag hold_s every_s other
"""
keys = st.sampled_from(KEYS.split())
leaves = st.one_of(
    st.booleans(),
    st.integers(-5, 10**20),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["timestamp", "pressure_kpa", "iso", "unix_s", "on_change", "psi", ",", ";"]),
)
values = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(keys, inner, max_size=5)),
    max_leaves=20,
)


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value)
    return repr(value)


@settings(max_examples=4 * N_EXAMPLES, deadline=None, database=None, phases=PHASES)
@given(content=st.dictionaries(keys, values, max_size=8))
@example(content={"time": {"column": True}})
def test_any_toml_is_a_profile_or_a_plain_error(content):
    with TemporaryDirectory() as name:
        path = Path(name) / "p.toml"
        path.write_text(
            "\n".join(f"{key} = {toml(value)}" for key, value in content.items()),
            encoding="utf-8",
            errors="replace",
        )
        with suppress(ProfileError):
            read_profile(path)
