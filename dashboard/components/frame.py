"""The frame around every page: name, campaign, choice of theme, caution."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import CAUTION
from dashboard import ids, theme
from dashboard.components.labelled import DECORATION, labelled

if TYPE_CHECKING:
    from dash.development.base_component import Component

_THEMES: Final = [
    {"value": "auto", "label": "Auto"},
    {"value": "light", "label": "Light"},
    {"value": "dark", "label": "Dark"},
]


def frame(page: Component) -> dmc.MantineProvider:
    """Return a page in its frame.

    Parameters
    ----------
    page
        The page.

    Returns
    -------
    dash_mantine_components.MantineProvider
    """
    return dmc.MantineProvider(
        [
            dcc.Location(id=ids.ADDRESS, refresh=False),
            dcc.Store(id=ids.THEME),
            dcc.Store(id=ids.TAB_TITLE),
            html.A("Skip to the rating", href="#content", className="skip"),
            _head(),
            page,
            html.Footer(html.P(CAUTION), className="foot"),
        ],
        id=ids.PROVIDER,
        theme=theme.MANTINE,
    )


def _head() -> html.Header:
    return html.Header(
        [
            html.Div([html.Span(className="mark", **DECORATION), "correlate"], className="name"),
            html.Div(id=ids.CAMPAIGN, className="campaign"),
            dmc.SegmentedControl(
                id=ids.THEME_CHOICE,
                data=_THEMES,
                value="auto",
                size="xs",
                persistence=True,
                persistence_type="local",
                className="theme-choice",
                **labelled("Colours of the page"),
            ),
        ],
        className="head",
    )
