"""Answers to requests that cannot be served: a sentence, never a blank page or internal details."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from flask import make_response, request
from markupsafe import escape
from werkzeug.exceptions import HTTPException, InternalServerError

from correlate import CorrelateError
from dashboard import theme
from dashboard.access.gate import CALLBACKS
from dashboard.access.local_key import PARAMETER, WithoutKey, without_key

if TYPE_CHECKING:
    from dash import Dash
    from flask import Response

INTERNAL: Final = "Internal error. See the server log."

_HOME: Final = '<p><a href="/">Go to the decision sheet</a></p>'

_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title} · correlate</title>
<style>{style}
@media (prefers-color-scheme: dark) {{ :root {{ color-scheme: dark; {dark} }} }}
body {{ margin: 0; background: var(--page); color: var(--ink); font: 1rem/1.5 var(--font); }}
main {{ max-width: 36rem; margin: 8vh auto 4rem; padding: 0 1.25rem; }}
h1 {{ font-size: 1.5rem; margin: 0 0 .5rem; }}
p {{ overflow-wrap: anywhere; }}
a {{ color: var(--accent); }}
label {{ display: block; margin: 1.25rem 0 .25rem; }}
input:not([type="hidden"]) {{ box-sizing: border-box; width: 100%; padding: .55rem .7rem; font: inherit;
  color: inherit; background: var(--panel); border: 1px solid var(--edge); border-radius: 4px; }}
button {{ margin: 1.25rem 0 0; padding: .55rem 1.1rem; font: inherit; color: var(--panel);
  background: var(--accent); border: 1px solid var(--accent); border-radius: 4px; cursor: pointer; }}
:focus-visible {{ outline: 3px solid var(--accent); outline-offset: 2px; }}
</style>
</head>
<body><main><h1>{title}</h1><p>{words}</p>{rest}</main></body>
</html>
"""


def answer_in_words(app: Dash) -> None:
    """Give every refusal and every internal error a sentence: as text for a page, as a page for a person."""
    server = app.server
    server.register_error_handler(HTTPException, _refusal)
    server.register_error_handler(CorrelateError, _not_possible)
    server.register_error_handler(WithoutKey, _ask_for_key)


def words_page(title: str, words: str, rest: str = "") -> str:
    """Return a page with a heading and a sentence, which needs no other file.

    Parameters
    ----------
    title, words
        Text.
    rest
        Markup that follows, made by us.
    """
    return _PAGE.format(
        title=escape(title),
        words=escape(words),
        rest=rest,
        style=theme.style_sheet(),
        dark=theme.dark_colours(),
    )


def _refusal(error: HTTPException) -> Any:
    if error.response is not None or error.code is None or error.code < 400:
        return error
    words = INTERNAL if isinstance(error, InternalServerError) else error.description or error.name
    return _said(error.name, words, error.code, headers=dict(error.get_headers()))


def _not_possible(error: CorrelateError) -> Response:
    return _said("Request failed", str(error), 400, headers={})


def _ask_for_key(error: WithoutKey) -> Response:
    """Say where the key is, with a field for it that leads to the page that was asked for."""
    kept = "".join(
        f'<input type="hidden" name="{escape(name)}" value="{escape(value)}">'
        for name, value in request.args.items(multi=True)
        if name != PARAMETER
    )
    form = (
        f'<form method="get" action="{escape(request.path)}">{kept}<label for="key">Key</label>'
        f'<input id="key" name="{PARAMETER}" autocomplete="off" required>'
        '<button type="submit">Open</button></form>'
        "<p>If you followed a link with the right key from another web page, "
        f'<a href="{escape(without_key())}">try again from here</a>.</p>'
    )
    return _said("Key required", str(error.description), 403, headers={}, rest=form)


def _said(title: str, words: str, status: int, headers: dict[str, str], rest: str = _HOME) -> Response:
    if request.endpoint == CALLBACKS:
        answer = make_response(words, status)
        answer.mimetype = "text/plain"
    else:
        answer = make_response(words_page(title, words, rest), status)
    for name, value in headers.items():
        if name != "Content-Type":
            answer.headers[name] = value
    return answer
