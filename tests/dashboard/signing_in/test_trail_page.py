"""The audit trail as an administrator sees it: its chain, its counts and its export."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import text

from correlate.database import writing
from dashboard.accounts import AuditTrail
from dashboard.accounts.trail_file import difference, read_export
from dashboard.signing_in import trail_page
from tests.dashboard.served import asked, sign_in, small_app, with_accounts

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
def client(app: Dash, engine: Engine) -> FlaskClient:
    """Return a browser in which the administrator is signed in."""
    assert engine
    client: FlaskClient = app.server.test_client()
    sign_in(client, "admin")
    return client


def page(client: FlaskClient) -> str:
    """Return the page."""
    return asked(client, "GET", "/audit-trail").text


def change(engine: Engine, statement: str) -> None:
    """Change the trail as the owner of the database can, after removing what protects it."""
    with writing(engine) as connection:
        connection.execute(text("DROP TRIGGER audit_trail_no_update"))
        connection.execute(text(statement))


def test_the_page_says_that_the_trail_is_unbroken(client: FlaskClient) -> None:
    """With the number of lines, and without an alarm."""
    shown = page(client)
    assert "1 line, unbroken since 20" in shown
    assert re.search(r"<td>20\d\d-\d\d-\d\d \d\d:\d\d:\d\d</td>", shown)
    assert "Newest lines" not in shown
    assert 'role="alert"' not in shown


def test_the_page_says_where_the_trail_is_broken(client: FlaskClient, engine: Engine) -> None:
    """The line is named, in a message that is read out."""
    change(engine, "UPDATE audit_trail SET who = 'nobody' WHERE id = 1")
    shown = page(client)
    assert 'role="alert"' in shown
    assert "Broken at line 1: it was changed, or lines before it were removed or inserted." in shown


def test_the_page_checks_the_newest_lines_of_a_long_trail(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And says that there are others."""
    monkeypatch.setattr(trail_page, "_CHECKED", 2)
    for _ in range(3):
        page(client)
    assert "Newest lines: 2 lines, unbroken since 20" in page(client)


def test_the_page_shows_what_is_being_counted(app: Dash, client: FlaskClient) -> None:
    """Names that do not exist are counted, and shown as text."""
    stranger = app.server.test_client()
    for _ in range(3):
        sign_in(stranger, "<b>nobody</b>", "x")
    shown = page(client)
    counted = "<td>3</td><td>&lt;b&gt;nobody&lt;/b&gt;</td><td>could not sign in</td><td>127.0.0.1</td>"
    assert counted in shown
    assert shown.count("<td>could not sign in</td>") == 1


def test_failures_of_an_account_are_lines(app: Dash, client: FlaskClient, engine: Engine) -> None:
    """They are few, and each of them matters."""
    sign_in(app.server.test_client(), "lab", "x")
    assert AuditTrail(engine).last(1)[0].what == "could not sign in"
    assert "Attempts counted since" not in page(client)


def test_the_export_is_that_of_the_command(client: FlaskClient, engine: Engine, tmp_path: Path) -> None:
    """All lines, as a file, and that it was exported is a line."""
    answer = asked(client, "GET", "/audit-trail/export")
    assert answer.headers["Content-Disposition"] == "attachment; filename=audit-trail.jsonl"
    file = tmp_path / "audit-trail.jsonl"
    file.write_bytes(answer.data)
    trail = AuditTrail(engine)
    assert difference(read_export(file), trail.rows()) == ""
    assert trail.last(1)[0].what == "exported the audit trail"
    assert "/audit-trail/export" in page(client)


def test_the_export_is_for_administrators(app: Dash, engine: Engine) -> None:
    """Others are refused, which is a line."""
    client = app.server.test_client()
    sign_in(client, "lab")
    assert asked(client, "GET", "/audit-trail/export").status_code == 403
    assert AuditTrail(engine).last(1)[0].what == "was refused"
