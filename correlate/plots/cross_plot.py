"""The picture of one channel against another, with the corridor that its repeats sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel
from correlate.plots.palette import palette

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Palette, Theme
    from correlate.reference.cross_plot import CrossPlot, CrossPlotCorridor

    Floats = NDArray[np.float64]

HEIGHT: Final = 460
"""Of the figure, in pixels."""
_GRID: Final = 160
_MARGIN: Final = 0.12


def cross_plot_figure(
    corridor: CrossPlotCorridor,
    paths: Sequence[CrossPlot],
    *,
    theme: Theme = "light",
    x_title: str,
    y_title: str,
    model: CrossPlot | None = None,
) -> go.Figure:
    """Draw cross-plots in their corridor.

    Parameters
    ----------
    corridor
        Of the repeats.
    paths
        The repeats.
    theme
        ``light`` or ``dark``.
    x_title, y_title
        With units.
    model
        None for none.

    Returns
    -------
    plotly.graph_objects.Figure
        The edge of the corridor is the contour of its depth at 1.
    """
    colours = palette(theme)
    thin = {"color": colours.edge, "width": 1}
    traces = [
        _area(corridor, colours),
        *(_line(path.x, path.y, name="repeat", line=thin, showlegend=False) for path in paths),
        _line(corridor.x, corridor.y, name="mean of the repeats", line={"color": colours.test, "width": 2.4}),
    ]
    if model is not None:
        dashed = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
        traces.append(_line(model.x, model.y, name="model", line=dashed))
    layout = one_panel(colours, height=HEIGHT, x_title=x_title, y_title=y_title)
    return new_figure(traces, layout, colours=colours)


def _line(x: Floats, y: Floats, **style: Any) -> go.Scatter:
    return go.Scatter(x=x.astype(np.float32), y=y.astype(np.float32), mode="lines", **style)


def _area(corridor: CrossPlotCorridor, colours: Palette) -> go.Contour:
    """Return the swept area: where the depth, capped at 2, is at most 1."""
    x = _span(corridor.x, corridor.x_half)
    y = _span(corridor.y, corridor.y_half)
    depth = np.minimum(corridor.depth(*np.meshgrid(x, y)), 2.0)
    return go.Contour(
        x=x.astype(np.float32),
        y=y.astype(np.float32),
        z=depth.astype(np.float32),
        # The library fills where the condition does not hold.
        contours={"type": "constraint", "operation": ">=", "value": 1.0, "showlabels": False},
        fillcolor=colours.inner_band,
        line={"color": colours.band_edge, "width": 1},
        showscale=False,
        hoverinfo="skip",
        name=f"± {corridor.times:g} SD along the arc",
        showlegend=True,
    )


def _span(centre: Floats, half: Floats) -> Floats:
    low, high = float((centre - half).min()), float((centre + half).max())
    margin = _MARGIN * (high - low or 1.0)
    return np.linspace(low - margin, high + margin, _GRID)
