"""Limits on the size of request bodies, applied before a body is read."""

from __future__ import annotations

import io
import json
import re
from typing import TYPE_CHECKING, Any, Final

from flask import abort, g, request

if TYPE_CHECKING:
    from dashboard.access.account import AllNeeds, Needs

MENU_BYTES: Final = 2_000_000
"""Largest body of a request without files."""

FORM_BYTES: Final = 20_000
"""Largest body of a request without a session: the form of the sign-in page."""

_FRONT_BYTES: Final = 20_000
"""In which a large body must name its callback; the page writes it first."""

_FRONT: Final = re.compile(r'\s*\{\s*"output"\s*:\s*("(?:[^"\\]|\\.)*")')

_NAMED: Final = "callback-of-large-body"


def bring_no_files() -> None:
    """Refuse a body that is larger than the values of menus and fields."""
    _see_length()
    request.max_content_length = MENU_BYTES
    if (request.content_length or 0) > MENU_BYTES:
        abort(413, "This does not accept files.")


def is_large() -> bool:
    """Say whether the body is larger than the values of menus and fields."""
    _see_length()
    return (request.content_length or 0) > MENU_BYTES


def needs_of_large(all_needs: AllNeeds) -> Needs:
    """Return what the callback needs that a large body names in its first bytes; the rest is not read."""
    found = _FRONT.match(_front().decode("utf-8", "replace"))
    try:
        key = json.loads(found[1]) if found else None
    except ValueError:
        key = None
    needs = all_needs.callbacks.get(key) if isinstance(key, str) else None
    if needs is None or not needs.takes_files:
        abort(413, "This does not accept files.")
    setattr(g, _NAMED, key)
    return needs


def see_that_it_is_named(key: object) -> None:
    """Refuse a large body that named one callback first and another one later."""
    if g.get(_NAMED, key) != key:
        abort(400, "The request names two callbacks.")


def _see_length() -> None:
    """Limit a body without a stated length to the size of one without files."""
    if request.content_length is None:
        request.max_content_length = MENU_BYTES


def _front() -> bytes:
    """Return the first bytes of the body, which can be read once more afterwards."""
    stream = request.environ["wsgi.input"]
    front: bytes = stream.read(_FRONT_BYTES)
    request.environ["wsgi.input"] = io.BufferedReader(_PutBack(front, stream))
    return front


class _PutBack(io.RawIOBase):
    """A stream whose first bytes were read already."""

    def __init__(self, front: bytes, rest: Any) -> None:
        self._front = front
        self._rest = rest

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def readinto(self, target: Any) -> int:
        """Fill a buffer and return how many bytes are new in it."""
        size = len(target)
        found, self._front = self._front[:size], self._front[size:]
        found = found or self._rest.read(size)
        target[: len(found)] = found
        return len(found)
