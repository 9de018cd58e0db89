"""Pictures of a surrogate: how well it predicts, and what it says along each parameter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel
from correlate.plots.palette import palette
from correlate.tuning.calibration import half_width

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.plots.palette import Theme
    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]

HEIGHT: Final = 380
"""Of each figure, in pixels."""
LEVEL: Final = 0.95
_SAMPLES: Final = 121


def predicted_figure(surrogate: Surrogate, *, theme: Theme = "light") -> go.Figure:
    """Draw what the other runs predicted of each run against what it was rated.

    Parameters
    ----------
    surrogate
        In question.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Points on the line are predicted exactly; the bars are 95 % intervals.
    """
    colours = palette(theme)
    said = surrogate.left_out
    ends = [
        float(min(said.rated.min(), said.predicted.min())),
        float(max(said.rated.max(), said.predicted.max())),
    ]
    exact = go.Scatter(
        x=ends,
        y=ends,
        mode="lines",
        name="exact",
        line={"color": colours.edge, "width": 1.5},
        hoverinfo="skip",
    )
    points = go.Scatter(
        x=said.rated,
        y=said.predicted,
        mode="markers",
        name="run, predicted from the others",
        marker={"color": colours.accent, "size": 8},
        error_y={
            "type": "data",
            "array": half_width(LEVEL) * said.deviation,
            "color": colours.band_edge,
            "thickness": 1.2,
            "width": 0,
        },
        hovertemplate="rated %{x:.3f}, predicted %{y:.3f}<extra></extra>",
    )
    layout = one_panel(
        colours, height=HEIGHT, x_title=f"{surrogate.outcome}, rated", y_title="predicted from the other runs"
    )
    return new_figure([exact, points], layout, colours=colours)


def slice_figure(
    surrogate: Surrogate, table: RunTable, place: int, point: Floats, *, theme: Theme = "light"
) -> go.Figure:
    """Draw what a surrogate says along one parameter, the others held at a point, and the runs.

    Parameters
    ----------
    surrogate
        In question.
    table
        Of the runs, drawn where they are along the parameter; they differ from the slice in the others.
    place
        Column of the parameter.
    point
        The others are held here, in the units of the parameters, shape ``(d,)``.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        The band is the 95 % interval of a run on the slice.
    """
    colours = palette(theme)
    space, parameter = table.space, table.space.parameters[place]
    cube = np.tile(space.to_unit(point), (_SAMPLES, 1))
    cube[:, place] = np.linspace(0.0, 1.0, _SAMPLES)
    along, said = space.from_unit(cube)[:, place], surrogate.predict_cube(cube)
    half = half_width(LEVEL) * said.run_deviation
    edge = {"mode": "lines", "hoverinfo": "skip", "line": {"color": colours.band_edge, "width": 1}}
    rows = table.done
    traces = [
        go.Scatter(x=along, y=said.mean - half, showlegend=False, **edge),
        go.Scatter(
            x=along,
            y=said.mean + half,
            name="95 % of runs",
            fill="tonexty",
            fillcolor=colours.outer_band,
            **edge,
        ),
        go.Scatter(
            x=along, y=said.mean, mode="lines", name="surrogate", line={"color": colours.accent, "width": 2.4}
        ),
        go.Scatter(
            x=table.points[rows, place],
            y=table.outcome(surrogate.outcome)[rows],
            mode="markers",
            name="runs with other values of the other parameters",
            marker={"color": colours.test, "size": 6, "opacity": 0.6},
        ),
    ]
    title = f"{parameter.name} [{parameter.unit}]"
    layout = one_panel(colours, height=HEIGHT, x_title=title, y_title=surrogate.outcome)
    layout["xaxis"] |= {"type": parameter.scale}
    layout["shapes"] = [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": float(point[place]),
            "x1": float(point[place]),
            "y0": 0,
            "y1": 1,
            "line": {"color": colours.model, "width": 1.5, "dash": "4px,3px"},
        }
    ]
    return new_figure(traces, layout, colours=colours)
