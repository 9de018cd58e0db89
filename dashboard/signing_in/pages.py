"""The pages where people sign in and out, as HTML."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, Final

from flask_wtf.csrf import generate_csrf
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from dashboard import paths, theme
from dashboard.accounts.book import SHORTEST

PATHS: Final = SimpleNamespace(
    sign_in="/sign-in",
    code="/sign-in/code",
    new_factor="/sign-in/second-factor",
    provider="/sign-in/provider",
    answer="/sign-in/provider/answer",
    sign_out="/sign-out",
    signed_out="/signed-out",
    account=paths.ACCOUNT,
    sessions=f"{paths.ACCOUNT}/sessions",
    add_factor=f"{paths.ACCOUNT}/second-factor/add",
    remove_factor=f"{paths.ACCOUNT}/second-factor/remove",
    audit="/audit-trail",
    trail_export="/audit-trail/export",
)
"""Of these pages, in the URL."""

_TEMPLATES: Final = Environment(
    loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined
)


def shown(page: str, title: str, *, said: str = "", **values: Any) -> str:
    """Return one of the pages; every name in it is escaped."""
    return _TEMPLATES.get_template("pages.html").render(
        page=page,
        title=title,
        said=said,
        paths=PATHS,
        shortest=SHORTEST,
        csrf_token=generate_csrf(),
        mark=theme.mark(),
        style_sheet=_style_sheet(),
        **values,
    )


def _style_sheet() -> str:
    from markupsafe import Markup  # noqa: PLC0415

    return Markup(theme.style_sheet())  # noqa: S704 - made of constants of the project


def own_path(wanted: str | None) -> str:
    """Return where to go after signing in: a path of this server, the first page otherwise.

    Examples
    --------
    >>> own_path("/pair?release=A1"), own_path("//elsewhere.example"), own_path("https://elsewhere.example")
    ('/pair?release=A1', '/', '/')
    """
    path = wanted or "/"
    stays_here = (
        path.startswith("/") and not path.startswith("//") and "\\" not in path and path.isprintable()
    )
    return path if stays_here else "/"
