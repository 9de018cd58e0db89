"""Signing in to a server with accounts, in the browser, which judges cookies, origins and policy itself."""

from __future__ import annotations

import time
from base64 import b32decode
from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect
from waitress import create_server

from dashboard.access import Role, permitted
from dashboard.account_settings import AccountsTable
from dashboard.accounts import AccountBook, open_accounts
from dashboard.accounts.second_factor import one_time_code
from dashboard.app import create_app
from dashboard.headers import serve_the_world
from dashboard.signing_in import keep_accounts
from tests.browser.axe import findings
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page
    from sqlalchemy import Engine

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """Open the accounts of the server."""
    opened = open_accounts(str(tmp_path_factory.mktemp("accounts") / "accounts.sqlite"))
    yield opened
    opened.dispose()


@pytest.fixture(scope="module")
def book(engine: Engine) -> AccountBook:
    """Return the accounts, one of which is there from the beginning."""
    book = AccountBook(engine, passwords=CHEAP)
    book.add("analyst", Role.ANALYST, PASSWORD)
    return book


@pytest.fixture(scope="module")
def address(folder: Path, engine: Engine, book: AccountBook) -> Iterator[str]:
    """Serve the small project with an account, under a name that browsers trust without encryption."""
    assert book
    app = create_app(folder)
    with permitted(app, Role.VIEWER):
        app.server.add_url_rule("/who", "who", lambda: "somebody")
    server = create_server(app.server, host="127.0.0.1", port=0, threads=8)
    origin = f"http://localhost:{server.effective_port}"
    app.server.secret_key = "of the tests alone, and long enough"  # noqa: S105
    serve_the_world(app, host="localhost", encrypted=False)
    keep_accounts(app, engine, origin=origin, settings=AccountsTable(session_hours=1), passwords=CHEAP)
    Thread(target=_serve, args=(server,), daemon=True).start()
    yield origin
    server.close()


def _serve(server: Any) -> None:
    # Closing the server takes its socket away while it waits for it.
    with suppress(OSError):
        server.run()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """Return a page of a profile of its own."""
    context = browser.new_context()
    yield context.new_page()
    context.close()


def _sign_in(page: Page, password: str = PASSWORD, *, name: str = "analyst") -> None:
    page.get_by_label("User name").fill(name)
    page.get_by_label("Password").fill(password)
    page.keyboard.press("Enter")


def test_a_link_leads_through_signing_in_to_its_page(page: Page, address: str) -> None:
    """Wrong password, right password, the page that was meant."""
    page.goto(f"{address}/pair?release=A2")
    _sign_in(page, "not the password")
    expect(page.get_by_role("alert")).to_have_text("Incorrect user name or password.")
    _sign_in(page)
    page.wait_for_url(f"{address}/pair?release=A2")
    expect(page.get_by_role("link", name="analyst")).to_be_visible()


def test_an_open_page_asks_to_sign_in_when_the_session_is_over(page: Page, address: str) -> None:
    """Without an error on the page, and for the view that was meant."""
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    # A page that asks for nothing more once it is there.
    page.goto(f"{address}/no/such/page")
    _sign_in(page)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.wait_for_load_state("networkidle")
    page.context.clear_cookies()
    page.get_by_role("link", name="Repeats").first.click()
    page.wait_for_url(f"{address}/sign-in?next=**")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert page.url.endswith("/sign-in?next=%2Frepeats")
    assert faults == []


def test_who_goes_on_while_the_sign_in_page_loads_is_asked_for_that_view(page: Page, address: str) -> None:
    """A click meanwhile stops the browser on its way to the sign-in page: the page must ask again."""
    page.goto(f"{address}/no/such/page")
    _sign_in(page)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.context.clear_cookies()
    # What the browser does by itself where somebody clicks on before the answer is there.
    page.route("**/sign-in?next=%2Frepeats", lambda route: route.abort("aborted"))
    with page.expect_event("requestfailed", lambda request: "/sign-in" in request.url):
        page.get_by_role("link", name="Repeats").first.click()
    page.get_by_role("link", name="Scoreboard").first.click()
    page.wait_for_url(f"{address}/sign-in?next=%2Fscoreboard")


def test_axe_finds_nothing_on_the_pages_of_accounts(page: Page, address: str) -> None:
    """Signing in, a wrong password, and the account."""
    page.goto(f"{address}/account")
    assert findings(page) == []
    _sign_in(page, "not the password")
    expect(page.get_by_role("alert")).to_be_visible()
    assert findings(page) == []
    _sign_in(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Your account")
    assert findings(page) == []


def test_a_second_factor_is_added_and_asked_for(page: Page, address: str, book: AccountBook) -> None:
    """From the account page to the second step of the next sign-in; axe finds nothing on the way."""
    book.add("office", Role.MANAGER, PASSWORD)
    page.goto(f"{address}/account")
    _sign_in(page, name="office")
    page.get_by_label("Current password").first.fill(PASSWORD)
    page.get_by_role("button", name="Add second factor").click()
    expect(page.get_by_role("img", name="QR code")).to_be_visible()
    assert findings(page) == []
    secret = page.locator("span.code").first.inner_text().replace(" ", "")
    page.get_by_label("Code from your app").fill(one_time_code(b32decode(secret), int(time.time()) // 30))
    page.get_by_role("button", name="Add second factor").click()
    codes = page.get_by_role("listitem")
    expect(codes).to_have_count(10)
    recovery = codes.first.inner_text()
    page.get_by_role("link", name="Continue").click()
    expect(page.get_by_text("Active. 10 of 10 recovery codes are unused.")).to_be_visible()
    assert findings(page) == []
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.get_by_role("link", name="Sign in again").click()
    _sign_in(page, name="office")
    expect(page.get_by_role("heading", name="Second factor")).to_be_visible()
    page.get_by_label("Code from your app").fill(recovery)
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_visible()
    page.goto(f"{address}/account")
    expect(page.get_by_text("9 of 10 recovery codes")).to_be_visible()


def test_signing_out_closes_the_pages(page: Page, address: str) -> None:
    """The forms of the account carry their token and come from this server, which the browser says."""
    page.goto(f"{address}/account")
    _sign_in(page)
    expect(page.get_by_text("analyst, role analyst.")).to_be_visible()
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    page.goto(f"{address}/who")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
