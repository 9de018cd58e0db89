"""Sessions end on the server: by signing out, by time, by a change of the account, and one by one."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from dash import Dash, Input, Output, dcc, html
from sqlalchemy import event, select

from correlate.database import reading
from dashboard.access import Role, permitted
from dashboard.account_settings import AccountsTable
from dashboard.accounts import AccountBook, AuditTrail
from dashboard.accounts.tables import SESSIONS
from dashboard.headers import protect
from tests.dashboard.clock import Clock
from tests.dashboard.served import (
    CHEAP,
    PASSWORD,
    asked,
    body_of,
    call,
    page_token,
    sign_in,
    token_in,
    with_accounts,
)

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient
    from sqlalchemy import Engine

HOST = "ratings.example"


@pytest.fixture
def clock() -> Clock:
    """Return the clock of the server."""
    return Clock()


@pytest.fixture
def app() -> Dash:
    """Return a page with a button and a clock of its own."""
    app = Dash("dashboard", enable_mcp=False)
    app.layout = html.Div(
        [html.Button(id="press"), dcc.Interval(id="beat"), html.Div(id="out"), html.Div(id="job")]
    )
    with permitted(app, Role.VIEWER):
        app.callback(Output("out", "children"), Input("press", "n_clicks"))(lambda presses: presses)
        app.callback(Output("job", "children"), Input("beat", "n_intervals"))(lambda beats: beats)
    protect(app)
    return app


@pytest.fixture
def engine(app: Dash, tmp_path: Path, clock: Clock) -> Engine:
    """Give it accounts; sessions last two hours, twenty minutes without activity."""
    settings = AccountsTable(session_hours=2, idle_minutes=20)
    return with_accounts(app, tmp_path, settings, now=clock)


@pytest.fixture
def client(app: Dash, engine: Engine) -> FlaskClient:
    """Return a browser in which a viewer signed in."""
    assert engine
    client: FlaskClient = app.server.test_client()
    assert sign_in(client, "viewer").status_code == 303
    return client


def _open(client: FlaskClient) -> bool:
    return asked(client, "GET", "/_dash-layout").status_code == 200


def _copied(app: Dash, client: FlaskClient) -> FlaskClient:
    """Return another browser with a copy of the cookie."""
    cookie = client.get_cookie("__Host-correlate", domain=HOST)
    assert cookie is not None
    other: FlaskClient = app.server.test_client()
    other.set_cookie("__Host-correlate", cookie.value, domain=HOST, secure=True)
    return other


def _sign_out(client: FlaskClient) -> None:
    asked(client, "POST", "/sign-out", data={"csrf_token": token_in(client, "/account")})


def test_a_copied_cookie_is_worth_nothing_after_signing_out(app: Dash, client: FlaskClient) -> None:
    """The session ends on the server, not only in the browser that signed out."""
    thief = _copied(app, client)
    assert _open(thief)
    _sign_out(client)
    assert not _open(thief)


def test_signing_in_again_ends_the_session_before(app: Dash, client: FlaskClient) -> None:
    """A browser has one session; the cookie that it had is worth nothing."""
    before = _copied(app, client)
    _sign_in_as(client, "lab")
    assert not _open(before)


def _sign_in_as(client: FlaskClient, name: str) -> None:
    form = {"csrf_token": token_in(client, "/account"), "name": name, "password": PASSWORD}
    assert asked(client, "POST", "/sign-in", data=form).status_code == 303


def test_an_idle_session_ends_and_stays_ended(client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """Also when the clock is set back; one line of the trail says so, however many requests there were."""
    clock.forward(minutes=19)
    assert _open(client)
    clock.forward(minutes=19)
    assert _open(client)
    clock.forward(minutes=20)
    assert not _open(client)
    clock.forward(minutes=-20)
    assert not _open(client)
    assert [entry.what for entry in AuditTrail(engine).last(9)] == ["signed in", "a session was idle"]


def test_a_busy_session_ends_after_its_hours(client: FlaskClient, clock: Clock) -> None:
    """However often the page was used."""
    for _ in range(7):
        clock.forward(minutes=17)
        assert _open(client)
    clock.forward(minutes=1)
    assert not _open(client)


def test_a_session_from_the_future_is_not_believed(client: FlaskClient, clock: Clock) -> None:
    """A clock that is set back a little harms nobody; by more, everybody signs in again."""
    clock.forward(seconds=-30)
    assert _open(client)
    clock.forward(minutes=-5)
    assert not _open(client)


def test_a_page_that_asks_at_an_interval_is_no_activity(app: Dash, client: FlaskClient, clock: Clock) -> None:
    """The progress of a job keeps nobody signed in who left; pressing a button does."""
    beat = body_of(app, "job.children") | {"changedPropIds": ["beat.n_intervals"]}
    press = body_of(app, "out.children") | {"changedPropIds": ["press.n_clicks"]}
    token = page_token(client)
    for minutes, body in ((15, beat), (4, press), (15, beat), (4, beat)):
        clock.forward(minutes=minutes)
        assert call(client, body, token).status_code == 200
    clock.forward(minutes=1)
    assert call(client, beat, token).status_code == 401


def test_the_last_activity_is_saved_once_a_minute(client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """A request costs one query; a write is added at most once a minute."""
    seen: list[str] = []
    event.listen(engine, "before_cursor_execute", lambda *told: seen.append(told[2].split()[0]))
    for _ in range(5):
        assert _open(client)
    assert seen.count("SELECT") == 5
    assert seen.count("UPDATE") == 0
    clock.forward(minutes=1)
    for _ in range(5):
        assert _open(client)
    assert seen.count("SELECT") == 10
    assert seen.count("UPDATE") == 1


@pytest.mark.parametrize("change", ["role", "password", "close", "everywhere"])
def test_a_change_of_the_account_ends_its_sessions_in_the_table(
    client: FlaskClient, engine: Engine, change: str
) -> None:
    """Those of other accounts stay."""
    book = AccountBook(engine, passwords=CHEAP)
    if change == "role":
        book.change_role("viewer", Role.LAB)
    elif change == "password":
        book.change_password("viewer", "quite another password")
    elif change == "close":
        book.close("viewer")
    else:
        book.end_sessions("viewer")
    assert not _open(client)
    with reading(engine) as connection:
        ended = connection.execute(select(SESSIONS.c.ended)).scalars().all()
    assert len(ended) == 1
    assert ended[0]


def test_the_table_opens_no_session(app: Dash, client: FlaskClient, engine: Engine) -> None:
    """It holds a hash; whoever reads the database has no cookie."""
    with client.session_transaction(base_url=f"https://{HOST}") as kept:
        secret = kept["_user_id"]
    assert len(secret) >= 43
    with reading(engine) as connection:
        rows = connection.execute(select(SESSIONS)).all()
    assert len(rows) == 1
    assert secret not in str(rows)
    other = app.server.test_client()
    with other.session_transaction(base_url=f"https://{HOST}") as forged:
        forged["_user_id"] = rows[0].id
    assert not _open(other)


def test_sessions_survive_a_restart_of_the_server(client: FlaskClient, tmp_path: Path, clock: Clock) -> None:
    """Another process with the same database and key knows the session."""
    again = Dash("dashboard", enable_mcp=False)
    again.layout = html.Div()
    protect(again)
    with_accounts(again, tmp_path, AccountsTable(), now=clock)
    assert _open(_copied(again, client))


def test_the_account_page_lists_sessions_and_ends_one(app: Dash, client: FlaskClient, clock: Clock) -> None:
    """Start, last activity and address of each; this one has no button."""
    clock.forward(minutes=5)
    other: FlaskClient = app.server.test_client()
    sign_in(other, "viewer")
    page = asked(client, "GET", "/account").text
    assert page.count("this session") == 1
    assert "2031-04-05 06:07" in page
    assert "2031-04-05 06:12" in page
    assert "127.0.0.1" in page
    (end,) = re.findall(r'value="(\w{64})">\s*<button', page)
    form = {"csrf_token": token_in(client, "/account"), "session": end}
    assert asked(client, "POST", "/account/sessions", data=form).location == "/account"
    assert not _open(other)
    assert _open(client)


def test_nobody_ends_the_session_of_another_account(app: Dash, client: FlaskClient, engine: Engine) -> None:
    """Even with its number."""
    other: FlaskClient = app.server.test_client()
    sign_in(other, "lab")
    with reading(engine) as connection:
        number = connection.execute(select(SESSIONS.c.id).filter_by(account="lab")).scalar_one()
    form = {"csrf_token": token_in(client, "/account"), "session": number}
    asked(client, "POST", "/account/sessions", data=form)
    assert _open(other)


def test_sessions_that_ended_long_ago_are_deleted(client: FlaskClient, clock: Clock, engine: Engine) -> None:
    """And those of browsers that never came back; the trail still has the sign-ins."""
    _sign_out(client)
    sign_in(client, "viewer")
    clock.forward(days=2)
    sign_in(client, "viewer")
    with reading(engine) as connection:
        assert len(connection.execute(select(SESSIONS)).all()) == 1
    assert [entry.what for entry in AuditTrail(engine).last(9)].count("signed in") == 3
