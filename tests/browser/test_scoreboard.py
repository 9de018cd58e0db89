"""The scoreboard, and the way between the pages."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.test_pair_page import choose, expect_to_fit

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_the_numbers_of_a_picked_release_and_back(quiet: Page) -> None:
    """What changed stands first; menu and address follow; the back button leads to the release before."""
    quiet.goto("/scoreboard")
    expect(quiet.locator("h1")).to_contain_text("A2 against A1: ")
    expect(quiet).to_have_title(re.compile("^A2 against A1"))
    expect_to_fit(quiet)
    choose(quiet, "scoreboard-release", "A1")
    expect(quiet.locator("h1")).to_have_text("A1: the first rated release")
    expect(quiet).to_have_url(re.compile(r"/scoreboard\?release=A1$"))
    quiet.go_back()
    expect(quiet.locator("#scoreboard-release")).to_have_value("A2")


def test_a_number_leads_to_its_curves_and_the_menu_back(quiet: Page) -> None:
    """A load case leads to its channels, these to curves; the menu marks the page; Back and menu return."""
    quiet.goto("/scoreboard")
    quiet.get_by_role("link", name="Drop onto a plate").first.click()
    expect(quiet).to_have_url(re.compile(r"/matrix\?release=A2&against=A1&case=drop$"))
    quiet.locator(".matrix-cell").first.click()
    expect(quiet).to_have_url(re.compile(r"/pair\?release=A2&against=A1&case=drop&channel="))
    expect(quiet.locator("#figure .js-line").first).to_be_attached()
    menu = quiet.get_by_role("navigation", name="Pages")
    expect(menu.get_by_role("link", name="Pair")).to_have_attribute("aria-current", "page")
    quiet.go_back()
    quiet.go_back()
    expect(quiet.locator("h1")).to_contain_text("A2 against A1")
    menu.get_by_role("link", name="Decision").press("Enter")
    expect(quiet.locator("h1")).to_contain_text("A2 ")
    expect(menu.get_by_role("link", name="Decision")).to_be_focused()


def test_the_selection_goes_from_page_to_page(quiet: Page) -> None:
    """The menu carries releases, load case and channel; a sent link opens the same in another browser."""
    wanted = "release=A1&against=A2&case=impact&channel=D0LUSP0000KMFOZP"
    quiet.goto(f"/pair?{wanted}&cfc=60")
    menu = quiet.get_by_role("navigation", name="Pages")
    for page in ("Repeats", "Tuning", "Scoreboard"):
        menu.get_by_role("link", name=page).click()
        expect(quiet).to_have_url(re.compile(rf"\?{wanted}$"))
    expect(quiet.locator("#scoreboard-release")).to_have_value("A1")
    expect(quiet.locator("#scoreboard-against")).to_have_value("A2")
    choose(quiet, "scoreboard-release", "A2")
    expect(quiet).to_have_url(re.compile("release=A2"))
    menu.get_by_role("link", name="Repeats").click()
    expect(quiet.locator("h1")).to_have_text("Lumbar force Z <b>")
    quiet.get_by_role("button", name="Copy link").click()
    expect(quiet.locator("#link-copied")).to_have_text(re.compile("Link copied|copy the link from"))
    expect(quiet).to_have_url(re.compile("release=A2&case=impact&channel=D0LUSP0000KMFOZP$"))


def test_a_name_without_room_is_shown_whole_on_focus(quiet: Page) -> None:
    """It keeps beginning and end, is reached by keyboard and told in full; with room it is as usual."""
    quiet.goto("/")
    expect(quiet.locator("h1")).to_contain_text("A2 ")
    name = "A2-2026-11-neck-and-head-revision-17-after-review"
    made = f'<p><span class="shortened" data-end="ter-review"><span>{name}</span></span></p>'
    quiet.locator("#content").evaluate("(at, made) => at.insertAdjacentHTML('afterbegin', made)", made)
    shown = quiet.locator(".shortened", has_text=name)
    expect(shown).not_to_have_class(re.compile("is-shortened"))
    shown.locator("..").evaluate("(place) => place.style.width = '160px'")
    expect(shown).to_have_class(re.compile("is-shortened"))
    shown.focus()
    expect(quiet.locator(".whole-name")).to_have_text(name)
    quiet.keyboard.press("Escape")
    expect(quiet.locator(".whole-name")).to_have_count(0)


def test_an_unknown_address_leads_on(quiet: Page) -> None:
    """A wrong link has a page of its own, with the way to the others."""
    quiet.goto("/no/such/place")
    expect(quiet.get_by_role("alert")).to_contain_text("There is no page at /no/such/place")
    expect(quiet).to_have_title(re.compile("No such page"))
    quiet.get_by_role("alert").get_by_role("link", name="Repeats").click()
    expect(quiet.locator("#repeats-figure .js-line").first).to_be_attached()
