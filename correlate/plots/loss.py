"""Where in time the rating goes: bars of rating points, a bin of time each, stacked by component."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import plotly.graph_objects as go

from correlate.diagnosis.accounting import BIN_S, COMPONENTS, LossAccount
from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel
from correlate.plots.palette import component_colours, palette

if TYPE_CHECKING:
    from correlate.plots.palette import Theme

STRIP_HEIGHT: Final = 220
"""Of the strip, in pixels."""
MARGIN: Final = {"l": 68, "r": 14, "t": 36, "b": 50}
"""Around the strip, in pixels."""


def loss_bars(
    account: LossAccount, *, theme: Theme, width_s: float = BIN_S, **place: Any
) -> tuple[go.Bar, ...]:
    """Return one row of bars a component, to stand in any figure with a time axis in ms.

    Parameters
    ----------
    account
        From ``account_for_loss``.
    theme
        ``light`` or ``dark``.
    width_s
        Width of a bin, s.
    **place
        Axes, where they are not the first ones of the figure.

    Returns
    -------
    tuple of plotly.graph_objects.Bar
        In the order of the standard, the first at the bottom.
    """
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
    """Draw the loss over time of one pair.

    Parameters
    ----------
    account
        From ``account_for_loss``.
    theme
        ``light`` or ``dark``.
    width_s
        Width of a bin, s.

    Returns
    -------
    plotly.graph_objects.Figure
        Time in ms to the right, rating points a bin upwards; the bars add up to ``1 - overall``.
    """
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
