"""All runs side by side: a line a run over parallel axes, drawn without WebGL.

The drawing library has such a picture, but through WebGL, which a strict content policy makes impossible.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.errors import SettingsError
from correlate.plots.graph import new_figure
from correlate.plots.lines import safe
from correlate.plots.palette import palette

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Palette, Theme
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]

HEIGHT: Final = 460
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
    return new_figure(traces, _layout(table, outcomes, known, colours), colours=colours)


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


def _layout(table: RunTable, outcomes: Sequence[str], known: Floats, colours: Palette) -> dict[str, Any]:
    parameters = table.space.parameters
    names = [*(f"{one.name} [{one.unit}]" for one in parameters), *outcomes]
    ends = [(one.lower, one.upper) for one in parameters]
    ends += list(zip(known.min(axis=1).tolist(), known.max(axis=1).tolist(), strict=True))
    small = {"color": colours.muted, "size": 12}
    marks = [
        {"x": place, "y": y, "text": f"{end:.4g}", "showarrow": False, "yanchor": anchor, "font": small}
        for place, both in enumerate(ends)
        for end, y, anchor in zip(both, (-0.01, 1.01), ("top", "bottom"), strict=True)
    ]
    return {
        "height": HEIGHT,
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.1, "yanchor": "bottom"},
        "margin": {"l": 96, "r": 48, "t": 64, "b": 132},
        "hovermode": "closest",
        "annotations": marks,
        "xaxis": {
            "tickvals": list(range(len(names))),
            "ticktext": [safe(name) for name in names],
            "tickangle": -28,
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
