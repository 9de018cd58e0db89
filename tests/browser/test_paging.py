"""Long lists in parts, with the keyboard: a page stays where it is, its address says what is shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import _served, heard
from tests.dashboard.board_project import write_board_project

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def wide_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project with more channels than one part of a list has."""
    folder = tmp_path_factory.mktemp("wide")
    yield from _served(write_board_project(folder, releases=2, load_cases=4, channels=60, repeats=2))


@pytest.fixture
def wide(shared: BrowserContext, wide_url: str) -> Iterator[Page]:
    """Return a page of that server, which must not complain."""
    with heard(shared.new_page(), wide_url) as page:
        yield page


def test_the_parts_of_the_matrix_are_reached_by_keyboard(wide: Page, wide_url: str) -> None:
    """Enter on a link shows the other rows; the way back shows the first ones again."""
    wide.goto(f"{wide_url}/matrix?sort=name")
    pages = wide.locator("#matrix-pages")
    expect(pages).to_contain_text("Channels 1–50 of 60")
    pages.get_by_role("link", name="Next").press("Enter")
    expect(pages).to_contain_text("Channels 51–60 of 60")
    expect(wide).to_have_url(re.compile(r"sort=name&page=2$"))
    wide.go_back()
    expect(pages).to_contain_text("Channels 1–50 of 60")


def test_the_keyboard_stays_at_the_links_at_the_end_of_a_list(wide: Page, wide_url: str) -> None:
    """Where "Next" becomes plain text, the link before it has the focus; the same at the beginning."""
    wide.goto(f"{wide_url}/matrix?sort=name")
    pages = wide.locator("#matrix-pages")
    pages.get_by_role("link", name="Next").press("Enter")
    expect(pages).to_contain_text("Channels 51–60 of 60")
    expect(pages.get_by_role("link", name="Previous")).to_be_focused()
    wide.keyboard.press("Enter")
    expect(pages).to_contain_text("Channels 1–50 of 60")
    expect(pages.get_by_role("link", name="Next")).to_be_focused()


def test_another_part_of_the_changes_stays_in_sight(wide: Page, wide_url: str) -> None:
    """The list stays open, and the page is not scrolled to its top."""
    wide.goto(f"{wide_url}/scoreboard")
    more = wide.locator(".changes-card details").last
    more.locator("summary").click()
    step = more.get_by_role("link", name="Next")
    step.scroll_into_view_if_needed()
    step.click()
    expect(more).to_contain_text("Channels 32–56 of ")
    expect(more).to_have_attribute("open", "")
    assert wide.evaluate("window.scrollY") > 0
