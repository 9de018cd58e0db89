"""Pictures of what moves an outcome."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel, safe
from correlate.plots.palette import palette

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Theme
    from correlate.tuning.screening import Screening
    from correlate.tuning.sensitivity import Sensitivity

    Floats = NDArray[np.float64]

ROW: Final = 30
"""Height of a row, in pixels."""
_AROUND: Final = 120


def sensitivity_figure(said: Sensitivity, *, theme: Theme = "light") -> go.Figure:
    """Draw the Sobol' indices of one outcome with their intervals, the strongest parameter on top.

    Parameters
    ----------
    said
        Of the outcome.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    colours = palette(theme)
    order = np.argsort(said.indices.total, kind="stable")
    names = [safe(said.names[place]) for place in order]
    one = said.indices
    traces = [
        _bars("alone (first order)", names, one.first[order], one.first_low[order], one.first_high[order]),
        _bars(
            "with all others (total)", names, one.total[order], one.total_low[order], one.total_high[order]
        ),
    ]
    for trace, colour in zip(traces, (colours.band_edge, colours.accent), strict=True):
        trace.update(marker={"color": colour}, error_x={"color": colours.ink, "thickness": 1.2, "width": 3})
    title = f"share of the variance of {said.outcome}"
    return new_figure(traces, _layout(len(names), title, theme), colours=colours)


def screening_figure(said: Screening, *, theme: Theme = "light") -> go.Figure:
    """Draw the mean absolute effect of each parameter with its interval, the strongest on top.

    Parameters
    ----------
    said
        Screening on the runs themselves.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    colours = palette(theme)
    order = np.argsort(said.mean_size, kind="stable")
    half = said.mean_size_half_width[order]
    size = said.mean_size[order]
    trace = _bars(
        "mean absolute effect", [safe(said.names[p]) for p in order], size, size - half, size + half
    )
    trace.update(
        marker={"color": colours.accent}, error_x={"color": colours.ink, "thickness": 1.2, "width": 3}
    )
    title = f"change of {said.outcome} over the range of the parameter"
    return new_figure([trace], _layout(len(order), title, theme), colours=colours)


def movers_figure(said: Sequence[Sensitivity], *, theme: Theme = "light") -> go.Figure:
    """Draw which parameter moves which outcome: total indices as a table of shades.

    Parameters
    ----------
    said
        One an outcome, for instance the components of every channel; all of the same parameters.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Outcomes from top to bottom in the given order; the number stands in each field of 0.05 or more.
    """
    colours = palette(theme)
    rows = list(reversed(said))
    shares = np.array([one.indices.total for one in rows])
    trace = go.Heatmap(
        z=shares.astype(np.float32),
        x=[safe(name) for name in rows[0].names],
        y=[safe(one.outcome) for one in rows],
        text=[[f"{value:.2f}" if value >= 0.05 else "" for value in row] for row in shares],
        texttemplate="%{text}",
        zmin=0.0,
        zmax=1.0,
        colorscale=[[0.0, colours.panel], [1.0, colours.inner_band]],
        showscale=False,
        xgap=1,
        ygap=1,
        hovertemplate="%{y}: %{x} %{z:.2f}<extra></extra>",
    )
    layout = _layout(len(rows), "", theme)
    layout["xaxis"] |= {"tickangle": -40, "automargin": True, "showgrid": False}
    layout["yaxis"] |= {"showgrid": False}
    layout["height"] += 120  # for the names of the parameters
    return new_figure([trace], layout, colours=colours)


def _bars(name: str, names: list[str], values: Floats, low: Floats, high: Floats) -> go.Bar:
    return go.Bar(
        x=values,
        y=names,
        orientation="h",
        name=name,
        error_x={
            "type": "data",
            "symmetric": False,
            "array": np.maximum(high - values, 0.0),
            "arrayminus": np.maximum(values - low, 0.0),
        },
        hovertemplate="%{y}: %{x:.3f}<extra></extra>",
    )


def _layout(rows: int, title: str, theme: Theme) -> dict[str, Any]:
    layout = one_panel(palette(theme), height=_AROUND + ROW * rows, x_title=title, y_title="")
    layout["yaxis"] |= {"automargin": True}
    return {**layout, "barmode": "group", "bargap": 0.25}
