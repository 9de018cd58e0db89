"""The second step of a sign-in, and adding and removing a second factor, as a browser sees them."""

from __future__ import annotations

import base64
import re
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import update

from correlate.database import writing
from dashboard.account_settings import AccountsTable
from dashboard.accounts import AccountBook, AuditTrail, SecondFactors
from dashboard.accounts.guesses import OF_BOTH
from dashboard.accounts.second_factor import one_time_code
from dashboard.accounts.tables import ACCOUNTS
from tests.dashboard.clock import Clock
from tests.dashboard.served import CHEAP, PASSWORD, asked, sign_in, small_app, token_in, with_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash
    from flask.testing import FlaskClient
    from sqlalchemy import Engine
    from werkzeug.test import TestResponse

NEW = "/sign-in/second-factor"


@pytest.fixture
def clock() -> Clock:
    """Return the clock of the server."""
    return Clock()


@pytest.fixture
def app() -> Dash:
    """Return an application with one callback a role."""
    return small_app()


@pytest.fixture
def engine(app: Dash, tmp_path: Path, clock: Clock, request: pytest.FixtureRequest) -> Engine:
    """Give it accounts; a second factor is offered, or required of the roles of the parameter."""
    roles = getattr(request, "param", ())
    settings = (
        AccountsTable(second_factor="required", second_factor_roles=roles) if roles else AccountsTable()
    )
    return with_accounts(app, tmp_path, settings, now=clock)


@pytest.fixture
def client(app: Dash, engine: Engine) -> FlaskClient:
    """Return a browser that is not signed in."""
    assert engine
    return app.server.test_client()  # type: ignore[no-any-return]


def _open(client: FlaskClient) -> bool:
    return asked(client, "GET", "/_dash-layout").status_code == 200


def _post(client: FlaskClient, path: str, page: str = "", **form: str) -> TestResponse:
    return asked(client, "POST", path, data={"csrf_token": token_in(client, page or path)} | form)


