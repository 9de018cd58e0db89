"""Lines, bands and axes that several figures share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import plotly.graph_objects as go

from correlate.plots.reduction import kept_samples

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.plots.palette import Palette

    Floats = NDArray[np.float64]


def safe(text: str) -> str:
    """Keep a text of a file from being read as markup by the drawing library.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    str

    Examples
    --------
    >>> safe("<b>")
    '&lt;b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def time_line(time_s: Floats, values: Floats, **style: Any) -> go.Scatter:
    """Return a curve over time in ms, long ones reduced to the extremes of every pixel column.

    Parameters
    ----------
    time_s, values
        Shape ``(n,)``.
    **style
        Of the drawing library.

    Returns
    -------
    plotly.graph_objects.Scatter
    """
    kept = kept_samples(values)
    return go.Scatter(
        x=(1e3 * time_s[kept]).astype(np.float32),
        y=values[kept].astype(np.float32),
        mode="lines",
        **style,
    )


def band(
    time_s: Floats, lower: Floats, upper: Floats, *, name: str, colours: Palette
) -> tuple[go.Scatter, go.Scatter]:
    """Return two edges with the space between them filled.

    Parameters
    ----------
    time_s, lower, upper
        Shape ``(n,)``.
    name
        For the legend.
    colours
        Of the theme.

    Returns
    -------
    tuple of plotly.graph_objects.Scatter
    """
    edge = {"line": {"color": colours.band_edge, "width": 1}, "hoverinfo": "skip", "legendgroup": name}
    return (
        time_line(time_s, lower, name=f"{name}, lower edge", showlegend=False, **edge),
        time_line(time_s, upper, name=name, fill="tonexty", fillcolor=colours.inner_band, **edge),
    )


def one_panel(colours: Palette, *, height: int, x_title: str, y_title: str) -> dict[str, Any]:
    """Return the layout of a figure with one panel.

    Parameters
    ----------
    colours
        Of the theme.
    height
        In pixels.
    x_title, y_title
        As they stand in files; they are made safe here.

    Returns
    -------
    dict
    """
    return {
        "height": height,
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.02, "yanchor": "bottom"},
        "margin": {"l": 72, "r": 16, "t": 36, "b": 56},
        "hovermode": "closest",
        "xaxis": _axis(x_title, colours),
        "yaxis": _axis(y_title, colours),
    }


def _axis(title: str, colours: Palette) -> dict[str, Any]:
    return {
        "title": {"text": safe(title), "font": {"color": colours.muted, "size": 13}, "standoff": 12},
        "gridcolor": colours.rule,
        "linecolor": colours.edge,
        "tickcolor": colours.edge,
        "tickfont": {"color": colours.muted},
        "zeroline": False,
    }
