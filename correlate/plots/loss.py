"""Figures that show where a pair loses rating: loss over time, links of the warping path."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.diagnosis.accounting import BIN_S, COMPONENTS, LossAccount
from correlate.plots.graph import new_figure, one_panel
from correlate.plots.palette import component_colours, palette

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571 import Rating
    from correlate.plots.palette import Palette, Theme

    Floats = NDArray[np.float64]


STRIP_HEIGHT: Final = 220
"""Of the strip, in pixels."""
MARGIN: Final = {"l": 68, "r": 14, "t": 36, "b": 50}
"""Around the strip, in pixels."""


def loss_bars(
    account: LossAccount, *, theme: Theme, width_s: float = BIN_S, **place: Any
) -> tuple[go.Bar, ...]:
    """Return one row of bars a component, to stand in any figure with a time axis in ms."""
    bins = account.bins(width_s)
    middles_ms = 1e3 * (bins.edges_s[:-1] + bins.edges_s[1:]) / 2
    colours = component_colours(theme)
    return tuple(
        go.Bar(
            x=middles_ms,
            y=bins.by_component[name],
            width=1e3 * width_s * 0.92,
            name=name,
            marker={"color": colours[name], "line": {"width": 0}},
            hovertemplate="%{y:.4f}",
            **place,
        )
        for name in COMPONENTS
    )


def loss_strip(account: LossAccount, *, theme: Theme = "light", width_s: float = BIN_S) -> go.Figure:
    """Draw the loss over time of one pair."""
    colours = palette(theme)
    layout = one_panel(colours, height=STRIP_HEIGHT, x_title="time [ms]", y_title="")
    # Two lines, as the axis is short; margins and range of the picture of the pair, so that times align.
    title = {**layout["yaxis"]["title"], "text": f"rating points<br>lost in {1e3 * width_s:g} ms [1]"}
    reach = [1e3 * float(account.time[0]), 1e3 * float(account.time[-1])]
    style = {
        "margin": MARGIN,
        "legend": {**layout["legend"], "traceorder": "normal"},
        "xaxis": {**layout["xaxis"], "range": reach},
        "yaxis": {**layout["yaxis"], "title": title, "nticks": 4, "rangemode": "tozero"},
        "barmode": "stack",
        "hovermode": "x unified",
    }
    return new_figure(loss_bars(account, theme=theme, width_s=width_s), {**layout, **style}, colours=colours)


LINKS: Final = 90
"""Links that are drawn; more would be a grey area."""


def warping_links(
    rating: Rating, *, colours: Palette, window_s: tuple[float, float] | None = None, count: int = LINKS
) -> go.Scatter:
    """Draw links between the samples that the magnitude score compares.

    Notes
    -----
    Links stand at equal shares of the path, so that they lie closer where the path goes along one curve
    only. Both ends are samples of the pair; the shift of the phase score is part of a link.
    """
    path = links_of(rating.warping_path(), rating.pair.time, window_s=window_s, count=count)
    time, gap = rating.pair.time, np.full(len(path), np.nan)
    x = np.column_stack([time[path[:, 0]], time[path[:, 1]], gap])
    y = np.column_stack([rating.pair.reference[path[:, 0]], rating.pair.candidate[path[:, 1]], gap])
    return go.Scatter(
        x=(1e3 * x.ravel()).astype(np.float32),
        y=y.ravel().astype(np.float32),
        mode="lines",
        name="matched by warping",
        line={"color": colours.muted, "width": 1},
        opacity=0.75,
        hoverinfo="skip",
        connectgaps=False,
        legendrank=9,
    )


def links_of(
    path: NDArray[np.int32], time: Floats, *, window_s: tuple[float, float] | None, count: int
) -> NDArray[np.int32]:
    """Choose the links to draw.

    Parameters
    ----------
    path
        Shape ``(l, 2)``: indices into test and model.
    time
        Of both, shape ``(n,)``, s.
    window_s
        Links with an end in it are wanted; None for all.
    count
        Most links.

    Returns
    -------
    numpy.ndarray
        Rows of the path, in its order, shape ``(m, 2)`` with ``m <= count``.
    """
    if window_s is not None:
        ends = time[path]
        inside = (ends >= window_s[0]) & (ends <= window_s[1])
        path = path[inside.any(axis=1)]
    chosen = np.unique(np.linspace(0, len(path) - 1, min(count, len(path))).round().astype(np.intp))
    return path[chosen]
