"""Every page in every state: nothing that axe-core objects to, and one heading."""

from __future__ import annotations

from threading import Thread
from typing import TYPE_CHECKING, Final

import pytest
from playwright.sync_api import expect
from waitress import create_server

from dashboard import paths
from dashboard.app import PAGES, create_app
from tests.browser.axe import SIZES, findings
from tests.browser.conftest import let_in
from tests.dashboard.dummies_project import DAY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser

ALL: Final = [page.path for page in PAGES]
WRONG: Final = ["/no/such/page", *(f"{path}?release=none&case=none&channel=none&at=x:1" for path in ALL)]
"""Addresses that name what is not there."""

ONE: Final = SIZES[-1:]
"""A message is laid out alike on all screens; the smallest has the least room."""


@pytest.fixture(scope="session")
def without_campaign(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve an empty folder."""
    yield from _served(tmp_path_factory.mktemp("empty"))


@pytest.fixture(scope="session")
def with_mistake(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project whose campaign, tuning and register cannot be read."""
    folder = tmp_path_factory.mktemp("mistake")
    for name in ("campaign.toml", "tuning.toml", "laboratory.toml", "design.csv"):
        (folder / name).write_text("title = \n", encoding="utf-8")
    yield from _served(folder)


def _served(folder: Path) -> Iterator[str]:
    server = create_server(create_app(folder).server, host="127.0.0.1", port=0, threads=8)
    thread = Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    # The thread ends with the tests: closing the server under it would be an error of its own.


@pytest.fixture
def opened(shared: BrowserContext) -> Iterator[Callable[[str], Page]]:
    """Open an address, and wait until everything on the page is there."""
    page = shared.new_page()

    def go(address: str) -> Page:
        let_in(shared)
        page.goto(address)
        expect(page.locator("h1:visible")).to_have_count(1)
        expect(page.locator(".skeleton:visible")).to_have_count(0)
        page.wait_for_load_state("networkidle")
        return page

    yield go
    page.close()


def check(page: Page, sizes: Iterable[tuple[int, int]] = SIZES) -> None:
    """Nothing is found, and the page has one heading."""
    assert findings(page, sizes) == []
    expect(page.locator("h1:visible")).to_have_count(1)


@pytest.mark.parametrize("path", ALL)
def test_a_page_with_results(opened: Callable[[str], Page], base_url: str, path: str) -> None:
    """The project is rated."""
    check(opened(base_url + path))


def test_the_page_of_a_project_that_is_tuned(opened: Callable[[str], Page], working_url: str) -> None:
    """With runs, the grid and figures."""
    page = opened(working_url + paths.TUNING)
    expect(page.locator(".ag-row").first).to_be_visible()
    check(page)


def test_the_page_of_a_project_with_a_register(opened: Callable[[str], Page], register_url: str) -> None:
    """With a dummy that drifts, the details of a result, and one without results."""
    page = opened(f"{register_url}{paths.DUMMIES}?dummy=KM-W-002&day={DAY}")
    expect(page.locator("#dummies-figure .js-line").first).to_be_attached()
    check(page)
    page.get_by_role("link", name="Details").first.click()
    expect(page.locator("#dummies-result")).to_be_visible()
    check(page)
    check(opened(f"{register_url}{paths.DUMMIES}?dummy=KM-W-003"), ONE)


@pytest.mark.parametrize("path", ALL)
def test_a_page_without_a_campaign(opened: Callable[[str], Page], without_campaign: str, path: str) -> None:
    """The folder is empty."""
    check(opened(without_campaign + path), ONE)


@pytest.mark.parametrize("path", ALL)
def test_a_page_of_a_project_with_a_mistake(
    opened: Callable[[str], Page], with_mistake: str, path: str
) -> None:
    """The campaign file cannot be read."""
    page = opened(with_mistake + path)
    expect(page.get_by_role("alert").first).to_be_visible()
    check(page, ONE)


@pytest.mark.parametrize("address", WRONG)
def test_an_address_of_something_that_is_not_there(
    opened: Callable[[str], Page], base_url: str, address: str
) -> None:
    """The page says so."""
    check(opened(base_url + address), ONE)
