"""The cookie by which a browser is recognized in which an account signed in before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import after_this_request, current_app, request
from itsdangerous import BadSignature, URLSafeSerializer

if TYPE_CHECKING:
    from flask import Response

    from dashboard.accounts import KnownDevices

DEVICE_COOKIE: Final = "__Host-correlate-device"
"""Gives a known browser attempts of its own; it signs nobody in."""

_LIFETIME_S: Final = 400 * 24 * 3600
"""As long as browsers keep a cookie."""


def device_of(devices: KnownDevices, name: str) -> str:
    """Return the mark of this browser, hashed, if an account knows it; else an empty text."""
    mark = _shown_mark()
    return devices.recognized(name, mark) if mark else ""


def remember_device(devices: KnownDevices, name: str) -> None:
    """Let an account recognize this browser; the answer to the present request gives it its cookie."""
    mark = devices.remember(name, _shown_mark())

    def give(response: Response) -> Response:
        response.set_cookie(
            DEVICE_COOKIE,
            _signer().dumps(mark),
            max_age=_LIFETIME_S,
            path="/",
            secure=True,
            httponly=True,
            samesite="Strict",
        )
        return response

    after_this_request(give)


def _shown_mark() -> str:
    """Return the mark that this browser shows, if this server signed it; else an empty text."""
    try:
        mark = _signer().loads(request.cookies.get(DEVICE_COOKIE, ""))
    except BadSignature:
        return ""
    return mark if isinstance(mark, str) else ""


def _signer() -> URLSafeSerializer:
    return URLSafeSerializer(current_app.secret_key or "", salt="known device")
