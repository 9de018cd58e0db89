"""The picture of all releases in their order: how the rating went."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import plotly.graph_objects as go

from correlate.plots.graph import new_figure, safe
from correlate.plots.palette import palette
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import grade_zones

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import TrendPoint
    from correlate.plots.palette import Palette, Theme

HEIGHT: Final = 250
"""Of the figure, in pixels."""
_ROOM: Final = 0.06
_MOST_NAMES: Final = 12


def trend_figure(
    trend: Sequence[TrendPoint], *, theme: Theme = "light", release: str, ceiling: float | None = None
) -> go.Figure:
    """Draw the ratings of all releases.

    Parameters
    ----------
    trend
        In the order of the releases.
    theme
        ``light`` or ``dark``.
    release
        The one in question, whose numbers are written out.
    ceiling
        Rating of the repeats against each other; None where it is not known.

    Returns
    -------
    plotly.graph_objects.Figure
        The axis of ratings begins below the lowest number and says so by its figures.
    """
    colours = palette(theme)
    drawn = [
        _line(trend, "training", release, name="open to tuning", colour=colours.test),
        _line(trend, "held_out", release, name="held out of tuning", colour=colours.model, dash="9px,3px"),
    ]
    traces = [line for line in drawn if any(value is not None for value in line.y)]
    shapes, notes = _zones(colours)
    if ceiling is not None:
        shapes.append(_level(ceiling, {"color": colours.accent, "width": 2, "dash": "2px,3px"}))
        notes.append(_note(ceiling, "ceiling", colours.accent, anchor="right", at=1.0))
    layout = {**_layout(trend, colours, ceiling), "shapes": shapes, "annotations": notes}
    return new_figure(traces, layout, colours=colours)


def trend_svg(
    trend: Sequence[TrendPoint], *, release: str, ceiling: float | None = None, width: int, height: int
) -> str:
    """Draw the same without a browser, for paper.

    Parameters
    ----------
    trend, release, ceiling
        As of :func:`trend_figure`.
    width, height
        In px, before it is fitted to the page.

    Returns
    -------
    str
        An ``svg`` element; empty where there is one release only.
    """
    if len(trend) < 2:
        return ""
    figure = trend_figure(trend, theme="light", release=release, ceiling=ceiling)
    return figure_svg(figure, words=trend_words(trend), name="trend", height=height, width=width)


def trend_words(trend: Sequence[TrendPoint]) -> str:
    """Return the ratings of all releases in one line, for who cannot see the drawing.

    Parameters
    ----------
    trend
        In the order of the releases.

    Returns
    -------
    str
    """
    told = ", ".join(f"{one.release} {one.training:.3f}" for one in trend if one.training is not None)
    return f"Rating of the releases: {told}"


def _line(
    trend: Sequence[TrendPoint], number: str, release: str, *, name: str, colour: str, dash: str = "solid"
) -> go.Scatter:
    values = [getattr(point, number) for point in trend]
    said = [
        f"{value:.3f}" if point.release == release and value is not None else ""
        for point, value in zip(trend, values, strict=True)
    ]
    usual = 8 if len(trend) <= _MOST_NAMES else 4
    sizes = [11 if point.release == release else usual for point in trend]
    return go.Scatter(
        x=list(range(len(trend))),
        y=values,
        name=name,
        mode="lines+markers+text",
        text=said,
        textposition=_beside(trend, number),
        textfont={"color": colour, "size": 14},
        customdata=[safe(", ".join((point.release, *point.marks))) for point in trend],
        hovertemplate="%{customdata}: %{y:.3f}",
        line={"color": colour, "width": 2.4, "dash": dash},
        marker={
            "symbol": "circle" if dash == "solid" else "diamond",
            "size": sizes,
            "color": colour,
            # The library makes marks of many sizes see-through and gives them an edge.
            "opacity": 1.0,
            "line": {"width": 0},
        },
        cliponaxis=False,
    )


def _beside(trend: Sequence[TrendPoint], number: str) -> list[str]:
    """Return where each figure stands: away from the other line, and from its own where that rises."""
    places = []
    for point in trend:
        own, other = point.training, point.held_out
        if number == "held_out":
            own, other = other, own
        above = own is None or other is None or own >= other
        places.append("top left" if above else "bottom right")
    return places


def _zones(colours: Palette) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return a thin line at the floor of each grade, with its word."""
    floors = [(word, floor) for word, floor, _ in grade_zones() if floor > 0]
    shapes = [_level(floor, {"color": colours.rule, "width": 1}) for _, floor in floors]
    return shapes, [_note(floor, word, colours.muted, anchor="left", at=1.008) for word, floor in floors]


def _level(height: float, line: dict[str, Any]) -> dict[str, Any]:
    place = {"xref": "paper", "x0": 0, "x1": 1, "yref": "y", "y0": height, "y1": height}
    return {"type": "line", "layer": "below", "line": line, **place}


def _note(height: float, words: str, colour: str, *, anchor: str, at: float) -> dict[str, Any]:
    place = {"xref": "paper", "x": at, "xanchor": anchor, "yref": "y", "y": height, "yanchor": "bottom"}
    return {"text": words, "showarrow": False, "font": {"color": colour, "size": 12}, **place}


def _layout(trend: Sequence[TrendPoint], colours: Palette, ceiling: float | None) -> dict[str, Any]:
    found = [value for point in trend for value in (point.training, point.held_out, ceiling)]
    known = [value for value in found if value is not None]
    low = min(known, default=0.0) - _ROOM
    step = -(-len(trend) // _MOST_NAMES)
    # Counted from the last release backwards, so that it is always named.
    named = sorted(range(len(trend) - 1, -1, -step))
    axis = {"tickfont": {"color": colours.muted}, "linecolor": colours.edge, "zeroline": False}
    return {
        "height": HEIGHT,
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.02, "yanchor": "bottom"},
        "margin": {"l": 44, "r": 68, "t": 34, "b": 32},
        "hovermode": "closest",
        "showlegend": True,
        "xaxis": {
            **axis,
            "tickvals": named,
            "ticktext": [safe(trend[place].release) for place in named],
            "range": [-0.5, len(trend) - 0.5],
            "showgrid": False,
            "fixedrange": True,
        },
        "yaxis": {
            **axis,
            "range": [max(0.0, low), min(1.0, max(known, default=1.0) + _ROOM)],
            "tickformat": ".2f",
            "nticks": 5,
            "showgrid": False,
            "fixedrange": True,
        },
    }
