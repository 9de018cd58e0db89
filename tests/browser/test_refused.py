"""What a page shows when the server refuses a call, fails or is gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import let_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, Route

pytestmark = pytest.mark.browser

CALLS = "**/_dash-update-component*"


@pytest.fixture
def page(browser: Browser, base_url: str) -> Iterator[Page]:
    """Return a page that may complain, because the server is made to fail."""
    context = let_in(browser.new_context(base_url=base_url))
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("status", [400, 500])
def test_a_refusal_is_shown_in_words_until_it_is_dismissed(page: Page, status: int) -> None:
    """The sentence of the server is text above the page, with a way to reload."""
    page.goto("/matrix")
    expect(page.locator("h1").first).to_be_visible()

    def refuse(route: Route) -> None:
        route.fulfill(status=status, content_type="text/plain", body="The value of <b>x</b> cannot be used.")

    page.route(CALLS, refuse)
    page.get_by_role("link", name="Scoreboard").first.click()
    said = page.get_by_role("alert").filter(has_text="The value of <b>x</b> cannot be used.")
    expect(said).to_be_visible()
    expect(said.get_by_role("button", name="Reload")).to_be_visible()
    said.get_by_role("button", name="Dismiss").click()
    expect(said).to_have_count(0)


def test_a_server_that_is_gone_is_said(page: Page) -> None:
    """The page does not stay as it was without a word."""
    page.goto("/matrix")
    expect(page.locator("h1").first).to_be_visible()
    page.route(CALLS, lambda route: route.abort())
    page.get_by_role("link", name="Scoreboard").first.click()
    expect(page.get_by_text("The server is not responding.")).to_be_visible()
