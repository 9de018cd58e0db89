"""Large bodies: refused before they are read, by callback, role and path."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Any

import pytest

from dashboard.access.bodies import MENU_BYTES
from dashboard.accounts.open_sessions import SessionBook
from tests.dashboard.served import asked, body_of, page_token, sign_in, small_app, with_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash
    from flask.testing import FlaskClient

CALLBACKS = "/_dash-update-component"


class CountedBody(io.RawIOBase):
    """A body of which is known how much was read."""

    def __init__(self, content: bytes) -> None:
        self.read_bytes = 0
        self._content = io.BytesIO(content)

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def readinto(self, target: Any) -> int:
        """Count and read."""
        found = self._content.readinto(target)
        self.read_bytes += found
        return found


@pytest.fixture
def app(tmp_path: Path) -> Dash:
    """Return a server whose callback for the role lab takes files."""
    app = small_app()
    with_accounts(app, tmp_path)
    return app


def signed_in(app: Dash, name: str) -> tuple[FlaskClient, str]:
    """Return a client and its token."""
    client = app.server.test_client()
    sign_in(client, name)
    return client, page_token(client)


def send(app: Dash, name: str, text: bytes, path: str = CALLBACKS) -> tuple[int, int]:
    """Send a body as an account and return the status and how many bytes were read."""
    client, token = signed_in(app, name)
    body = CountedBody(text)
    answer = asked(
        client,
        "POST",
        path,
        environ_overrides={"wsgi.input": body, "CONTENT_LENGTH": str(len(text))},
        headers={"X-CSRFToken": token},
        content_type="application/json",
    )
    return answer.status_code, body.read_bytes


def large(app: Dash, output: str) -> bytes:
    """Return a large body for a callback."""
    body = body_of(app, output)
    body["inputs"][0]["value"] = "x" * MENU_BYTES
    return json.dumps(body).encode()


@pytest.mark.parametrize(
    ("name", "output", "status"),
    [
        ("viewer", "viewer.children", 413),
        ("admin", "viewer.children", 413),
        ("viewer", "lab.children", 403),
        ("analyst", "lab.children", 403),
    ],
)
def test_a_large_body_is_refused_after_its_first_bytes(
    app: Dash, name: str, output: str, status: int
) -> None:
    """The first bytes name the callback; whether it takes files and the account may send them decides."""
    got, read_bytes = send(app, name, large(app, output))
    assert got == status
    assert read_bytes < 70_000


def test_a_session_that_is_marked_as_used_reads_no_large_body(
    app: Dash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether a person or a clock sent a request is not searched for in an upload."""
    monkeypatch.setattr(SessionBook, "due", lambda *_: True)
    got, read_bytes = send(app, "viewer", large(app, "lab.children"))
    assert got == 403
    assert read_bytes < 70_000


def test_files_reach_the_callback_that_takes_them(app: Dash) -> None:
    """The bytes that were looked at are not lost."""
    text = large(app, "lab.children")
    assert send(app, "lab", text) == (200, len(text))


@pytest.mark.parametrize(
    "front",
    [
        b"",
        b"{",
        b'{"inputs": [], "output": "lab.children"',
        b'{"output": "none.children"',
        b'{"output": 7',
        b"\xff\xfe",
    ],
)
def test_a_large_body_that_does_not_name_its_callback_first_is_refused(app: Dash, front: bytes) -> None:
    """Nothing is searched for in it."""
    got, read_bytes = send(app, "admin", front + b" " * MENU_BYTES + b"}")
    assert got == 413
    assert read_bytes < 70_000


def test_a_large_body_cannot_name_another_callback_later(app: Dash) -> None:
    """Of two keys the last would count."""
    text = large(app, "lab.children")
    got, _ = send(app, "admin", text[:-1] + b', "output": "viewer.children"}')
    assert got == 400


@pytest.mark.parametrize("path", ["/sign-in", "/account", "/sign-out"])
def test_forms_are_small(app: Dash, path: str) -> None:
    """Only callbacks take files."""
    got, read_bytes = send(app, "admin", b"x" * (MENU_BYTES + 1), path)
    assert (got, read_bytes) == (413, 0)
