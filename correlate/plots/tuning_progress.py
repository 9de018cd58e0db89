"""Pictures of how tuning went: best rating by round, trade-offs, and all runs side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import plotly.graph_objects as go

from correlate.errors import SettingsError
from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel, safe
from correlate.plots.palette import palette

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.plots.palette import Theme
    from correlate.tuning.guards import Round
    from correlate.tuning.pareto import ParetoFront
    from correlate.tuning.runs import RunTable

HEIGHT: Final = 360
"""Of each figure, in pixels."""
_DASHES: Final = ("9px,3px", "4px,3px", "2px,4px", "12px,3px,2px,3px")
_SYMBOLS: Final = ("diamond", "square", "triangle-up", "x")


def progress_figure(rounds: Sequence[Round], *, theme: Theme = "light") -> go.Figure:
    """Draw the best run after each round with its held-out load cases beside.

    Parameters
    ----------
    rounds
        From the design on.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        A thin line of the same dash is where a held-out load case started.
    """
    colours = palette(theme)
    numbers = [one.number for one in rounds]
    traces = [
        go.Scatter(
            x=numbers,
            y=[one.raised[name] for one in rounds],
            name=f"best run: {safe(name)}",
            mode="lines+markers",
            line={"color": colours.test, "width": 2.4},
            marker={"size": 8},
        )
        for name in (rounds[0].raised if rounds else ())
    ]
    for place, case in enumerate(rounds[0].held_out if rounds else ()):
        dash, symbol = _DASHES[place % len(_DASHES)], _SYMBOLS[place % len(_SYMBOLS)]
        traces.append(
            go.Scatter(
                x=numbers,
                y=[one.held_out[case] for one in rounds],
                name=f"held out: {safe(case)}",
                mode="lines+markers",
                line={"color": colours.model, "width": 2, "dash": dash},
                marker={"size": 8, "symbol": symbol},
            )
        )
        traces.append(
            go.Scatter(
                x=numbers,
                y=[one.held_out_start[case] for one in rounds],
                name=f"{safe(case)} at the start",
                mode="lines",
                showlegend=False,
                line={"color": colours.edge, "width": 1, "dash": dash},
            )
        )
    layout = one_panel(colours, height=HEIGHT, x_title="round (0 is the design)", y_title="rating")
    layout["xaxis"] |= {"tickvals": numbers}
    return new_figure(traces, layout, colours=colours)


def front_figure(
    table: RunTable, front: ParetoFront, *, theme: Theme = "light", pair: tuple[int, int] = (0, 1)
) -> go.Figure:
    """Draw two outcomes against each other and the runs that no other run beats.

    Parameters
    ----------
    table
        Of the runs.
    front
        Of the outcomes that are raised.
    theme
        ``light`` or ``dark``.
    pair
        Which two of the outcomes.

    Returns
    -------
    plotly.graph_objects.Figure
        With more than two outcomes the front is no line: the points alone are marked.

    Raises
    ------
    SettingsError
        There is only one outcome.
    """
    if len(front.outcomes) < 2:
        raise SettingsError("a single outcome has no trade-off", remedy="raise several outcomes")
    colours = palette(theme)
    names = [front.outcomes[place] for place in pair]
    x, y = (table.outcome(name)[table.done] for name in names)
    ends = front.values[:, list(pair)]
    traces = [
        go.Scatter(
            x=x, y=y, mode="markers", name="run", marker={"color": colours.edge, "size": 7, "opacity": 0.7}
        ),
        go.Scatter(
            x=ends[:, 0],
            y=ends[:, 1],
            mode="lines+markers" if len(front.outcomes) == 2 else "markers",
            name="not beaten by any other run",
            line={"color": colours.accent, "width": 2, "shape": "hv"},
            marker={"color": colours.accent, "size": 10, "symbol": "diamond"},
        ),
    ]
    layout = one_panel(colours, height=HEIGHT, x_title=names[0], y_title=names[1])
    return new_figure(traces, layout, colours=colours)
