"""Every task by keyboard alone."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

MOST_STEPS: Final = 80
"""Of the Tab key to anything on a page."""


def reach(page: Page, wanted: Locator) -> None:
    """Go to a part with the Tab key, as somebody without a mouse does; the focus must be seen there."""
    wanted.wait_for()
    for _ in range(MOST_STEPS):
        page.keyboard.press("Tab")
        if wanted.evaluate("part => part === document.activeElement"):
            assert wanted.evaluate("part => part.matches(':focus-visible')")
            return
    pytest.fail(f"the Tab key does not reach {wanted}")


def test_the_menu_of_pages_can_be_skipped(quiet: Page) -> None:
    """The first step leads to the content, past everything that every page has."""
    quiet.goto("/pair")
    expect(quiet.locator("#content h1")).to_be_visible()
    quiet.keyboard.press("Tab")
    expect(quiet.get_by_text("Skip to the content")).to_be_focused()
    quiet.keyboard.press("Enter")
    expect(quiet.locator("#content")).to_be_focused()


def test_a_pair_is_chosen_filtered_and_changed(quiet: Page) -> None:
    """From the menu of pages to the pair, to another release, another filter and a what-if slider."""
    quiet.goto("/data")
    reach(quiet, quiet.locator("#navigation a", has_text="Pair"))
    quiet.keyboard.press("Enter")
    expect(quiet.locator(".overall").first).to_be_visible()
    for menu, chosen in (("#release", r"release=A1"), ("#cfc", r"cfc=")):
        reach(quiet, quiet.locator(menu))
        for key in ("ArrowDown", "ArrowUp", "Enter"):
            quiet.keyboard.press(key)
        expect(quiet).to_have_url(re.compile(chosen))
    slider = quiet.get_by_role("slider").first
    before = slider.get_attribute("aria-valuenow")
    reach(quiet, slider)
    quiet.keyboard.press("ArrowRight")
    expect(slider).not_to_have_attribute("aria-valuenow", str(before))


def test_a_file_is_chosen(quiet: Page) -> None:
    """The field opens the window of the system, and takes what is chosen there."""
    quiet.goto("/data")
    expect(quiet.get_by_text("2 releases of the model")).to_be_visible()
    reach(quiet, quiet.get_by_label("Drop a package here or choose a file"))
    with quiet.expect_file_chooser() as asked:
        quiet.keyboard.press("Enter")
    assert not asked.value.is_multiple()


def test_the_table_of_runs_is_sorted_and_read(working: Page, working_url: str) -> None:
    """One step into the heads, Enter sorts, the arrows lead through heads and cells."""
    working.goto(f"{working_url}/tuning")
    head = working.get_by_role("columnheader", name="Run", exact=True)
    expect(working.locator(".ag-row").first).to_be_visible()
    reach(working, head)
    working.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-sort", "ascending")
    working.keyboard.press("ArrowRight")
    working.keyboard.press("ArrowDown")
    expect(working.locator('.ag-row[row-index="0"] [col-id="round"]')).to_be_focused()
