"""What every answer says about safety, on a server with a public name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboard.headers import content_policy, protect, serve_the_world
from tests.dashboard.served import asked, small_app, with_accounts

if TYPE_CHECKING:
    from pathlib import Path


def test_the_policy_allows_this_server_alone() -> None:
    """Every source is this server, data in the page, or a script by its hash."""
    rules = dict(rule.split(" ", 1) for rule in content_policy(["'sha256-x'"]).split("; "))
    assert rules["script-src"] == "'self' 'sha256-x'"
    assert rules["default-src"] == rules["connect-src"] == rules["form-action"] == "'self'"
    allowed = {"'self'", "'none'", "'unsafe-inline'", "data:", "blob:", "'sha256-x'"}
    assert {source for rule in rules.values() for source in rule.split()} <= allowed


@pytest.mark.parametrize("path", ["/sign-in", "/_dash-layout", "/", "/no/such/page", "/assets/page.css"])
def test_every_answer_of_a_server_insists_on_encryption(path: str, tmp_path: Path) -> None:
    """Also refusals and the way to the sign-in page."""
    app = small_app()
    with_accounts(app, tmp_path)
    headers = asked(app.server.test_client(), "GET", path).headers
    assert headers["Strict-Transport-Security"] == "max-age=31536000"
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_a_server_on_localhost_does_not_insist() -> None:
    """The browser would never ask for anything on this machine without encryption again."""
    app = small_app()
    protect(app)
    serve_the_world(app, host="localhost", encrypted=False)
    assert "Strict-Transport-Security" not in app.server.test_client().get("/").headers
