"""What passes the gate of a server with accounts, and what does not."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from dashboard.access import Role
from dashboard.access.bodies import MENU_BYTES
from dashboard.access.gate import CALLBACKS
from dashboard.accounts import AuditTrail
from tests.dashboard.served import asked, body_of, call, page_token, sign_in, small_app, with_accounts

if TYPE_CHECKING:
    from dash import Dash
    from flask.testing import FlaskClient
    from sqlalchemy import Engine

ROLES = [role.value for role in Role]


@pytest.fixture(scope="module")
def app() -> Dash:
    """Return an application with one callback a role."""
    return small_app()


@pytest.fixture(scope="module")
def engine(app: Dash, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """Give it accounts."""
    return with_accounts(app, tmp_path_factory.mktemp("accounts"))


@pytest.fixture(scope="module")
def clients(app: Dash, engine: Engine) -> dict[str, FlaskClient]:
    """Return a browser for each role, signed in."""
    found: dict[str, FlaskClient] = {}
    for name in ROLES:
        found[name] = app.server.test_client()
        assert sign_in(found[name], name).status_code == 303
    assert engine
    return found


@pytest.fixture
def nobody(app: Dash, engine: Engine) -> FlaskClient:
    """Return a browser that is not signed in."""
    assert engine
    return app.server.test_client()  # type: ignore[no-any-return]


@pytest.mark.parametrize("who", ROLES)
@pytest.mark.parametrize("needed", ROLES)
def test_a_callback_answers_the_roles_it_is_for(
    app: Dash, clients: dict[str, FlaskClient], who: str, needed: str
) -> None:
    """Every pair of the role one has and the role one needs."""
    answer = call(clients[who], body_of(app, f"{needed}.children"), page_token(clients[who]))
    assert answer.status_code == (200 if ROLES.index(who) >= ROLES.index(needed) else 403)


@pytest.mark.parametrize("needed", ROLES)
def test_a_callback_answers_nobody_who_is_not_signed_in(app: Dash, nobody: FlaskClient, needed: str) -> None:
    """Without a session the answer is 401, whatever the callback."""
    assert call(nobody, body_of(app, f"{needed}.children")).status_code == 401


@pytest.mark.parametrize("path", ["/_dash-layout", "/_dash-dependencies", "/_reload-hash"])
def test_the_shell_is_for_accounts_only(
    clients: dict[str, FlaskClient], nobody: FlaskClient, path: str
) -> None:
    """What the application is made of is not given to strangers."""
    assert asked(nobody, "GET", path).status_code == 401
    assert asked(clients["viewer"], "GET", path).status_code == 200


def test_a_stranger_with_a_link_is_asked_to_sign_in(nobody: FlaskClient) -> None:
    """The sign-in page knows where to go afterwards."""
    answer = asked(nobody, "GET", "/pair?release=A1&case=x")
    assert answer.status_code == 303
    assert answer.location == "/sign-in?next=/pair%3Frelease%3DA1%26case%3Dx"


def test_style_sheets_are_for_everybody(nobody: FlaskClient) -> None:
    """The sign-in page is in the same colours."""
    assert asked(nobody, "GET", "/assets/page.css").status_code == 200


def test_a_route_has_a_role_too(clients: dict[str, FlaskClient], nobody: FlaskClient) -> None:
    """Raw data are for analysts; a browser that is not signed in is asked to sign in."""
    answers = {who: asked(client, "GET", "/raw-data").status_code for who, client in clients.items()}
    assert answers == {"viewer": 403, "manager": 403, "analyst": 200, "lab": 200, "admin": 200}
    assert asked(nobody, "GET", "/raw-data").status_code == 303


def test_what_nobody_registered_is_denied(clients: dict[str, FlaskClient]) -> None:
    """A route without a role is closed even for an admin, and so is an unknown callback."""
    client = clients["admin"]
    assert asked(client, "GET", "/static/anything").status_code == 403
    assert call(client, {"output": "no.such"}, page_token(client)).status_code == 403
    assert call(client, {"output": ["no"]}, page_token(client)).status_code == 403


@pytest.mark.parametrize("token", ["", "made-up"])
def test_a_callback_needs_the_token_of_its_session(
    app: Dash, clients: dict[str, FlaskClient], token: str
) -> None:
    """A session cookie alone, which a browser sends by itself, changes nothing."""
    assert call(clients["admin"], body_of(app, "viewer.children"), token).status_code == 400


def test_a_token_of_another_session_does_not_fit(app: Dash, clients: dict[str, FlaskClient]) -> None:
    """What a viewer is given is worth nothing in the session of an admin."""
    token = page_token(clients["viewer"])
    assert call(clients["admin"], body_of(app, "viewer.children"), token).status_code == 400


@pytest.mark.parametrize(
    "headers", [{"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}]
)
def test_a_page_elsewhere_is_refused(
    app: Dash, clients: dict[str, FlaskClient], headers: dict[str, str]
) -> None:
    """Even with the right token, the sender must be a page of this server."""
    client = clients["admin"]
    sent = headers | {"X-CSRFToken": page_token(client)}
    body = body_of(app, "viewer.children")
    assert asked(client, "POST", "/_dash-update-component", json=body, headers=sent).status_code == 403


def test_another_host_name_is_refused(clients: dict[str, FlaskClient]) -> None:
    """Only the public name is answered."""
    assert clients["admin"].get("/", base_url="https://elsewhere.example").status_code == 400


def test_only_callbacks_that_take_files_take_much(app: Dash, clients: dict[str, FlaskClient]) -> None:
    """A request of the size of an upload is refused unless the callback is meant for one."""
    client, large = clients["lab"], "x" * MENU_BYTES
    for name, expected in (("viewer", 413), ("lab", 200)):
        body = body_of(app, f"{name}.children") | {"more": large}
        # As a browser writes it: in this order.
        headers = {"X-CSRFToken": page_token(client), "Content-Type": "application/json"}
        answer = asked(client, "POST", CALLBACKS, data=json.dumps(body), headers=headers)
        assert answer.status_code == expected


def test_deeds_and_refusals_are_in_the_trail(
    app: Dash, clients: dict[str, FlaskClient], engine: Engine
) -> None:
    """Who did it, what, and from where."""
    call(clients["lab"], body_of(app, "lab.children"), page_token(clients["lab"]))
    call(clients["viewer"], body_of(app, "lab.children"), page_token(clients["viewer"]))
    last = AuditTrail(engine).last(2)
    assert [(entry.who, entry.what, entry.about, entry.address) for entry in last] == [
        ("lab", "pressed as lab", "", "127.0.0.1"),
        ("viewer", "was refused", "POST /_dash-update-component", "127.0.0.1"),
    ]
