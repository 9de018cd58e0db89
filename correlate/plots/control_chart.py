"""The control chart of a quantity: values above, moving ranges below, exchanged parts upright."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import plotly.graph_objects as go

from correlate.plots.graph import new_figure, one_panel, safe
from correlate.plots.palette import palette
from correlate.plots.wording import unit_words

if TYPE_CHECKING:
    from datetime import date

    from correlate.laboratory import QuantityHistory
    from correlate.plots.palette import Palette, Theme

HEIGHT: Final = 460
"""Of the figure, in pixels."""
_UPPER: Final = (0.36, 1.0)
_LOWER: Final = (0.0, 0.24)
_ROOM: Final = 0.08


def control_chart_figure(history: QuantityHistory, *, theme: Theme = "light") -> go.Figure:
    """Draw a quantity over time.

    Parameters
    ----------
    history
        Of one quantity.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        The window is a band, control limits are dashed lines. Values with an alarm are squares, values
        outside the window are crosses, all others are dots.
    """
    colours = palette(theme)
    traces = [
        _limits(history, "upper", colours),
        _limits(history, "centre", colours),
        _limits(history, "lower", colours),
        _values(history, colours),
        *_ranges(history, colours),
    ]
    layout = {
        **_layout(history, colours),
        "shapes": [_window(history, colours), *_exchanges(history, colours)],
        "annotations": _names(history, colours),
    }
    return new_figure([trace for trace in traces if trace is not None], layout, colours=colours)


def _values(history: QuantityHistory, colours: Palette) -> go.Scatter:
    alarms = [()] * len(history.values) if history.chart is None else history.chart.alarms
    marks, said = [], []
    for result, inside, raised in zip(history.results, history.inside, alarms, strict=True):
        marks.append("x" if not inside else "square" if raised else "circle")
        words = ", ".join(["inside the window" if inside else "outside the window", *raised])
        said.append(safe(f"{result.recording}: {words}"))
    return go.Scatter(
        x=_days(history.dates),
        y=list(history.values),
        name="test",
        mode="lines+markers",
        customdata=said,
        hovertemplate="%{x|%Y-%m-%d}: %{y:.5g}<br>%{customdata}<extra></extra>",
        line={"color": colours.test, "width": 1.4},
        marker={
            "symbol": marks,
            "color": [colours.test if mark == "circle" else colours.alert for mark in marks],
            "size": [8 if mark == "circle" else 12 for mark in marks],
            # The library makes marks of many sizes see-through and gives them an edge.
            "opacity": 1.0,
            "line": {"width": 0},
        },
        cliponaxis=False,
    )


def _limits(history: QuantityHistory, which: str, colours: Palette) -> go.Scatter | None:
    """Return a limit or the centre, one level a part: the line breaks where a part was exchanged."""
    if history.chart is None:
        return None
    levels = getattr(history.chart, which)
    days: list[str | None] = []
    heights: list[float | None] = []
    for at, (day, level) in enumerate(zip(history.dates, levels, strict=True)):
        if at and level != levels[at - 1]:
            days.append(None)
            heights.append(None)
        days.append(day.isoformat())
        heights.append(level)
    is_centre = which == "centre"
    return go.Scatter(
        x=days,
        y=heights,
        name="mean" if is_centre else "control limits",
        legendgroup=which if is_centre else "limits",
        showlegend=which != "lower",
        mode="lines",
        line={"color": colours.muted, "width": 1.2, "dash": "solid" if is_centre else "6px,4px"},
        hoverinfo="skip",
    )


def _ranges(history: QuantityHistory, colours: Palette) -> list[go.Scatter]:
    """Return the moving ranges and their limit, in the lower panel."""
    if history.chart is None:
        return []
    days = _days(history.dates)
    ends = [days[0], days[-1]]
    dashed = {"color": colours.muted, "width": 1.2, "dash": "6px,4px"}
    return [
        go.Scatter(
            x=days,
            y=list(history.chart.ranges),
            name="moving range",
            yaxis="y2",
            mode="lines+markers",
            line={"color": colours.test, "width": 1.2},
            marker={"size": 6, "color": colours.test},
            hovertemplate="%{x|%Y-%m-%d}: %{y:.4g}<extra></extra>",
            showlegend=False,
        ),
        go.Scatter(
            x=ends,
            y=[history.chart.upper_range] * 2,
            name="limit of the range",
            yaxis="y2",
            mode="lines",
            line=dashed,
            hoverinfo="skip",
            showlegend=False,
        ),
    ]


def _window(history: QuantityHistory, colours: Palette) -> dict[str, Any]:
    """Return the window of the newest result as a band."""
    return {
        "type": "rect", "layer": "below", "xref": "paper", "x0": 0, "x1": 1, "yref": "y",
        "y0": history.low, "y1": history.high, "fillcolor": colours.outer_band, "line": {"width": 0},
        "name": "window", "showlegend": True,
    }  # fmt: skip


def _exchanges(history: QuantityHistory, colours: Palette) -> list[dict[str, Any]]:
    return [
        {
            "type": "line", "xref": "x", "x0": day, "x1": day, "yref": "paper", "y0": 0, "y1": 1,
            "line": {"color": colours.accent, "width": 1.4, "dash": "2px,3px"},
        }
        for one in history.exchanges
        for day in [one.exchanges[0].date.isoformat()]
    ]  # fmt: skip


def _names(history: QuantityHistory, colours: Palette) -> list[dict[str, Any]]:
    """Return the names of the exchanged parts, each beside its line."""
    return [
        {
            "text": safe(f"{one.words} exchanged"), "showarrow": False, "xref": "x", "yref": "paper",
            "x": one.exchanges[0].date.isoformat(), "y": 0.37, "xanchor": "left", "yanchor": "bottom",
            "xshift": 4, "font": {"color": colours.accent, "size": 12},
        }
        for one in history.exchanges
    ]  # fmt: skip


def _layout(history: QuantityHistory, colours: Palette) -> dict[str, Any]:
    unit = "" if history.unit == "1" else f" [{unit_words(history.unit)}]"
    words = f"{history.words[:1].upper()}{history.words[1:]}{unit}"
    layout = one_panel(colours, height=HEIGHT, x_title="day of the test", y_title=words)
    # The band alone would not make room for itself.
    heights = [history.low, history.high, *history.values]
    if history.chart is not None:
        heights += [*history.chart.lower, *history.chart.upper]
    room = _ROOM * (max(heights) - min(heights) or 1.0)
    layout["yaxis"] |= {"domain": list(_UPPER), "range": [min(heights) - room, max(heights) + room]}
    layout["xaxis"] |= {
        "type": "date",
        "tickformat": "%Y-%m-%d",
        "nticks": 8,
        "anchor": "free",
        "position": 0,
    }
    below = one_panel(colours, height=HEIGHT, x_title="", y_title=f"moving range{unit}")["yaxis"]
    layout["yaxis2"] = {**below, "domain": list(_LOWER), "rangemode": "tozero", "nticks": 4}
    return layout


def _days(days: tuple[date, ...]) -> list[str]:
    return [one.isoformat() for one in days]
