"""The pair page, empty until its callbacks have run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import dcc, html

from dashboard import ids
from dashboard.access import Role, current_account
from dashboard.components import pair_ids
from dashboard.components.graph import graph
from dashboard.components.labelled import labelled
from dashboard.components.pair_controls import change_card, pair_controls, tools
from dashboard.pages.page import page_parts
from dashboard.pages.pair_address import PARTS

if TYPE_CHECKING:
    from dash.development.base_component import Component

NAME: Final = "pair"
"""Of the page, in its ids."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run.

    Parameters
    ----------
    search
        Query of the URL.

    Returns
    -------
    dash.html.Main
    """
    content = [
        html.Div(id=ids.HEADING, className="heading"),
        html.Div(id=ids.PROBLEM),
        html.Div(_rated(), id=ids.RATED, hidden=True),
    ]
    # What a slider or a zoom sends again is no reason to cover the page.
    covers: Any = {ids.HEADING: "children"}
    shown = dcc.Loading(
        html.Div(content),
        custom_spinner=_waiting("Rating the pair …"),
        delay_show=200,
        overlay_style={"visibility": "visible"},
        parent_className="content",
        target_components=covers,
    )
    return html.Main(
        [
            *page_parts(NAME, search),
            dcc.Store(id=pair_ids.SHOWN),
            dcc.Store(id=pair_ids.ZOOM),
            pair_controls(PARTS),
            shown,
        ],
        className="page",
    )


def _rated() -> list[Component]:
    may_download = current_account().role.allows(Role.ANALYST)
    figure = html.Section(
        [tools(may_download=may_download), graph(ids.FIGURE, kind="pair-view")],
        className="card figure-card pair-figure",
        **labelled("Curves of test and model, and the loss over time"),
    )
    reasons = dcc.Loading(
        html.Div(id=pair_ids.REASONS, className="reasons"),
        custom_spinner=_waiting("Looking for reasons …"),
        delay_show=200,
        overlay_style={"visibility": "visible"},
        parent_className="reasons-place",
    )
    return [
        html.Section(id=ids.VERDICT, className="card verdict-card", **labelled("Rating")),
        html.Div(id=pair_ids.RELEASES),
        figure,
        change_card(),
        reasons,
        html.Div(id=ids.PROVENANCE, className="provenance"),
    ]


def _waiting(words: str) -> html.Div:
    return html.Div([html.Span(className="pulse"), words], className="waiting", role="status")
