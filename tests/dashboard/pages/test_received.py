"""What callbacks receive: nothing wrong gets past the check, and every refusal is a sentence."""

from __future__ import annotations

import logging
from itertools import islice
from typing import TYPE_CHECKING, Any

import pytest
from dash import Dash, Input, Output, dcc, html

from dashboard.access import Role, permitted
from dashboard.access.account import server_callbacks
from dashboard.answers import INTERNAL, answer_in_words
from dashboard.app import create_app
from dashboard.headers import protect
from dashboard.pages.received import check_received
from tests.dashboard.pages.wrong_calls import (
    QUERIES,
    RAW,
    absurd_addresses,
    plain_call,
    statuses,
    wrong_shapes,
    wrong_values,
)
from tests.dashboard.served import call, page_token, sign_in, with_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse

AT = "http://127.0.0.1"


@pytest.fixture(scope="module")
def app(folder: Path) -> Dash:
    """Return the application of one machine for the small project."""
    return create_app(folder)


@pytest.fixture
def client(app: Dash) -> FlaskClient:
    """Return a browser of it."""
    return app.server.test_client()  # type: ignore[no-any-return]


def post(client: FlaskClient, body: bytes) -> TestResponse:
    """Send bytes in place of a call."""
    return client.post("/_dash-update-component", data=body, content_type="application/json", base_url=AT)


def test_no_wrong_value_is_an_internal_error(app: Dash) -> None:
    """Null, numbers, lists, NaN, 10**400 and long texts in every place of every callback, and unknown ids."""
    bodies = (body for key in server_callbacks(app) for body in wrong_values(app, key))
    found = statuses(app, islice(bodies, 0, None, 4))
    assert found.total() > 1_500
    assert set(found) <= {200, 204, 400}
    assert found[400] > found[200]


def test_no_wrong_shape_is_an_internal_error(app: Dash) -> None:
    """Missing parts, parts of another type, and those of another callback: all are refused."""
    bodies = (body for key in server_callbacks(app) for body in wrong_shapes(app, key))
    found = statuses(app, islice(bodies, 0, None, 5))
    assert found.total() > 500
    assert set(found) <= {200, 204, 400}


@pytest.mark.parametrize(
    "callback", ["pair-address.search...release", "dummies-address", "tuning-curve-shown.data...", "stepping"]
)
def test_no_absurd_address_is_an_internal_error(app: Dash, callback: str) -> None:
    """Lists, 10,000 characters, NUL, numbers beyond any test, and names of nothing, in the query."""
    (key,) = (key for key in server_callbacks(app) if key.removeprefix("..").startswith(callback))
    found = statuses(app, absurd_addresses(app, key))
    assert found.total() >= len(QUERIES)
    assert set(found) <= {200, 204, 400}


@pytest.mark.parametrize("body", RAW, ids=lambda body: repr(body[:16]))
def test_what_is_no_call_is_refused_in_words(client: FlaskClient, body: bytes) -> None:
    """Text that is not JSON, JSON that is no call, and nesting beyond any parser."""
    answer = post(client, body)
    assert answer.status_code == 400
    assert answer.mimetype == "text/plain"
    assert answer.text.endswith("Reload the page.")


def test_the_sentence_names_the_field(app: Dash, client: FlaskClient) -> None:
    """Whoever reads the refusal knows which value is meant."""
    (key,) = (key for key in server_callbacks(app) if key.startswith("..pair-address.search...release"))
    body = plain_call(app, key)
    body["inputs"][7]["value"] = 1e308
    answer = client.post("/_dash-update-component", json=body, base_url=AT)
    assert answer.status_code == 400
    assert answer.text.startswith("The request is not valid: the value of 'interval-from.value' cannot")


@pytest.mark.parametrize("role", list(Role))
def test_every_role_is_refused_in_words(folder: Path, tmp_path: Path, role: Role) -> None:
    """With accounts a wrong call is answered with 400 or 403, whoever sends it."""
    app = create_app(folder)
    with_accounts(app, tmp_path)
    client = app.server.test_client()
    sign_in(client, role.value)
    token = page_token(client)
    for key in server_callbacks(app):
        body = {**plain_call(app, key), "inputs": [[[None]]]}
        assert call(client, body, token).status_code in {400, 403}, key


@pytest.mark.parametrize("query", QUERIES)
@pytest.mark.parametrize(
    "path", ["/pair", "/no/such/page", "/media/x/../y", "/report/%00/html", "/report/9/zz"]
)
def test_a_page_with_an_absurd_address_is_no_internal_error(
    client: FlaskClient, path: str, query: str
) -> None:
    """The document itself, photos and reports."""
    address = f"{path}{query if query.startswith('?') else '?' + query}"
    assert client.get(address, base_url=AT).status_code < 500


@pytest.mark.parametrize("path", ["/media/x/y.png", "/report/9/html"])
def test_what_is_not_there_is_a_page_with_words(client: FlaskClient, path: str) -> None:
    """A refusal that a person sees has a heading and a way on."""
    answer = client.get(path, base_url=AT)
    assert answer.status_code in {404, 400}
    assert "<h1>" in answer.text
    assert 'href="/"' in answer.text


def failing(error: Exception) -> FlaskClient:
    """Return a browser of an application whose only callback fails."""
    app = Dash("dashboard", enable_mcp=False)
    app.layout = app.validation_layout = html.Div([dcc.Interval(id="clock"), html.Div(id="shown")])  # type: ignore[assignment]
    with permitted(app, Role.VIEWER):

        @app.callback(Output("shown", "children"), Input("clock", "n_intervals"))
        def _fail(beats: int) -> Any:  # noqa: ARG001 - it triggers
            raise error

    protect(app)
    check_received(app)
    answer_in_words(app)
    app.server.config["PROPAGATE_EXCEPTIONS"] = False
    return app.server.test_client()  # type: ignore[no-any-return]


def test_an_internal_error_is_logged_and_says_nothing_of_the_inside(caplog: pytest.LogCaptureFixture) -> None:
    """The log has the traceback, the page a sentence."""
    body = {
        "output": "shown.children",
        "outputs": {"id": "shown", "property": "children"},
        "inputs": [{"id": "clock", "property": "n_intervals", "value": 1}],
        "changedPropIds": ["clock.n_intervals"],
    }
    with caplog.at_level(logging.ERROR):
        answer = failing(ZeroDivisionError("/secret/place")).post(
            "/_dash-update-component", json=body, base_url=AT
        )
    assert answer.status_code == 500
    assert answer.text == INTERNAL
    assert "ZeroDivisionError" in caplog.text


def test_an_undeclared_value_stops_the_server_at_its_start() -> None:
    """A callback that listens to something of unknown shape is found before anybody can send it."""
    app = Dash("dashboard", enable_mcp=False)
    app.validation_layout = html.Div([dcc.Store(id="anything"), html.Div(id="shown")])  # type: ignore[assignment]
    app.callback(Output("shown", "children"), Input("anything", "data"))(lambda data: data)
    with pytest.raises(RuntimeError, match=r"not declared what 'anything\.data' may hold"):
        check_received(app)
