"""The scoreboard as a manager uses it, and the way between the pages."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate.plots import board_title
from dashboard.state import Project
from tests.browser.test_pair_page import choose, expect_to_fit

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from correlate import Scoreboard

pytestmark = pytest.mark.browser


def board(folder: Path, release: str = "") -> Scoreboard:
    """Return what the store says of a release."""
    project = Project(folder)
    return project.board(project.campaign(), release=release).board


def test_the_last_release_is_read_at_a_glance(quiet: Page, folder: Path) -> None:
    """The start page names release, grade and direction, and the numbers of the store, on any screen."""
    quiet.goto("/")
    found = board(folder)
    assert found.held_out is not None
    expect(quiet.locator("h1")).to_have_text(board_title(found))
    numbers = [f"{line.score.overall:.3f}" for line in (found.total, found.held_out)]
    expect(quiet.locator(".headline-card .overall")).to_have_text(numbers)
    expect(quiet.locator("#scoreboard-trend .js-line").first).to_be_attached()
    expect(quiet.get_by_text("Last rated")).to_be_visible()
    expect(quiet).to_have_title(re.compile("^Release A2 is"))
    expect_to_fit(quiet)


def test_a_picked_release_changes_the_board_and_back_returns(quiet: Page, folder: Path) -> None:
    """Menu, number and address follow; the back button leads to the release before."""
    quiet.goto("/")
    expect(quiet.locator("#scoreboard-release")).to_have_value("A2")
    choose(quiet, "scoreboard-release", "A1")
    first = f"{board(folder, 'A1').total.score.overall:.3f}"
    expect(quiet.locator(".headline-card .overall").first).to_have_text(first)
    expect(quiet).to_have_url(re.compile(r"/\?release=A1$"))
    quiet.go_back()
    expect(quiet.locator("#scoreboard-release")).to_have_value("A2")


def test_a_number_leads_to_its_curves_and_the_menu_back(quiet: Page) -> None:
    """A load case opens the pair page of that release; the menu marks the page; Back and the menu return."""
    quiet.goto("/")
    quiet.get_by_role("link", name="Drop onto a plate").first.click()
    expect(quiet).to_have_url(re.compile(r"/pair\?release=A2&against=A1&case=drop$"))
    expect(quiet.locator("#figure .js-line").first).to_be_attached()
    menu = quiet.get_by_role("navigation", name="Pages")
    expect(menu.get_by_role("link", name="Pair")).to_have_attribute("aria-current", "page")
    quiet.go_back()
    expect(quiet.locator("h1")).to_contain_text("Release A2")
    quiet.go_forward()
    expect(quiet.locator("#figure .js-line").first).to_be_attached()
    menu.get_by_role("link", name="Scoreboard").press("Enter")
    expect(quiet.locator("h1")).to_contain_text("Release A2")
    expect(menu.get_by_role("link", name="Scoreboard")).to_be_focused()


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
    choose(quiet, "scoreboard-against", "A1")
    expect(quiet).to_have_url(re.compile("against=A1"))
    menu.get_by_role("link", name="Repeats").click()
    expect(quiet.locator("h1")).to_have_text("Lumbar force Z <b>")
    quiet.get_by_role("button", name="Copy link").click()
    expect(quiet.locator("#link-copied")).to_have_text(re.compile("Link copied|copy the link from"))
    expect(quiet).to_have_url(re.compile("release=A1&against=A1&case=impact&channel=D0LUSP0000KMFOZP$"))


def test_a_name_without_room_is_shown_whole_on_focus(quiet: Page) -> None:
    """It keeps beginning and end, is reached by keyboard and told in full; with room it is as usual."""
    quiet.goto("/")
    expect(quiet.locator("h1")).to_contain_text("Release A2")
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


def test_paper_is_light_and_without_menus(quiet: Page) -> None:
    """Printed from a dark screen, the page has dark words on light ground and no controls."""
    quiet.emulate_media(color_scheme="dark")
    quiet.goto("/")
    expect(quiet.locator("h1")).to_contain_text("Release A2")
    quiet.emulate_media(media="print", color_scheme="dark")
    expect(quiet.locator("h1")).to_have_css("color", "rgb(17, 36, 46)")
    for hidden in ("#navigation", "#scoreboard-picks", ".theme-choice"):
        expect(quiet.locator(hidden)).to_be_hidden()
    expect(quiet.locator(".headline-card .overall").first).to_be_visible()
