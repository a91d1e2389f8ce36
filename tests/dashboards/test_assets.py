import os
from pathlib import Path

from dashboards.assets import write_assets


def test_the_shared_files_are_put_once_beside_the_pages(tmp_path: Path):
    write_assets(tmp_path)

    names = {path.name for path in (tmp_path / "assets").iterdir()}
    assert {"plotly.min.js", "pages.css", "calls.js"} <= names


def test_a_shared_file_that_is_there_already_is_not_rewritten(tmp_path: Path):
    write_assets(tmp_path)
    for path in (tmp_path / "assets").iterdir():
        os.utime(path, (0, 0))
    (tmp_path / "assets" / "pages.css").write_text("old", encoding="utf-8")

    write_assets(tmp_path)

    assert (tmp_path / "assets" / "plotly.min.js").stat().st_mtime == 0
    assert (tmp_path / "assets" / "pages.css").read_text(encoding="utf-8") != "old"


def test_no_shared_file_of_ours_asks_the_network(tmp_path: Path):
    write_assets(tmp_path)

    for path in (tmp_path / "assets").iterdir():
        if path.name != "plotly.min.js":
            assert "//" not in path.read_text(encoding="utf-8").replace("// ", "")
