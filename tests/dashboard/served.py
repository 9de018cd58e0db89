"""A server with accounts for the tests: one account a role, passwords hashed cheaply."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from argon2 import PasswordHasher
from dash import Dash, Input, Output, html

from dashboard.access import Role, permitted
from dashboard.account_settings import AccountsTable
from dashboard.accounts import AccountBook, open_accounts
from dashboard.accounts.book import Passwords
from dashboard.headers import protect, serve_the_world
from dashboard.signing_in import keep_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient
    from sqlalchemy import Engine
    from werkzeug.test import TestResponse

ORIGIN: Final = "https://ratings.example"
PASSWORD: Final = "seven grey kelp fronds"  # noqa: S105 - opens nothing but test accounts
CHEAP: Final = Passwords(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


def with_accounts(
    app: Dash,
    folder: Path,
    settings: AccountsTable | None = None,
    *,
    passwords: Passwords = CHEAP,
    **more: Any,
) -> Engine:
    """Turn an application into a server with the accounts viewer, analyst, lab and admin."""
    engine = open_accounts(str(folder / "accounts.sqlite"))
    book = AccountBook(engine, passwords=passwords)
    for role in Role:
        # A server that is started again has them already.
        if book.find(role.value) is None:
            book.add(role.value, role, PASSWORD)
    app.server.secret_key = "of the tests alone, and long enough"  # noqa: S105
    serve_the_world(app, host="ratings.example", encrypted=True)
    keep_accounts(
        app,
        engine,
        origin=ORIGIN,
        settings=settings or AccountsTable(session_hours=1),
        passwords=passwords,
        **more,
    )
    return engine


def small_app() -> Dash:
    """Return an application with one callback a role, and a route for analysts."""
    app = Dash("dashboard", enable_mcp=False)
    ids = [role.value for role in Role]
    app.layout = html.Div([html.Button(id="press"), *(html.Div(id=name) for name in ids)])
    for role in Role:
        with permitted(app, role, takes_files=role is Role.LAB, audited=f"pressed as {role.value}"):
            app.callback(Output(role.value, "children"), Input("press", "n_clicks"))(lambda presses: presses)
    with permitted(app, Role.ANALYST):
        app.server.add_url_rule("/raw-data", "raw-data", lambda: "1,2,3")
    protect(app)
    return app


def asked(client: FlaskClient, method: str, path: str, **more: Any) -> TestResponse:
    """Ask as a browser at the public address does."""
    return client.open(path, method=method, base_url=ORIGIN, buffered=True, **more)


def token_in(client: FlaskClient, path: str) -> str:
    """Return the token in the form of a page."""
    found = re.search(r'name="csrf_token" value="([^"]+)"', asked(client, "GET", path).text)
    assert found
    return found.group(1)


def sign_in(client: FlaskClient, name: str, password: str = PASSWORD, **more: Any) -> TestResponse:
    """Fill in the form and send it."""
    form = {"csrf_token": token_in(client, "/sign-in"), "name": name, "password": password, **more}
    return asked(client, "POST", "/sign-in", data=form)


def page_token(client: FlaskClient) -> str:
    """Return the token that a page reads from its cookie; empty where there is none."""
    asked(client, "GET", "/")
    cookie = client.get_cookie("_csrf_token", domain="ratings.example")
    return "" if cookie is None else cookie.value


def call(client: FlaskClient, body: dict[str, Any], token: str = "") -> TestResponse:
    """Send what a page sends when a callback is due."""
    headers = {"X-CSRFToken": token} if token else {}
    return asked(client, "POST", "/_dash-update-component", json=body, headers=headers)


def body_of(app: Dash, key: str) -> dict[str, Any]:
    """Return what a page sends for a callback whose inputs all hold nothing; groups of outputs are empty."""
    entry = app.callback_map[key]
    sent = {
        # Of a group, which a page fills as it needs, there is nothing yet.
        part: [[] if one["id"].startswith("{") else one | {"value": None} for one in entry[part]]
        for part in ("inputs", "state")
    }
    given = entry["output"]
    listed = list(given.values()) if isinstance(given, dict) else given
    many = listed if isinstance(listed, (list, tuple)) else [listed]
    outputs = [[] if one.has_wildcard() else _place_of(one) for one in many]
    shown = outputs if isinstance(listed, (list, tuple)) else outputs[0]
    return {"output": key, "outputs": shown, **sent, "changedPropIds": []}


def _place_of(output: Any) -> dict[str, str]:
    return {"id": output.component_id, "property": output.component_property}
