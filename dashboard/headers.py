"""Security headers of every response."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dashboard.access.gate import OneMachine, install

if TYPE_CHECKING:
    from collections.abc import Iterable

    from dash import Dash
    from flask import Response

_FIXED: Final[dict[str, str]] = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

_ENCRYPTED_ONLY: Final = "max-age=31536000"
"""A year, in which the browser asks this server over encrypted lines alone."""


def content_policy(script_hashes: Iterable[str]) -> str:
    """Return the content policy: everything from this server, nothing from any other."""
    rules = (
        "default-src 'self'",
        "script-src " + " ".join(["'self'", *script_hashes]),
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "connect-src 'self'",
        "worker-src 'self' blob:",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'self'",
        "object-src 'none'",
    )
    return "; ".join(rules)


def protect(app: Dash) -> None:
    """Put the headers on every answer, and serve this machine only."""
    policy = content_policy(app.csp_hashes())
    install(app, OneMachine(app))

    def add(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = policy
        for name, value in _FIXED.items():
            response.headers[name] = value
        if response.mimetype in {"text/html", "application/json"}:
            response.headers["Cache-Control"] = "no-store"
        return response

    app.server.after_request(add)


def serve_the_world(app: Dash, *, host: str, encrypted: bool) -> None:
    """Answer under the public name of a server, and no other."""
    app.server.config["TRUSTED_HOSTS"] = [host]

    def insist(response: Response) -> Response:
        response.headers["Strict-Transport-Security"] = _ENCRYPTED_ONLY
        return response

    if encrypted:
        app.server.after_request(insist)
