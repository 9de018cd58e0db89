"""How much a browser with an empty profile loads; bytes, which are the same on every machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from dashboard.delivery import GRID
from tests.browser.conftest import let_in
from tests.browser.loading import Loaded, watched

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser


@pytest.fixture
def empty(browser: Browser) -> Iterator[Page]:
    """Return a page of a profile that has nothing yet."""
    context = browser.new_context()
    yield context.new_page()
    context.close()


def loaded_by(page: Page, address: str, last: str) -> Loaded:
    """Open a page and wait for the last thing on it."""
    loaded = watched(page)
    let_in(page.context)
    page.goto(address)
    expect(page.locator(last).first).to_be_attached()
    page.wait_for_load_state("networkidle")
    return loaded


def test_the_first_page_needs_little(empty: Page, base_url: str) -> None:
    """With the library that draws its figure, and without the grid, which it does not show."""
    loaded = loaded_by(empty, f"{base_url}/", "main h1")
    assert 300_000 < loaded.bytes < 1_250_000
    assert not any(GRID in address for address in loaded.sizes)


def test_the_page_with_a_grid_loads_it(empty: Page, working_url: str) -> None:
    """Everything there is: figures and grid."""
    loaded = loaded_by(empty, f"{working_url}/tuning", ".ag-row")
    assert loaded.bytes < 1_900_000
    assert any(GRID in address for address in loaded.sizes)
