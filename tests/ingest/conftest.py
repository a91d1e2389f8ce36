"""A small register, an open store and a writer of logs, all in a test's own folder."""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

import duckdb
import numpy as np
import pytest

from ingest.installed_base import Pump, Register, Site
from ingest.samples import CHANNELS, PumpSamples, read_samples
from ingest.store import open_store, save_register

HEADER = "timestamp,pressure_kpa,frequency_hz,current_a"


@pytest.fixture(scope="session")
def register() -> Register:
    """P-1, P-2 in UTC, P-CHI in Chicago, P-BER in Berlin, P-LON in London; set to 400 kPa."""
    zones = {
        "P-1": "UTC",
        "P-2": "UTC",
        "P-CHI": "America/Chicago",
        "P-BER": "Europe/Berlin",
        "P-LON": "Europe/London",
    }
    return Register(
        sites={
            f"S-{pump_id}": Site(site_id=f"S-{pump_id}", timezone=zone)
            for pump_id, zone in zones.items()
        },
        pumps={
            pump_id: Pump(pump_id=pump_id, site_id=f"S-{pump_id}", pressure_setting_kpa=400.0)
            for pump_id in zones
        },
    )


@pytest.fixture
def con(tmp_path: Path, register: Register) -> Iterator[duckdb.DuckDBPyConnection]:
    opened = open_store(tmp_path / "fleet.duckdb", threads=2)
    save_register(opened, register)
    yield opened
    opened.close()


@pytest.fixture
def write_log(tmp_path: Path) -> Callable[..., Path]:
    """Write lines below a header into a file of the folder ``logs``."""

    def write(name: str, lines: Sequence[str], header: str = HEADER, end: str = "\n") -> Path:
        path = tmp_path / "logs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes((end.join([header, *lines]) + end).encode())
        return path

    return write


@pytest.fixture(scope="session")
def everything(
    register: Register,
) -> Callable[[duckdb.DuckDBPyConnection], dict[str, PumpSamples]]:
    """Return all samples of a store, by pump."""
    ever = (datetime(1999, 1, 1), datetime(2100, 1, 1))
    return lambda con: {one.pump_id: one for one in read_samples(con, [*register.pumps], *ever)}


@pytest.fixture(scope="session")
def assert_same() -> Callable[[dict[str, PumpSamples], dict[str, PumpSamples]], None]:
    """Hold samples of pumps against others, channel by channel."""

    def hold(found: dict[str, PumpSamples], expected: dict[str, PumpSamples]) -> None:
        assert found.keys() == expected.keys()
        for pump_id, samples in expected.items():
            for name in ("ts_us", *CHANNELS, "fault_code"):
                got = getattr(found[pump_id], name)
                wanted = getattr(samples, name)
                np.testing.assert_array_equal(got, wanted, err_msg=f"{pump_id} {name}")

    return hold


@pytest.fixture
def samples_of(con: duckdb.DuckDBPyConnection) -> Callable[[str], PumpSamples]:
    """Return all samples of a pump that must have some."""

    def read(pump_id: str) -> PumpSamples:
        found = list(read_samples(con, [pump_id], datetime(1999, 1, 1), datetime(2100, 1, 1)))
        assert len(found) == 1, f"{pump_id} has no samples"
        return found[0]

    return read


@pytest.fixture
def instants_of(samples_of: Callable[[str], PumpSamples]) -> Callable[[str], list[str]]:
    """Return the instants of a pump's samples as text, UTC."""

    def read(pump_id: str) -> list[str]:
        instants = samples_of(pump_id).ts_us.view("datetime64[us]").astype("datetime64[s]")
        return [str(instant) for instant in instants]

    return read
