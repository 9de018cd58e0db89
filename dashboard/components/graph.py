"""The one way in which a figure comes onto a page."""

from __future__ import annotations

from typing import Any, Final

from dash import dcc, html

from correlate.plots import GRAPH_CONFIG

# Typed by dash as a form of its own that the settings, shared with reports, do not know.
_CONFIG: Final[Any] = GRAPH_CONFIG


def graph(graph_id: str) -> html.Div:
    """Return a place for a figure, without the button that would upload its data.

    Parameters
    ----------
    graph_id
        From ``ids``.

    Returns
    -------
    dash.html.Div
        As high as the style sheet says; the figure fills it.
    """
    return html.Div(dcc.Graph(id=graph_id, config=_CONFIG, responsive=True), className="graph")
