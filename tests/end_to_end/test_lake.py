"""The demo fleet's samples as a lake of weeks and groups of pumps, read where it lies."""

from pathlib import Path
from shutil import copy

import duckdb
import pytest

from dashboards.written import NOTED_IN

N_GROUPS = 4


@pytest.fixture(scope="module")
def lake(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All samples the demo's store holds, a file for each UTC week and group of pumps."""
    folder = tmp_path_factory.mktemp("lake")
    with duckdb.connect(str(demo / "fleet.duckdb"), read_only=True) as con:
        con.execute("set TimeZone = 'UTC'")
        channels = [
            name
            for name, *_ in con.execute("describe samples").fetchall()
            if name not in ("pump_no", "ts")
        ]
        weeks = con.execute("select distinct strftime(ts, '%G-W%V') from samples").fetchall()
        for (week,) in sorted(weeks):
            for group in range(N_GROUPS):
                home = folder / f"week={week}" / f"bucket={group}"
                home.mkdir(parents=True)
                con.execute(  # our own names and numbers
                    "copy (select ts::timestamptz as timestamp, pump_id,"  # noqa: S608  # see above
                    f" {', '.join(channels)} from samples join pump_numbers using (pump_no)"
                    f" where pump_no % {N_GROUPS} = {group}"
                    f" and strftime(ts, '%G-W%V') = '{week}'"
                    f" order by pump_id, ts) to '{home / 'part.parquet'}'"
                )
    return folder


@pytest.fixture(scope="module")
def usable(demo: Path, pumprounds, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's pages, judged anew without the values that were left out of its samples."""
    folder = tmp_path_factory.mktemp("usable")
    store = copy(demo / "fleet.duckdb", folder)
    with duckdb.connect(str(store)) as con:
        for table in ("left_out", "findings", "assessments", "peer_notes", "scans"):
            con.execute(f"delete from {table}")  # noqa: S608  # our own names
    for command in (("scan",), ("pages", "--out", folder / "pages")):
        assert pumprounds(*command, "--store", store).returncode == 0
    return folder / "pages"


@pytest.mark.slow
def test_a_lake_of_the_demo_fleet_gives_the_demos_pages(demo, lake, usable, pumprounds, tmp_path):
    done = pumprounds(
        *("weekly", lake, "--register", demo / "register", "--in-place"),
        *("--store", tmp_path / "lake.duckdb", "--out", tmp_path / "pages"),
    )

    assert (done.returncode, done.stderr) == (0, "")
    expected, found = (
        {path.relative_to(pages): path.read_bytes() for path in pages.rglob("*") if path.is_file()}
        for pages in (usable, tmp_path / "pages")
    )
    assert found.keys() == expected.keys()
    # The lake holds what could be used, so nothing of it is rejected.
    differing = {path.name for path in found if found[path] != expected[path]}
    assert differing == {"rejects.csv", NOTED_IN}
    with duckdb.connect(str(tmp_path / "lake.duckdb"), read_only=True) as con:
        assert con.execute("select count(*) from samples").fetchone() == (0,)
