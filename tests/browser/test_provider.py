"""Sign-in with an identity provider in the browser, which judges cookies and policy of two sites itself."""

from __future__ import annotations

from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest
from dash import Dash, html
from playwright.sync_api import expect
from waitress import create_server

from dashboard.access import Role
from dashboard.account_settings import AccountsTable, ProviderTable
from dashboard.accounts import AccountBook, Identity, open_accounts
from dashboard.headers import protect, serve_the_world
from dashboard.signing_in import keep_accounts
from tests.dashboard.served import CHEAP
from tests.dashboard.signing_in.provider_server import CLIENT, SECRET, provider_server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """Serve an empty application that signs in with a provider of another site."""
    app = Dash("dashboard", enable_mcp=False)
    app.layout = html.Div()
    protect(app)
    server = create_server(app.server, host="127.0.0.1", port=0, threads=4)
    origin = f"http://localhost:{server.effective_port}"
    app.server.secret_key = "of the tests alone, and long enough"  # noqa: S105
    serve_the_world(app, host="localhost", encrypted=False)
    engine = open_accounts(str(tmp_path / "accounts.sqlite"))
    with provider_server() as provider:
        provider.document = {"end_session_endpoint": f"{provider.url}/logout"}
        told = {"issuer": provider.url, "client_id": CLIENT, "client_secret_file": "client.secret"}
        settings = AccountsTable(provider=ProviderTable.model_validate(told))
        book = AccountBook(engine, passwords=CHEAP)
        book.add("lab", Role.LAB, None, identity=Identity(provider.url, "8f2e"))
        keep_accounts(app, engine, origin=origin, settings=settings, client_secret=SECRET)
        Thread(target=_serve, args=(server,), daemon=True).start()
        yield origin
    server.close()
    engine.dispose()


def _serve(server: Any) -> None:
    # Closing the server takes its socket away while it waits for it.
    with suppress(OSError):
        server.run()


def test_the_browser_goes_to_the_provider_and_back(browser: Browser, address: str) -> None:
    """Cookies survive the way over another site; signing out leads over it to a page that signs nobody in."""
    with browser.new_context() as context:
        page = context.new_page()
        page.goto(f"{address}/account")
        page.get_by_role("link", name="Sign in with your organisation").click()
        expect(page.get_by_text("lab, role lab.")).to_be_visible()
        assert page.url == f"{address}/account"
        page.get_by_role("button", name="Sign out", exact=True).click()
        page.wait_for_url(f"{address}/signed-out")
        expect(page.get_by_text("You are signed out of this server.")).to_be_visible()
        page.goto(f"{address}/account")
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