def _code(secret: str, clock: Clock) -> str:
    return one_time_code(base64.b32decode(secret), int(clock().timestamp()) // 30)


def _secret_on(client: FlaskClient) -> str:
    """Return the secret on the page where a second factor is added."""
    found = re.search(r'<span class="code">([A-Z2-7 ]+)</span>', asked(client, "GET", NEW).text)
    assert found
    return found[1].replace(" ", "")


def _added(client: FlaskClient, clock: Clock, name: str = "lab") -> tuple[str, list[str]]:
    """Add a second factor on the account page and sign out; return its secret and the recovery codes."""
    assert sign_in(client, name).status_code == 303
    assert _post(client, "/account/second-factor/add", "/account", password=PASSWORD).location == NEW
    secret = _secret_on(client)
    shown = _post(client, NEW, code=_code(secret, clock)).text
    codes = re.findall(r'<li class="code">([a-z2-7-]+)</li>', shown)
    assert len(codes) == 10
    _post(client, "/sign-out", "/account")
    clock.forward(seconds=60)
    return secret, codes


def test_a_password_alone_opens_nothing_any_more(client: FlaskClient, clock: Clock) -> None:
    """Password, then the code, then the page that was meant."""
    secret, _ = _added(client, clock)
    answer = sign_in(client, "lab", next="/repeats")
    assert answer.location == "/sign-in/code"
    assert not _open(client)
    answer = _post(client, "/sign-in/code", code=_code(secret, clock))
    assert (answer.status_code, answer.location) == (303, "/repeats")
    assert _open(client)


def test_a_code_that_was_used_opens_no_second_browser(app: Dash, client: FlaskClient, clock: Clock) -> None:
    """Whoever looked over the shoulder comes too late."""
    secret, _ = _added(client, clock)
    sign_in(client, "lab")
    _post(client, "/sign-in/code", code=_code(secret, clock))
    other = app.server.test_client()
    sign_in(other, "lab")
    assert _post(other, "/sign-in/code", code=_code(secret, clock)).status_code == 401
    assert not _open(other)


def test_a_recovery_code_signs_in_once(app: Dash, client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """The trail says how many are left; the second use is refused."""
    _, codes = _added(client, clock)
    sign_in(client, "lab")
    assert _post(client, "/sign-in/code", code=codes[0]).status_code == 303
    assert AuditTrail(engine).last(1)[0].about == "with a recovery code, 9 left"
    assert "9 of 10 recovery codes" in asked(client, "GET", "/account").text
    other = app.server.test_client()
    sign_in(other, "lab")
    assert _post(other, "/sign-in/code", code=codes[0]).status_code == 401


def test_codes_cannot_be_guessed_without_end(client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """Wrong codes count as failed attempts; the right password in between resets nothing."""
    secret, _ = _added(client, clock)
    for _ in range(OF_BOTH):
        sign_in(client, "lab")
        assert _post(client, "/sign-in/code", code="000000").status_code == 401
    assert _post(client, "/sign-in/code", code=_code(secret, clock)).status_code == 429
    assert sign_in(client, "lab").status_code == 429
    assert not _open(client)
    assert "gave a wrong second factor" in [entry.what for entry in AuditTrail(engine).last(9)]


def test_the_second_step_alone_leads_nowhere(client: FlaskClient, clock: Clock) -> None:
    """Without the password before it, neither page nor code is looked at."""
    secret, _ = _added(client, clock)
    assert asked(client, "GET", "/sign-in/code").location == "/sign-in"
    form = {"csrf_token": token_in(client, "/sign-in"), "code": _code(secret, clock)}
    assert asked(client, "POST", "/sign-in/code", data=form).location == "/sign-in"
    assert asked(client, "GET", NEW).location == "/sign-in"
    assert not _open(client)


def test_a_password_alone_replaces_no_second_factor(client: FlaskClient, clock: Clock) -> None:
    """Whoever has only the password does not get to the page where one is added, nor past it."""
    secret, _ = _added(client, clock)
    sign_in(client, "lab")
    assert asked(client, "GET", NEW).location == "/sign-in"
    with client.session_transaction(base_url="https://ratings.example") as kept:
        kept["sealed"] = "anything"
    assert _post(client, NEW, "/sign-in/code", code=_code(secret, clock)).location == "/sign-in"
    assert not _open(client)


def test_a_sign_in_that_waits_ends_when_the_password_changes(
    client: FlaskClient, clock: Clock, engine: Engine
) -> None:
    """Whoever knew the old one gets no further."""
    secret, _ = _added(client, clock)
    sign_in(client, "lab")
    AccountBook(engine, passwords=CHEAP).change_password("lab", "quite another password")
    form = {"csrf_token": token_in(client, "/sign-in"), "code": _code(secret, clock)}
    assert asked(client, "POST", "/sign-in/code", data=form).location == "/sign-in"
    assert not _open(client)


def test_a_sign_in_does_not_wait_for_ever(client: FlaskClient, clock: Clock) -> None:
    """Ten minutes after the password, it begins again."""
    secret, _ = _added(client, clock)
    sign_in(client, "lab")
    with client.session_transaction(base_url="https://ratings.example") as kept:
        kept["half"] = kept["half"] | {"until": kept["half"]["until"] - 601}
    form = {"csrf_token": token_in(client, "/sign-in"), "code": _code(secret, clock)}
    assert asked(client, "POST", "/sign-in/code", data=form).location == "/sign-in"
    assert not _open(client)


@pytest.mark.parametrize("engine", [("lab", "admin")], indirect=True)
def test_a_required_second_factor_is_added_before_anything_is_shown(
    app: Dash, client: FlaskClient, clock: Clock
) -> None:
    """Of the roles that need one; the others sign in as before."""
    answer = sign_in(client, "lab", next="/repeats")
    assert answer.location == NEW
    assert not _open(client)
    page = asked(client, "GET", NEW).text
    assert "The role lab requires a second factor" in page
    secret = _secret_on(client)
    wrong = _post(client, NEW, code="123")
    assert wrong.status_code == 400
    assert not _open(client)
    shown = _post(client, NEW, code=_code(secret, clock)).text
    assert "they are not shown again" in shown
    assert 'href="/repeats"' in shown
    assert _open(client)
    other = app.server.test_client()
    assert sign_in(other, "viewer").location == "/"
    assert _open(other)


def test_adding_one_takes_the_password_and_ends_other_sessions(
    app: Dash, client: FlaskClient, clock: Clock, engine: Engine
) -> None:
    """An unattended browser is not enough; sessions without a second factor end."""
    other = app.server.test_client()
    sign_in(other, "lab")
    sign_in(client, "lab")
    assert _post(client, "/account/second-factor/add", "/account", password=PASSWORD[1:]).status_code == 400
    assert _open(other)
    _post(client, "/account/second-factor/add", "/account", password=PASSWORD)
    _post(client, NEW, code=_code(_secret_on(client), clock))
    assert _open(client)
    assert not _open(other)
    told = [entry.what for entry in AuditTrail(engine).last(9)]
    assert "could not add a second factor" in told
    assert "added a second factor" in told


def test_the_page_shows_secret_address_and_picture(client: FlaskClient) -> None:
    """The picture is part of the page; the secret is the same until it is confirmed."""
    sign_in(client, "lab")
    _post(client, "/account/second-factor/add", "/account", password=PASSWORD)
    secret = _secret_on(client)
    page = asked(client, "GET", NEW)
    assert _secret_on(client) == secret
    assert f"otpauth://totp/ratings.example:lab?secret={secret}&amp;issuer=ratings.example" in page.text
    assert "<svg" in page.text
    assert page.headers["Cache-Control"] == "no-store"


def test_removing_takes_password_and_code(client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """Neither alone is enough; afterwards a password is."""
    secret, codes = _added(client, clock)
    sign_in(client, "lab")
    _post(client, "/sign-in/code", code=_code(secret, clock))
    remove: dict[str, Any] = {"path": "/account/second-factor/remove", "page": "/account"}
    assert _post(client, **remove, password=PASSWORD[1:], code=codes[1]).status_code == 400
    assert _post(client, **remove, password=PASSWORD, code="000000").status_code == 400
    assert _post(client, **remove, password=PASSWORD, code=codes[1]).location == "/sign-in"
    assert not _open(client)
    assert sign_in(client, "lab").location == "/"
    assert "removed the second factor" in [entry.what for entry in AuditTrail(engine).last(3)]


def test_a_secret_that_cannot_be_read_is_a_sentence(
    client: FlaskClient, clock: Clock, engine: Engine
) -> None:
    """After a change of the secret key: nobody gets in without the second factor, a recovery code counts."""
    secret, codes = _added(client, clock)
    sealed_with_another = SecondFactors(engine, "another secret key", now=clock).new_secret("lab")
    with writing(engine) as connection:
        connection.execute(update(ACCOUNTS).filter_by(name="lab").values(totp_secret=sealed_with_another))
    sign_in(client, "lab")
    answer = _post(client, "/sign-in/code", code=_code(secret, clock))
    assert answer.status_code == 500
    assert "The second factor of this account cannot be checked." in answer.text
    assert not _open(client)
    assert _post(client, "/sign-in/code", code=codes[0]).status_code == 303
