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
    """A load case opens the pair page of that release; the menu marks the page; Back and the menu return."""
    quiet.goto("/scoreboard")
    quiet.get_by_role("link", name="Drop onto a plate").first.click()
    expect(quiet).to_have_url(re.compile(r"/pair\?release=A2&against=A1&case=drop$"))
    expect(quiet.locator("#figure .js-line").first).to_be_attached()
    menu = quiet.get_by_role("navigation", name="Pages")
    expect(menu.get_by_role("link", name="Pair")).to_have_attribute("aria-current", "page")
    quiet.go_back()
    expect(quiet.locator("h1")).to_contain_text("A2 against A1")
    menu.get_by_role("link", name="Decision").press("Enter")
    expect(quiet.locator("h1")).to_contain_text("A2 ")
    expect(menu.get_by_role("link", name="Decision")).to_be_focused()


def test_an_unknown_address_leads_on(quiet: Page) -> None:
    """A wrong link has a page of its own, with the way to the others."""
    quiet.goto("/no/such/place")
    expect(quiet.get_by_role("alert")).to_contain_text("There is no page at /no/such/place")
    expect(quiet).to_have_title(re.compile("No such page"))
    quiet.get_by_role("alert").get_by_role("link", name="Repeats").click()
    expect(quiet.locator("#repeats-figure .js-line").first).to_be_attached()
