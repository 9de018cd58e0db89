"""Figures of the intervals of the parameters, and of a curve with its model discrepancy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import band, new_figure, one_panel, safe, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.plots.palette import Theme
    from correlate.tuning.cards import CardInterval, CardsPosterior, ChannelFit

ROW: Final = 30
"""Height of a parameter, in pixels."""
_AROUND: Final = 130
CURVE_HEIGHT: Final = 380
"""Of the figure of a curve, in pixels."""


def card_intervals_figure(cards: CardsPosterior, *, theme: Theme = "light") -> go.Figure:
    """Draw the 95 % interval of each parameter inside its range, with the start and the best run.

    Parameters
    ----------
    cards
        The posterior of the parameters.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Each range goes from 0, its lower bound, to 1, on the scale of the parameter; values with units are
        shown beside the pointer.
    """
    colours = palette(theme)
    lines = list(reversed(cards.intervals))
    names = [safe(f"{one.name} [{one.unit}]") for one in lines]
    told = [
        safe(
            f"{one.name}: {one.median:.4g} {one.unit}, 95 % between {one.low:.4g} and {one.high:.4g}; "
            f"start {one.start:.4g}, best run {one.best:.4g}"
        )
        for one in lines
    ]
    low, median, high = (
        np.array([_place(one, getattr(one, end)) for one in lines]) for end in ("low", "median", "high")
    )
    traces: list[Any] = [
        go.Scatter(
            x=[x for _ in lines for x in (0.0, 1.0, None)],
            y=[y for name in names for y in (name, name, None)],
            mode="lines",
            name="range",
            line={"color": colours.rule, "width": 8},
            hoverinfo="skip",
        ),
        go.Scatter(
            x=median,
            y=names,
            mode="markers",
            name="median and 95 % interval",
            marker={"color": colours.accent, "size": 9},
            error_x={
                "type": "data",
                "symmetric": False,
                "array": high - median,
                "arrayminus": median - low,
                "color": colours.accent,
                "thickness": 3,
                "width": 5,
            },
            text=told,
            hovertemplate="%{text}<extra></extra>",
        ),
        _marks(lines, names, "start", {"color": colours.muted, "size": 10, "symbol": "line-ns-open"}),
        _marks(lines, names, "best", {"color": colours.model, "size": 9, "symbol": "diamond-open"}),
    ]
    layout = one_panel(
        colours,
        height=_AROUND + ROW * len(lines),
        x_title="position in the range of the parameter [1]",
        y_title="",
    )
    layout["xaxis"] |= {"range": [-0.02, 1.02]}
    layout["yaxis"] |= {"automargin": True}
    return new_figure(traces, layout, colours=colours)


def _marks(lines: Sequence[CardInterval], names: list[str], field: str, marker: dict[str, Any]) -> go.Scatter:
    return go.Scatter(
        x=[_place(one, getattr(one, field)) for one in lines],
        y=names,
        mode="markers",
        name={"start": "start", "best": "best run"}[field],
        marker=marker,
        hoverinfo="skip",
    )


def _place(one: CardInterval, value: float) -> float:
    """Return where a value lies in its range, on its scale."""
    scaled = np.log if one.scale == "log" else np.asarray
    low, high, here = (float(scaled(number)) for number in (one.lower, one.upper, value))
    return (here - low) / (high - low)


def reached_curve_figure(cards: CardsPosterior, channel: ChannelFit, *, theme: Theme = "light") -> go.Figure:
    """Draw the mean of the tests and the best-fit curve, with the stretches of model discrepancy shaded.

    Parameters
    ----------
    cards
        The posterior of the parameters.
    channel
        One of its channels.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Where the mean of the tests is inside the band, it does not differ from the curve by more than chance.
    """
    colours = palette(theme)
    time, reached, half = channel.time_s, channel.reached, channel.half_width
    traces = [
        *band(time, reached - half, reached + half, name="differences by chance", colours=colours),
        time_line(time, channel.tests, name="mean of the tests", line={"color": colours.test, "width": 2.4}),
        time_line(
            time,
            reached,
            name="best-fit parameters",
            line={"color": colours.model, "width": 2.2, "dash": "9px,3px"},
        ),
    ]
    title = f"{channel_title(channel.channel)} [{unit_words(channel.unit)}]"
    layout = one_panel(colours, height=CURVE_HEIGHT, x_title="time [ms]", y_title=title)
    layout["shapes"] = [
        {
            "type": "rect",
            "xref": "x",
            "yref": "paper",
            "x0": 1e3 * window.start_s,
            "x1": 1e3 * window.end_s,
            "y0": 0,
            "y1": 1,
            "line": {"width": 0},
            "fillcolor": colours.accent,
            "opacity": 0.14,
            "layer": "below",
        }
        for window in cards.windows
        if (window.load_case, window.channel) == (channel.load_case, channel.channel)
    ]
    return new_figure(traces, layout, colours=colours)
