"""The call list under a dispatcher's hands: sort and filters by keyboard alone."""

from collections.abc import Callable
from typing import Any

import pytest

RANKS = "[...document.querySelectorAll('.call')].filter(r => !r.hidden).map(r => r.dataset.{})"
FOCUSED = "document.activeElement.id || document.activeElement.dataset.filter || ''"
MOST_TABS = 60


def shown(opened: Any, what: str) -> list[str]:
    return opened.run(RANKS.format(what))


def tab_to(opened: Any, name: str) -> None:
    for _ in range(MOST_TABS):
        opened.page.keyboard.press("Tab")
        if opened.run(FOCUSED) == name:
            return
    pytest.fail(f"the tab key never reaches {name}")


def test_a_filter_chosen_by_keyboard_narrows_the_list_and_says_so(open_page: Callable[..., Any]):
    opened = open_page("index.html")
    n_all = len(shown(opened, "kind"))

    tab_to(opened, "kind")
    opened.page.keyboard.type("Leak")

    kinds = shown(opened, "kind")
    assert 0 < len(kinds) < n_all
    assert all("leak" in kind.split() for kind in kinds)
    assert opened.page.get_by_role("status").inner_text() == (
        f"Showing {len(kinds)} of {n_all} sites"
    )


def test_sorting_by_region_keeps_all_rows_and_hides_the_cut(open_page: Callable[..., Any]):
    opened = open_page("index.html")
    before = shown(opened, "region")
    assert opened.page.locator("#cut").is_visible()

    tab_to(opened, "sort")
    opened.page.keyboard.type("region")

    after = shown(opened, "region")
    assert sorted(after) == sorted(before)
    assert after == opened.run(
        "[...document.querySelectorAll('.call')].map(r => r.dataset.region)"
        ".sort((a, b) => a.localeCompare(b))"
    )
    assert not opened.page.locator("#cut").is_visible()
    assert opened.page.get_by_role("status").inner_text().endswith("sorted by region")


def test_sorting_by_action_puts_the_most_urgent_first(open_page: Callable[..., Any]):
    opened = open_page("index.html")

    opened.page.locator("#sort").select_option("action")

    urgency = [int(value) for value in shown(opened, "urgency")]
    assert urgency == sorted(urgency)


def test_a_name_typed_in_finds_its_site(open_page: Callable[..., Any]):
    opened = open_page("index.html")

    tab_to(opened, "find")
    opened.page.keyboard.type("LONG BARN")

    assert len(shown(opened, "kind")) == 1


def test_show_all_brings_back_every_row_in_order_of_rank(open_page: Callable[..., Any]):
    opened = open_page("index.html")
    ranks = opened.run("[...document.querySelectorAll('.rank')].map(r => r.innerText)")
    opened.page.locator("#sort").select_option("newest")
    opened.page.locator("[data-filter=region]").select_option("North")

    opened.page.get_by_role("button", name="Show all").press("Enter")

    opened.page.wait_for_function("document.getElementById('sort').value === ''")
    opened.page.wait_for_function("![...document.querySelectorAll('.call')].some(r => r.hidden)")
    assert opened.run("[...document.querySelectorAll('.rank')].map(r => r.innerText)") == ranks


def test_the_choice_is_kept_in_the_address(open_page: Callable[..., Any]):
    opened = open_page("index.html")
    opened.page.locator("#sort").select_option("region")
    opened.page.locator("[data-filter=region]").select_option("North")
    kept = opened.run("location.hash")

    again = open_page("index.html", fragment=kept)

    assert kept == "#sort=region&region=North"
    assert set(shown(again, "region")) == {"North"}


def test_an_address_with_an_unknown_choice_shows_the_whole_list(open_page: Callable[..., Any]):
    opened = open_page("index.html", fragment="#region=Nowhere&sort=%E0%A4%A&x")

    assert opened.errors == []
    assert opened.run("document.querySelectorAll('.call[hidden]').length") == 0


def test_the_skip_link_is_the_first_stop_of_the_tab_key(open_page: Callable[..., Any]):
    opened = open_page("index.html")

    opened.page.keyboard.press("Tab")

    assert opened.run("document.activeElement.className") == "skip"


def test_printing_shows_the_narrowed_list_only(open_page: Callable[..., Any]):
    opened = open_page("index.html")
    opened.page.locator("[data-filter=kind]").select_option("leak")
    n_shown = len(shown(opened, "kind"))

    opened.page.emulate_media(media="print")

    assert opened.page.locator(".call:visible").count() == n_shown
    assert not opened.page.locator("#filters").is_visible()
