"""What is shown of a week whose samples were archived: the same, byte for byte."""

from pathlib import Path

import pytest

from analysis.brief import make_brief
from dashboards.write_pages import write_pages
from dashboards.write_pictures import write_pictures
from dashboards.written import NOTED_IN
from ingest.coverage import recount
from ingest.errors import StoreError
from ingest.retention import archive_weeks
from ingest.store import pump_numbers


@pytest.fixture
def archive(world, store):
    """Move the week of the invented sites into the archive."""

    def move() -> Path:
        recount(store, dict.fromkeys(pump_numbers(store).values(), world.site().timezone))
        store.execute("update coverage set is_measured = true")
        report = archive_weeks(store, world.WEEK.plus(1))
        assert report.n_samples
        assert store.execute("select count(*) from samples").fetchall() == [(0,)]
        return report.folder

    return move


def test_pages_and_pictures_of_an_archived_week_are_the_same_bytes(
    world, store, archive, tmp_path, files_in
):
    def show(name: str) -> dict[str, bytes]:
        write_pages(store, world.WEEK, tmp_path / name)
        write_pages(store, world.WEEK, tmp_path / name / "mail", is_single_file=True)
        write_pictures(store, "S-01", world.WEEK, tmp_path / name / "pictures", "svg")
        found = files_in(tmp_path / name)
        # a note of what the pages hang on is left out: the samples were counted in between
        return {path: content for path, content in found.items() if NOTED_IN not in path}

    before, brief = show("before"), make_brief(store, "S-01", world.WEEK)
    archive()

    after = show("after")

    assert sum(name.endswith(".svg") for name in after) == 3
    assert after.keys() == before.keys()
    assert [name for name in after if after[name] != before[name]] == []
    assert make_brief(store, "S-01", world.WEEK) == brief


def test_a_plot_whose_archive_is_gone_is_one_plain_error(world, store, archive, tmp_path):
    (path,) = archive().rglob("*.parquet")
    path.unlink()

    with pytest.raises(StoreError) as told:
        write_pictures(store, "S-01", world.WEEK, tmp_path / "out", "svg")

    assert str(told.value) == (
        f"{path}: is missing. It holds samples that were moved out of the store: put a sound "
        "copy back and run this again."
    )
    assert make_brief(store, "S-01", world.WEEK).pumps  # records are in the store for ever
