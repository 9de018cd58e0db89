"""The picture of repeats: every curve, their mean, what they scatter, and the model in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.plots.graph import new_figure
from correlate.plots.lines import band, one_panel, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    import plotly.graph_objects as go

    from correlate.plots.palette import Palette, Theme
    from correlate.reference.corridor import Corridor
    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

HEIGHT: Final = 400
"""Of the figure, in pixels."""


def repeats_figure(
    repeats: RepeatSet,
    *,
    theme: Theme = "light",
    corridor: Corridor | None = None,
    model: Signal | None = None,
) -> go.Figure:
    """Draw the repeats of one channel.

    Parameters
    ----------
    repeats
        Aligned.
    theme
        ``light`` or ``dark``.
    corridor
        Drawn as a band; None for none.
    model
        On the grid and in the unit of the repeats; None for none.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    colours = palette(theme)
    traces = list(_repeats(repeats, colours))
    if corridor is not None:
        edges = band(corridor.time_s, corridor.lower, corridor.upper, name=corridor.kind, colours=colours)
        traces = [*edges, *traces]
    mean_line = {"color": colours.test, "width": 2.4}
    traces.append(time_line(repeats.time_s, repeats.mean, name="mean of the repeats", line=mean_line))
    if model is not None:
        traces.append(_model(model, repeats, colours))
    quantity = f"{channel_title(repeats.channel)} [{unit_words(repeats.unit)}]"
    layout = one_panel(colours, height=HEIGHT, x_title="time [ms]", y_title=quantity)
    return new_figure(traces, layout, colours=colours)


def _repeats(repeats: RepeatSet, colours: Palette) -> Iterator[go.Scatter]:
    line = {"color": colours.edge, "width": 1}
    for number, (curve, shift_s) in enumerate(zip(repeats.curves, repeats.shifts_s, strict=True), start=1):
        moved = f", moved by {shift_s * 1e3:.3g} ms" if shift_s else ""
        yield time_line(repeats.time_s, curve, name=f"repeat {number}{moved}", showlegend=False, line=line)


def _model(model: Signal, repeats: RepeatSet, colours: Palette) -> go.Scatter:
    time_s = model.time_s
    inside = (time_s >= repeats.time_s[0] - 1e-9) & (time_s <= repeats.time_s[-1] + 1e-9)
    line = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
    return time_line(time_s[inside], model.samples[inside], name="model", line=line)
