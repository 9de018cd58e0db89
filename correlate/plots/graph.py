"""The one wrapper through which every figure goes, on a page of the dashboard as in a report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import plotly.graph_objects as go
from plotly.io import to_html
from plotly.offline import get_plotlyjs

from correlate.plots.typeface import FONT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.plots.palette import Palette

GRAPH_CONFIG: Final[dict[str, Any]] = {
    # Test data are confidential: without this every figure has a button that uploads them.
    "showSendToCloud": False,
    "displaylogo": False,
    "displayModeBar": False,
    "doubleClick": "reset",
    "responsive": True,
    "scrollZoom": False,
}
"""Settings of the drawing library that every figure is shown with."""


def new_figure(
    traces: Sequence[go.Scatter | go.Bar], layout: Mapping[str, Any], *, colours: Palette
) -> go.Figure:
    """Return a figure in the project's style.

    Parameters
    ----------
    traces
        What is drawn.
    layout
        Axes, legend and size; the style is added.
    colours
        Of the theme.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    font = {"family": FONT, "size": 13, "color": colours.ink}
    style = {
        "template": "none",
        "autosize": True,
        "dragmode": "zoom",
        "font": font,
        "paper_bgcolor": colours.panel,
        "plot_bgcolor": colours.panel,
        "hoverlabel": {"bgcolor": colours.panel, "bordercolor": colours.edge, "font": font},
    }
    # Made in one go: each later update of a figure costs the library as much as the whole.
    return go.Figure(data=list(traces), layout={**style, **layout})


def figure_html(figure: go.Figure) -> str:
    """Return a figure as a part of a page that holds :func:`drawing_library`.

    Parameters
    ----------
    figure
        From :func:`new_figure`.

    Returns
    -------
    str
        A ``div`` and its script, with :data:`GRAPH_CONFIG`.
    """
    return to_html(figure, config=GRAPH_CONFIG, include_plotlyjs=False, full_html=False)  # type: ignore[no-any-return]


def drawing_library() -> str:
    """Return the script that draws figures, to stand once in a page that needs no other host.

    Returns
    -------
    str
        About 5 million characters of JavaScript.
    """
    return get_plotlyjs()  # type: ignore[no-any-return]
