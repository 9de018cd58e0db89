"""Figures of tuning: progress, sensitivity, surrogate, parallel axes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.errors import SettingsError
from correlate.plots.graph import new_figure, one_panel, safe
from correlate.plots.palette import palette
from correlate.tuning.surrogate import half_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Palette, Theme
    from correlate.tuning.guards import Round
    from correlate.tuning.runs import RunTable
    from correlate.tuning.search import ParetoFront
    from correlate.tuning.sensitivity import Screening, Sensitivity
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]


PROGRESS_HEIGHT: Final = 360
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
    layout = one_panel(colours, height=PROGRESS_HEIGHT, x_title="round (0 is the design)", y_title="rating")
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
    layout = one_panel(colours, height=PROGRESS_HEIGHT, x_title=names[0], y_title=names[1])
    return new_figure(traces, layout, colours=colours)


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
    """Draw the mean absolute effect of each parameter with its interval, the strongest on top."""
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
    """Draw which parameter moves which outcome: total indices as a table of shades."""
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


SURROGATE_HEIGHT: Final = 380
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
        colours,
        height=SURROGATE_HEIGHT,
        x_title=f"{surrogate.outcome}, rated",
        y_title="predicted from the other runs",
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
    layout = one_panel(colours, height=SURROGATE_HEIGHT, x_title=title, y_title=surrogate.outcome)
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


PARALLEL_HEIGHT: Final = 460
"""Of the figure, in pixels."""
THIRDS: Final = ("lowest third", "middle third", "highest third")
"""Of the runs by the last outcome."""


def parallel_axes_figure(
    table: RunTable, outcomes: Sequence[str], *, theme: Theme = "light", best: int | None = None
) -> go.Figure:
    """Draw every finished run as a line over parallel axes: parameters, then outcomes.

    Parameters
    ----------
    table
        Of the runs.
    outcomes
        By the last of them the lines are told apart, a third of the runs each.
    theme
        ``light`` or ``dark``.
    best
        Row of the run that is drawn in front; None for no such run.

    Returns
    -------
    plotly.graph_objects.Figure
        Runs without one of the outcomes are left out. A parameter goes from its lower to its upper bound,
        on a logarithmic scale where it has one; an outcome from its lowest to its highest value.

    Raises
    ------
    SettingsError
        No outcome is named, or no run has them all.
    """
    if not outcomes:
        raise SettingsError("no outcome is named", remedy="name at least one")
    values = np.array([table.outcome(name) for name in outcomes])
    rows = np.flatnonzero(table.done & np.isfinite(values).all(axis=0))
    if rows.size == 0:
        raise SettingsError("no finished run has all these outcomes", remedy="name fewer, or rate the runs")
    colours = palette(theme)
    known = values[:, rows]
    heights = np.hstack([table.space.to_unit(table.points[rows]), _scaled(known).T])
    words = [_words(table, row, outcomes) for row in rows.tolist()]
    order = np.argsort(known[-1], kind="stable")
    styles = zip(THIRDS, _styles(colours), np.array_split(order, len(THIRDS)), strict=True)
    traces = [
        _lines(f"{third} of {outcomes[-1]}", heights[part], [words[row] for row in part.tolist()], style)
        for third, style, part in styles
        if part.size
    ]
    if best is not None and best in rows:
        front = int(np.flatnonzero(rows == best)[0])
        style = {"color": colours.model, "width": 3}
        traces.append(_lines("best run", heights[[front]], [words[front]], style))
    return new_figure(traces, _parallel_layout(table, outcomes, known, colours), colours=colours)


def _scaled(values: Floats) -> Floats:
    """Return outcomes from 0 to 1 of what they span, the middle where they span nothing."""
    low, span = values.min(axis=1, keepdims=True), np.ptp(values, axis=1)[:, None]
    return np.where(span > 0, (values - low) / np.where(span > 0, span, 1.0), 0.5)


def _styles(colours: Palette) -> list[dict[str, Any]]:
    return [
        {"color": colours.edge, "width": 1, "dash": "2px,3px"},
        {"color": colours.band_edge, "width": 1.2},
        {"color": colours.accent, "width": 1.8},
    ]


def _lines(name: str, heights: Floats, words: list[list[str]], style: dict[str, Any]) -> go.Scatter:
    """Return the lines of some runs as one trace, a gap between them."""
    count, axes = heights.shape
    gap = np.full((count, 1), np.nan)
    return go.Scatter(
        x=np.tile(np.append(np.arange(axes), np.nan), count).astype(np.float32),
        y=np.hstack([heights, gap]).ravel().astype(np.float32),
        text=[text for run in words for text in (*run, "")],
        name=safe(name),
        mode="lines",
        line=style,
        hovertemplate="%{text}<extra></extra>",
    )


def _words(table: RunTable, row: int, outcomes: Sequence[str]) -> list[str]:
    """Return what is said at each axis of a run."""
    run = safe(table.identities[row]) if table.identities else f"run {row + 1}"
    parameters = [
        f"{run}: {safe(one.name)} {value:.4g} {safe(one.unit)}"
        for one, value in zip(table.space.parameters, table.points[row].tolist(), strict=True)
    ]
    return [*parameters, *(f"{run}: {safe(name)} {table.outcome(name)[row]:.3f}" for name in outcomes)]


_LINE: Final = 11
"""Letters of a name on one line under its axis; the axes are about ninety pixels apart."""


def _over_lines(name: str) -> str:
    """Return a name over several lines, broken at spaces, underscores and slashes, never inside a unit."""
    lines = [""]
    for part in re.findall(r"\[[^\]]*\]|[^\s_/]+[\s_/]*", name):
        if lines[-1] and len((lines[-1] + part).rstrip()) > _LINE:
            lines.append("")
        lines[-1] += part
    return "<br>".join(safe(line.rstrip(" ")) for line in lines)


def _parallel_layout(
    table: RunTable, outcomes: Sequence[str], known: Floats, colours: Palette
) -> dict[str, Any]:
    parameters = table.space.parameters
    names = [*(f"{one.name} [{one.unit}]" for one in parameters), *outcomes]
    ends = [(f"{one.lower:.4g}", f"{one.upper:.4g}") for one in parameters]
    spans = zip(known.min(axis=1).tolist(), known.max(axis=1).tolist(), strict=True)
    ends += [(f"{low:.3f}", f"{high:.3f}") for low, high in spans]
    small = {"color": colours.muted, "size": 12}
    marks = [
        {"x": place, "y": y, "text": end, "showarrow": False, "yanchor": anchor, "font": small}
        for place, both in enumerate(ends)
        for end, y, anchor in zip(both, (-0.01, 1.01), ("top", "bottom"), strict=True)
    ]
    return {
        "height": PARALLEL_HEIGHT,
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.1, "yanchor": "bottom"},
        "margin": {"l": 96, "r": 48, "t": 64, "b": 132},
        "hovermode": "closest",
        "annotations": marks,
        "xaxis": {
            "tickvals": list(range(len(names))),
            "ticktext": [_over_lines(name) for name in names],
            "tickangle": 0,
            "tickfont": {"color": colours.ink, "size": 12},
            "ticklabelstandoff": 18,
            "ticklabeloverflow": "allow",
            "gridcolor": colours.rule,
            "showline": False,
            "zeroline": False,
            "range": [-0.35, len(names) - 0.65],
        },
        "yaxis": {"visible": False, "range": [-0.06, 1.06], "fixedrange": True},
    }
