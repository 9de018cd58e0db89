"""The matrix as an analyst uses it: with the mouse, with the keyboard alone, and through a link."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import heard
from tests.browser.test_pair_page import choose, expect_to_fit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

CELL = ".matrix-cell"


def test_what_got_worse_is_found_and_sent(quiet: Page, browser: Browser, base_url: str) -> None:
    """Three menus show what A1 lost against A2; the link shows the same in another browser, on any screen."""
    quiet.goto("/matrix")
    expect(quiet.locator("h1")).to_contain_text("Release A2: no channel worse than A1")
    choose(quiet, "matrix-release", "A1")
    expect(quiet.locator("h1")).to_contain_text("nothing to compare with")
    choose(quiet, "matrix-against", "A2")
    expect(quiet.locator("h1")).to_contain_text(re.compile(r"\d channels? worse than A2, none better"))
    choose(quiet, "matrix-sort", "Change, losses first")
    expect(quiet).to_have_url(re.compile(r"/matrix\?release=A1&against=A2&sort=change$"))
    # The grid draws rows in any order; their index is the order that is seen.
    top = quiet.locator(f".ag-row[row-index='0'] {CELL}")
    expect(top.first).to_have_attribute("aria-label", re.compile("Against A2: −0[.]"))
    title = quiet.locator("h1").inner_text()
    said = top.first.get_attribute("aria-label") or ""
    with heard(browser.new_page(base_url=base_url), base_url) as other:
        other.goto(quiet.url)
        expect(other.locator("h1")).to_have_text(title)
        expect(other.locator(f".ag-row[row-index='0'] {CELL}").first).to_have_attribute("aria-label", said)
        expect(other.locator("#matrix-sort")).to_have_value("Change, losses first")
    expect_to_fit(quiet)


def test_the_worst_channel_and_why_take_two_clicks(quiet: Page) -> None:
    """From the first page: the matrix, its first cell; the pair gives its rating and the reasons."""
    quiet.goto("/")
    quiet.get_by_role("navigation", name="Pages").get_by_role("link", name="Matrix").click()
    top = quiet.locator(f".ag-row[row-index='0'] {CELL}").first
    channel = (top.get_attribute("aria-label") or "").split(",", maxsplit=1)[0]
    top.click()
    expect(quiet.locator("h1")).to_have_text(channel)
    expect(quiet.locator(".overall")).to_be_visible()
    expect(quiet.locator("#pair-reasons h2").first).to_be_visible()
    quiet.go_back()
    expect(top).to_be_visible()


def test_the_keyboard_leads_to_a_pair_and_through_the_list(quiet: Page) -> None:
    """Arrow keys move, Enter opens, J and K step, a field keeps its letters, and Tab leaves the grid."""
    quiet.goto("/matrix?view=releases&sort=name")
    cell = quiet.locator(".ag-row[row-index='0'] .ag-cell[col-id='c0']")
    expect(cell.locator(CELL)).to_be_visible()
    cell.focus()
    quiet.keyboard.press("ArrowRight")
    quiet.keyboard.press("ArrowDown")
    below = quiet.locator(".ag-row[row-index='1'] .ag-cell[col-id='c1']")
    expect(below).to_be_focused()
    quiet.keyboard.press("Tab")
    assert quiet.evaluate("document.activeElement.closest('.matrix-grid')") is None
    below.focus()
    quiet.keyboard.press("Enter")
    second = "/pair?release=A2&against=A1&case=drop&channel=D0HEAD0000KMACZP&list=name"
    expect(quiet).to_have_url(re.compile(re.escape(second) + "$"))
    place = quiet.locator(".step-place")
    expect(place).to_have_text("2 of 4")
    quiet.keyboard.press("k")
    expect(place).to_have_text("1 of 4")
    expect(quiet.locator("h1")).to_have_text("Head acceleration X")
    quiet.keyboard.press("j")
    quiet.keyboard.press("Control+j")
    expect(place).to_have_text("2 of 4")
    expect(quiet.locator("h1")).to_have_text("Head acceleration Z")
    quiet.locator("#interval-from").press("k")
    expect(place).to_have_text("2 of 4")
    quiet.locator(".step-next").click()
    expect(place).to_have_text("3 of 4")
    quiet.locator(".step-back").click()
    expect(quiet).to_have_url(re.compile(r"/matrix\?release=A2&against=A1&sort=name$"))


def test_filters_that_match_nothing_lead_back(quiet: Page) -> None:
    """A sentence in the place of the grid; one click shows everything again; a wrong link is answered."""
    quiet.goto("/matrix?state=waived+finding")
    expect(quiet.get_by_text("No channel matches the filters")).to_be_visible()
    expect(quiet.locator("#matrix-grid")).to_be_hidden()
    quiet.get_by_role("link", name="Clear filters").click()
    expect(quiet.locator(CELL).first).to_be_visible()
    quiet.goto("/matrix?region=tail")
    expect(quiet.get_by_role("alert")).to_contain_text("there is no region 'tail'")
    expect(quiet.locator("h1")).to_have_count(1)
