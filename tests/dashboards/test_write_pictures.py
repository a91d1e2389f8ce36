import pytest

from dashboards.pages.site_links import site_file_name
from dashboards.write_pictures import write_pictures
from ingest.errors import RegisterError


@pytest.mark.parametrize(("file_format", "start"), [("svg", b"<svg"), ("png", b"\x89PNG")])
def test_each_chart_of_a_site_becomes_a_file(world, store, tmp_path, file_format, start):
    written = write_pictures(store, "S-01", world.WEEK, tmp_path / "out", file_format)

    assert [path.name for path in written] == [
        f"S-01_2026-W47_01_p-01-typical-cycles.{file_format}",
        f"S-01_2026-W47_02_p-01-starts-by-day.{file_format}",
        f"S-01_2026-W47_03_p-01-the-week.{file_format}",
    ]
    assert all(path.read_bytes().startswith(start) for path in written)


def test_no_id_leaves_the_folder(world, store, tmp_path):
    written = write_pictures(store, "../S-02", world.WEEK, tmp_path / "out", "svg")

    stem = site_file_name("../S-02").removesuffix(".html")
    assert [path.parent for path in written] == [tmp_path / "out"]
    assert written[0].name.startswith(stem)


def test_a_site_whose_samples_are_gone_has_no_pictures(world, store, tmp_path):
    store.execute("delete from samples")

    assert write_pictures(store, "S-01", world.WEEK, tmp_path, "svg") == []


def test_an_unknown_site_has_no_pictures_but_an_error(world, store, tmp_path):
    with pytest.raises(RegisterError, match="S-99"):
        write_pictures(store, "S-99", world.WEEK, tmp_path, "svg")
