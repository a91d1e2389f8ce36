"""What makes a load slow or a store large without a wrong answer: kept out by tests."""

from datetime import UTC, datetime, timedelta

import pyarrow as pa
import pyarrow.parquet
import pytest

import ingest.load_batch
from ingest.installed_base import Pump, Register, Site
from ingest.load import load_logs
from ingest.profile import read_profile
from ingest.store import save_register

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"
START = datetime(2026, 11, 16, tzinfo=UTC)


@pytest.fixture(params=["straight", "careful"])
def way(request, monkeypatch):
    """Load each batch one way only."""
    went = []
    original = ingest.load_batch.add_clean

    def noted(*args, **kwargs):
        went.append(original(*args, **kwargs))
        return went[-1]

    monkeypatch.setattr(ingest.load_batch, "add_clean", noted)
    if request.param == "careful":
        monkeypatch.setattr(ingest.load_batch, "is_likely_clean", lambda probes: False)
    yield request.param
    assert [result is not None for result in went] == (
        [True] * len(went) if request.param == "straight" else []
    )


def n_pump_changes(con):
    """Return how often the next row is another pump's, as rows lie in the store."""
    (n,) = con.execute(
        "select count(*) from (select pump_no, lag(pump_no) over (order by rowid) as before"
        " from samples) where before is distinct from pump_no"
    ).fetchall()[0]
    return n


def rows(stamps):
    return [f"{stamp},400,45,3" for stamp in stamps]


def test_a_pumps_rows_lie_in_one_piece_however_many_files_and_pumps(con, write_log, way):
    # Of a register far larger than the load a join is made the wrong way round: the database
    # guesses few rows a file, and their rows come out interleaved.
    register = Register(
        sites={"S-1": Site(site_id="S-1")},
        pumps={f"P-{n:04d}": Pump(pump_id=f"P-{n:04d}", site_id="S-1") for n in range(2000)},
    )
    save_register(con, register)
    stamps = [(START + timedelta(seconds=5 * k)).isoformat() for k in range(300)]
    for n in range(20):
        path = write_log(f"P-{97 * n:04d}.csv", rows(stamps))

    load_logs(con, [path.parent], register)

    assert n_pump_changes(con) == 20


def test_pumps_that_take_turns_in_a_file_lie_in_one_piece_each(con, register, write_log):
    # Rows that lie in order of time alone take twice the room, and one pump's could not be read
    # without the whole fleet's.
    stamps = [(START + timedelta(seconds=5 * k)).isoformat() for k in range(100)]
    in_turn = [f"{pump},{row}" for row in rows(stamps) for pump in register.pumps]

    load_logs(con, [write_log("fleet.csv", in_turn, header=f"pump_id,{HEADER}")], register)

    assert n_pump_changes(con) == len(register.pumps)


INSTANTS = [START + timedelta(seconds=5 * k) for k in range(60)]
EXPECTED = [at.replace(tzinfo=None).isoformat() for at in INSTANTS]


@pytest.mark.parametrize(
    "write",
    [
        lambda at: at.isoformat().replace("+00:00", "Z"),
        lambda at: (at.replace(tzinfo=None) + timedelta(hours=1)).isoformat() + "+01:00",
        lambda at: (at.replace(tzinfo=None) - timedelta(hours=3.5)).isoformat(" ") + "-03:30",
        lambda at: f"{at.timestamp():.0f}",
        lambda at: f"{at.timestamp() * 1000:.0f}",
    ],
    ids=["Z", "offset ahead", "offset behind", "unix s", "unix ms"],
)
def test_no_instant_of_a_text_log_hangs_on_the_sessions_zone(
    con, register, write_log, instants_of, way, write
):
    # A conversion by the session's zone is looked up anew for each row, and costs more than all
    # other reading of a time: in a session that is elsewhere it would show.
    con.execute("set TimeZone = 'America/Chicago'")

    load_logs(con, [write_log("P-BER.csv", rows(map(write, INSTANTS)))], register)

    assert instants_of("P-BER") == EXPECTED


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
def test_no_instant_of_a_parquet_log_hangs_on_the_sessions_zone(
    con, register, tmp_path, instants_of, way, unit
):
    con.execute("set TimeZone = 'America/Chicago'")
    n = len(INSTANTS)
    columns = {"pressure_kpa": [400.0] * n, "frequency_hz": [45.0] * n, "current_a": [3.0] * n}
    path = tmp_path / "P-BER.parquet"
    pyarrow.parquet.write_table(
        pa.table({"timestamp": pa.array(INSTANTS, pa.timestamp(unit, "UTC")), **columns}), path
    )

    load_logs(con, [path], register)

    assert instants_of("P-BER") == EXPECTED


def test_no_instant_of_a_profiles_format_hangs_on_the_sessions_zone(
    con, register, write_log, tmp_path, instants_of, way
):
    con.execute("set TimeZone = 'America/Chicago'")
    profile = tmp_path / "own.toml"
    profile.write_text(
        '[time]\ncolumn = "timestamp"\nformat = "%d.%m.%Y %H:%M:%S %z"\n'
        '[values.pressure]\ncolumn = "pressure_kpa"\nunit = "kpa"\n'
        '[values.frequency]\ncolumn = "frequency_hz"\n[values.current]\ncolumn = "current_a"\n'
    )
    stamps = [f"{at + timedelta(hours=2):%d.%m.%Y %H:%M:%S} +0200" for at in INSTANTS]

    load_logs(con, [write_log("P-BER.csv", rows(stamps))], register, [read_profile(profile)])

    assert instants_of("P-BER") == EXPECTED
