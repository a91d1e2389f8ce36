from pathlib import PurePosixPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.pages.site_links import site_file_name, site_href


@pytest.mark.parametrize("site_id", ["S-014", "farm_3.west", "7"])
def test_a_plain_id_keeps_its_name(site_id):
    assert site_file_name(site_id) == f"{site_id}.html"
    assert site_href(site_id) == f"site/{site_id}.html"


@pytest.mark.parametrize(
    "site_id", ["../../etc/passwd", "..", ".", "", "a/b", "con", "AUX.txt", "a b", "x" * 500, "ä"]
)
def test_a_hostile_id_stays_in_the_folder(site_id):
    name = site_file_name(site_id)

    assert PurePosixPath(name).name == name
    assert not name.startswith(".")
    assert len(name) < 100
    assert "~" in name


@given(st.text(), st.text())
def test_two_ids_never_share_a_file(one, other):
    assert (site_file_name(one) == site_file_name(other)) == (one == other)


@given(st.text())
def test_every_name_is_plain_ascii_that_any_disk_takes(site_id):
    name = site_file_name(site_id)

    assert name.isascii()
    assert not set(name) & set('/\\:*?"<>| ')
    assert name.endswith(".html")
