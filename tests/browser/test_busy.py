"""A server with too much to do: the page says so, asks again, and is complete in the end."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import let_in

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

pytestmark = pytest.mark.browser

CALLBACKS = re.compile("/_dash-update-component")


def test_a_page_is_completed_after_the_server_was_busy(page: Page, base_url: str) -> None:
    """The words are shown while it waits, and go away."""
    refusals = iter([1])
    busy: list[Route] = []

    def refuse_once(route: Route) -> None:
        asked = route.request.post_data or ""
        if '"repeats-' in asked and busy == [] and next(refusals, None):
            busy.append(route)
            route.fulfill(status=429, headers={"Retry-After": "1"}, body="The server is busy.")
        else:
            route.continue_()

    let_in(page.context)
    page.route(CALLBACKS, refuse_once)
    page.goto(f"{base_url}/repeats")
    expect(page.get_by_role("status").filter(has_text="The server is busy")).to_be_visible()
    expect(page.get_by_role("button", name="Reload")).to_be_hidden()
    expect(page.locator("#repeats-figure .js-plotly-plot, main .js-plotly-plot").first).to_be_visible()
    expect(page.locator(".busy span")).to_be_empty()
    expect(page.locator(".busy")).to_be_hidden()
    assert len(busy) == 1


def test_a_page_that_cannot_be_completed_says_so(page: Page, base_url: str) -> None:
    """With a way to try once more."""
    let_in(page.context)
    page.clock.install()
    page.route(CALLBACKS, lambda route: route.fulfill(status=429, headers={"Retry-After": "60"}, body=""))
    page.goto(f"{base_url}/")
    expect(page.locator(".busy")).to_contain_text("The server is busy")
    for _ in range(4):
        page.clock.fast_forward(95_000)
    expect(page.locator(".busy")).to_contain_text("too busy to complete this page")
    expect(page.get_by_role("button", name="Reload")).to_be_visible()
