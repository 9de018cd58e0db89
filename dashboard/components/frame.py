"""The frame around every page: name, campaign, navigation, choice of theme, caution."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import CAUTION
from dashboard import ids, paths, theme
from dashboard.components.labelled import DECORATION, labelled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

_THEMES: Final = [
    {"value": "auto", "label": "Auto"},
    {"value": "light", "label": "Light"},
    {"value": "dark", "label": "Dark"},
]


def frame(links: Sequence[tuple[str, str]], page: Component | None = None) -> dmc.MantineProvider:
    """Return the frame of the pages.

    Parameters
    ----------
    links
        Path and name of each page, for the menu.
    page
        The one that is shown; none until the URL is known.

    Returns
    -------
    dash_mantine_components.MantineProvider
    """
    return dmc.MantineProvider(
        [
            dcc.Location(id=ids.ADDRESS, refresh=False),
            dcc.Store(id=ids.THEME),
            dcc.Store(id=ids.PAGE_NAME),
            html.A("Skip to the content", href=f"#{ids.CONTENT}", className="skip"),
            _head(links),
            html.Div(page, id=ids.CONTENT, tabIndex="-1"),
            html.Footer(html.P(CAUTION), className="foot"),
        ],
        id=ids.PROVIDER,
        theme=theme.MANTINE,
    )


def campaign_words(title: str, device: str) -> list[html.Span]:
    """Return what the head says of the campaign.

    Parameters
    ----------
    title, device
        Of the campaign.

    Returns
    -------
    list of dash.html.Span
    """
    return [html.Span(title, className="campaign-title"), html.Span(device, className="campaign-device")]


def account_link(name: str) -> html.A:
    """Return the way to the page of the person who is signed in.

    Parameters
    ----------
    name
        Of the account.

    Returns
    -------
    dash.html.A
    """
    return html.A(name, href=paths.ACCOUNT, className="account", title="Account and signing out")


def _head(links: Sequence[tuple[str, str]]) -> html.Header:
    menu = html.Ul([html.Li(dcc.Link(name, href=path)) for path, name in links])
    return html.Header(
        [
            html.Div([html.Span(className="mark", **DECORATION), "correlate"], className="name"),
            html.Nav(menu, id=ids.NAVIGATION, className="navigation", **labelled("Pages")),
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
