"""Attempts that are made at the same time, and browsers that an account knows, as a browser sees them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Condition
from typing import TYPE_CHECKING

import pytest
from argon2 import PasswordHasher

from dashboard.accounts.book import Passwords
from dashboard.accounts.guesses import OF_BOTH, OF_DEVICE
from tests.dashboard.served import PASSWORD, asked, sign_in, small_app, token_in, with_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash
    from flask.testing import FlaskClient

AT_ONCE = 50
DEVICE = "__Host-correlate-device"
HOST = "ratings.example"


class SlowPasswords(Passwords):
    """Compares a password only when every request has come this far or was answered."""

    def __init__(self) -> None:
        super().__init__(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
        self.compared = 0
        self.answered = 0
        self._changed = Condition()

    def match(self, kept: str | None, password: str) -> bool:
        """Compare."""
        with self._changed:
            self.compared += 1
            self._changed.notify_all()
            assert self._changed.wait_for(lambda: self.compared + self.answered >= AT_ONCE, timeout=60)
        return super().match(kept, password)

    def answer(self) -> None:
        """Count a request that was answered without a comparison."""
        with self._changed:
            self.answered += 1
            self._changed.notify_all()


@pytest.fixture
def app() -> Dash:
    """Return an application with one callback a role."""
    return small_app()


def browser(app: Dash) -> FlaskClient:
    """Return a browser that is not signed in."""
    return app.server.test_client()  # type: ignore[no-any-return]


def test_attempts_at_the_same_time_do_not_pass_together(app: Dash, tmp_path: Path) -> None:
    """Of fifty attempts at once no more are looked at than of fifty in a row; the others wait."""
    passwords = SlowPasswords()
    with_accounts(app, tmp_path, passwords=passwords)
    clients = [browser(app) for _ in range(AT_ONCE)]
    tokens = [token_in(client, "/sign-in") for client in clients]

    def attempt(number: int) -> int:
        form = {"csrf_token": tokens[number], "name": "lab", "password": "a guess"}
        status = asked(clients[number], "POST", "/sign-in", data=form).status_code
        if status == 429:
            passwords.answer()
        return int(status)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        statuses = list(pool.map(attempt, range(AT_ONCE)))
    assert passwords.compared == OF_BOTH
    assert sorted(statuses) == [401] * OF_BOTH + [429] * (AT_ONCE - OF_BOTH)


def test_an_owner_gets_in_where_strangers_guess(app: Dash, tmp_path: Path) -> None:
    """The browser in which the owner signed in before; another one at the same address does not."""
    with_accounts(app, tmp_path)
    owner, stranger = browser(app), browser(app)
    sign_in(owner, "lab")
    asked(owner, "POST", "/sign-out", data={"csrf_token": token_in(owner, "/account")})
    for _ in range(OF_BOTH):
        assert sign_in(stranger, "lab", "a guess").status_code == 401
    assert sign_in(browser(app), "lab").status_code == 429
    assert sign_in(owner, "lab").status_code == 303


def test_a_known_browser_has_its_own_limit(app: Dash, tmp_path: Path) -> None:
    """Whoever steals its cookie gets no more guesses with it than anybody."""
    with_accounts(app, tmp_path)
    owner = browser(app)
    sign_in(owner, "lab")
    asked(owner, "POST", "/sign-out", data={"csrf_token": token_in(owner, "/account")})
    for _ in range(OF_DEVICE):
        assert sign_in(owner, "lab", "a guess").status_code == 401
    assert sign_in(owner, "lab").status_code == 429


def test_a_browser_is_known_to_the_account_that_signed_in(app: Dash, tmp_path: Path) -> None:
    """Somebody with an account of their own does not get further with that of another."""
    with_accounts(app, tmp_path)
    stranger = browser(app)
    sign_in(stranger, "viewer")
    asked(stranger, "POST", "/sign-out", data={"csrf_token": token_in(stranger, "/account")})
    for _ in range(OF_BOTH):
        assert sign_in(stranger, "lab", "a guess").status_code == 401
    assert sign_in(stranger, "lab").status_code == 429


def test_the_cookie_of_a_known_browser_is_kept_from_scripts(app: Dash, tmp_path: Path) -> None:
    """It is for this server and encrypted lines, lasts long, and signs nobody in."""
    with_accounts(app, tmp_path)
    client = browser(app)
    given = sign_in(client, "viewer").headers.getlist("Set-Cookie")
    cookie = next(one for one in given if one.startswith(f"{DEVICE}="))
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Strict", "Max-Age=34560000"} <= set(cookie.split("; "))
    assert "Domain" not in cookie
    thief = browser(app)
    value = cookie.split("; ")[0].removeprefix(f"{DEVICE}=")
    thief.set_cookie(DEVICE, value, domain=HOST, secure=True)
    assert asked(thief, "GET", "/_dash-layout").status_code == 401


@pytest.mark.parametrize("value", ["", "x", "a.b", "{}", "é"])
def test_a_cookie_that_this_server_did_not_sign_is_ignored(app: Dash, tmp_path: Path, value: str) -> None:
    """It gives no allowance, and a right password gets in all the same."""
    with_accounts(app, tmp_path)
    client = browser(app)
    client.set_cookie(DEVICE, value, domain=HOST, secure=True)
    for _ in range(OF_BOTH - 1):
        assert sign_in(client, "lab", "a guess").status_code == 401
    assert sign_in(client, "lab", PASSWORD).status_code == 303
