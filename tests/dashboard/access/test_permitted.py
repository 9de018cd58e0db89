"""Roles are given where callbacks are registered, and are checked again inside each callback."""

from __future__ import annotations

import pytest
from dash import Dash, Input, Output, html
from flask import g
from werkzeug.exceptions import Forbidden, Unauthorized

from dashboard.access import Account, Role, current_account, permitted, record, require
from dashboard.access.account import needs_of, server_callbacks, without_role
from dashboard.access.gate import SignedIn


def _app() -> Dash:
    app = Dash("dashboard", enable_mcp=False)
    app.layout = html.Div([html.Div(id=name) for name in ("press", "one", "two", "three")])
    return app


def _add(app: Dash, target: str) -> None:
    app.callback(Output(target, "children"), Input("press", "n_clicks"))(lambda presses: presses)


def test_a_block_inside_a_block_speaks_for_itself() -> None:
    """The inner role holds for the inner callback, the outer one for the rest."""
    app = _app()
    with permitted(app, Role.VIEWER):
        _add(app, "one")
        with permitted(app, Role.LAB, audited="did something"):
            _add(app, "two")
        _add(app, "three")
    roles = {key: needs.role for key, needs in needs_of(app).callbacks.items()}
    assert roles == {"one.children": Role.VIEWER, "two.children": Role.LAB, "three.children": Role.VIEWER}
    assert needs_of(app).callbacks["two.children"].audited == "did something"


def test_a_callback_refuses_by_itself() -> None:
    """Even where the gate were open, the function behind a callback is not reached."""
    app = _app()
    with permitted(app, Role.LAB):
        _add(app, "one")
    with app.server.test_request_context("/"):
        with pytest.raises(Unauthorized, match="Sign in first"):
            app.callback_map["one.children"]["callback"](1)
        g.account = Account(name="somebody", role=Role.ANALYST)
        with pytest.raises(
            Forbidden, match=r"needs the role lab; the account somebody has the role analyst\. A"
        ):
            app.callback_map["one.children"]["callback"](1)


def test_a_server_does_not_start_with_a_callback_that_has_no_role() -> None:
    """A forgotten role is found at the start, not by a visitor; callbacks in the browser need none."""
    app = _app()
    with permitted(app, Role.VIEWER):
        _add(app, "one")
    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        "x => x", Output("three", "children"), Input("press", "n_clicks")
    )
    assert server_callbacks(app) == ["one.children"]
    assert without_role(app) == []
    _add(app, "two")
    assert without_role(app) == ["two.children"]
    with pytest.raises(RuntimeError, match=r"callbacks without a role: two\.children"):
        SignedIn(
            app,
            origin="https://ratings.example",
            who=lambda: None,
            sign_in="/sign-in",
            check_token=lambda: None,
            open_to_all=frozenset(),
        )


def test_outside_of_requests_the_machine_itself_asks() -> None:
    """Functions of pages can be called without a server, and nothing is recorded then."""
    assert current_account().name == "admin on this machine"
    require(Role.ADMIN)
    record("nothing happens")
