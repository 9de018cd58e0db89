"""The key of a dashboard on one's own machine: who has it is let in, and nobody else of the machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboard.access.gate import OneMachine, install
from dashboard.access.local_key import LocalKey
from dashboard.answers import answer_in_words
from tests.dashboard.served import body_of, small_app

if TYPE_CHECKING:
    from dash import Dash
    from flask.testing import FlaskClient

AT = "http://127.0.0.1:8050"
KEY = LocalKey(port=8050)


@pytest.fixture(scope="module")
def app() -> Dash:
    """Return an application that is opened with the key."""
    made = small_app()
    answer_in_words(made)
    install(made, OneMachine(made, KEY))
    return made


@pytest.fixture
def client(app: Dash) -> FlaskClient:
    """Return a browser without the cookie."""
    return app.server.test_client()  # type: ignore[no-any-return]


@pytest.mark.parametrize(
    "path", ["/", "/pair?release=A1", "/_dash-layout", "/_dash-dependencies", "/raw-data"]
)
def test_nothing_is_shown_without_the_key(client: FlaskClient, path: str) -> None:
    """Another user of the machine gets a page that says where the address is, and nothing of the project."""
    answer = client.get(path, base_url=AT)
    assert answer.status_code == 403
    assert "Use the address that it printed in the terminal" in answer.text
    assert KEY.secret not in answer.text


def test_no_callback_runs_without_the_key(app: Dash, client: FlaskClient) -> None:
    """Neither with the right origin; the refusal is text for the page to show."""
    body = body_of(app, "viewer.children")
    answer = client.post("/_dash-update-component", json=body, base_url=AT, headers={"Origin": AT})
    assert (answer.status_code, answer.mimetype) == (403, "text/plain")


def test_the_printed_address_lets_this_browser_in(client: FlaskClient) -> None:
    """It gives a cookie that scripts and other sites cannot use, and leads to the address without the key."""
    answer = client.get(f"/pair{KEY.query}&release=A1&over=A2&over=A3", base_url=AT)
    assert answer.status_code == 303
    assert answer.location == "/pair?release=A1&over=A2&over=A3"
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("correlate-8050=")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert answer.headers["Cache-Control"] == "no-store"
    assert client.get("/pair?release=A1", base_url=AT).status_code == 200


def test_two_dashboards_keep_their_keys_apart(client: FlaskClient) -> None:
    """Browsers send the cookies of one port to all others of a host: the name tells them apart."""
    client.set_cookie("correlate-8051", KEY.secret, domain="127.0.0.1")
    assert client.get("/", base_url=AT).status_code == 403


@pytest.mark.parametrize(
    "given",
    ["", "x", KEY.secret[:-1], KEY.secret + "x", "ü", "%00"],
    ids=["empty", "short", "cut", "longer", "letter", "zero"],
)
def test_a_wrong_key_is_refused(client: FlaskClient, given: str) -> None:
    """In the address and in the cookie; the page says that there may be a newer one."""
    answer = client.get(f"/?key={given}", base_url=AT)
    assert answer.status_code == 403
    assert "a new key at every start" in answer.text
    assert "Set-Cookie" not in answer.headers
    assert client.get("/", base_url=AT, headers={"Cookie": f"correlate-8050={given}"}).status_code == 403


def test_the_key_leads_to_no_other_server(client: FlaskClient) -> None:
    """A path that begins like the name of a server stays a path."""
    sent = {"PATH_INFO": "//elsewhere.example/x", "QUERY_STRING": KEY.query[1:]}
    answer = client.get("/", base_url=AT, environ_overrides=sent)
    assert answer.location == "/elsewhere.example/x"


def test_what_was_asked_for_is_text_in_the_page(client: FlaskClient) -> None:
    """Nobody can put markup into the page that asks for the key."""
    answer = client.get('/pair?x="><script>', base_url=AT)
    assert "<script" not in answer.text


def test_every_start_has_another_key() -> None:
    """And it is not shown by chance where the object is."""
    assert LocalKey(port=1).secret != LocalKey(port=1).secret
    assert KEY.secret not in repr(KEY)
    assert len(KEY.secret) >= 43
