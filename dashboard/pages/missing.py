"""What is shown at an address that has no page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import dcc, html

from dashboard.components.problem import problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dashboard.pages.page import Page


NAME: Final = "No such page"
"""For the tab."""


def layout(path: str, pages: Sequence[Page]) -> html.Main:
    """Return the page.

    Parameters
    ----------
    path
        That was asked for.
    pages
        That there are.

    Returns
    -------
    dash.html.Main
    """
    links = html.Ul([html.Li(dcc.Link(page.name, href=page.path)) for page in pages], className="way-out")
    words = f"There is no page at {path}; the link may be outdated or incomplete. Available pages:"
    return html.Main([problem("Page not found", words, way_out=links)], className="page narrow")
