"""The figure of one signal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.plots.graph import new_figure, one_panel, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, unit_words

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from correlate.plots.palette import Theme
    from correlate.signal import Signal

HEIGHT: Final = 320
"""Of the figure, in pixels."""


def signal_figure(signal: Signal, *, theme: Theme = "light") -> go.Figure:
    """Draw a signal over time.

    Parameters
    ----------
    signal
        Any.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Time in ms, samples in their unit; long curves are reduced to the extremes of every pixel column.
    """
    colours = palette(theme)
    line = time_line(
        signal.time_s,
        signal.samples,
        name=channel_title(signal.channel),
        line={"color": colours.test, "width": 1.8},
        showlegend=False,
    )
    quantity = f"{channel_title(signal.channel)} [{unit_words(signal.unit)}]"
    layout = one_panel(colours, height=HEIGHT, x_title="time [ms]", y_title=quantity)
    return new_figure([line], layout, colours=colours)
