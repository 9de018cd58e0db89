"""The only function that puts a figure onto a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import dcc, html

from correlate.plots import GRAPH_CONFIG

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Typed by dash as a form of its own that the settings, shared with reports, do not know.
_CONFIG: Final[Any] = GRAPH_CONFIG


def graph(graph_id: str | dict[str, Any], figure: go.Figure | None = None, *, kind: str = "") -> html.Div:
    """Return a place for a figure, without the button that would upload its data.

    Parameters
    ----------
    graph_id
        From ``ids``.
    figure
        None where a callback brings it.
    kind
        Further class of the place, by which the style sheet knows its height.

    Returns
    -------
    dash.html.Div
        As high as the style sheet says; the figure fills it.
    """
    drawn = {} if figure is None else {"figure": figure}
    place = dcc.Graph(id=graph_id, config=_CONFIG, responsive=True, **drawn)
    return html.Div(place, className=f"graph {kind}".rstrip())
