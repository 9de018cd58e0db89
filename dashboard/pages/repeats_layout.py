"""The empty repeats page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from dashboard import ids
from dashboard.components.controls import menu
from dashboard.components.graph import graph
from dashboard.components.labelled import labelled

if TYPE_CHECKING:
    from dash.development.base_component import Component


def controls() -> html.Aside:
    """Return the menus, empty until the campaign is read.

    Returns
    -------
    dash.html.Aside
    """
    return html.Aside(
        [
            html.Section(
                [
                    html.H2("Repeats"),
                    menu(ids.REPEATS_CASE, "Load case"),
                    menu(ids.REPEATS_CHANNEL, "Channel"),
                    menu(ids.REPEATS_WIDTH, "Corridor"),
                ]
            ),
            html.Section(
                [
                    html.H2("Compared with"),
                    menu(ids.REPEATS_ACROSS, "Cross-plot over"),
                    menu(ids.REPEATS_WINDOW, "Qualification windows", "none"),
                ]
            ),
        ],
        id=ids.REPEATS_CONTROLS,
        className="controls",
        **labelled("What is shown"),
    )


def content() -> list[Component]:
    """Return the places of everything that is shown.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    shown = html.Div(
        [
            html.Section(
                [
                    graph(ids.REPEATS_FIGURE),
                    html.P("Drag to zoom, double-click to reset.", className="hint"),
                ],
                className="card figure-card",
                **labelled("Curves of the repeats"),
            ),
            html.Section(id=ids.REPEATS_FINDINGS, className="card", **labelled("Data check")),
            html.Section(id=ids.REPEATS_NUMBERS, className="card", **labelled("Repeatability")),
            html.Section(
                [
                    html.H2("Cross-plot"),
                    html.Div(id=ids.REPEATS_CROSS_WORDS),
                    html.Div(graph(ids.REPEATS_CROSS_FIGURE, kind="cross"), id=ids.REPEATS_CROSS_CARD),
                ],
                className="card",
                **labelled("One channel against another"),
            ),
            html.Section(id=ids.REPEATS_WINDOWS, className="card", **labelled("Qualification windows")),
        ],
        id=ids.REPEATS_SHOWN,
        hidden=True,
    )
    return [
        html.Div(id=ids.REPEATS_HEADING, className="heading"),
        html.Div(id=ids.REPEATS_PROBLEM),
        shown,
    ]
