"""Signing in and out, sessions, the password and the audit trail, as a browser sees them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboard.access import Role
from dashboard.accounts import AccountBook, AuditTrail
from dashboard.accounts.guesses import OF_BOTH
from tests.dashboard.served import (
    CHEAP,
    PASSWORD,
    asked,
    body_of,
    call,
    page_token,
    sign_in,
    small_app,
    token_in,
    with_accounts,
)

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash
    from flask.testing import FlaskClient
    from sqlalchemy import Engine


@pytest.fixture
def app() -> Dash:
    """Return an application with one callback a role."""
    return small_app()


@pytest.fixture
def engine(app: Dash, tmp_path: Path) -> Engine:
    """Give it accounts."""
    return with_accounts(app, tmp_path)


@pytest.fixture
def book(engine: Engine) -> AccountBook:
    """Return its accounts."""
    return AccountBook(engine, passwords=CHEAP)


@pytest.fixture
def client(app: Dash, engine: Engine) -> FlaskClient:
    """Return a browser that is not signed in."""
    assert engine
    return app.server.test_client()  # type: ignore[no-any-return]


def _open(client: FlaskClient) -> bool:
    return asked(client, "GET", "/_dash-layout").status_code == 200


def test_whoever_knows_the_password_gets_in_and_back(client: FlaskClient) -> None:
    """The page that was asked for is shown afterwards; signing out closes everything again."""
    assert not _open(client)
    answer = sign_in(client, "Analyst", next="/pair?release=A1")
    assert (answer.status_code, answer.location) == (303, "/pair?release=A1")
    assert _open(client)
    form = {"csrf_token": token_in(client, "/account")}
    assert asked(client, "POST", "/sign-out", data=form).location == "/signed-out"
    assert "You are signed out of this server." in asked(client, "GET", "/signed-out").text
    assert not _open(client)


def test_the_user_name_is_typed_once(client: FlaskClient) -> None:
    """After a wrong password it is still there, as text only, and the cursor is in the other field."""
    assert 'name="name"' in (first := asked(client, "GET", "/sign-in").text)
    assert first.count(" autofocus") == 1
    again = sign_in(client, 'v"><b>', "wrong").text
    assert 'value="v&#34;&gt;&lt;b&gt;"' in again
    assert "<b>" not in again
    assert again.split(" autofocus")[0].endswith("required")
    assert 'name="password" type="password"' in again.split(" autofocus")[0].rpartition("<input")[2]


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "/a\nb", "x"]
)
def test_signing_in_leads_nowhere_else(client: FlaskClient, elsewhere: str) -> None:
    """A link that somebody made up ends on the first page of this server."""
    assert sign_in(client, "viewer", next=elsewhere).location == "/"


@pytest.mark.parametrize(("name", "password"), [("viewer", "wrong"), ("nobody", PASSWORD), ("", "")])
def test_the_answer_does_not_say_what_was_wrong(client: FlaskClient, name: str, password: str) -> None:
    """An unknown name and a wrong password look alike."""
    answer = sign_in(client, name, password)
    assert answer.status_code == 401
    assert "Incorrect user name or password." in answer.text
    assert not _open(client)


def test_a_closed_account_does_not_get_in(client: FlaskClient, book: AccountBook) -> None:
    """With the right password the answer is the same as with a wrong one."""
    book.close("viewer")
    assert sign_in(client, "viewer").status_code == 401


def test_the_form_needs_its_token(client: FlaskClient) -> None:
    """Nobody is signed in to an account of a stranger by a page elsewhere."""
    answer = asked(client, "POST", "/sign-in", data={"name": "viewer", "password": PASSWORD})
    assert answer.status_code == 400
    assert not _open(client)


def test_guessing_is_slowed_down(client: FlaskClient, engine: Engine) -> None:
    """After five failures even the right password is not looked at, and the trail knows."""
    for _ in range(OF_BOTH):
        assert sign_in(client, "lab", "guess").status_code == 401
    answer = sign_in(client, "lab")
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 901
    assert "Try again in 15 minutes." in answer.text
    (counted,) = AuditTrail(engine).counted()
    assert (counted.who, counted.what, counted.attempts) == ("lab", "was throttled at sign-in", 1)
    assert [entry.what for entry in AuditTrail(engine).last(9)] == ["could not sign in"] * OF_BOTH


def test_the_cookies_are_for_encrypted_lines_and_this_server(client: FlaskClient) -> None:
    """The session is kept from scripts; only the token may be read by the page."""
    first = sign_in(client, "viewer").headers.getlist("Set-Cookie")
    session = next(cookie for cookie in first if cookie.startswith("__Host-correlate="))
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Lax"} <= set(session.split("; "))
    assert "Domain" not in session
    page = asked(client, "GET", "/").headers.getlist("Set-Cookie")
    token = next(cookie for cookie in page if cookie.startswith("_csrf_token="))
    assert {"Secure", "SameSite=Strict"} <= set(token.split("; "))
    assert "HttpOnly" not in token


def test_a_session_is_new_after_signing_in(app: Dash, client: FlaskClient) -> None:
    """What a page elsewhere planted before is worth nothing: the token changes with the session."""
    planted = token_in(client, "/sign-in")
    sign_in(client, "viewer")
    assert call(client, body_of(app, "viewer.children"), planted).status_code == 400


def test_a_session_ends_when_the_account_changes(client: FlaskClient, book: AccountBook) -> None:
    """Another role is another session, although the cookie is still there."""
    sign_in(client, "analyst")
    book.change_role("analyst", Role.VIEWER)
    assert not _open(client)


def test_signing_out_everywhere_ends_the_other_browser(app: Dash, client: FlaskClient) -> None:
    """A cookie that somebody copied is worth nothing any more."""
    other = app.server.test_client()
    sign_in(client, "viewer")
    sign_in(other, "viewer")
    form = {"csrf_token": token_in(client, "/account"), "everywhere": "yes"}
    asked(client, "POST", "/sign-out", data=form)
    assert not _open(other)


def test_the_password_is_changed_by_who_knows_it(client: FlaskClient, book: AccountBook, app: Dash) -> None:
    """The browser in which it was changed stays signed in, others do not."""
    other = app.server.test_client()
    sign_in(other, "viewer")
    sign_in(client, "viewer")
    new = "quite another password"
    form = {"csrf_token": token_in(client, "/account"), "password": PASSWORD, "new": new, "again": new}
    assert asked(client, "POST", "/account", data=form).status_code == 303
    assert _open(client)
    assert not _open(other)
    assert book.opened_with("viewer", new)
    assert book.opened_with("viewer", PASSWORD) is None


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"password": "wrong", "new": "x" * 20, "again": "x" * 20}, "Current password is incorrect."),
        (
            {"password": PASSWORD, "new": "one password here", "again": "another"},
            "The new passwords do not match.",
        ),
        (
            {"password": PASSWORD, "new": "short", "again": "short"},
            "The password has 5 characters; use 15 to 256",
        ),
    ],
)
def test_a_password_that_cannot_be_changed_is_said(
    client: FlaskClient, book: AccountBook, form: dict[str, str], said: str
) -> None:
    """And the old one stays."""
    sign_in(client, "viewer")
    answer = asked(client, "POST", "/account", data=form | {"csrf_token": token_in(client, "/account")})
    assert answer.status_code == 400
    assert said in answer.text
    assert book.opened_with("viewer", PASSWORD)


def test_the_trail_is_for_admins_and_shows_names_as_text(client: FlaskClient) -> None:
    """What somebody typed as a name is escaped; others see neither the page nor a way to it."""
    sign_in(client, "<script>alert(1)</script>", "x")
    sign_in(client, "lab")
    assert asked(client, "GET", "/audit-trail").status_code == 403
    assert "/audit-trail" not in asked(client, "GET", "/account").text
    asked(client, "POST", "/sign-out", data={"csrf_token": token_in(client, "/account")})
    sign_in(client, "admin")
    page = asked(client, "GET", "/audit-trail").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert(1)" not in page
    assert "/audit-trail" in asked(client, "GET", "/account").text


def test_whoever_is_signed_in_is_not_asked_again(client: FlaskClient) -> None:
    """The sign-in page leads on."""
    sign_in(client, "viewer")
    assert asked(client, "GET", "/sign-in?next=/repeats").location == "/repeats"


def test_the_token_of_a_page_fits_its_session(app: Dash, client: FlaskClient) -> None:
    """The cookie that dash reads is the one the server takes."""
    sign_in(client, "viewer")
    assert call(client, body_of(app, "viewer.children"), page_token(client)).status_code == 200
