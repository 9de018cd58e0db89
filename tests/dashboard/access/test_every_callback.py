"""Every callback of the real application, as every role and signed out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboard.access import Role
from dashboard.access.account import needs_of, server_callbacks, without_role
from dashboard.app import create_app
from tests.dashboard.served import body_of, call, page_token, sign_in, with_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash


@pytest.fixture(scope="module")
def app(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Dash:
    """Return the application of the small project, with accounts."""
    made = create_app(folder)
    with_accounts(made, tmp_path_factory.mktemp("accounts"))
    return made


def test_every_callback_has_a_role(app: Dash) -> None:
    """None was forgotten, and there are some."""
    assert without_role(app) == []
    assert len(server_callbacks(app)) > 3


@pytest.mark.parametrize("who", [None, *Role])
def test_every_callback_answers_who_may_and_nobody_else(app: Dash, who: Role | None) -> None:
    """401 without a session, 403 below the least role, and neither from there on."""
    client = app.server.test_client()
    token = ""
    if who is not None:
        sign_in(client, who.value)
        token = page_token(client)
    for key in server_callbacks(app):
        status = call(client, body_of(app, key), token).status_code
        if who is None:
            assert status == 401, key
        elif who.allows(needs_of(app).callbacks[key].role):
            assert status not in {400, 401, 403, 404, 413}, key
        else:
            assert status == 403, key


def test_no_callback_answers_without_the_token(app: Dash) -> None:
    """Not even an admin's session is enough alone."""
    client = app.server.test_client()
    sign_in(client, "admin")
    for key in server_callbacks(app):
        assert call(client, body_of(app, key)).status_code == 400, key


def test_on_one_machine_every_callback_answers(folder: Path) -> None:
    """Without accounts nothing is refused but pages elsewhere."""
    made = create_app(folder)
    client = made.server.test_client()
    for key in server_callbacks(made):
        sent = {"path": "/_dash-update-component", "json": body_of(made, key), "base_url": "http://localhost"}
        assert client.post(**sent).status_code < 400, key
        assert client.post(**sent, headers={"Origin": "http://elsewhere.example"}).status_code == 403, key
