"""What a person sees who opens the local dashboard without its key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import let_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


def test_without_the_key_the_field_leads_to_the_page_that_was_asked_for(
    browser: Browser, base_url: str
) -> None:
    """Another user of the machine sees a field; who has the key sees the page, with a plain address."""
    key = next(one for one in let_in(browser.new_context()).cookies(base_url))["value"]
    context = browser.new_context(base_url=base_url)
    page = context.new_page()
    page.goto("/matrix?release=A2")
    expect(page.locator("h1")).to_have_text("Key required")
    page.get_by_label("Key").fill(key)
    page.get_by_role("button", name="Open").click()
    expect(page).to_have_url(f"{base_url}/matrix?release=A2")
    expect(page.locator(".matrix-cell").first).to_be_visible()
    context.close()
